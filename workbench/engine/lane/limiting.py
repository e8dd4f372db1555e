"""What a limiting stage makes of its input: when its edges come, and how often it takes a symbol for another.

Given a rising transition, the probability that the sample at time t is still below the threshold is the probability
that the crossing comes later than t: read at each phase, that is the distribution of the crossing time. Where the
symbols before the transition move it, it is read for each of their combinations, since the next span's interference
knows the same symbols. It holds where the waveform crosses once a transition; an input whose eye is closed breaks it,
and the findings say so.
"""

from collections.abc import Sequence
from itertools import product
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.codes.machine import Machine
from workbench.engine.coded.crossing import log_at_zero, log_below_zero
from workbench.engine.lane.signal import Signal
from workbench.engine.lane.strangers import Beside, beside_of, pushing_s
from workbench.engine.lane.waves import Waves, between_points, leaning_as_cursors, sampled, waves_of
from workbench.engine.tails.density import FULL_DEPTHS, LOG_FLOOR, lower_tail
from workbench.engine.tails.jitter import Mixture, of_kinds
from workbench.engine.tails.quick import quick_level_v, quick_tail
from workbench.engine.tails.samples import (
    Sample,
    known_mean_v,
    known_shift_v,
    negated,
    sample_rows,
    side_by_side,
    treated,
)
from workbench.engine.tails.strangers import AddedDensity

_FINE = 16
_RARE = 1e-12
_RAREST = 1e-22
_BETWEEN = (0.25, 0.5, 0.75)
_BUSY = float(np.log(1e-4))
_CUTS = np.log([1e-13, 1e-9, 1e-5, 0.01, 0.17])
"""Where the distribution is cut into parts: each tail by decades, so that merging never hides what is rare."""
_SKETCH_CUTS = np.log([1e-9, 1e-4, 0.1])
_BUSY_DEPTHS = (2.5,)
_TELLING_UI = 0.005
"""An older symbol that moves a crossing by more than this to either side is told apart."""
_MOST_TELLING = 5
_SKETCH_TELLING = 2
_SKETCH_EVERY = 4
_CLOSED_UI, _CLOSED_TELLING = 0.2, 1
"""An input whose older symbols move its crossings by more than that in all is closed, or almost, and gets findings that
say so; fewer are told apart there, since its eye is not a number to build on and would take seconds."""
_MOST_LEANS = 24
_BENDING_UI = 0.015
_MOST_KINDS = 3
"""For so many of them, the nearest, the distribution is read by itself; the others only shift it."""


class Crossings(NamedTuple):
    """A limiting stage's view of its input.

    Attributes:
        displacement: of the output's edges about `mean_s`, by the symbols before.
        mean_s: mean crossing at a symbol's start, counted from the transmitter's, s.
        wrong: probability that the symbol is past the threshold at the best phase.
        bare: the displacement without what other lanes add at the input; None where none does.
        beside: what each of them adds there.
    """

    displacement: Mixture
    mean_s: float
    wrong: float
    bare: Mixture | None = None
    beside: tuple[Beside, ...] = ()


def noise_rms_v(signal: Signal, df_hz: float) -> float:
    """Rms noise in V: the density summed over the grid's frequencies, `df_hz` (Hz) apart."""
    return float(np.sqrt(signal.noise.sum() * df_hz))


def crossings(
    signal: Signal,
    *,
    random_s: float,
    deterministic_s: float,
    sketch: bool = False,
    machine: Machine | None = None,
) -> Crossings:
    """The crossing-time distribution and slip probability of the signal after a limiting stage's equalizer.

    Args:
        signal: after the equalizer, its axis a grid.
        random_s: the stage's own random jitter, rms, s.
        deterministic_s: its own deterministic jitter, dual-Dirac, s.
        sketch: for a picture of the moment: tails by the saddlepoint alone at the grid's points and none between
            them, the displacement in fewer parts, and no more than the nearest of the symbols before told apart.
        machine: the line code that symbols are counted by; None: as independent.
    """
    waves = waves_of(signal)
    # What told where the edges come from tells still where they go.
    shifts_ui = _shifts_ui(waves, signal)
    older = max(_telling(shifts_ui, _TELLING_UI), signal.jitter.older)
    closed = float(shifts_ui.sum()) > _CLOSED_UI
    older = min(older, _CLOSED_TELLING if closed else _SKETCH_TELLING if sketch else _MOST_TELLING)
    read = min(older, _telling(shifts_ui, _BENDING_UI), 1 if sketch or closed else _MOST_KINDS)
    kinds = [np.array(levels[::-1]) for levels in product((-1.0, 1.0), repeat=read)]
    seen = _Input(waves, signal, noise_rms_v(signal, waves.grid.df_hz), kinds, older, sketch, machine)
    dt_s = waves.grid.dt_s
    read_at = [_mass((places - waves.crossing) * dt_s, early, late) for places, late, early in _crossed(seen)]
    middles = [waves.crossing + float(mass @ middle_s) / dt_s for middle_s, mass in read_at]
    leans_s = _leans_s(seen, np.array(middles))

    def displaced(others: AddedDensity | None) -> Mixture:
        parts = [
            _parts(*_apart(*_spread(*one, others), deterministic_s), random_s, _SKETCH_CUTS if sketch else _CUTS)
            for one in read_at
        ]
        return of_kinds(parts, leans_s, older - read)

    plain = Crossings(displaced(None), waves.crossing_s, _wrong(seen, _SKETCH_EVERY if sketch else 1))
    if not signal.strangers:
        return plain
    beside = beside_of(signal)
    others = pushing_s(beside, _slope_v_per_s(waves, signal))
    moved = plain.displacement if others is None else displaced(others)
    return plain._replace(displacement=moved, bare=plain.displacement, beside=beside)


