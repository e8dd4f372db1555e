"""Words and signs that every report shares."""

import math
from collections import Counter
from collections.abc import Sequence

from workbench.engine.assessment import Assessment, Finding, LaneAssessment, Severity, Verdict
from workbench.quantity import show

VERDICTS: tuple[Verdict, ...] = ("pass", "not judged", "marginal", "fail")
"""From best to worst."""

SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")
"""From worst to mildest."""

CAUTION = (
    "A margin is an estimate from the numbers given. It does not replace compliance measurement by a qualified "
    "laboratory, nor the part maker's data sheet; power and electrostatic precautions apply when cards are changed on "
    "a bench."
)


def first_finding(lane: LaneAssessment) -> Finding | None:
    """The lane's finding to show where there is room for one: the first of the worst severity."""
    return min(lane.findings, key=lambda finding: SEVERITIES.index(finding.severity), default=None)


def worst_lane(lanes: Sequence[LaneAssessment]) -> LaneAssessment | None:
    """The lane of the worst verdict with the least margin; None where there is no lane."""
    return min(lanes, key=_goodness, default=None)


def summary(assessment: Assessment) -> str:
    """One line: how many lanes, how they do, which is worst."""
    lanes = assessment.lanes
    if not lanes:
        return "0 lanes: the board has nothing to assess"
    counts = Counter(lane.margin.verdict for lane in lanes)
    tally = ", ".join(f"{counts[verdict]} {verdict}" for verdict in VERDICTS if counts[verdict])
    worst = worst_lane(lanes)
    named = f"worst {worst.lane}{_margin_words(worst)} " if worst is not None else ""
    ratios = sorted({lane.eye.ber for lane in lanes})
    at = "at BER " + " and ".join(map(ratio_text, ratios))
    return f"{len(lanes)} {'lane' if len(lanes) == 1 else 'lanes'}: {tally}; {named}{at}"


def code_words(lanes: Sequence[LaneAssessment]) -> str:
    """By which symbols the eyes are counted, as a sentence."""
    coded = sum(lane.eye.statistics == "coded" for lane in lanes)
    if not coded:
        return "Symbols count as independent bits." if lanes else ""
    some = "" if coded == len(lanes) else f" on {coded} of the lanes, else as independent bits"
    return f"Symbols count as the line code sends them{some}."


def neighbour_words(lanes: Sequence[LaneAssessment]) -> str:
    """What the lanes beside one another take, as a sentence; "" where no lane has neighbours on this board."""
    beside = [(lane, lane.crosstalk) for lane in lanes if lane.crosstalk is not None]
    if not beside:
        return ""
    cost_v, lane, crosstalk = max(
        ((found.height_v_without - lane.eye.height_v, lane, found) for lane, found in beside), key=lambda one: one[0]
    )
    alone = len(lanes) - len(beside)
    left = f"; to the other {alone} none adds anything here" if alone else ""
    worst = crosstalk.aggressors[0]
    return (
        f"Lanes beside one another count: they take most from {lane.lane}, {1e3 * cost_v:.1f} mV of height, "
        f"{1e3 * worst.height_cost_v:.1f} mV of it by {worst.lane} in {worst.where}{left}."
    )


def ratio_text(ratio: float) -> str:
    """An error ratio as people write it: 1e-9, not 1e-09."""
    return f"{ratio:g}".replace("e-0", "e-")


def _goodness(lane: LaneAssessment) -> tuple[int, float]:
    """Smaller is worse. Margins count relative to their limits, so that lanes of different interfaces compare."""
    shares = [math.inf]
    if lane.margin.height_v is not None and lane.limits.height_v:
        shares.append(lane.margin.height_v / lane.limits.height_v)
    if lane.margin.width_ui is not None and lane.limits.width_ui:
        shares.append(lane.margin.width_ui / lane.limits.width_ui)
    if lane.margin.mask_v is not None and lane.limits.mask is not None and lane.limits.mask.height_v:
        shares.append(lane.margin.mask_v / lane.limits.mask.height_v)
    return -VERDICTS.index(lane.margin.verdict), min(shares)


def _margin_words(lane: LaneAssessment) -> str:
    words = []
    if lane.margin.height_v is not None:
        words.append(_signed(show(lane.margin.height_v, "V", digits=3)))
    if lane.margin.width_ui is not None:
        words.append(_signed(show(lane.margin.width_ui, "UI", digits=2)))
    if lane.margin.mask_v is not None:
        words.append(f"{_signed(show(lane.margin.mask_v, 'V', digits=3))} off the mask")
    return f" ({', '.join(words)})" if words else ""


def _signed(text: str) -> str:
    return text if text.startswith("-") else f"+{text}"
