"""What a designer looks at: curves of one lane at one probe point, as plain arrays.

Time along the x axis is in UI counted from the mean crossing at the start of the symbol; the eye spans 0 to 1.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, decibels
from workbench.engine.lane.grid import Grid, full_points
from workbench.engine.lane.lane import Density, Observed, density_of, observe, trained
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import Probe
from workbench.engine.lane.reflection import ImpedanceProfile, impedance_profile
from workbench.engine.lane.spans import span_s_parameters, transfer
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.bulk import Bulk
from workbench.engine.tails.eye import Eye, EyeReach
from workbench.engine.tails.strangers import added_up
from workbench.engine.verdict.channel import LimitCurve, limit_curves
from workbench.engine.verdict.measures import EyeOpening, cursors_v, opening
from workbench.engine.verdict.power_sums import PowerSums, power_sums
from workbench.engine.verdict.skew import conversion_loss_db

ERROR_RATIOS = (1e-3, 1e-6, 1e-9, 1e-12, 1e-15, 1e-18)
_RESPONSE_WINDOW_UI = 256
_PULSE_BEFORE_UI = 2.0
_PULSE_AFTER_UI = 14.0
_LEVELS = 256
_LEAST = 1e-6
"""-120 dB: a response ends there."""
_COLUMNS, _SKETCHED_COLUMNS = 129, 65
"""Of the density; while something moves no more than what the eye follows."""
_BEFORE_UI = 0.04
"""Phases that lie further before the crossing than that are looked at for what jitter meets there, and not drawn."""
_MOST_NEIGHBOURS, _SLIGHT = 4, 0.02
_HARDLY_ANY = 1e-6


class FrequencyResponse(NamedTuple):
    """Frequency response: `f_hz`, and in dB `gain_db` from the transmitter's matched level to the probe point and
    `return_db` (return loss, positive) of the last span, seen from its driving end; shape (n,) each.

    `beside` is that span's crosstalk at its receiving end, without 0 Hz; None where it has no neighbours;
    `conversion_db` its channel's conversion loss, positive; None where nothing turns into the common mode."""

    f_hz: Floats
    gain_db: Floats
    return_db: Floats
    beside: PowerSums | None = None
    conversion_db: Floats | None = None


class NeighbourPulse(NamedTuple):
    """What one symbol of another lane adds at the probe point, V, shape (n,), and in UI of this lane where it stands.

    Attributes:
        lane, where: which lane, and in which bundle.
        time_ui, pulse_v: as above; its largest value falls on the sampling instant.
        peak_v: the most that it adds to a sample.
    """

    lane: str
    where: str
    time_ui: Floats
    pulse_v: Floats
    peak_v: float


class PulseCurve(NamedTuple):
    """Pulse response: `time_ui` and `pulse_v`, shape (n,); its cursors one UI apart, `cursor_ui` and `cursor_v`.

    `beside` are the pulses of other lanes, the strongest first.
    """

    time_ui: Floats
    pulse_v: Floats
    cursor_ui: Floats
    cursor_v: Floats
    beside: tuple[NeighbourPulse, ...] = ()


class EyePicture(NamedTuple):
    """The eye of one unit interval.

    Attributes:
        time_ui: the contours' times, shape (P,), from 0 to 1.
        level_v: shape (N,), rising, symmetric about 0.
        column_ui: times of the density's columns, even, from 0 to 1, shape (C,).
        density: probability density over both symbols in 1/V, shape (C, N): columns first.
        contours_v: half the opening at each phase for each of `ERROR_RATIOS`, shape (6, P); the lower half mirrors it.
        bathtub: log10 of BER at the threshold at `bath_ui`.
        bath_ui: shape (M,).
        sampling_ui: the sampling instant.
        height_v, width_ui: the opening at the profile's error ratio.
        alone_v: half the opening at the profile's error ratio at each phase without the lanes beside this one, shape
            (P,); None where it has no neighbours.
    """

    time_ui: Floats
    level_v: Floats
    column_ui: Floats
    density: Floats
    contours_v: Floats
    bathtub: Floats
    bath_ui: Floats
    sampling_ui: float
    height_v: float
    width_ui: float
    alone_v: Floats | None = None


