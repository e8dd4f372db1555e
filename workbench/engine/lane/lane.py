"""One lane from transmitter to probe point: the grid it needs, the signal, the eye."""

from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Floats
from workbench.board.profile import Preset
from workbench.codes.machine import Machine
from workbench.engine.coded.bulk import coded_bulk
from workbench.engine.coded.edge import mean_crossing
from workbench.engine.lane.crosstalk import coupled
from workbench.engine.lane.equalizers import Received, at_pins, equalization_of, eye_score, receive, receive_beside
from workbench.engine.lane.grid import LARGEST_WINDOW_UI, TAIL_PER_PEAK, Axis, Grid, Survey, settled, size_for
from workbench.engine.lane.limiting import Crossings, crossings, noise_rms_v
from workbench.engine.lane.models.decided import RECEIVES_INSTEAD, decided
from workbench.engine.lane.models.opened import Trouble, jitter_of
from workbench.engine.lane.models.resolved import resolved
from workbench.engine.lane.path import LanePlan, Neighbour, Span
from workbench.engine.lane.probe import PINS, RECEIVER, Probe
from workbench.engine.lane.received_eye import eye_received, sample_at
from workbench.engine.lane.signal import Signal, Stranger, along, equalized, launched, passed_on, remade
from workbench.engine.lane.spans import flight_time_s, transfer
from workbench.engine.lane.strangers import Beside, beside_of, strange_densities
from workbench.engine.lane.waves import settling_pulse_v, waves_of
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols, machine_for
from workbench.engine.tails.bulk import Bulk, bulk_of
from workbench.engine.tails.eye import Eye, EyeReach
from workbench.engine.tails.jitter import together
from workbench.engine.tails.quick import quick_level_v
from workbench.engine.tails.strangers import EachDensity, added_up, laid_over

_NO_TAIL = 0.9
"""What a window twice as long leaves that much of is no tail: it comes before its cause, as measured data without their
low frequencies have it, and no window is long enough."""
_HARDLY = 1e-4
"""Crossings whose mean square displacement other lanes raise by less than that share are told as if they did not."""

_LIFTED_AT = 9
"""At so many phases that is told."""


class Observed(NamedTuple):
    """What stands at a probe point.

    Attributes:
        probe: where.
        received: the signal there, with the receiver's equalization where the probe point lies after it.
        eye: the statistical eye.
        tail_left: what is left of the pulse at the window's end, over its peak.
        stages: what each limiting stage before made of its input, by stage number.
        machine: the line code that its symbols are counted by; None: as independent.
        alone: the eye without what the lanes beside it add; None where there are none.
        beside: what each of them adds.
        strange: their densities; None where there are none.
        pushing: what each adds at the input of the last limiting stage before, where it moves the crossings.
        troubles: sentences on makers' models that were not run, and what stands in their place.
        notes: sentences on what the models say.
    """

    probe: Probe
    received: Received
    eye: Eye
    tail_left: float
    stages: dict[int, Crossings]
    machine: Machine | None = None
    alone: Eye | None = None
    beside: tuple[Beside, ...] = ()
    strange: EachDensity | None = None
    pushing: tuple[Beside, ...] = ()
    troubles: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def observe(
    memo: Memo,
    plan: LanePlan,
    probe: Probe,
    error_ratio: float,
    *,
    reach: EyeReach = EyeReach.MEASURES,
    symbols: Symbols = Symbols.CODED,
) -> Observed:
    """The signal and eye at a probe point.

    Args:
        memo: the store of known results.
        plan: the lane.
        probe: where to look.
        error_ratio: where the eye's accuracy is needed.
        reach: how much of the eye is wanted.
        symbols: which symbols count.
    """
    plan = trained(memo, plan, sketch=reach is EyeReach.PICTURE).plan
    machine = machine_for(plan.profile, symbols)
    return memo.get(
        ("observed", _anonymous(plan), probe, error_ratio, reach, machine),
        lambda: _observe(memo, plan, probe, error_ratio, reach=reach, machine=machine),
    )._replace(probe=probe)


