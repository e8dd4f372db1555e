"""Boundaries between symbols that don't stand still: what makes one move, and what that does to a sample."""

from functools import lru_cache
from itertools import product
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers

Taps = tuple[float, float, float]
Levels = tuple[float, ...]


class Displaced(NamedTuple):
    """What displacements of J boundaries do to the sample for a unit driven step, as mixtures of Gaussians.

    There is one mixture of C parts for each of the K kinds of `Windows`. `weight` of each part, shape (K, C); its mean
    change `change_v` and the rms change about it `spread_v`, V, (J, K, C, P).
    """

    weight: Floats
    change_v: Floats
    spread_v: Floats

    def some(self, which: Integers | slice) -> "Displaced":
        """The same for some of the boundaries, numbered by an array of shape (k,)."""
        return Displaced(self.weight, self.change_v[which], self.spread_v[which])

    def in_two(self) -> "Displaced":
        """The same mean and variance with the parts of each half, as they stand in order, made one."""
        return self.in_parts(2)

    def in_parts(self, most: int) -> "Displaced":
        """The same mean and variance with neighbouring parts made one, so that there are no more than that."""
        parts = self.weight.shape[1]
        if parts <= most:
            return self
        starts = np.arange(most) * parts // most
        total = np.add.reduceat(self.weight, starts, axis=1)
        of_one = np.repeat(np.maximum(total, np.finfo(float).tiny), np.diff(np.append(starts, parts)), axis=1)
        share = (self.weight / of_one)[:, :, None]
        mean = np.add.reduceat(share * self.change_v, starts, axis=2)
        square = np.add.reduceat(share * (self.change_v**2 + self.spread_v**2), starts, axis=2)
        return Displaced(total, mean, np.sqrt(np.maximum(square - mean**2, 0.0)))


class Windows(NamedTuple):
    """Every combination of the symbols about a boundary, and what it makes the boundary do.

    Attributes:
        levels: which level each symbol has, oldest first, shape (L^w, w).
        step: driven steps at the boundary, shape (S,), the last 0: there it stands still.
        kind: which mixture the displacement then follows, shape (S,).
        which: which of these each combination is, shape (L^w,).
        newer: how many of the symbols are newer than the one that starts at the boundary.
    """

    levels: Integers
    step: Floats
    kind: Integers
    which: Integers
    newer: int

    @property
    def symbols(self) -> int:
        """How many symbols take part."""
        return int(self.levels.shape[1])


@lru_cache(maxsize=64)
def windows_of(levels: Levels, taps: Taps, kinds: int = 1) -> Windows:
    """The combinations of symbols about a boundary that is driven through (before, main, after) taps.

    The kind of a displacement is told by older symbols, each either like the one before the boundary or not: two kinds
    for one of them, four for two.
    """
    before, _, after = taps
    older = kinds.bit_length() - 1
    at = older + 1 + bool(after)
    found: dict[tuple[float, int], int] = {}
    which = []
    combinations = list(product(range(len(levels)), repeat=at + 1 + bool(before)))
    for combination in combinations:
        window = [levels[i] for i in combination]
        step = round(_driven_step(window, at, taps), 9)
        kind = sum(2**i * (window[at - 2 - i] != window[at - 1]) for i in range(older))
        which.append(found.setdefault((step, kind), len(found)) if step else -1)
    steps = np.array([*(step for step, _ in found), 0.0])
    chosen = np.array([*(kind for _, kind in found), 0])
    return Windows(np.array(combinations), steps, chosen, np.array(which) % steps.size, int(bool(before)))


def _driven_step(symbols: list[float], i: int, taps: Taps) -> float:
    """The driven step where symbol i of the window starts."""
    before, main, after = taps
    step = main * (symbols[i] - symbols[i - 1])
    if after:
        step += after * (symbols[i - 1] - symbols[i - 2])
    if before:
        step += before * (symbols[i + 1] - symbols[i])
    return step


def mean_square_step(levels: Levels, taps: Taps) -> float:
    """Mean square of the driven step at a boundary, all combinations of symbols equally likely."""
    windows = windows_of(levels, taps)
    return float(np.mean(windows.step[windows.which] ** 2))
