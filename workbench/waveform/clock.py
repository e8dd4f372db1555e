"""The recovered clock: a first-order loop that follows the crossings up to a corner frequency."""

import numpy as np

from workbench.parts.twoport import Floats

_PIECE = 256
"""Steps that are summed at once: with the largest corner the weights in a piece stay within double precision."""


class Clock:
    """Where the clock stands, from the crossings up to then.

    Between crossings the last one counts on, so that the corner does not depend on how often there are transitions.

    Args:
        corner_per_rate: the loop's corner over the symbol rate; 0: the clock stands still.
    """

    def __init__(self, corner_per_rate: float) -> None:
        self._kept = float(np.exp(-2.0 * np.pi * corner_per_rate))
        piece = _PIECE
        while piece > 1 and self._kept**piece < 1e-6:
            piece //= 2
        self._power = self._kept ** np.arange(piece + 1)
        self._held = self._phase = 0.0

    def start(self, phase_ui: float) -> None:
        """Let it begin at a phase, UI."""
        self._held = self._phase = phase_ui

    def follow(self, crossing_ui: Floats) -> Floats:
        """Its phase at each boundary, UI, shape (n,).

        Args:
            crossing_ui: where the crossing at each boundary stands, UI; not a number where there is none; shape (n,).
        """
        if self._kept == 1.0:
            return np.full(crossing_ui.size, self._phase)
        seen = ~np.isnan(crossing_ui)
        last = np.maximum.accumulate(np.where(seen, np.arange(crossing_ui.size), -1))
        held = np.where(last >= 0, crossing_ui[np.maximum(last, 0)], self._held)
        self._held = float(held[-1])
        return self._smoothed(held)

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
