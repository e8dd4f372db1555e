"""Findings about the lanes beside a lane."""

from collections.abc import Iterator

from workbench.engine.assessment import CrosstalkResult, EyeResult, Finding, finding
from workbench.engine.lane.lane import Observed
from workbench.engine.lane.path import LanePlan
from workbench.engine.verdict.enough_gap import is_hurt
from workbench.parts.crosstalk import StatedCrosstalk
from workbench.quantity import show
from workbench.wording import quoted

STRONG_DB = 20.0
"""An aggressor whose peak is less than that below the swing is coupled so strongly that the second order counts."""


def neighbour_findings(
    plan: LanePlan,
    observed: Observed,
    eye: EyeResult,
    crosstalk: CrosstalkResult | None,
    limit_height_v: float | None,
) -> Iterator[Finding]:
    """What a reviewer would flag about neighbours.

    Args:
        plan: the lane.
        observed: what stands at the probe point.
        eye: its measures.
        crosstalk: the figures of its neighbours; None without any.
        limit_height_v: the height that the interface asks for, V, where it is known.
    """
    yield from _left_out(plan)
    if crosstalk is None:
        return
    cost_v = crosstalk.height_v_without - eye.height_v
    left_v = crosstalk.height_v_without - (limit_height_v or 0.0)
    worst = crosstalk.aggressors[0]
    if is_hurt(crosstalk, eye, limit_height_v):
        gap_m = crosstalk.enough_gap_m
        enough = "put more room between them," if gap_m is None else f"{show(gap_m, 'm')} between them would be enough;"
        yield finding(
            "warning",
            "crosstalk",
            f"the lanes beside it take {1e3 * cost_v:.0f} mV of the {1e3 * left_v:.0f} mV of height margin that it "
            f"would have without them; {worst.lane} in {worst.where} takes the most: {enough} or move one of the two",
        )
    stated = dict.fromkeys(one.part for one in plan.neighbours if isinstance(one.by, StatedCrosstalk))
    if stated:
        yield finding(
            "note",
            "crosstalk-levels",
            f"{' and '.join(map(quoted, stated))} state{'s' if len(stated) == 1 else ''} crosstalk as levels without a "
            "phase: of all signals with such levels the earliest and most compact counts",
        )
    waves = observed.received.waves
    swing_v = 2.0 * float(waves.pulse_v[waves.peak])
    strong = [
        one.stranger.lane
        for one in observed.beside
        if one.peak_v > swing_v * 10.0 ** (-STRONG_DB / 20.0)
    ]
    if strong:
        yield finding(
            "warning",
            "strong-coupling",
            f"{' and '.join(dict.fromkeys(strong))} couple so strongly (above -{STRONG_DB:.0f} dB) that what flows "
            "back between the lanes counts, up to 1 dB of the crosstalk, and is left out: put more room between them",
        )


def _left_out(plan: LanePlan) -> Iterator[Finding]:
    """Parts that say what pairs bring into one another, and that this lane passes alone."""
    beside = {(one.span, one.element) for one in plan.neighbours}
    alone = dict.fromkeys(
        element.record.name
        for number, span in enumerate(plan.spans)
        for at, element in enumerate(span.elements)
        if element.record.tells_crosstalk() and (number, at) not in beside
    )
    if alone:
        yield finding(
            "note",
            "crosstalk-left-out",
            f"{' and '.join(map(quoted, alone))} tell{'s' if len(alone) == 1 else ''} what neighbouring pairs bring "
            "in, but no other lane passes it in the same bundle, so nothing of it counts: lead them through together",
        )