class LaneView(NamedTuple):
    """All curves of one lane at one probe point."""

    probe: str
    ui_s: float
    nyquist_hz: float
    response: FrequencyResponse
    pulse: PulseCurve
    eye: EyePicture
    profile: ImpedanceProfile
    limits: tuple[LimitCurve, ...] = ()


def view_lane(
    memo: Memo,
    plan: LanePlan,
    probe: Probe,
    error_ratio: float,
    reach: EyeReach = EyeReach.ALL,
    *,
    symbols: Symbols = Symbols.CODED,
) -> LaneView:
    """Every curve of a lane at a probe point.

    Args:
        memo: the store of known results.
        plan: the lane, resolved.
        probe: where to look.
        error_ratio: at which height and width are read.
        reach: `EyeReach.PICTURE` while something is dragged: every other phase, contours and a limiting stage's input
            only sketched, which puts the contours a few percent of the swing off at most; let the whole one follow.
        symbols: which symbols count.
    """
    plan = trained(memo, plan, sketch=reach is EyeReach.PICTURE).plan
    observed = observe(memo, plan, probe, error_ratio, reach=reach, symbols=symbols)
    # What is drawn all over is computed at fewer phases than what is judged: figures are those of the assessment.
    judged = observed if reach is not EyeReach.ALL else observe(memo, plan, probe, error_ratio, symbols=symbols)
    seen = opening(judged, error_ratio)
    return LaneView(
        probe=probe.name,
        ui_s=plan.profile.ui_s,
        nyquist_hz=plan.profile.nyquist_hz,
        response=frequency_response(memo, plan, probe),
        pulse=_pulse_curve(observed, seen.sampling_s),
        eye=_eye_picture(observed, seen, error_ratio, sketch=reach is EyeReach.PICTURE),
        profile=impedance_profile(memo, plan),
        limits=limit_curves(memo, plan, sketch=reach is EyeReach.PICTURE),
    )


def frequency_response(memo: Memo, plan: LanePlan, probe: Probe) -> FrequencyResponse:
    """Gain to the probe point and return loss of the last span, up to four times Nyquist.

    The gain multiplies what every linear stage does; after a limiting stage it starts anew, since that has none.
    """
    ui_s = plan.profile.ui_s
    grid = Grid(ui_s, _RESPONSE_WINDOW_UI, min(2 * _RESPONSE_WINDOW_UI + 1, full_points(_RESPONSE_WINDOW_UI)))
    gain = np.ones(grid.points, np.complex128)
    for number in range(probe.span + 1):
        span = plan.spans[number]
        matched = transfer(memo, span, grid, probe.elements if number == probe.span else None).gain
        gain = gain * matched * (span.source.resistance_ohm + 100.0) / 100.0
        if number < probe.span:
            stage = plan.stages[number]
            gain = np.ones_like(gain) if stage.regenerates else gain * stage.transfer(grid.f_hz)
    reflected = np.abs(span_s_parameters(memo, plan.spans[probe.span], grid).s11)
    beside = power_sums(memo, plan, probe.span, grid)
    converted = conversion_loss_db(memo, plan.spans[probe.span], grid)
    return FrequencyResponse(grid.f_hz, decibels(np.abs(gain), _LEAST), -decibels(reflected, _LEAST), beside, converted)


def _pulse_curve(observed: Observed, sampling_s: float) -> PulseCurve:
    waves = observed.received.waves
    grid = waves.grid
    first = int(waves.crossing - _PULSE_BEFORE_UI * grid.samples_per_ui)
    at = first + np.arange(int((_PULSE_BEFORE_UI + _PULSE_AFTER_UI) * grid.samples_per_ui))
    cursors = cursors_v(observed, sampling_s)
    return PulseCurve(
        time_ui=(at - waves.crossing) / grid.samples_per_ui,
        pulse_v=waves.pulse_v[at % grid.samples],
        cursor_ui=sampling_s / grid.ui_s + np.arange(-1, cursors.size - 1),
        cursor_v=cursors,
        beside=tuple(_neighbour_pulses(observed, sampling_s)),
    )


