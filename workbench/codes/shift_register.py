"""Linear feedback shift registers over many bits at once.

Over GF(2) squaring a polynomial squares its variable: what holds for lags e holds for lags ``2^k e`` too. So as history
grows the lags may be doubled, and ever longer stretches follow from history without looking at themselves.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from workbench.arrays import Bits

_BLOCK = 1 << 16


def recurrence(lags: Sequence[int], first: Bits) -> Iterator[Bits]:
    """The sequence ``b[i] = b[i - lags[0]] ^ b[i - lags[1]] ^ ...`` without end, in blocks.

    Args:
        lags: the exponents of the polynomial's terms but for the constant one; the largest is its order.
        first: the first bits, as many as the order; they are given out too; shape (order,).
    """
    order, shortest = max(lags), min(lags)
    history = first
    yield first
    fold = 1
    while True:
        while 2 * fold * order <= history.size and fold * shortest < _BLOCK:
            fold *= 2
        fresh = history[history.size - fold * lags[0] : history.size - fold * (lags[0] - shortest)].copy()
        for lag in lags[1:]:
            fresh ^= history[history.size - fold * lag : history.size - fold * (lag - shortest)]
        yield fresh
        needed = 2 * _BLOCK // shortest * order + order
        history = np.concatenate([history, fresh])[-max(needed, fold * order) :]


def divided(data: Bits, lags: Sequence[int], before: Bits) -> Bits:
    """``out[i] = data[i] ^ out[i - lags[0]] ^ ...``: what a self-synchronous scrambler sends.

    Args:
        data: bits to scramble, shape (n,).
        lags: the polynomial's exponents.
        before: the bits sent before, at least as many as the order.
    """
    order = max(lags)
    out = np.concatenate([before[before.size - order :], np.zeros(data.size, np.uint8)])
    step = min(lags)
    for start in range(0, data.size, step):
        stop = min(start + step, data.size)
        part = data[start:stop].copy()
        for lag in lags:
            part ^= out[order + start - lag : order + stop - lag]
        out[order + start : order + stop] = part
    return out[order:]


def multiplied(line: Bits, lags: Sequence[int], before: Bits) -> Bits:
    """``data[i] = line[i] ^ line[i - lags[0]] ^ ...``: what a self-synchronous descrambler hands on.

    Args:
        line: received bits, shape (n,).
        lags: the polynomial's exponents.
        before: the bits received before, at least as many as the order.
    """
    order = max(lags)
    whole = np.concatenate([before[before.size - order :], line])
    out = line.copy()
    for lag in lags:
        out ^= whole[order - lag : order - lag + line.size]
    return out