class _Input(NamedTuple):
    """What a stage gets: its waves, signal and rms noise in V, and how it is looked at.

    `kinds` are the levels of the symbols before an edge's own two, newest first, that are told apart; of `older`
    symbols the remaining ones only shift the edge.
    """

    waves: Waves
    signal: Signal
    noise_v: float
    kinds: list[Floats]
    older: int
    sketch: bool
    machine: Machine | None


def _shifts_ui(waves: Waves, signal: Signal) -> Floats:
    """How far the symbols before a transition's own two move its crossing, to either side, UI, shape (n,)."""
    at = int(np.floor(waves.crossing)) + np.arange(2)
    edge = sampled(waves, signal, at=at, noise_v=0.0, given=(1.0, -1.0))
    cursors_v = edge.cursors_v + leaning_as_cursors(edge, signal.jitter, 0)
    slope_v_per_ui = float(np.diff(known_mean_v(edge))[0]) * waves.grid.samples_per_ui
    first = max(edge.given) + 1
    return np.asarray(np.abs(cursors_v[0, first : first + _MOST_TELLING] / slope_v_per_ui))


def _slope_v_per_s(waves: Waves, signal: Signal) -> float:
    """How fast a lone rising transition crosses zero on average, V/s."""
    at = int(np.floor(waves.crossing)) + np.arange(2)
    edge = sampled(waves, signal, at=at, noise_v=0.0, given=(1.0, -1.0))
    return float(np.diff(known_mean_v(edge))[0]) / waves.grid.dt_s


def _telling(shifts_ui: Floats, least_ui: float) -> int:
    """How many of these symbols matter: the last that moves the crossing by more than that, and those before it."""
    moves = np.nonzero(shifts_ui > least_ui)[0]
    return int(moves[-1]) + 1 if moves.size else 0


_Read = tuple[Floats, Floats, Floats]


def _crossed(seen: _Input) -> list[_Read]:
    """For every kind of displacement: places (in samples), and there ln P(not yet crossed) and ln P(crossed).

    Where most edges cross, dual-Dirac jitter makes steps that are finer than the grid: places between its points are
    read there too.
    """
    waves = seen.waves
    per_ui = waves.grid.samples_per_ui
    at = int(np.floor(waves.crossing)) - per_ui // 2 + np.arange(per_ui + 1)
    found = _read(seen, [at] * len(seen.kinds), FULL_DEPTHS)
    few = [_busy(at, late, early) for _, late, early in found]
    if seen.sketch or not any(points.size for points in few):
        return found
    finer = _read(seen._replace(machine=None), few, _BUSY_DEPTHS, _BETWEEN)
    if seen.machine is not None:
        independent = _read(seen._replace(machine=None), few, _BUSY_DEPTHS)
        finer = [_as_coded(*reads) for reads in zip(finer, independent, found, strict=True)]
    return [_in_order(reads) for reads in zip(found, finer, strict=True)]


def _as_coded(finer: _Read, independent: _Read, coded: _Read) -> _Read:
    """What is read between the grid's points for independent symbols, moved as the code moves it at these points."""
    places, late, early = finer
    if not places.size:
        return finer
    known = np.isin(coded[0], independent[0])
    gains = [there[known] - here for there, here in zip(coded[1:], independent[1:], strict=True)]
    moved = (
        np.clip(side + np.interp(places, independent[0], gain), LOG_FLOOR, 0.0)
        for side, gain in zip((late, early), gains, strict=True)
    )
    return places, *_complemented(*moved)


