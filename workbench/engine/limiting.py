"""What a limiting stage makes of its input: when its edges come, and how often it takes a symbol for another.

Given a rising transition, the probability that the sample at time t is still below the threshold is the probability
that the crossing comes later than t: read at each phase, that is the distribution of the crossing time. It holds where
the waveform crosses once a transition; an input whose eye is closed breaks it, and the findings say so.
"""

from typing import NamedTuple

import numpy as np

from workbench.engine.chain import Integers
from workbench.engine.jitter import Mixture
from workbench.engine.samples import Sample, negated, sample_rows
from workbench.engine.signal import Signal
from workbench.engine.tails import LOG_FLOOR, lower_tail, quick_level_v
from workbench.engine.waves import Waves, between_points, sampled, waves_of
from workbench.parts.twoport import Floats

_FINE = 16
_RARE = 1e-12
_RAREST = 1e-22
_BETWEEN = (0.5,)
_BUSY = float(np.log(1e-4))
_CUTS = np.log([1e-13, 1e-9, 1e-5, 0.01, 0.17])
"""Where the distribution is cut into parts: each tail by decades, so that merging never hides what is rare."""


class Crossings(NamedTuple):
    """A limiting stage's view of its input.

    Attributes:
        displacement: of the output's edges about `mean_s`.
        mean_s: mean crossing at a symbol's start, counted from the transmitter's, s.
        wrong: probability that the symbol is past the threshold at the best phase.
    """

    displacement: Mixture
    mean_s: float
    wrong: float


def noise_rms_v(signal: Signal, df_hz: float) -> float:
    """Rms noise in V: the density summed over the grid's frequencies, `df_hz` (Hz) apart."""
    return float(np.sqrt(signal.noise.sum() * df_hz))


def crossings(signal: Signal, *, random_s: float, deterministic_s: float) -> Crossings:
    """The crossing-time distribution and slip probability of the signal behind a limiting stage's equalizer.

    Args:
        signal: behind the equalizer, its axis a grid.
        random_s: the stage's own random jitter, rms, s.
        deterministic_s: its own deterministic jitter, dual-Dirac, s.
    """
    waves = waves_of(signal)
    noise_v = noise_rms_v(signal, waves.grid.df_hz)
    per_ui = waves.grid.samples_per_ui
    first = int(np.floor(waves.crossing)) - per_ui // 2
    places, late, early = _crossed(waves, signal, first + np.arange(per_ui + 1), noise_v)
    time_s = (places - waves.crossing) * waves.grid.dt_s
    middle_s, mass = _mass(time_s, early, late)
    moved_s = np.concatenate([middle_s - deterministic_s / 2.0, middle_s + deterministic_s / 2.0])
    displacement = _parts(moved_s, np.concatenate([mass, mass]) / 2.0, random_s)
    return Crossings(displacement, waves.crossing_s, _wrong(waves, signal, noise_v))


def _crossed(waves: Waves, signal: Signal, at: Integers, noise_v: float) -> tuple[Floats, Floats, Floats]:
    """Places (in samples), and there ln P(not yet crossed) and ln P(crossed) of a rising edge.

    Where most edges cross, dual-Dirac jitter makes steps that are finer than the grid: places between its points are
    read there too.
    """
    parts = [_crossed_at(waves, signal, at, noise_v)]
    rare = np.minimum(parts[0][1], parts[0][2])
    busy = np.nonzero(rare > _BUSY)[0]
    if busy.size:
        few = at[max(int(busy[0]) - 1, 0) : int(busy[-1]) + 1]
        parts += [_crossed_at(between_points(waves, part), signal, few, noise_v, part) for part in _BETWEEN]
    places, late, early = (np.concatenate(columns) for columns in zip(*parts, strict=True))
    order = np.argsort(places)
    return places[order], late[order], early[order]