class Trained(NamedTuple):
    """A lane whose models were run and whose transmitter has the preset that link training would choose; its name."""

    plan: LanePlan
    preset: str | None


def trained(memo: Memo, plan: LanePlan, *, sketch: bool = False) -> Trained:
    """The lane with its models run, and the best of its profile's presets, where its transmitter asks for it.

    The best is the one that leaves the receiver the largest eye height times width at the profile's error ratio, each
    preset with the equalization that is best for it (PCI Express Base Specification 6.x, 8.5.1.3, as quoted in a public
    transcription). A preset whose de-emphasis each part sets for itself is not tried.

    Args:
        memo: the store of known results.
        plan: the lane.
        sketch: whether to be quick: no model is run, its last answer stands; and each preset is tried with the middle
            one of the equalizer's gains only.
    """
    plan = resolved(memo, plan, run=not sketch)
    if plan.transmitter.taps_from == "stated":
        return Trained(plan, None)
    tried = [preset for preset in plan.profile.presets if preset.deemphasis_db is not None]
    if not tried:
        return Trained(_with_preset(plan, None), None)
    chosen = memo.get(("trained", _anonymous(plan), sketch), lambda: _best_preset(memo, plan, tried, sketch))
    return Trained(_with_preset(plan, tried[chosen]), tried[chosen].name)


def _with_preset(plan: LanePlan, preset: Preset | None) -> LanePlan:
    changes: dict[str, object] = {"taps_from": "stated"}
    if preset is not None and preset.deemphasis_db is not None:
        changes |= {"preshoot_db": preset.preshoot_db.value, "deemphasis_db": preset.deemphasis_db.value}
    return replace(plan, transmitter=replace(plan.transmitter, **changes))