def _busy(at: Integers, late: Floats, early: Floats) -> Integers:
    busy = np.nonzero(np.minimum(late, early) > _BUSY)[0]
    return at[max(int(busy[0]) - 1, 0) : int(busy[-1]) + 1] if busy.size else at[:0]


def _in_order(reads: Sequence[_Read]) -> _Read:
    places, late, early = (np.concatenate(columns) for columns in zip(*reads, strict=True))
    order = np.argsort(places)
    return places[order], late[order], early[order]


def _read(
    seen: _Input, at: list[Integers], depths: tuple[float, ...], parts: tuple[float, ...] = (0.0,)
) -> list[_Read]:
    """For every kind its places, and there ln P(not yet crossed) and ln P(crossed) of a rising edge.

    The places are some `parts` of a grid step after each kind's grid points.
    """
    sizes = [points.size for points in at]
    every = np.concatenate(at)
    shifted = [seen if part == 0.0 else seen._replace(waves=between_points(seen.waves, part)) for part in parts]
    rising = side_by_side([_rising(one, every, sizes)[0] for one in shifted])
    either = side_by_side([rising, negated(rising)])
    both = _log_below_zero(either, () if seen.sketch else depths, seen.machine)
    late, early = (side.reshape(len(parts), -1) for side in _complemented(*np.split(both, 2)))
    places = every + np.array(parts)[:, None]
    ends = np.cumsum(sizes)[:-1]
    columns = (np.split(column, ends, axis=1) for column in (places, late, early))
    return [(one.ravel(), two.ravel(), three.ravel()) for one, two, three in zip(*columns, strict=True)]


def _rising(seen: _Input, at: Integers, sizes: list[int]) -> tuple[Sample, Floats]:
    """A rising edge at so many grid points for each kind, without the symbols that only shift it, and their cursors."""
    levels = np.repeat(np.array(seen.kinds).T, sizes, axis=1)
    jitter = seen.signal.jitter
    upright = seen.signal._replace(jitter=jitter.upright())
    sample = sampled(seen.waves, upright, at=at, noise_v=seen.noise_v, given=(1.0, -1.0, *levels))
    cursors_v = sample.cursors_v + leaning_as_cursors(sample, jitter, 0)
    first = max(sample.given) + 1
    leaning_v = cursors_v[:, first : first + _MOST_LEANS].copy()
    cursors_v[:, first : first + seen.older - len(levels)] = 0.0
    return sample._replace(cursors_v=cursors_v), leaning_v


def _leans_s(seen: _Input, middles: Floats) -> Floats:
    """How far symbols that only shift an edge shift it, s, by kind and symbol; `middles` are the kinds' mean crossings.

    An older symbol like the one before a rising edge holds it down: it crosses later by cursor over slope.
    """
    whole = np.floor(middles).astype(np.int64)
    sample, leaning_v = _rising(seen, np.stack([whole, whole + 1], axis=1).ravel(), [2] * whole.size)
    mean_v = known_mean_v(sample)
    part = (middles - whole)[:, None]
    slope_v = (mean_v[1::2] - mean_v[::2])[:, None]
    return np.asarray((leaning_v[::2] * (1.0 - part) + leaning_v[1::2] * part) / slope_v * seen.waves.grid.dt_s)


def _wrong(seen: _Input, every: int) -> float:
    """Error ratio at the threshold at the phase where it is least, of every so many of the unit interval's."""
    waves, signal, noise_v = seen.waves, seen.signal, seen.noise_v
    at = int(np.ceil(waves.crossing)) + np.arange(0, waves.grid.samples_per_ui, every)
    sample = sampled(waves, signal, at=at, noise_v=noise_v)
    level_v = quick_level_v(sample, _RAREST)
    if level_v.max() > 0.0:
        return signal.wrong
    # The least error ratio stands where the saddlepoint puts the highest level; its neighbours are looked at too.
    best = int(quick_level_v(sample, _RARE).argmax())
    near = sample_rows(sample, np.arange(max(best - 2, 0), min(best + 3, at.size)))
    machine = seen.machine
    rarely = log_at_zero(lower_tail(near)) if machine is None else log_below_zero(near, machine)
    log_error = float(rarely.min())
    before = signal.wrong
    here = float(np.exp(log_error)) if log_error > LOG_FLOOR + 1.0 else 0.0
    return before + here - 2.0 * before * here


