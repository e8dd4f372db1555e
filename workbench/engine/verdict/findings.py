"""What a reviewer would flag about one lane. Each rule is one function; the list at the end is all of them."""

from collections.abc import Callable, Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from workbench.board.channel_limit import AT_LEAST, MEASURE_WORDS
from workbench.board.sourced import STATUS_WORDS
from workbench.engine.assessment import ChannelResult, EyeResult, Finding, SkewResult, SpanResult, finding
from workbench.engine.lane.drive import Driven
from workbench.engine.lane.grid import TAIL_PER_PEAK, Survey
from workbench.engine.lane.lane import Observed
from workbench.engine.lane.path import LanePlan, Span
from workbench.engine.lane.spans import line_impedance_ohm
from workbench.engine.memo import Memo
from workbench.engine.verdict.margin import wide_crossings_ui
from workbench.engine.verdict.measures import corners_hz, cursors_v
from workbench.engine.verdict.models import model_findings
from workbench.engine.verdict.network_findings import network_findings
from workbench.engine.verdict.records import distinct, records_of
from workbench.engine.verdict.skew import HEAVY_LOSS_DB, TOLD_CONVERSION_DB, TOLD_LOSS_DB
from workbench.parts.receiver import NoEqualizer, ReferenceEqualizer
from workbench.parts.record import ComponentRecord
from workbench.quantity import show

IMPEDANCE_STEP = 0.10
NOTCH_PER_NYQUIST = 1.5
COMPRESSION_DB = 1.0
OVERSHOOT = 0.10
HEAVY_UI = 0.05
"""Random jitter up to that was held against edges that are really moved, down to an error ratio of 1e-15."""
TOLD_ERRORS = 1.02
CROSSINGS_HEIGHT_PERCENT, CROSSINGS_WIDTH_UI, CROSSINGS_FROM = 3.0, 0.02, 2.0
"""How far an eye may be off after wide crossings: % of the swing, UI, for each unit of sqrt(-ln BER) above the last."""


class ReviewedLane(NamedTuple):
    """A lane with all that is known of it."""

    memo: Memo
    plan: LanePlan
    observed: Observed
    eye: EyeResult
    spans: tuple[SpanResult, ...]
    baseline_wander_v: float
    driven: tuple[Driven, ...]
    channel: tuple[ChannelResult, ...] = ()
    best_preset: bool = False
    skew: tuple[SkewResult, ...] = ()


def findings(case: ReviewedLane) -> tuple[Finding, ...]:
    """Every finding of a lane, the gravest first."""
    found = [*model_findings(case.observed), *(finding for rule in _RULES for finding in rule(case))]
    order = {"error": 0, "warning": 1, "note": 2}
    return tuple(sorted(found, key=lambda finding: order[finding.severity]))


def _closed_input(case: ReviewedLane) -> Iterator[Finding]:
    for number, seen in case.observed.stages.items():
        if seen.wrong > case.eye.ber:
            ref = case.plan.stages[number].ref
            yield finding(
                "error",
                "closed-input",
                f"{ref} regenerates its edges from an input whose BER is {seen.wrong:.1g}: nothing after it can "
                f"repair that; move it nearer to the transmitter or raise its equalization",
            )


def too_good_by(error_ratio: float) -> tuple[float, float]:
    """By how much a height, as a share of the swing, and a width, UI, may be too good after wide crossings.

    What old symbols do to a crossing adds up as a tail does, with ``sqrt(-ln P)``; the slope lies above that of every
    lane counted bit by bit (4.3 % and 0.024 UI at 1e-6 are the largest). Deeper down, to 1e-15, each sequence by itself
    deviates less than that (`tests/reference/sent/limited_edges.py`).

    Args:
        error_ratio: at which the eye is judged.
    """
    depth = float(np.sqrt(-np.log(error_ratio))) - CROSSINGS_FROM
    return CROSSINGS_HEIGHT_PERCENT / 100.0 * depth, CROSSINGS_WIDTH_UI * depth


