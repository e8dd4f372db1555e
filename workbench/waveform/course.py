"""A lane up to a probe point as what a wave goes through: linear stretches, and the stages that end them."""

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.engine.lane.crosstalk import coupled
from workbench.engine.lane.filtering import Filtering
from workbench.engine.lane.grid import LARGEST_WINDOW_UI, TAIL_PER_PEAK, Grid, full_points
from workbench.engine.lane.lane import grid_for
from workbench.engine.lane.path import LanePlan, StagePlan
from workbench.engine.lane.probe import PINS, RECEIVER, Probe
from workbench.engine.lane.spans import transfer
from workbench.engine.lane.waves import LEAD_UI
from workbench.engine.memo import Memo
from workbench.errors import EngineError
from workbench.parts.edge import ramp_gain
from workbench.parts.receiver import NOISE_BAND_PER_RATE, ContinuousEqualizer
from workbench.waveform.edges import USABLE, correction
from workbench.waveform.filters import FilterResponse
from workbench.waveform.frames import Frames, frames_for
from workbench.waveform.models.streams import averaging
from workbench.waveform.neighbours.aggressors import SLIDING, Foreign, worst_phase_ui

_RATES = (8, 12, 16, 32)
"""Samples a UI that steps may be drawn at: the fewest that carry the pulse's spectrum."""
_UNHEARD = 1e-3
"""What of a pulse's spectrum, in sum, may lie beyond the band that the samples of its steps carry."""


class LinearStretch(NamedTuple):
    """A linear stretch, from an active point to the next one or to the probe point.

    Attributes:
        response: its gain and the noise at its end. Where steps enter it, their shape and the drive are in the gain.
        into: samples a UI that it takes: of drawn steps, or of the wave.
        from_steps: whether steps enter it; else a wave, be it a model's stimulus.
        crossing_ui: where a lone symbol's rising edge crosses zero at its end, UI after the step that made it, time of
            flight left out; of the whole since steps last entered.
        peak_v: the pulse's peak there, V, small signal.
        stage: the stage at its end; None at the probe point.
        beside: what other lanes add there.
    """

    response: FilterResponse
    into: int
    from_steps: bool
    crossing_ui: float
    peak_v: float
    stage: StagePlan | None
    beside: tuple[Foreign, ...] = ()


class Course(NamedTuple):
    """All stretches up to a probe point, and how waves are cut into blocks there."""

    stretches: tuple[LinearStretch, ...]
    frames: Frames


class Front(NamedTuple):
    """What the receiver does before it decides: the CTLE and its DC gain in dB, None without; a model as a filter."""

    ctle: ContinuousEqualizer | None
    dc_gain_db: float | None
    model: Filtering | None = None


class NeighbourSent(NamedTuple):
    """How a neighbour's bits come to where it lies beside the lane, where makers' models take waves on their way.

    Attributes:
        plan: the other lane, models that take waves not in its filters.
        by_wave: whether its transmitter's model sends them.
        stages: the numbers of its stages whose models they go through.
    """

    plan: LanePlan
    by_wave: bool
    stages: frozenset[int]


class SentAs(NamedTuple):
    """How a lane is driven where a model sends waves.

    Attributes:
        by_wave: whether a stimulus of -1/2 and +1/2 enters the first stretch through a model, in place of steps.
        shape: what the model's AMI_Init does to a pulse, which tells where the pulse stands; None where not known.
        beside: the neighbours that go through models, by their numbers in the plan.
    """

    by_wave: bool = False
    shape: Filtering | None = None
    beside: Mapping[int, NeighbourSent] = MappingProxyType({})


BY_STEPS = SentAs()


def course_of(
    memo: Memo, plan: LanePlan, probe: Probe, front: Front, per_ui: int, *, sent: SentAs = BY_STEPS
) -> Course:
    """What a wave goes through on its way to a probe point.

    Args:
        memo: the store of known results.
        plan: the lane.
        probe: where to look.
        front: the receiver's own; counts at a probe point after it only.
        per_ui: samples a UI of the waves.
        sent: how it is driven.

    Raises:
        EngineError: the lane never settles.
    """
    window_ui = grid_for(memo, plan, probe).window_ui
    while True:
        frames = frames_for(window_ui)
        band = _band(memo, plan, probe, frames=frames, window_ui=window_ui, per_ui=per_ui)
        stretches, left = _stretches(memo, plan, probe, front=front, band=band, window_ui=window_ui, sent=sent)
        if left <= TAIL_PER_PEAK:
            return Course(stretches, frames)
        if window_ui >= LARGEST_WINDOW_UI:
            raise EngineError(
                f"lane {plan.name} never settles: {100.0 * left:.2g} % of the pulse's peak is left after "
                f"{window_ui} UI; shorten what rings, or terminate it"
            )
        window_ui *= 2


class _Band(NamedTuple):
    grid: Grid
    per_ui: int

    @property
    def f_per_ui(self) -> Floats:
        """The frequencies over the symbol rate, shape (points,)."""
        return np.arange(self.grid.points) / self.grid.window_ui


