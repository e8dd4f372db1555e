"""The clock that a receiver's model returns, as the sampler follows one."""

from collections.abc import Callable

import numpy as np

from workbench.arrays import Floats, Integers, Samples


class ModelClock:
    """Where a model's clocks stand from the places of the symbols' boundaries.

    A clock is the crossing of the recovered clock, and data are sampled half a period later (5.0 text in BIRD 112).

    Args:
        clocks_ui: gives the clocks so far, UI on the lane's scale, rising, shape (n,).
        crossing_ui: where the boundary of symbol 0 stands on that scale, UI.
    """

    def __init__(self, clocks_ui: Callable[[], Floats], crossing_ui: float) -> None:
        self._clocks_ui, self._crossing_ui = clocks_ui, crossing_ui
        self._next = 0

    def begin(self, first: int) -> None:
        """The next block's first symbol is number `first`."""
        self._next = first

    def follow(self, boundary: Integers, crossing_ui: Floats, count: int) -> Samples | None:
        """Its phase at each of `count` symbols, UI, shape (count,): that of the clock next to the boundary.

        Args:
            boundary, crossing_ui: the crossings, shape (n,), which count for nothing here.
            count: how many symbols there are.
        """
        del boundary, crossing_ui
        place = self._next + np.arange(count) + self._crossing_ui
        self._next += count
        clocks = self._clocks_ui()
        if not clocks.size:
            return None
        after = np.clip(np.searchsorted(clocks, place), 1, max(clocks.size - 1, 1))
        near = np.where(
            np.abs(clocks[np.minimum(after, clocks.size - 1)] - place) < np.abs(clocks[after - 1] - place),
            clocks[np.minimum(after, clocks.size - 1)], clocks[after - 1],
        )  # fmt: skip
        return np.asarray(near - place, np.float32)
