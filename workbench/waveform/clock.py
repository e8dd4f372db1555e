"""The recovered clock: a first-order loop that follows the crossings up to a corner frequency."""

import numpy as np

from workbench.arrays import Floats, Integers, Samples

_PIECE = 256
"""Steps that are summed at once: with the largest corner the weights in a piece stay within double precision."""
_SHORT = 0.03
_MOST_SYMBOLS = 8


class ClockLoop:
    """Where the clock stands, from the crossings up to then.

    It moves every few symbols, a small part of its time constant, by the mean crossing in them. Without a crossing the
    last one counts on, so that the corner does not depend on how often there are transitions.

    Args:
        corner_per_rate: the loop's corner over the symbol rate; 0: the clock stands still.
    """

    def __init__(self, corner_per_rate: float) -> None:
        step = 2.0 * np.pi * corner_per_rate
        self._symbols = max(min(int(_SHORT / step), _MOST_SYMBOLS), 1) if step else _MOST_SYMBOLS
        self._kept = float(np.exp(-step * self._symbols))
        piece = _PIECE
        while piece > 1 and self._kept**piece < 1e-6:
            piece //= 2
        self._power = self._kept ** np.arange(piece + 1)
        self._held = self._phase = 0.0

    def begin(self, first: int) -> None:
        """The next block's first symbol is number `first`, which is all the same to this clock."""

    def follow(self, boundary: Integers, crossing_ui: Floats, count: int) -> Samples | None:
        """Its phase at each of `count` symbols, UI, shape (count,); None while it stands still at 0.

        Args:
            boundary: the symbol that each crossing starts, shape (n,).
            crossing_ui: where it stands from that symbol's place, UI, shape (n,).
            count: how many symbols there are.
        """
        if self._kept == 1.0:
            return None
        groups = -(-count // self._symbols)
        group = boundary >> 3 if self._symbols == _MOST_SYMBOLS else boundary // self._symbols
        seen = np.bincount(group, minlength=groups)
        total = np.bincount(group, crossing_ui, minlength=groups)
        last = np.maximum.accumulate(np.where(seen > 0, np.arange(groups), -1))
        mean = total / np.maximum(seen, 1)
        held = np.where(last >= 0, mean[np.maximum(last, 0)], self._held)
        self._held = float(held[-1])
        return np.repeat(self._smoothed(held).astype(np.float32), self._symbols)[:count]

    def _smoothed(self, held: Floats) -> Floats:
        """``y[n] = kept y[n - 1] + (1 - kept) x[n]``, in pieces whose sums are taken at once."""
        piece = self._power.size - 1
        rows = -(-held.size // piece)
        padded = np.zeros(rows * piece)
        padded[: held.size] = held
        scaled = padded.reshape(rows, piece) / self._power[1:]
        summed = (1.0 - self._kept) * np.cumsum(scaled, axis=1)
        start = np.empty(rows)
        phase = self._phase
        ends, kept = summed[:, -1], float(self._power[-1])
        for row in range(rows):
            start[row] = phase
            phase = kept * (phase + ends[row])
        out = ((start[:, None] + summed) * self._power[1:]).ravel()[: held.size]
        self._phase = float(out[-1])
        return np.asarray(out)