def _wide_crossings(case: ReviewedLane) -> Iterator[Finding]:
    """The further the pattern moves the crossings, the more the oldest symbols matter, which count to first order."""
    most = too_good_by(case.eye.ber)
    for number, seen in sorted(case.observed.stages.items()):
        pattern_ui = wide_crossings_ui(seen, case.plan.profile.ui_s)
        if pattern_ui is not None:
            ref = case.plan.stages[number].ref
            yield finding(
                "warning",
                "input-jitter",
                f"the pattern moves the crossings at the input of {ref} by {pattern_ui:.2f} UI rms: at a BER "
                f"of {case.eye.ber:.0e} height and width after it may be too good by {100.0 * most[0]:.0f} % of the "
                f"swing and {most[1]:.2f} UI, and by more where that input is nearly closed, so that no verdict "
                f"is better than marginal; equalization that fits the path narrows it",
            )


def _opaque_stage(case: ReviewedLane) -> Iterator[Finding]:
    if not case.plan.profile.trains_transparently:
        return
    for stage in case.plan.stages:
        if stage.regenerates:
            yield finding(
                "warning",
                "blocks-link-training",
                f"{stage.ref} is limiting, but link training of {case.plan.profile.id} adjusts the "
                "transmitter through the "
                f"path: use a linear part",
            )


def _compression(case: ReviewedLane) -> Iterator[Finding]:
    for driven in case.driven:
        if driven.compression_db > COMPRESSION_DB:
            yield finding(
                "warning",
                "compression",
                f"{driven.stage.words} compresses its max swing by {driven.compression_db:.1f} dB; the eye is "
                f"computed without that: lower its gain or the swing before it, or choose a higher output limit",
            )


def _weak_input(case: ReviewedLane) -> Iterator[Finding]:
    for driven in case.driven:
        needed_v = driven.stage.part.sensitivity_v
        if driven.input_swing_v < needed_v:
            yield finding(
                "warning",
                "weak-input",
                f"the swing at {driven.stage.words} is {show(driven.input_swing_v, 'V')}, less than the "
                f"{show(needed_v, 'V')} that the part is specified for",
            )


def _over_equalized(case: ReviewedLane) -> Iterator[Finding]:
    cursors = cursors_v(case.observed, case.eye.center_s)
    main, after = float(cursors[1]), float(cursors[2])
    taps = case.observed.received.taps_v
    after -= float(taps[0]) if taps.size else 0.0
    if main > 0.0 and after < -OVERSHOOT * main:
        yield finding(
            "warning",
            "over-equalized",
            f"the pulse undershoots by {-after / main:.0%} one UI after its peak: there is more "
            "equalization or emphasis "
            f"than the path needs",
        )


def _stub_notch(case: ReviewedLane) -> Iterator[Finding]:
    limit_hz = NOTCH_PER_NYQUIST * case.plan.profile.nyquist_hz
    for element in distinct(case.plan):
        if not isinstance(element.record, ComponentRecord):
            continue
        notch_hz = element.record.notch_hz(element.parts)
        if notch_hz is not None and notch_hz < limit_hz:
            yield finding(
                "warning",
                "stub-notch",
                f"the stub of {element.record.name} takes out {show(notch_hz, 'Hz')}, below "
                f"{NOTCH_PER_NYQUIST:g} x Nyquist "
                f"({show(limit_hz, 'Hz')}): shorten it or drill it back",
            )


def _impedance_step(case: ReviewedLane) -> Iterator[Finding]:
    for span in case.plan.spans:
        steps = sorted(set(_steps(case, span)), reverse=True)
        if steps:
            size, before, after = steps[0]
            yield finding(
                "note",
                "impedance-step",
                f"impedance steps by {size:.0%} between {before} and {after}, more than {IMPEDANCE_STEP:.0%}",
            )


def _steps(case: ReviewedLane, span: Span) -> Iterator[tuple[float, str, str]]:
    known = [(span.from_, span.source.resistance_ohm)]
    survey = Survey(case.plan.profile.ui_s)
    for element in span.elements:
        impedance = line_impedance_ohm(case.memo, element, survey)
        if impedance is not None:
            known.append((element.record.name, impedance))
    known.append((span.to, span.load.resistance_ohm))
    for (before, low), (after, high) in pairwise(known):
        size = abs(high - low) / low
        if size > IMPEDANCE_STEP:
            yield size, f"{before} ({low:.0f} ohm)", f"{after} ({high:.0f} ohm)"


