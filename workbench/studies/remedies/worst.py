"""Lanes at the worst of the board as it is and the corners of tolerances: what a search for remedies goes by."""

from collections.abc import Iterator, Sequence

from workbench.board.edits.changes import Change, changed
from workbench.board.model import Board
from workbench.engine.tails.eye import EyeReach
from workbench.studies.figures import LaneFigures, worst_of
from workbench.studies.pool.jobs import Assessor, StudyJob
from workbench.studies.variation.corners import corner_points
from workbench.studies.variation.tolerances import Tolerance, require_sound_at, variation_of

MOST_TOGETHER = 3
"""So many tolerances are taken at all combinations of their ends; of more each deviates alone."""

Tolerances = tuple[Tolerance, ...]


def boards_at(board: Board, tolerances: Tolerances) -> Iterator[Board]:
    """The board, then it at every corner of tolerances; raises StudyError where one is of nothing on it."""
    yield board
    if not tolerances:
        return
    variation = variation_of(board, tolerances, [lane.name for lane in board.lanes])
    ends = [(factor.tolerance.low, factor.tolerance.high) for factor in variation.factors]
    for deviations in corner_points(ends, every=len(ends) <= MOST_TOGETHER):
        if any(deviations):
            yield changed(variation.board, variation.changes(deviations))


def corners_of(board: Board, tolerances: Tolerances) -> int:
    """How many boards each variant is assessed as, itself included.

    Raises:
        StudyError: a tolerance is of nothing on the board, or leaves what a field may hold.
    """
    if tolerances:
        variation = variation_of(board, tolerances, [lane.name for lane in board.lanes])
        require_sound_at(variation, [(one.tolerance.low, one.tolerance.high) for one in variation.factors])
    return sum(1 for _ in boards_at(board, tolerances))


def worst_figures(
    assessor: Assessor, board: Board, lanes: Sequence[str], tolerances: Tolerances, reach: EyeReach = EyeReach.MEASURES
) -> tuple[LaneFigures, ...]:
    """The figures of lanes, each at the corner that is worst for it; raises Stopped where the study is cancelled.

    Args:
        assessor: assesses.
        board: the variant.
        lanes: the lanes' names.
        tolerances: what varies; nothing: the variant alone.
        reach: `EyeReach.PICTURE` for sketches.
    """
    found = [assessor.figures(one, lanes, reach=reach) for one in boards_at(board, tolerances)]
    return tuple(worst_of(several) for several in zip(*found, strict=True))


class AssessWorst(StudyJob, frozen=True, kw_only=True):
    """Some lanes of one variant of the board at their worst corners; its result is their figures in order."""

    changes: tuple[Change, ...] = ()
    lanes: tuple[str, ...]
    tolerances: Tolerances = ()
    corners: int = 1

    @property
    def assessments(self) -> int:
        """One for each lane and corner."""
        return len(self.lanes) * self.corners

    def do(self, assessor: Assessor) -> tuple[LaneFigures, ...]:
        """The lanes' figures; raises Stopped where the study is cancelled."""
        return worst_figures(assessor, changed(assessor.basis.board, self.changes), self.lanes, self.tolerances)
