"""Tails of a line code at the phases of one unit interval.

Where to look is found at every third phase and taken over for those between, since from phase to phase it hardly
changes; what is read there is computed at each phase for itself.
"""

from collections.abc import Callable
from functools import cached_property

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.codes.machine import Machine
from workbench.engine.coded.tails import coded_sample, coded_tail, coded_tail_near, ladder_of
from workbench.engine.tails.density import Tail
from workbench.engine.tails.eye import EyeReach
from workbench.engine.tails.quick import level_of, tail_of_ladder
from workbench.engine.tails.samples import Sample
from workbench.engine.tails.tilts import Ladder, leaping

_EVERY = 3
_DRAWN_RUNGS = 20
"""Where a tail is read off the ladder itself it has more rungs than where it is only looked for."""
_DEEPEST = 42.0
"""``-ln P`` of the deepest tail that is drawn: 1e-18."""


class CodedPhases:
    """The samples of one unit interval, their symbols as a line code sends them.

    Args:
        sample_at: what is received at grid points, given the upper symbol.
        at: all the grid points, rising, shape (P,).
        machine: the line code.
        deepest: ``-ln P`` of the deepest tail that will be asked for.
    """

    def __init__(
        self,
        sample_at: Callable[[Integers | Floats], Sample],
        at: Integers,
        machine: Machine,
        deepest: float = _DEEPEST,
    ) -> None:
        self._sample_at, self._at, self._machine, self._deepest = sample_at, at, machine, deepest

    @cached_property
    def _known_at(self) -> Integers:
        return np.append(self._at[:-1:_EVERY], self._at[-1])

    @cached_property
    def _known(self) -> Ladder:
        """The ladder at every third phase."""
        return ladder_of(coded_sample(self._sample_at(self._known_at), self._machine), self._deepest)

    def _ladder(self, at: Integers | Floats) -> Ladder:
        """The ladder at grid points, or places between: straight between those where it is known, unless it leaps."""
        place = np.interp(at, self._known_at, np.arange(self._known_at.size))
        low = np.minimum(place.astype(int), self._known_at.size - 2)
        part = place - low
        found = Ladder(*(
            (column[low].T * (1.0 - part) + column[low + 1].T * part).T for column in self._known
        ))  # fmt: skip
        leaps = leaping(self._known)
        own = np.flatnonzero(leaps[low] | leaps[low + 1])
        if own.size:
            there = ladder_of(coded_sample(self._sample_at(at[own]), self._machine), self._deepest, exact=True)
            for column, better in zip(found, there, strict=True):
                column[own] = better
        return found

    def level_v(self, error_ratio: float) -> Floats:
        """About where ``P(sample <= v)`` equals an error ratio, V, at all the grid points, shape (P,)."""
        return np.interp(self._at, self._known_at, level_of(self._known, error_ratio))

    def tail(self, at: Integers | Floats, error_ratio: float, reach: EyeReach) -> Tail:
        """The lower tail at places, shape (k,), as far as it is wanted: about one error ratio, whole, or sketched."""
        sample = self._sample_at(at)
        if reach is EyeReach.PICTURE:
            coded = coded_sample(sample, self._machine, sketch=True)
            return tail_of_ladder(ladder_of(coded, self._deepest, _DRAWN_RUNGS, precise=False))
        ladder = self._ladder(at)
        if reach is EyeReach.ALL:
            return coded_tail(sample, self._machine, ladder)
        return coded_tail_near(sample, self._machine, ladder, error_ratio)