def _band(memo: Memo, plan: LanePlan, probe: Probe, *, frames: Frames, window_ui: int, per_ui: int) -> _Band:
    surveyed = grid_for(memo, plan, probe, least_window_ui=window_ui)
    most = full_points(frames.frame_ui, per_ui)
    points = min((surveyed.points - 1) * frames.frame_ui // surveyed.window_ui + 1, most)
    return _Band(Grid(plan.profile.ui_s, frames.frame_ui, points, per_ui), per_ui)


def _stretches(
    memo: Memo, plan: LanePlan, probe: Probe, *, front: Front, band: _Band, window_ui: int, sent: SentAs
) -> tuple[tuple[LinearStretch, ...], float]:
    """The stretches, and the most that is left of a pulse after `window_ui` UI, over its peak."""
    found: list[LinearStretch] = []
    left, since_ui = 0.0, 0.0
    pulse = np.zeros(0, np.complex128)
    for number in range(probe.span + 1):
        before = plan.stages[number - 1] if number else None
        from_steps = before is None or before.regenerates
        gain = transfer(memo, plan.spans[number], band.grid, probe.elements if number == probe.span else None).gain
        gain = gain * _driven(plan, before, band)
        shaped, noise = _end(plan, probe, front, number, band.grid.f_hz)
        gain = gain * shaped
        pulse = gain * _rectangle(band) if from_steps else pulse * gain
        by_wave = before is None and sent.by_wave
        if by_wave and sent.shape is not None:
            pulse = pulse * sent.shape.gain(band.grid.f_hz)
        wave = band.grid.time_response(pulse)
        peak_v = float(wave.max())
        tail = np.roll(np.abs(wave), LEAD_UI * band.per_ui)[window_ui * band.per_ui :].max()
        left = max(left, float(tail) / peak_v if peak_v else 0.0)
        into = _rate(pulse, band) if from_steps and not by_wave else band.per_ui
        if by_wave:
            gain = gain * averaging(band.f_per_ui / band.per_ui)
            from_steps = False
        response = _response(gain, noise, into if from_steps else None, band)
        stage = plan.stages[number] if number < probe.span else None
        crossing_ui = _crossing_ui(wave, band.per_ui)
        remade = stage is not None and stage.regenerates
        at_ui = since_ui + crossing_ui + (0.0 if remade else 0.5)
        beside = _beside(
            memo, plan, probe, number=number, shaped=shaped, band=band, at_ui=at_ui, sent=sent.beside
        )
        since_ui += crossing_ui if remade else 0.0
        found.append(LinearStretch(response, into, from_steps, crossing_ui, peak_v, stage, beside))
    return tuple(found), left


def _beside(
    memo: Memo, plan: LanePlan, probe: Probe, *, number: int, shaped: Complexes, band: _Band, at_ui: float,
    sent: Mapping[int, NeighbourSent],
) -> tuple[Foreign, ...]:
    """What the lanes beside one of the spans add at its end, where `shaped` is the gain of what stands there."""
    elements = probe.elements if number == probe.span else None
    found = []
    for which, one in enumerate(plan.neighbours):
        if one.span != number:
            continue
        other = one.aggressor
        (gain,), remade = _driving(memo, other, one.aggressor_span, band)
        way = coupled(memo, plan.spans[number], elements, one, band.grid) * shaped
        gain = gain * way
        ratio = other.profile.ui_s / plan.profile.ui_s
        pulse = gain * _rectangle(band, ratio)
        if one.asynchronous or ratio != 1.0:
            ratio, phase_ui = ratio * (1.0 + SLIDING), 0.0
        else:
            wave = band.grid.time_response(pulse)
            phase_ui = worst_phase_ui(wave, per_ui=band.per_ui, ui_ratio=ratio, at_ui=at_ui)
        if which in sent:
            responses, into = _through_models(memo, sent[which], one.aggressor_span, way, band)
        else:
            into = _rate(pulse, band)
            responses = [_response(gain, None, into, band)]
        found.append(Foreign(other, remade, responses[-1], into, ratio, phase_ui, which, tuple(responses[:-1])))
    return tuple(found)


def _through_models(
    memo: Memo, sent: NeighbourSent, span: int, way: Complexes, band: _Band
) -> tuple[list[FilterResponse], int]:
    """The responses from a neighbour's steps or stimulus to each stage's models and on; samples a UI of the first."""
    plan = sent.plan.bare if sent.by_wave else sent.plan
    gains, _ = _driving(memo, plan, span, band, sent.stages)
    gains[-1] = gains[-1] * way
    into = band.per_ui if sent.by_wave else _rate(gains[0] * _rectangle(band), band)
    if sent.by_wave:
        gains[0] = gains[0] * averaging(band.f_per_ui / band.per_ui)
    first = _response(gains[0], None, None if sent.by_wave else into, band)
    return [first, *(_response(gain, None, None, band) for gain in gains[1:])], into


def _driving(
    memo: Memo, plan: LanePlan, number: int, band: _Band, cuts: frozenset[int] = frozenset()
) -> tuple[list[Complexes], bool]:
    """From a lane's last steps to the open voltage that drives one of its spans; whether a stage made these steps.

    It is cut in pieces at the stages of numbers `cuts`, where models stand.
    """
    before = plan.stages[number - 1] if number else None
    gain = _driven(plan, before, band)
    if before is None or before.regenerates:
        return [gain], before is not None
    (*first, came), remade = _driving(memo, plan, number - 1, band, cuts)
    heard = before.input_gain(band.grid.f_hz) * before.part.drive(before.settings)
    arrived = came * transfer(memo, plan.spans[number - 1], band.grid).gain * heard
    return [*first, arrived, gain] if number - 1 in cuts else [*first, arrived * gain], remade


def _driven(plan: LanePlan, before: StagePlan | None, band: _Band) -> Complexes:
    """What an active point's output does to unit steps, or to the wave after its limiter: V per unit, shape (n,)."""
    f_hz = band.grid.f_hz
    if before is None:
        half_swing_v, _ = plan.transmitter.source()
        driven = half_swing_v * plan.transmitter.edge_gain(f_hz)
        own = plan.by_models.sent if plan.by_models is not None else None
        return driven if own is None else driven * own.gain(f_hz)
    output = before.output_gain(f_hz) * before.open_ratio
    if not before.regenerates:
        return output
    return before.part.swing_v(before.settings) / 2.0 * output * ramp_gain(f_hz, before.part.edge_s(before.settings))


def _end(plan: LanePlan, probe: Probe, front: Front, number: int, f_hz: Floats) -> tuple[Complexes, Floats | None]:
    """Gain of what stands at a stretch's end, and the noise after it, V/sqrt(Hz); shape (n,)."""
    if number < probe.span:
        stage = plan.stages[number]
        shaped = stage.input_gain(f_hz) * stage.part.drive(stage.settings)
        return shaped, _noise(stage.noise_density(f_hz), shaped)
    shaped = np.ones(f_hz.size, np.complex128)
    if probe.equalized and front.ctle is not None and front.dc_gain_db is not None:
        shaped = front.ctle.transfer(front.dc_gain_db, f_hz)
    if probe.equalized and front.model is not None:
        shaped = shaped * front.model.gain(f_hz)
    noise_v = plan.receiver.noise_v if probe.name in (RECEIVER, PINS) else 0.0
    band_hz = NOISE_BAND_PER_RATE / plan.profile.ui_s
    return shaped, _noise(np.where(f_hz <= band_hz, noise_v**2 / band_hz, 0.0), shaped)


def _noise(density: Floats, shaped: Complexes) -> Floats | None:
    return np.sqrt(density) * np.abs(shaped) if density.any() else None


def _rectangle(band: _Band, length_ui: float = 1.0) -> Complexes:
    """Spectrum in s of a symbol of height 1 and `length_ui` UI from its start on."""
    f_per_ui = band.f_per_ui * length_ui
    return np.asarray(length_ui * band.grid.ui_s * np.sinc(f_per_ui) * np.exp(-1j * np.pi * f_per_ui))


def _rate(pulse: Complexes, band: _Band) -> int:
    """The fewest samples a UI that carry a pulse's steps."""
    content = np.cumsum(np.abs(pulse))
    heard = int(np.searchsorted(content, (1.0 - _UNHEARD) * content[-1]))
    return next((rate for rate in _RATES if heard <= USABLE * rate * band.grid.window_ui), _RATES[-1])


def _response(gain: Complexes, noise: Floats | None, steps_per_ui: int | None, band: _Band) -> FilterResponse:
    f_per_ui = band.f_per_ui
    if steps_per_ui is not None:
        points = min(gain.size, int(USABLE * steps_per_ui * band.grid.window_ui) + 1)
        gain = gain[:points] * correction(f_per_ui[:points] / steps_per_ui)
    late = np.exp(-2j * np.pi * f_per_ui[: gain.size] * LEAD_UI)
    return FilterResponse(gain * late, noise, LEAD_UI)


def _crossing_ui(pulse: Floats, per_ui: int) -> float:
    """Where a rising edge crosses zero on average: the pulse equals itself one UI later, before its peak."""
    peak = int(pulse.argmax())
    at = np.arange(peak - per_ui, peak + 1)
    difference = pulse[at % pulse.size] - pulse[(at + per_ui) % pulse.size]
    above = np.nonzero(difference > 0.0)[0]
    first = int(above[0]) if above.size else per_ui
    part = 0.0
    if 0 < first < difference.size:
        low, high = difference[first - 1], difference[first]
        part = float(-high / (high - low)) if high > low else 0.0
    crossing = (at[first] + part) / per_ui
    whole = pulse.size / per_ui
    return float((crossing + whole / 2.0) % whole - whole / 2.0)


def crossings_ui(course: Course) -> Iterator[float]:
    """The mean crossing at each stretch's end, UI after the start of the symbol at the transmitter."""
    before = 0.0
    for stretch in course.stretches:
        yield before + stretch.crossing_ui
        if stretch.stage is not None and stretch.stage.regenerates:
            before += stretch.crossing_ui
