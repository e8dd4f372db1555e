"""The distribution of a received sample whose edges are really moved, by histograms: no tilt, no transform, no slope.

Symbols are added from the oldest to the newest, with a histogram of level for each combination of the last ones. An
edge is moved by each displacement that it may have, one by one, and the step response is taken where that puts it.
Histograms are folded by plain sums of positive numbers, so that 1e-18 has the relative accuracy of one half. Nothing
here comes from the program; the Gaussian integral is scipy's.
"""

from itertools import product
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq
from scipy.special import log_ndtr, logsumexp

_REACH = 9.5
"""Rms displacements that are followed to either side."""
_FINE = 0.02
"""Of an rms displacement: the steps they are followed in."""


def gaussian_parts(weight, offset, sigma):
    """Displacements and their probabilities: a sum of Gaussians."""
    x = np.arange(-_REACH, _REACH + _FINE / 2.0, _FINE)
    chance = np.exp(-0.5 * x**2)
    chance /= chance.sum()
    some = [np.array([o]) if s == 0.0 else o + s * x for o, s in zip(offset, sigma, strict=True)]
    each = [np.full(d.size, w) * (chance if d.size > 1 else 1.0) for w, d in zip(weight, some, strict=True)]
    return np.concatenate(some), np.concatenate(each)


def gaussian_pair(random, deterministic):
    """Gaussians of rms `random` about two places `deterministic` apart."""
    if not deterministic:
        return gaussian_parts([1.0], [0.0], [random])
    return gaussian_parts([0.5, 0.5], [-deterministic / 2.0, deterministic / 2.0], [random, random])


class Source(NamedTuple):
    """What sends the symbols.

    Attributes:
        step: response to a step of 1 V, from 0 to 1, at times in UI.
        displaced: displacements (UI) of an edge and their probabilities; where older symbols tell, one such pair for
            each kind: bit i of it says that the i-th older symbol differs from the one before the edge.
        taps: before, main, after.
        told: how many older symbols tell.
    """

    step: object
    displaced: object
    taps: tuple = (0.0, 1.0, 0.0)
    told: int = 0

    def level(self, past):
        """What is driven after all edges that these symbols, oldest first, are known to make."""
        before, main, after = self.taps
        at = len(past) - 1 - bool(before)
        return main * past[at] + (after * past[at - 1] if after else 0.0) + (before * past[at + 1] if before else 0.0)

    def edge(self, window):
        """Driven step and kind where a symbol starts, by the symbols about it, oldest first."""
        before, main, after = self.taps
        at = len(window) - 1 - bool(before)
        driven = main * (window[at] - window[at - 1])
        if after:
            driven += after * (window[at - 1] - window[at - 2])
        if before:
            driven += before * (window[at + 1] - window[at])
        return driven, sum(2**i * (window[at - 2 - i] != window[at - 1]) for i in range(self.told))


def histogram(values, chances, bin_v):
    """Values put into bins to both sides of zero, each shared by its two neighbours; the middle one is zero's."""
    place = values / bin_v
    low = np.floor(place).astype(int)
    part = place - low
    half = int(np.abs(low).max()) + 2
    counted = np.bincount(low + half, chances * (1.0 - part), 2 * half + 1)
    return counted + np.bincount(low + 1 + half, chances * part, 2 * half + 1)


def _folded(bins, kernel):
    """Both are zero but for a stretch each, which is all that is folded."""
    at, of = np.flatnonzero(bins), np.flatnonzero(kernel)
    if not at.size:
        return bins
    some = np.convolve(bins[at[0] : at[-1] + 1], kernel[of[0] : of[-1] + 1])
    first = at[0] + of[0] - kernel.size // 2
    out = np.zeros_like(bins)
    out[first : first + some.size] = some
    return out


def log_tail_at(source, *, t, noise_v, v, bin_v, ahead=2, behind=9):
    """``ln P(sample <= v)`` given the upper symbol.

    Args:
        source: what sends; symbols are -1 and 1.
        t: time since the start of the symbol decided on, UI.
        noise_v: rms noise, V.
        v: levels, V, shape (n,).
        bin_v: width of the histograms' bins, V.
        ahead, after: so many symbols after and before the one decided on count; older ones repeat.
    """
    newer = bool(source.taps[0])
    width = 2 + newer + max(bool(source.taps[2]), source.told)
    size = int(np.ceil(4.5 / bin_v))
    levels = bin_v * np.arange(-size, size + 1)
    state = {}
    for past in product((-1, 1), repeat=width - 1):
        start = np.zeros(2 * size + 1)
        start[size + round(source.level(past) / bin_v)] = 0.5 ** (width - 1)
        state[past] = start
    kernels = {}
    for symbol in range(-behind, ahead + 1):
        since = t - (symbol - newer)  # of the edge that this symbol, or with a tap before it the last one, is about
        after = {}
        for (past, bins), new in product(state.items(), (-1, 1)):
            if symbol == 0 and new < 0:
                continue
            driven, kind = source.edge((*past, new))
            chance = 1.0 if symbol == 0 else 0.5
            key = symbol, round(driven, 9), kind
            if driven and key not in kernels:
                tau, likely = source.displaced[kind] if source.told else source.displaced
                kernels[key] = histogram(driven * source.step(since - tau), likely, bin_v)
            moved = _folded(bins, kernels[key]) if driven else bins
            where = (*past, new)[1:]
            after[where] = after.get(where, 0.0) + chance * moved
        state = after
    total = sum(state.values())
    some = total > 0.0
    return logsumexp(log_ndtr((np.asarray(v)[:, None] - levels[some]) / noise_v) + np.log(total[some]), axis=1)


def level_at(source, t, ratio, **how):
    """Half the opening at one time at an error ratio, V."""
    v = np.linspace(-1.0, 1.0, 801)
    root = np.sqrt(-log_tail_at(source, t=t, v=v, **how))
    return float(np.interp(np.sqrt(-np.log(ratio)), root[::-1], v[::-1]))


def ends_at(source, ratio, low, high, **how):
    """Where the error ratio at the threshold passes `ratio`, UI, near two guesses."""

    def beyond(t):
        return float(log_tail_at(source, t=t, v=np.zeros(1), **how)[0] - np.log(ratio))

    return tuple(brentq(beyond, guess - 0.06, guess + 0.06, xtol=3e-4) for guess in (low, high))
