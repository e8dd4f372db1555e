"""Exact distributions of a received sample by brute force: every sequence of symbols and displacements, one by one.

Nothing here comes from the program: plain sums over all combinations, each with its Gaussian. The Gaussian integral is
scipy's.
"""


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