def _loss_budget(case: ReviewedLane) -> Iterator[Finding]:
    budget = case.plan.profile.loss_budget_db
    if budget is None:
        return
    for span in case.spans:
        if span.loss_db > budget.value:
            yield finding(
                "warning",
                "loss-budget",
                f"the span from {span.from_} to {span.to} loses {span.loss_db:.1f} dB at Nyquist; the "
                "interface usually "
                f"allows {budget.value:g} dB ({STATUS_WORDS[budget.status]}: {budget.source})",
            )


def _channel_limit(case: ReviewedLane) -> Iterator[Finding]:
    for one in case.channel:
        if one.margin < 0.0:
            where = "" if one.at_hz is None else f" at {show(one.at_hz, 'Hz', digits=3)}"
            bound = "at least" if one.measure in AT_LEAST else "at most"
            text = (
                f"the {MEASURE_WORDS[one.measure]} of the channel from {one.from_} to {one.to} is "
                f"{show(one.value, one.unit, digits=3)}{where}, and should be {bound} "
                f"{show(one.limit, one.unit, digits=3)} ({STATUS_WORDS[one.status]}: {one.source})"
            )
            if one.judged:
                yield finding("warning", "channel-limit", text)
                continue
            alone = len(case.plan.spans) == 1
            why = "it is not verified" if alone else "it is meant for a channel without conditioners"
            yield finding("note", "channel-limit", f"{text}; that limit is not applied, since {why}")


def _pair_skew(case: ReviewedLane) -> Iterator[Finding]:
    for one in case.skew:
        text = (
            f"the legs of the pair from {one.from_} to {one.to} are {show(abs(one.skew_s), 's', digits=3)} apart: "
            f"{one.loss_db:.2f} dB at Nyquist goes into the common mode, which leaves at the other end "
            f"{one.conversion_loss_db:.1f} dB below the signal sent at {show(one.at_hz, 'Hz', digits=3)}"
        )
        if one.loss_db >= HEAVY_LOSS_DB:
            yield finding("warning", "pair-skew", text)
        elif one.loss_db >= TOLD_LOSS_DB or one.conversion_loss_db < TOLD_CONVERSION_DB:
            yield finding("note", "pair-skew", text)


def _network_data(case: ReviewedLane) -> Iterator[Finding]:
    yield from network_findings(case.memo, case.plan, case.observed, case.eye)


def _out_of_range(case: ReviewedLane) -> Iterator[Finding]:
    f_max_hz = 2.0 * case.plan.profile.nyquist_hz
    for record, parts in records_of(case.plan):
        for text in record.cautions(parts, f_max_hz):
            yield finding("warning", "model-range", f"{record.name}: {text}")


def _solved_sections(case: ReviewedLane) -> Iterator[Finding]:
    for element in distinct(case.plan):
        for text in element.record.remarks(element.parts):
            yield finding("note", "solved-section", f"{element.record.name}: {text}")


def _swing_range(case: ReviewedLane) -> Iterator[Finding]:
    profile, swing_v = case.plan.profile, case.plan.transmitter.swing_v
    low, high = profile.swing_min_v, profile.swing_max_v
    if (low is not None and swing_v < low.value) or (high is not None and swing_v > high.value):
        allowed = " to ".join(f"{limit.value:g} V" if limit else "?" for limit in (low, high))
        yield finding(
            "warning",
            "swing-range",
            f"{case.plan.transmitter.name} swings {show(swing_v, 'V')}; {profile.id} has {allowed}",
        )


