"""A lane bit by bit: random bits, edges really moved, noise added, a limiter that slices what it gets. Plain numpy.

Only the linear responses are taken from the program (they are held against closed forms elsewhere); everything that the
statistical engine derives, this counts. Times are in UI, from the start of the symbol at the transmitter.
"""

from typing import NamedTuple

import numpy as np

_FINE = 16
_BEHIND, _AHEAD = 5, 3
"""Boundaries about a sample whose displacement is heard; the others are counted as unmoved."""


class Response(NamedTuple):
    """A linear stretch: its response to a step of half the swing, V, at `per_ui` samples a UI from time `start`."""

    step: np.ndarray
    per_ui: int
    start: float
    taps: tuple[float, float, float]


def response_of(waves, taps, ui_s):
    """From an engine's pulse (without taps), made finer by zero padding of its spectrum."""
    plain, per_ui = waves.plain_v, waves.grid.samples_per_ui
    spectrum = np.fft.rfft(plain)
    fine = np.fft.irfft(spectrum, n=plain.size * _FINE) * _FINE
    step = fine.reshape(-1, per_ui * _FINE).cumsum(axis=0).ravel()
    return Response(step, per_ui * _FINE, waves.start_s / ui_s, tuple(taps))


def bits(count, rng):
    return rng.integers(0, 2, count) * 2.0 - 1.0


def displacements(count, rng, *, random, deterministic):
    """Dual-Dirac jitter with Gaussian tails."""
    return rng.normal(size=count) * random + deterministic * (rng.integers(0, 2, count) - 0.5)


def samples(response, symbols, moved, phase):
    """The waveform at `phase` (one number, or one a symbol) after each symbol's start, edges displaced by `moved`."""
    driven = _driven(symbols, response.taps)
    steps = driven - np.roll(driven, 1)
    out = _unmoved(response, driven, phase)
    for behind in range(-_AHEAD, _BEHIND + 1):
        at = phase + behind
        edge, late = np.roll(steps, behind), np.roll(moved, behind)
        out = out + edge * (_at(response, at - late) - _at(response, at))
    return out


def crossings(response, symbols, moved, noise, *, middle):
    """When the waveform crosses zero next to each boundary, relative to `middle` after it, UI; and the level there.

    `noise` is sampled with the waveform, `noise(points)` of shape (points, symbols) for times 1/32 UI apart.
    """
    points = np.arange(-16, 17) / 32.0
    wave = np.array([samples(response, symbols, moved, middle + at) for at in points]) + noise(points.size)
    rising = symbols > np.roll(symbols, 1)
    wave = np.where(rising, wave, -wave)
    # The last time that it is still on the old side: a limiter's output then stays where it belongs.
    before = points.size - 1 - (wave[::-1] < 0.0).argmax(axis=0)
    before = np.clip(np.where((wave < 0.0).any(axis=0), before, 0), 0, points.size - 2)
    here, there = (np.take_along_axis(wave, index[None], 0)[0] for index in (before, before + 1))
    part = np.where(there > here, -here / np.where(there > here, there - here, 1.0), 0.5)
    return (before + np.clip(part, 0.0, 1.0)) / 32.0 - 0.5


def band_noise(density, *, df_hz, dt_s, symbols, points, rng):
    """Noise of a one-sided density (V^2/Hz) at `points` times dt_s apart, an independent stretch a symbol."""
    lag = np.arange(points) * dt_s
    f_hz = np.arange(density.size) * df_hz
    covariance = (np.cos(2.0 * np.pi * np.outer(lag, f_hz)) @ density) * df_hz
    matrix = covariance[np.abs(np.subtract.outer(np.arange(points), np.arange(points)))]
    values, vectors = np.linalg.eigh(matrix)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    keep = values > 1e-9 * values.max()
    return root[:, keep] @ rng.normal(size=(int(keep.sum()), symbols))


def _driven(symbols, taps):
    before, main, after = taps
    return before * np.roll(symbols, -1) + main * symbols + after * np.roll(symbols, 1)


def _at(response, time):
    index = np.rint((np.asarray(time) - response.start) * response.per_ui).astype(np.int64)
    return response.step[np.clip(index, 0, response.step.size - 1)]


def _unmoved(response, driven, phase):
    """Sum of driven symbols times the pulse at one phase; for a phase a symbol, interpolated between fine ones."""
    if np.ndim(phase) == 0:
        return _convolved(response, driven, float(phase))
    grid = np.arange(np.floor(phase.min() * 64), np.ceil(phase.max() * 64) + 1) / 64.0
    table = np.array([_convolved(response, driven, at) for at in grid])
    place = np.clip((phase - grid[0]) * 64.0, 0, grid.size - 1.000001)
    low = place.astype(int)
    part = place - low
    everyone = np.arange(phase.size)
    return table[low, everyone] * (1.0 - part) + table[low + 1, everyone] * part


def _convolved(response, driven, phase):
    last = min(response.step.size // response.per_ui - 8, 200)
    k = np.arange(-_AHEAD - 3, last)
    pulse = _at(response, phase + k) - _at(response, phase + k - 1.0)
    kernel = np.zeros(driven.size)
    kernel[k] = pulse
    return np.fft.irfft(np.fft.rfft(driven) * np.fft.rfft(kernel), n=driven.size)
