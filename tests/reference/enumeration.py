"""Exact distributions of a received sample by brute force: every sequence of symbols and displacements, one by one.

Nothing here comes from the program: plain sums over all combinations, each with its Gaussian. The Gaussian integral is
scipy's.
"""

from itertools import product

import numpy as np
from scipy.special import log_ndtr, logsumexp


def sequences(count, levels=(-1.0, 1.0)):
    """Every sequence of `count` symbols, shape (len(levels)**count, count)."""
    axes = np.meshgrid(*([np.array(levels)] * count), indexing="ij")
    return np.stack([axis.ravel() for axis in axes], axis=1)


def log_lower_tail(values, v, sigma):
    """``ln P(sample <= v)`` for equally likely `values` (V) with Gaussian noise of rms `sigma` (V, or one a value)."""
    at = (np.asarray(v)[:, None] - values) / sigma
    return logsumexp(log_ndtr(at), axis=1) - np.log(values.size)


def values_of(cursors, given, levels=(-1.0, 1.0)):
    """The noiseless sample for every sequence, V; symbols in `given` (column: level) are fixed."""
    free = [j for j in range(len(cursors)) if j not in given]
    fixed = sum(level * cursors[j] for j, level in given.items())
    return fixed + sequences(len(free), levels) @ np.array([cursors[j] for j in free])


def driven_step(symbols, j, taps):
    """What the driver steps by where symbol j starts (newest first; beyond both ends symbols repeat), for all rows."""
    last = symbols.shape[1] - 1

    def change(i):
        return symbols[:, np.clip(i, 0, last)] - symbols[:, np.clip(i + 1, 0, last)]

    before, main, after = taps
    return before * change(j - 1) + main * change(j) + after * change(j + 1)


def jittered_log_tail(*, cursors, given, boundaries, weight, change, spread, taps, noise, v):
    """``ln P(sample <= v)`` with displaced boundaries, every sequence and every part of every displacement.

    Args:
        cursors: V, newest symbol first, shape (K,).
        given: known symbols by column.
        boundaries: those that move.
        weight: of each part of the displacement.
        change: of the sample for a unit step displaced to each part's mean, V, by boundary.
        spread: rms change about it, V, by boundary.
        taps: before, main, after.
        noise: rms, V.
        v: levels asked for, V.
    """
    free = [j for j in range(len(cursors)) if j not in given]
    symbols = np.empty((2 ** len(free), len(cursors)))
    symbols[:, free] = sequences(len(free))
    for j, level in given.items():
        symbols[:, j] = level
    still = symbols @ np.asarray(cursors)
    steps = {j: driven_step(symbols, j, taps) for j in boundaries}
    total = np.zeros((len(v), 0))
    for parts in product(range(len(weight)), repeat=len(boundaries)):
        chance = float(np.sum(np.log([weight[c] for c in parts])))
        moved = still + sum(steps[j] * change[j][c] for j, c in zip(boundaries, parts, strict=True))
        variance = noise**2 + sum((steps[j] * spread[j][c]) ** 2 for j, c in zip(boundaries, parts, strict=True))
        one = log_lower_tail(moved, v, np.sqrt(variance)) + chance
        total = np.concatenate([total, one[:, None]], axis=1)
    return logsumexp(total, axis=1)


def told_log_tail(*, cursors, given, boundaries, weight, change, spread, older, noise, v):
    """``ln P(sample <= v)`` where a boundary's displacement depends on the `older` symbols before its own two.

    Args:
        cursors: V, newest symbol first, shape (K,).
        given: known symbols by column.
        boundaries: those that move; their older symbols are all among the columns.
        weight: of each part, shape (kinds, parts).
        change: of the sample for a unit step displaced to each part's mean, V, by boundary, shape (kinds, parts).
        spread: rms change about it, V, by boundary, likewise.
        older: how many symbols tell a kind: bit i of it says that the i-th differs from the one before the edge.
        noise: rms, V.
        v: levels asked for, V.
    """
    free = [j for j in range(len(cursors)) if j not in given]
    symbols = np.empty((2 ** len(free), len(cursors)))
    symbols[:, free] = sequences(len(free))
    for j, level in given.items():
        symbols[:, j] = level
    still = symbols @ np.asarray(cursors)
    steps = {j: symbols[:, j] - symbols[:, j + 1] for j in boundaries}
    kinds = {j: sum(2**i * (symbols[:, j + 2 + i] != symbols[:, j + 1]) for i in range(older)) for j in boundaries}
    total = np.zeros((len(v), 0))
    for parts in product(range(weight.shape[1]), repeat=len(boundaries)):
        each = list(zip(boundaries, parts, strict=True))
        chance = sum(np.log(weight[kinds[j], c]) for j, c in each)
        moved = still + sum(steps[j] * change[j][kinds[j], c] for j, c in each)
        variance = noise**2 + sum((steps[j] * spread[j][kinds[j], c]) ** 2 for j, c in each)
        one = log_ndtr((np.asarray(v)[:, None] - moved) / np.sqrt(variance)) + chance - np.log(moved.size)
        total = np.concatenate([total, one], axis=1)
    return logsumexp(total, axis=1)
