"""A limiting stage's edges sequence by sequence, far down: no tilt, no kinds, nothing that only shifts.

Every sequence of the symbols about a sample is taken by itself: where the waveform at the stage's input crosses zero at
each boundary, what the edges that start there make of the sample behind the next span. Only what is small is Gaussian:
noise, and symbols older than those that are listed. Of the program it takes the two stretches' linear responses.
"""

from typing import NamedTuple

import numpy as np
from scipy.special import log_ndtr, logsumexp

_NEWER, _OLDER = 2, 8
"""Symbols beside an edge's own two that move its crossing one by one."""
_AFTER = 7
"""So many boundaries before a sample, and one after its symbol, move it one by one."""
_LOWEST = 20_000


class Sequences(NamedTuple):
    """Mean and rms, V, of the sample of each sequence, shape (phases, sequences), and the phases in UI."""

    time_ui: np.ndarray
    mean_v: np.ndarray
    rms_v: np.ndarray

    def levels_v(self, error_ratio: float) -> np.ndarray:
        """The level that the upper symbol falls below with that probability, V, at each phase."""
        return np.array([_level(*row, error_ratio) for row in zip(self.mean_v, self.rms_v, strict=True)])


def _level(mean_v: np.ndarray, rms_v: np.ndarray, error_ratio: float) -> float:
    least = np.argsort(mean_v - 7.0 * rms_v)[:_LOWEST]
    mean, rms = mean_v[least], rms_v[least]
    low, high = float((mean - 12.0 * rms).min()), float(mean.max())
    for _ in range(50):
        middle = 0.5 * (low + high)
        above = logsumexp(log_ndtr((middle - mean) / rms)) - np.log(mean_v.size) > np.log(error_ratio)
        low, high = (low, middle) if above else (middle, high)
    return low


def _read(samples: np.ndarray, at: np.ndarray) -> np.ndarray:
    return np.interp(at, np.arange(samples.size), samples)


def crossed(waves: object, noise_v: float) -> tuple[np.ndarray, np.ndarray]:
    """Of each sequence about a rising edge where it crosses, UI from where a lone edge does, and its rms in UI.

    Sequences are numbered by their symbols but for the edge's own two, the newest as the highest bit.
    """
    per = waves.grid.samples_per_ui
    free = [*range(-_NEWER, 0), *range(2, 2 + _OLDER)]
    levels = 1.0 - 2.0 * ((np.arange(2 ** len(free))[:, None] >> np.arange(len(free))[::-1]) & 1)
    at = waves.crossing + np.linspace(-0.5, 0.5, 257) * per
    wave = _read(waves.pulse_v, at) - _read(waves.pulse_v, at + per)
    wave = wave + levels @ np.array([_read(waves.pulse_v, at + one * per) for one in free])
    rising = (wave[:, :-1] <= 0.0) & (wave[:, 1:] > 0.0)
    assert rising.any(axis=1).all(), "the input is closed for some sequence"
    distance = np.where(rising, np.abs(np.arange(256) - 127.5), np.inf)
    first = distance.argmin(axis=1)
    rows = np.arange(first.size)
    rise = wave[rows, first + 1] - wave[rows, first]
    place_ui = (first - wave[rows, first] / rise) / 256.0 - 0.5
    beyond = _read(waves.pulse_v, waves.crossing + per * np.arange(2 + _OLDER, 60))
    return place_ui, np.sqrt(noise_v**2 + (beyond**2).sum()) / (rise * 256.0)


def sequences(
    before: object, before_noise_v: float, after: object, after_noise_v: float, random_ui: float
) -> Sequences:
    """Every sequence's sample behind a limiting stage, given the upper symbol.

    Args:
        before: waves at the stage's input, behind its equalizer.
        before_noise_v: rms noise there.
        after: waves at the end, as if the stage's edges stood still.
        after_noise_v: rms noise there.
        random_ui: the stage's own random jitter, rms.
    """
    place_ui, spread_ui = crossed(before, before_noise_v)
    per = after.grid.samples_per_ui
    newest, oldest = -1 - _NEWER, _AFTER + 1 + _OLDER
    numbers = np.arange(2 ** (oldest - newest))
    bits, shift = {}, 0
    for symbol in range(oldest, newest - 1, -1):
        if symbol == 0:
            bits[symbol] = np.zeros(numbers.size, np.int64)
        else:
            bits[symbol] = (numbers >> shift) & 1
            shift += 1
    at = np.ceil(after.crossing) + np.arange(2, per, 2)
    slope = np.gradient(after.step_v)
    mean = np.zeros((at.size, numbers.size), np.float32)
    square = np.zeros_like(mean)
    for symbol in range(-1, _AFTER + 2):
        mean += _read(after.pulse_v, at + symbol * per)[:, None] * (1.0 - 2.0 * bits[symbol])
    for newer in range(-1, _AFTER + 1):
        older = newer + 1
        beside = [*range(newer - _NEWER, newer), *range(older + 1, older + 1 + _OLDER)]
        window = np.zeros(numbers.size, np.int64)
        for symbol in beside:  # a falling edge is a rising one upside down
            window = 2 * window + (bits[symbol] ^ bits[newer])
        driven = 2.0 * (bits[older] - bits[newer])
        moved = place_ui[window] * per
        there = at[:, None] + newer * per
        mean += driven * (_read(after.step_v, there - moved) - _read(after.step_v, there))
        rate = driven * _read(slope, there - moved) * per
        square += rate**2 * (spread_ui[window] ** 2 + random_ui**2)
    beyond = np.array([_read(after.pulse_v, at + one * per) for one in range(_AFTER + 2, 60)])
    square += after_noise_v**2 + (beyond**2).sum(axis=0)[:, None]
    return Sequences((at - after.crossing) / per, mean.astype(float), np.sqrt(square.astype(float)))