def _best_preset(memo: Memo, plan: LanePlan, presets: list[Preset], sketch: bool) -> int:
    probe = Probe(RECEIVER, len(plan.spans) - 1, None, equalized=True)
    axis = _settled(memo, _with_preset(plan, None), probe)[0].axis
    equalization = equalization_of(plan.receiver, plan.profile)._replace(by_area=True)
    if sketch and equalization.ctle is not None:
        gains = equalization.ctle.choices()
        middle = replace(equalization.ctle, fixed_gain_db=gains[len(gains) // 2])
        equalization = equalization._replace(ctle=middle)
    error_ratio = plan.profile.ber.value
    scores = []
    for preset in presets:
        with_it = _with_preset(plan, preset)
        still = _arriving(memo, with_it, probe.span, axis, probe.elements)
        signal = at_pins(_moved(memo, with_it, probe, still, sketch=True)[0], plan.receiver, plan.profile)
        scores.append(eye_score(receive(signal, equalization, error_ratio), error_ratio, by_area=True))
    return int(np.argmax(scores))


def _anonymous(plan: LanePlan) -> tuple[object, ...]:
    """What the result depends on: not the lane's name."""
    return plan.profile, plan.transmitter, plan.receiver, plan.spans, plan.stages, plan.neighbours, plan.by_models


def _observe(
    memo: Memo, plan: LanePlan, probe: Probe, error_ratio: float, *, reach: EyeReach, machine: Machine | None
) -> Observed:
    still, left = _settled(memo, plan, probe)
    signal, stages = _moved(memo, plan, probe, still, sketch=reach is EyeReach.PICTURE, machine=machine)
    came = _received(memo, plan, probe, signal, error_ratio)
    received, plan = _timed(came.received, machine), came.plan
    seen = stages[max(stages)] if stages else None
    pushed = _own_eye(memo, plan, probe, received, error_ratio, reach=reach, machine=machine, stages=bool(stages))
    beside = beside_of(received.signal)
    each = strange_densities(beside)
    strange = added_up(each)
    eye = pushed if strange is None else pushed._replace(tail=laid_over(pushed.tail, strange))
    found = Observed(probe, received, eye, left, stages, machine, troubles=came.troubles, notes=came.notes)
    if strange is None and (seen is None or seen.bare is None):
        return found
    alone = pushed if seen is None or seen.bare is None else _unpushed(pushed, received, still, seen, error_ratio)
    return found._replace(alone=alone, beside=beside, strange=each, pushing=() if seen is None else seen.beside)


def _own_eye(
    memo: Memo, plan: LanePlan, probe: Probe, received: Received, error_ratio: float, *, reach: EyeReach,
    machine: Machine | None, stages: bool,
) -> Eye:  # fmt: skip
    """The eye without what the lanes beside this one add to the sample.

    Where these push no crossings it hangs on them only by what the receiver chose: one is made for with and without.
    """

    def made() -> Eye:
        return eye_received(plan, probe, received, error_ratio, reach=reach, machine=machine)

    if stages or plan.by_models is not None:
        return made()
    chosen = received.dc_gain_db, received.decision, tuple(received.taps_v.tolist())
    lonely = _anonymous(replace(plan, neighbours=()))
    return memo.get(("observed", "alone", *lonely, probe, error_ratio, reach, machine, *chosen), made)


def _unpushed(eye: Eye, received: Received, still: Signal, seen: Crossings, error_ratio: float) -> Eye:
    """The eye if no other lane moved the crossings at the last limiting stage's input.

    What that changes of the level of the error ratio is told by the saddlepoint's leading term with and without.
    """
    assert seen.bare is not None
    if seen.displacement.square_s2 < (1.0 + _HARDLY) * seen.bare.square_s2:
        return eye
    quiet = received._replace(signal=received.signal._replace(jitter=together(seen.bare, still.jitter)))
    # It changes little from phase to phase: a few tell it.
    some_s = eye.time_s[np.unique(np.linspace(0, eye.time_s.size - 1, _LIFTED_AT).astype(int))]
    at = received.waves.crossing + some_s / received.waves.grid.dt_s
    without_v, with_v = (quick_level_v(sample_at(one, at), error_ratio) for one in (quiet, received))
    lift_v = np.interp(eye.time_s, some_s, np.maximum(without_v - with_v, 0.0))
    return eye._replace(tail=eye.tail._replace(v=eye.tail.v + lift_v[:, None]))


def _settled(memo: Memo, plan: LanePlan, probe: Probe) -> tuple[Signal, float]:
    """The unmoved signal on a grid whose window all pulses settle in, and what is left at its end, over the peak.

    A pulse starts at the transmitter and anew at every limiting stage; other lanes' have no say in it.
    """
    grid = grid_for(memo, plan, probe)
    lonely = replace(plan, neighbours=())
    shorter: tuple[Grid, Signal, float] | None = None
    while True:
        still = _arriving(memo, lonely, probe.span, grid, probe.elements)
        inputs = [_heard(memo, lonely, number, grid) for number in _limiting(plan, probe)]
        left = max(settled(settling_pulse_v(signal), grid) for signal in (*inputs, still))
        stuck = shorter is not None and left > TAIL_PER_PEAK and left > _NO_TAIL * shorter[2]
        if stuck and shorter is not None:
            grid, still, left = shorter
        if stuck or left <= TAIL_PER_PEAK or grid.window_ui >= LARGEST_WINDOW_UI:
            return _arriving(memo, plan, probe.span, grid, probe.elements) if plan.neighbours else still, left
        # A skin-effect tail falls with the power 3/2 of time: this is how far it has to run.
        longer = max(2.0, (left / TAIL_PER_PEAK) ** (2.0 / 3.0))
        shorter = grid, still, left
        grid = grid_for(memo, plan, probe, least_window_ui=int(longer * grid.window_ui))


def _limiting(plan: LanePlan, probe: Probe) -> list[int]:
    """The numbers of the limiting stages before a probe point."""
    return [number for number in range(probe.span) if plan.stages[number].regenerates]


def _arriving(memo: Memo, plan: LanePlan, number: int, axis: Axis, elements: int | None = None) -> Signal:
    """The signal after a span, or after its first elements, as if every limiting stage's edges stood still."""
    signal = along(memo, _driving(memo, plan, number, axis), plan.spans[number], elements)
    if not plan.neighbours:
        return signal
    beside = tuple(
        _stranger(memo, plan.spans[number], elements, one, axis) for one in plan.neighbours if one.span == number
    )
    return signal._replace(strangers=(*signal.strangers, *beside))


def _driving(memo: Memo, plan: LanePlan, number: int, axis: Axis) -> Signal:
    """The open-circuit signal that drives a span, as if every limiting stage's edges stood still."""
    if number == 0:
        sends = plan.transmitter, plan.by_models, plan.profile.ui_s
        return memo.get(("launched", *sends, axis), lambda: launched(plan, axis))
    stage = plan.stages[number - 1]
    if stage.regenerates:
        return remade(stage, axis, ui_s=plan.profile.ui_s)
    return passed_on(_heard(memo, plan, number - 1, axis), stage)


def _stranger(memo: Memo, span: Span, elements: int | None, neighbour: Neighbour, axis: Axis) -> Stranger:
    """What a neighbour's signal becomes at a place of a span."""
    other = neighbour.aggressor
    driving = _driving(memo, other, neighbour.aggressor_span, axis)
    gain = memo.get(
        ("coupled", span, elements, neighbour, axis), lambda: coupled(memo, span, elements, neighbour, axis)
    )
    return Stranger(
        other.name, neighbour.where, driving.tapped * gain, other.profile.ui_s, other.profile.levels,
        neighbour.asynchronous,
    )  # fmt: skip


def _heard(memo: Memo, plan: LanePlan, number: int, axis: Axis) -> Signal:
    """The signal after a stage's input equalizer, as if every limiting stage's edges stood still."""
    key = ("heard", *_input_of(plan, number), axis)
    return memo.get(key, lambda: equalized(_arriving(memo, plan, number, axis), plan.stages[number]))


def _input_of(plan: LanePlan, number: int) -> tuple[object, ...]:
    """What the signal after a stage's input equalizer depends on: of the stage itself not how its output is set."""
    stage = plan.stages[number]
    before = plan.transmitter, plan.spans[: number + 1], plan.stages[:number]
    return *before, stage.heard_by, plan.neighbours


def grid_for(memo: Memo, plan: LanePlan, probe: Probe, least_window_ui: int = 0) -> Grid:
    """The grid that carries the lane up to a probe point, by a survey of its transfers."""
    survey = Survey(plan.profile.ui_s)
    loudest = np.zeros(survey.f_hz.size)
    so_far = np.ones(survey.f_hz.size)
    delay_s = 0.0
    for number in range(probe.span + 1):
        span = plan.spans[number]
        ends = probe.elements if number == probe.span else None
        so_far = so_far * np.abs(transfer(memo, span, survey, ends).gain)
        delay_s = max(delay_s, flight_time_s(memo, span, survey))
        if number == probe.span:
            break
        stage = plan.stages[number]
        so_far = so_far * np.abs(stage.input_gain(survey.f_hz))
        if stage.regenerates:
            loudest = np.maximum(loudest, so_far / so_far.max())
            so_far = np.ones(survey.f_hz.size)
    loudest = np.maximum(loudest, so_far / so_far.max())
    ramp_s = plan.transmitter.ramp_s
    if any(stage.regenerates for stage in plan.stages[: probe.span]):
        ramp_s = 0.0
    return size_for(
        ui_s=plan.profile.ui_s, ramp_s=ramp_s, transfer=loudest, delay_s=delay_s, least_window_ui=least_window_ui
    )


def signal_at(memo: Memo, plan: LanePlan, probe: Probe, axis: Axis) -> Signal:
    """The signal at a probe point before any receiver equalization."""
    plan = trained(memo, plan).plan
    return _moved(memo, plan, probe, _arriving(memo, plan, probe.span, axis, probe.elements))[0]


def _moved(
    memo: Memo, plan: LanePlan, probe: Probe, still: Signal, *, sketch: bool = False, machine: Machine | None = None
) -> tuple[Signal, dict[int, Crossings]]:
    """The signal at a probe point with the edges as limiting stages place them, and what these made of their inputs."""
    stages: dict[int, Crossings] = {}
    seen: Crossings | None = None
    for number in _limiting(plan, probe):
        arriving = _placed(_heard(memo, plan, number, still.axis), seen)
        seen = _crossings(memo, plan, number, arriving, sketch=sketch, machine=machine)
        stages[number] = seen
    return _placed(still, seen), stages


def _placed(signal: Signal, seen: Crossings | None) -> Signal:
    """The signal after the limiting stage that has `seen` its own input so; the first stretch stays as it is."""
    if seen is None:
        return signal
    moved = together(seen.displacement, signal.jitter)
    return signal._replace(delay_s=signal.delay_s + seen.mean_s, jitter=moved, wrong=seen.wrong)


def _crossings(
    memo: Memo, plan: LanePlan, number: int, signal: Signal, *, sketch: bool, machine: Machine | None
) -> Crossings:
    key = ("crossings", *_input_of(plan, number), signal.axis, sketch, machine)
    part = plan.stages[number].part
    own = {"random_s": part.random_jitter_s, "deterministic_s": part.deterministic_jitter_s}
    return memo.get(key, lambda: crossings(signal, **own, sketch=sketch, machine=machine))


class _Came(NamedTuple):
    """What a receiver makes of a signal, the lane with the jitter that its model states, and what models say."""

    received: Received
    plan: LanePlan
    troubles: tuple[str, ...]
    notes: tuple[str, ...]


def _received(memo: Memo, plan: LanePlan, probe: Probe, signal: Signal, error_ratio: float) -> _Came:
    by_models = plan.by_models
    troubles, notes = (by_models.troubles, by_models.notes) if by_models is not None else ((), ())
    if probe.name in (RECEIVER, PINS):
        signal = at_pins(signal, plan.receiver, plan.profile)
    if not probe.equalized:
        return _Came(_as_it_comes(signal), plan, troubles, notes)
    found = decided(memo, plan, signal)
    if found is None or isinstance(found, Trouble):
        if found is not None:
            troubles = (*troubles, f"{plan.receiver.name}: {found.text}; {RECEIVES_INSTEAD}")
        own = receive_beside(signal, equalization_of(plan.receiver, plan.profile), error_ratio)
        return _Came(own, plan, troubles, notes)
    stated = replace(plan.receiver, **jitter_of(found.stated))
    return _Came(_as_it_comes(found.signal), replace(plan, receiver=stated), troubles, (*notes, *found.sentences))


def _timed(received: Received, machine: Machine | None) -> Received:
    """The same, phases counted from where the line code's edges cross on average, as a receiver's clock does."""
    if machine is None:
        return received
    waves = received.waves
    crossing = mean_crossing(waves.pulse_v, waves.grid.samples_per_ui, waves.crossing, machine)
    return received._replace(waves=waves._replace(crossing=crossing))


def _as_it_comes(signal: Signal) -> Received:
    """A signal that is looked at without more equalization."""
    waves = waves_of(signal)
    return Received(signal, waves, noise_rms_v(signal, waves.grid.df_hz), None, np.zeros(0), waves.peak)


class Density(NamedTuple):
    """Where samples are not rare: their density at some phases, and the phases, s from the mean crossing."""

    bulk: Bulk
    time_s: Floats


def density_of(observed: Observed, *, sketch: bool = False) -> Density:
    """The density of the samples at the eye's phases, of a line code at every other.

    Args:
        observed: a picture of the eye, not just its measures.
        sketch: for a picture of the moment.
    """
    eye, received = observed.eye, observed.received
    if observed.machine is None:
        assert eye.seen is not None  # for a picture it is there
        return Density(bulk_of(eye.seen, sketch=sketch), eye.time_s)
    time_s = np.append(eye.time_s[:-1:2], eye.time_s[-1])
    at = received.waves.crossing + time_s / received.waves.grid.dt_s
    return Density(coded_bulk(sample_at(received, at), observed.machine, sketch=sketch), time_s)