def _log_below_zero(sample: Sample, depths: tuple[float, ...], machine: Machine | None) -> Floats:
    """``ln P(sample <= 0)`` at each phase; 0 where the mean is below it, `LOG_FLOOR` where it is too rare to count.

    Without `depths` it is only sketched.
    """
    mean_v = known_mean_v(sample) + known_shift_v(sample)
    out = np.where(mean_v < 0.0, 0.0, LOG_FLOOR)
    near = np.nonzero(mean_v >= 0.0)[0]
    if depths or machine is not None:
        near = near[quick_level_v(sample_rows(sample, near), _RAREST) <= 0.0] if near.size else near
    if not near.size:
        return out
    there = sample_rows(sample, near)
    if machine is not None:
        out[near] = log_below_zero(there, machine, sketch=not depths)
    else:
        out[near] = log_at_zero(lower_tail(there, depths) if depths else quick_tail(treated(there)))
    return out


def _complemented(one: Floats, other: Floats) -> tuple[Floats, Floats]:
    """Two logarithms of probabilities that add up to 1, each exact where it is small: the larger from the smaller."""
    smaller = np.minimum(np.minimum(one, other), -np.log(2.0))
    larger = np.log1p(-np.exp(smaller))
    return np.where(one <= other, smaller, larger), np.where(one <= other, larger, smaller)


def _mass(time_s: Floats, early: Floats, late: Floats) -> tuple[Floats, Floats]:
    """Fine times (s) and the probability of crossing there, from ln P(crossed by t) and ln P(not yet crossed)."""
    fine_s = np.linspace(time_s[0], time_s[-1], _FINE * (time_s.size - 1) + 1)
    log_early = np.maximum.accumulate(_interpolated(fine_s, time_s, early))
    log_late = np.minimum.accumulate(_interpolated(fine_s, time_s, late))
    # Each tail from the side where it is small, so that subtraction loses nothing.
    first_half = log_early < log_late
    crossed, pending = np.exp(log_early), np.exp(log_late)
    mass = np.where(first_half[1:], np.diff(crossed), -np.diff(pending))
    join = np.nonzero(first_half[:-1] & ~first_half[1:])[0]
    mass[join] = np.maximum(1.0 - crossed[join] - pending[join + 1], 0.0)
    # What had crossed before the first time, or has not by the last, stands there.
    mass[0] += crossed[0]
    mass[-1] += pending[-1]
    return (fine_s[1:] + fine_s[:-1]) / 2.0, mass / mass.sum()


def _spread(time_s: Floats, mass: Floats, others: AddedDensity | None) -> tuple[Floats, Floats]:
    """Even times (s) and the probability of crossing there, with what other lanes move the crossing by, s."""
    if others is None:
        return time_s, mass
    step_s = float(time_s[-1] - time_s[0]) / (time_s.size - 1)
    place = others.level_v / step_s
    reach = int(np.ceil(np.abs(place).max()))
    low = np.floor(place).astype(np.int64)
    part = place - low
    # Each shift is shared by the two steps that it lies between, so that its mean stays.
    shifted = np.bincount(low + reach, others.chance * (1.0 - part), 2 * reach + 2)
    shifted += np.bincount(low + reach + 1, others.chance * part, 2 * reach + 2)
    far_s = time_s[0] + step_s * np.arange(-reach, time_s.size + reach + 1)
    return far_s, np.convolve(mass, shifted)


def _apart(time_s: Floats, mass: Floats, deterministic_s: float) -> tuple[Floats, Floats]:
    """The same with a dual-Dirac displacement, s."""
    half_s = deterministic_s / 2.0
    return np.concatenate([time_s - half_s, time_s + half_s]), np.concatenate([mass, mass]) / 2.0


def _parts(time_s: Floats, mass: Floats, random_s: float, cuts: Floats) -> Mixture:
    order = np.argsort(time_s, kind="stable")
    time_s, mass = time_s[order], mass[order]
    before, after = np.cumsum(mass), np.cumsum(mass[::-1])[::-1]
    depth = np.log(np.maximum(np.minimum(before, after), np.exp(LOG_FLOOR)))
    rank = np.searchsorted(cuts, depth)
    group = np.where(before < after, rank, 2 * cuts.size + 1 - rank)
    parts = [_part(time_s[group == g], mass[group == g]) for g in range(2 * cuts.size + 2)]
    weight, offset, sigma = (np.array(column) for column in zip(*parts, strict=True))
    return Mixture(weight / weight.sum(), offset, np.hypot(sigma, random_s))


def _interpolated(at: Floats, x: Floats, log_p: Floats) -> Floats:
    return np.asarray(-(np.interp(at, x, np.sqrt(-log_p)) ** 2))


def _part(time_s: Floats, mass: Floats) -> tuple[float, float, float]:
    total = float(mass.sum())
    if total == 0.0:
        return 0.0, 0.0, 0.0
    mean = float(mass @ time_s) / total
    variance = float(mass @ (time_s - mean) ** 2) / total
    return total, mean, float(np.sqrt(variance))
