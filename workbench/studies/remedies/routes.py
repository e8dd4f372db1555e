"""How much shorter a route has to be: a length that passes is known, and a longer one that does not."""

from workbench.board.edits.changes import Change, Lengths, changed
from workbench.studies.pool.jobs import Assessor, StudyJob
from workbench.studies.remedies.worst import Tolerances, over_corners

ROUTE_STEP_M = 1e-3


class Shorten(StudyJob, frozen=True, kw_only=True):
    """Bisects how long a run may be at most: between a length in m that passes and a longer one that does not."""

    lane: str
    place: int
    base: tuple[Change, ...]
    passing_m: float
    failing_m: float
    tolerances: Tolerances = ()
    corners: int = 1

    @property
    def assessments(self) -> int:
        """About so many."""
        return 10 * self.corners

    def do(self, assessor: Assessor) -> float:
        """The longest length that passes, m, within a millimetre; raises Stopped."""
        passing_m, failing_m = self.passing_m, self.failing_m
        while failing_m - passing_m > ROUTE_STEP_M:
            middle_m = (passing_m + failing_m) / 2.0
            board = changed(assessor.basis.board, (*self.base, Lengths(self.lane, ((self.place, middle_m),))))
            if over_corners(assessor, board, (self.lane,), self.tolerances)[0].worst.verdict == "pass":
                passing_m = middle_m
            else:
                failing_m = middle_m
        return passing_m