def _crossed_at(
    waves: Waves, signal: Signal, at: Integers, noise_v: float, part: float = 0.0
) -> tuple[Floats, Floats, Floats]:
    rising = sampled(waves, signal, at=at, noise_v=noise_v, given=(1.0, -1.0))
    return at + part, *_complemented(_log_below_zero(rising), _log_below_zero(negated(rising)))


def _wrong(waves: Waves, signal: Signal, noise_v: float) -> float:
    """Error ratio at the threshold at the phase where it is least."""
    per_ui = waves.grid.samples_per_ui
    at = int(np.ceil(waves.crossing)) + np.arange(per_ui)
    sample = sampled(waves, signal, at=at, noise_v=noise_v)
    level_v = quick_level_v(sample, _RAREST)
    if level_v.max() > 0.0:
        return signal.wrong
    # The least error ratio stands where the saddlepoint puts the highest level; its neighbours are looked at too.
    best = int(quick_level_v(sample, _RARE).argmax())
    near = sample_rows(sample, np.arange(max(best - 2, 0), min(best + 3, per_ui)))
    log_error = float(_log_at_zero(*lower_tail(near)).min())
    before = signal.wrong
    here = float(np.exp(log_error)) if log_error > LOG_FLOOR + 1.0 else 0.0
    return before + here - 2.0 * before * here


def _log_below_zero(sample: Sample) -> Floats:
    """``ln P(sample <= 0)`` at each phase; 0 where the mean is below it, `LOG_FLOOR` where it is too rare to count."""
    mean_v = np.sum([level * sample.cursors_v[:, column] for column, level in sample.given.items()], axis=0)
    counts = np.nonzero((mean_v >= 0.0) & (quick_level_v(sample, _RAREST) <= 0.0))[0]
    out = np.where(mean_v < 0.0, 0.0, LOG_FLOOR)
    if counts.size:
        out[counts] = _log_at_zero(*lower_tail(sample_rows(sample, counts)))
    return out


def _complemented(one: Floats, other: Floats) -> tuple[Floats, Floats]:
    """Two logarithms of probabilities that add up to 1, each exact where it is small: the larger from the smaller."""
    smaller = np.minimum(np.minimum(one, other), -np.log(2.0))
    larger = np.log1p(-np.exp(smaller))
    return np.where(one <= other, smaller, larger), np.where(one <= other, larger, smaller)


def _log_at_zero(v: Floats, log_p: Floats) -> Floats:
    at_zero = [
        np.interp(0.0, v[p], -np.sqrt(-log_p[p]), left=-np.sqrt(-LOG_FLOOR), right=0.0) for p in range(v.shape[0])
    ]
    return -(np.array(at_zero) ** 2)


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


def _parts(time_s: Floats, mass: Floats, random_s: float) -> Mixture:
    order = np.argsort(time_s, kind="stable")
    time_s, mass = time_s[order], mass[order]
    before, after = np.cumsum(mass), np.cumsum(mass[::-1])[::-1]
    depth = np.log(np.maximum(np.minimum(before, after), np.exp(LOG_FLOOR)))
    rank = np.searchsorted(_CUTS, depth)
    group = np.where(before < after, rank, 2 * _CUTS.size + 1 - rank)
    parts = [_part(time_s[group == g], mass[group == g]) for g in np.unique(group) if mass[group == g].sum() > 0.0]
    weight, offset, sigma = (np.array(column) for column in zip(*parts, strict=True))
    return Mixture(weight / weight.sum(), offset, np.hypot(sigma, random_s))


def _interpolated(at: Floats, x: Floats, log_p: Floats) -> Floats:
    return np.asarray(-(np.interp(at, x, np.sqrt(-log_p)) ** 2))


def _part(time_s: Floats, mass: Floats) -> tuple[float, float, float]:
    total = float(mass.sum())
    mean = float(mass @ time_s) / total
    variance = float(mass @ (time_s - mean) ** 2) / total
    return total, mean, float(np.sqrt(variance))
