"""Searching how long one run of one lane may get: a coarse scan, then bisection of every border."""

from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

import msgspec
import numpy as np

from workbench.board.edits.changes import Change, Lengths, changed
from workbench.board.model import Run
from workbench.facts import fact_of
from workbench.studies.pool.jobs import Assessor, StudyJob

RESOLUTION_M = 1e-4
SHORTEST_M = 1e-3
LARGEST_M = fact_of(Run, "length_m").upper or 100.0
_SCAN = 16
"""Steps of the coarse scan."""
_FIRST_M, _DOUBLINGS = 0.5, 8

Margin = Callable[[float], float]
"""The margin in guard bands at a length in m."""


class PassingLengths(msgspec.Struct, frozen=True, kw_only=True):
    """Lengths that pass, from and to, m."""

    from_m: float
    to_m: float


class Reached(msgspec.Struct, frozen=True, kw_only=True):
    """What a search over a run's length found.

    Attributes:
        lengths_m, margin_guards: the scan: lengths and the lane's margin there.
        stretches: where it passes, ends to a tenth of a millimetre.
    """

    lengths_m: tuple[float, ...]
    margin_guards: tuple[float, ...]
    stretches: tuple[PassingLengths, ...]


class ReachSearch(StudyJob, frozen=True, kw_only=True):
    """Searches how long a run of a lane may get."""

    lane: str
    place: int
    before: tuple[Change, ...]
    after: tuple[Change, ...]
    longest_m: float | None
    length_m: float
    least_guards: float

    @property
    def assessments(self) -> int:
        """About so many: the scan and two borders."""
        return _SCAN + 26

    def do(self, assessor: Assessor) -> Reached:
        """Scan, then bisect every border; raises Stopped where the study is cancelled."""
        known: dict[float, float] = {}

        def margin(length_m: float) -> float:
            if length_m not in known:
                change = Lengths(self.lane, ((self.place, length_m),))
                board = changed(assessor.basis.board, (*self.before, change, *self.after))
                known[length_m] = assessor.figures(board, (self.lane,))[0].margin_guards
            return known[length_m]

        lengths = np.linspace(SHORTEST_M, self._longest(margin), _SCAN + 1).tolist()
        passes = [margin(length) >= self.least_guards for length in lengths]
        borders = [
            self._border(margin, shorter, longer)
            for (shorter, longer), (one, other) in zip(pairwise(lengths), pairwise(passes), strict=True)
            if one != other
        ]
        return Reached(
            lengths_m=tuple(lengths),
            margin_guards=tuple(margin(length) for length in lengths),
            stretches=tuple(_stretches(lengths, passes, borders)),
        )

    def _longest(self, margin: Margin) -> float:
        """Up to where to look: as asked, or until it fails."""
        if self.longest_m is not None:
            return self.longest_m
        longest = max(_FIRST_M, 2.0 * self.length_m)
        for _ in range(_DOUBLINGS):
            if longest >= LARGEST_M or margin(longest) < self.least_guards:
                break
            longest *= 2.0
        return min(longest, LARGEST_M)

    def _border(self, margin: Margin, shorter: float, longer: float) -> float:
        """The length on the passing side of a border, to `RESOLUTION_M`."""
        first_passes = margin(shorter) >= self.least_guards
        while longer - shorter > RESOLUTION_M:
            middle = (shorter + longer) / 2.0
            if (margin(middle) >= self.least_guards) == first_passes:
                shorter = middle
            else:
                longer = middle
        return shorter if first_passes else longer


def _stretches(lengths: Sequence[float], passes: Sequence[bool], borders: Sequence[float]) -> Iterator[PassingLengths]:
    ends = iter(borders)
    start = lengths[0] if passes[0] else None
    for one, other in pairwise(passes):
        if one and not other:
            assert start is not None
            yield PassingLengths(from_m=start, to_m=next(ends))
            start = None
        elif other and not one:
            start = next(ends)
    if start is not None:
        yield PassingLengths(from_m=start, to_m=lengths[-1])