def _neighbour_pulses(observed: Observed, sampling_s: float) -> Iterator[NeighbourPulse]:
    """The pulses of other lanes about the place where each is largest, which falls near the sampling instant."""
    grid = observed.received.waves.grid
    strongest = sorted(observed.beside, key=lambda one: -one.peak_v)[:_MOST_NEIGHBOURS]
    for one in (one for one in strongest if one.peak_v > _SLIGHT * strongest[0].peak_v):
        pulse_v = grid.time_response(one.stranger.spectrum)
        largest = int(np.abs(pulse_v).argmax())
        at = largest + np.arange(
            -int(_PULSE_BEFORE_UI * grid.samples_per_ui), int(_PULSE_AFTER_UI * grid.samples_per_ui)
        )
        yield NeighbourPulse(
            lane=one.stranger.lane,
            where=one.stranger.where,
            time_ui=(at - largest) / grid.samples_per_ui + sampling_s / grid.ui_s,
            pulse_v=pulse_v[at % grid.samples],
            peak_v=one.peak_v,
        )


def _eye_picture(observed: Observed, seen: EyeOpening, error_ratio: float, *, sketch: bool) -> EyePicture:
    eye = observed.eye
    seen_at = density_of(observed, sketch=sketch)
    reach = _reach_v(eye, seen_at.bulk)
    level_v = np.linspace(-reach, reach, _LEVELS)
    bath_ui = np.linspace(0.0, 1.0, _COLUMNS)
    column_ui = np.linspace(0.0, 1.0, _SKETCHED_COLUMNS) if sketch else bath_ui
    drawn = eye.time_s > -_BEFORE_UI * eye.ui_s
    return EyePicture(
        time_ui=eye.time_s[drawn] / eye.ui_s,
        level_v=level_v,
        column_ui=column_ui,
        density=_with_neighbours(observed, _density(seen_at, column_ui * eye.ui_s, level_v), level_v),
        contours_v=np.array([eye.levels_v(ratio)[drawn] for ratio in ERROR_RATIOS]),
        bathtub=eye.log_error(bath_ui * eye.ui_s) / np.log(10.0),
        bath_ui=bath_ui,
        sampling_ui=seen.sampling_s / eye.ui_s,
        height_v=seen.height_v,
        width_ui=seen.width_s / eye.ui_s,
        alone_v=None if observed.alone is None else observed.alone.levels_v(error_ratio)[drawn],
    )


def _reach_v(eye: Eye, bulk: Bulk) -> float:
    """The level that hardly any sample lies beyond, V."""
    beyond = np.cumsum(bulk.density[:, ::-1], axis=1)[:, ::-1] * (bulk.edge_v[1] - bulk.edge_v[0])
    top_v = bulk.edge_v[np.flatnonzero((beyond > _HARDLY_ANY).any(axis=0))[-1] + 1]
    return 1.05 * float(max(top_v, np.abs(eye.levels_v(_HARDLY_ANY)).max()))


def _with_neighbours(observed: Observed, density: Floats, level_v: Floats) -> Floats:
    """The density, shape (C, N), with what the lanes beside this one add to every sample."""
    added = None if observed.strange is None else added_up(observed.strange)
    if added is None:
        return density
    # Levels are even: what moves one to another follows from how many steps lie between, and goes to the next two.
    count, step_v = level_v.size, float(level_v[1] - level_v[0])
    place = added.level_v / step_v + (count - 1)
    inside = (place > -1.0) & (place < 2 * count - 1)
    low = np.floor(place[inside])
    part, chance = place[inside] - low, added.chance[inside]
    at = low.astype(int) + 1
    moved = np.bincount(at, (1.0 - part) * chance, 2 * count + 1) + np.bincount(at + 1, part * chance, 2 * count + 1)
    steps = np.arange(count)
    return np.asarray(density @ moved[1 + steps[None, :] - steps[:, None] + count - 1])


def _density(density: Density, column_s: Floats, level_v: Floats) -> Floats:
    """Density over both symbols, 1/V, shape (C, N), at even levels that are symmetric about 0."""
    half_v = 0.5 * (level_v[1] - level_v[0])
    place = np.interp(column_s, density.time_s, np.arange(density.time_s.size))
    one = density.bulk.between(place, np.append(level_v - half_v, level_v[-1] + half_v))
    return np.asarray(0.5 * (one + one[:, ::-1]))