def _limits_elsewhere(case: ReviewedLane) -> Iterator[Finding]:
    profile, receiver = case.plan.profile, case.plan.receiver
    if not case.observed.probe.equalized:
        return
    plain = isinstance(receiver.equalizer, NoEqualizer) and not receiver.dfe.taps
    at = profile.limits_at_receiver(package=case.plan.spans[-1].load.packaged).at
    if at != "equalized" and not plain:
        yield finding(
            "note",
            "limit-at-other-point",
            f"the limits of {profile.id} hold at the {at}, but the eye is assessed after the "
            f"equalization of {receiver.name}",
        )
    if at == "equalized" and plain and profile.reference is not None:
        yield finding(
            "note",
            "limit-at-other-point",
            f"the limits of {profile.id} hold after its reference equalizer, but {receiver.name} has "
            "none: give it the "
            f'equalizer kind "reference" to judge the lane as the standard does',
        )
    if isinstance(receiver.equalizer, ReferenceEqualizer) and profile.reference is None:
        yield finding(
            "note", "limit-at-other-point", f"{receiver.name} asks for a reference equalizer, but {profile.id} has none"
        )


def _package(case: ReviewedLane) -> Iterator[Finding]:
    profile, receiver = case.plan.profile, case.plan.receiver
    if not case.observed.probe.equalized:
        return
    if receiver.package == "reference" and profile.package is None:
        yield finding(
            "note", "limit-at-other-point", f"{receiver.name} asks for a reference package, but {profile.id} has none"
        )
    as_stated = isinstance(receiver.equalizer, ReferenceEqualizer) and profile.reference is not None
    if as_stated and not case.plan.spans[-1].load.packaged and profile.package is not None:
        yield finding(
            "note",
            "limit-at-other-point",
            f"the limits of {profile.id} hold at the die pad, after its reference package, but {receiver.name} has "
            'none: give it the package "reference" to judge the lane as the standard does',
        )


def _no_presets(case: ReviewedLane) -> Iterator[Finding]:
    if case.best_preset and not case.plan.profile.presets:
        yield finding(
            "note",
            "no-presets",
            f"{case.plan.transmitter.name} asks for the best preset, but {case.plan.profile.id} has none: its stated "
            f"pre-shoot and de-emphasis are used",
        )


def _unsettled(case: ReviewedLane) -> Iterator[Finding]:
    if case.observed.tail_left > TAIL_PER_PEAK:
        yield finding(
            "warning",
            "unsettled",
            "the pulse has not settled at the end of the longest window: "
            f"{case.observed.tail_left:.1g} of its peak is left",
        )


def _edges_beyond_checked(case: ReviewedLane) -> Iterator[Finding]:
    """Displacements are taken on the true step; how far that was checked is told."""
    jitter = case.observed.received.signal.jitter
    ui_s = case.plan.profile.ui_s
    about_mean_s = float(np.sqrt(jitter.weight @ jitter.sigma_s**2))
    if about_mean_s > HEAVY_UI * ui_s:
        yield finding(
            "note",
            "heavy-jitter",
            f"edges move by {about_mean_s / ui_s:.3f} UI rms about each of their means; the eye was held against edges "
            f"that are really moved up to {HEAVY_UI:g} UI",
        )


def _error_propagation(case: ReviewedLane) -> Iterator[Finding]:
    if case.eye.propagation > TOLD_ERRORS:
        yield finding(
            "note",
            "error-propagation",
            f"decision feedback turns each error into {case.eye.propagation:.2f}: height and width are read at "
            f"{case.eye.ber / case.eye.propagation:.1g}, so that the BER with these is {case.eye.ber:.0e}",
        )


def _baseline_wander(case: ReviewedLane) -> Iterator[Finding]:
    share = case.baseline_wander_v / max(abs(case.eye.height_v), 1e-9)
    if corners_hz(case.plan, case.observed.probe.span) and share > 0.05:
        yield finding(
            "note",
            "baseline-wander",
            f"the coupling capacitors let the baseline drift by {show(case.baseline_wander_v, 'V')} "
            "to one side, which the "
            f"eye does not contain",
        )


_RULES: tuple[Callable[[ReviewedLane], Iterator[Finding]], ...] = (
    _closed_input,
    _wide_crossings,
    _opaque_stage,
    _compression,
    _weak_input,
    _over_equalized,
    _stub_notch,
    _impedance_step,
    _loss_budget,
    _channel_limit,
    _pair_skew,
    _network_data,
    _out_of_range,
    _solved_sections,
    _swing_range,
    _limits_elsewhere,
    _package,
    _no_presets,
    _unsettled,
    _edges_beyond_checked,
    _error_propagation,
    _baseline_wander,
)
