"""Lanes at the board as it is and at the corners of tolerances; a search for remedies goes by the worst of them."""

from collections.abc import Iterator, Sequence

import msgspec

from workbench.board.edits.changes import Change, changed
from workbench.board.model import Board
from workbench.engine.tails.eye import EyeReach
from workbench.studies.figures import LaneFigures, worst_of
from workbench.studies.pool.jobs import Assessor, StudyJob
from workbench.studies.variation.corners import corner_points
from workbench.studies.variation.tolerances import Tolerance, require_sound_at, variation_of

MOST_TOGETHER = 3
"""So many tolerances are taken at all combinations of their ends; of more each deviates alone."""

AS_IT_IS = "as it is"
"""What the board is called with nothing deviating."""

Tolerances = tuple[Tolerance, ...]


class FiguresAt(msgspec.Struct, frozen=True, kw_only=True):
    """A lane's figures at one corner: what deviates there, in words, and the figures."""

    corner: str
    figures: LaneFigures


class LaneOverCorners(msgspec.Struct, frozen=True, kw_only=True):
    """A lane at the board as it is and at every corner.

    Attributes:
        worst: its figures where its margin is least.
        corners: its figures at each, the board as it is first; nothing where nothing varies.
    """

    worst: LaneFigures
    corners: tuple[FiguresAt, ...] = ()


def boards_at(board: Board, tolerances: Tolerances) -> Iterator[tuple[str, Board]]:
    """The board, then it at every corner of tolerances, each with what deviates in words.

    Raises:
        StudyError: a tolerance is of nothing on the board.
    """
    yield AS_IT_IS, board
    if not tolerances:
        return
    variation = variation_of(board, tolerances, [lane.name for lane in board.lanes])
    ends = [(factor.tolerance.low, factor.tolerance.high) for factor in variation.factors]
    for deviations in corner_points(ends, every=len(ends) <= MOST_TOGETHER):
        if any(deviations):
            said = [f"{one.label} {one.shown(by)}" for one, by in zip(variation.factors, deviations, strict=True) if by]
            yield ", ".join(said), changed(variation.board, variation.changes(deviations))


def corners_of(board: Board, tolerances: Tolerances) -> int:
    """How many boards each variant is assessed as, itself included.

    Raises:
        StudyError: a tolerance is of nothing on the board, or leaves what a field may hold.
    """
    if tolerances:
        variation = variation_of(board, tolerances, [lane.name for lane in board.lanes])
        require_sound_at(variation, [(one.tolerance.low, one.tolerance.high) for one in variation.factors])
    return sum(1 for _ in boards_at(board, tolerances))


def over_corners(
    assessor: Assessor, board: Board, lanes: Sequence[str], tolerances: Tolerances, reach: EyeReach = EyeReach.MEASURES
) -> tuple[LaneOverCorners, ...]:
    """Lanes at the board as it is and at every corner; raises Stopped where the study is cancelled.

    Args:
        assessor: assesses.
        board: the variant.
        lanes: the lanes' names.
        tolerances: what varies; nothing: the variant alone.
        reach: `EyeReach.PICTURE` for sketches.
    """
    corners, boards = zip(*boards_at(board, tolerances), strict=True)
    found = [assessor.figures(one, lanes, reach=reach) for one in boards]
    return tuple(
        LaneOverCorners(
            worst=worst_of(several),
            corners=tuple(map(_figures_at, corners, several)) if tolerances else (),
        )
        for several in zip(*found, strict=True)
    )


def _figures_at(corner: str, figures: LaneFigures) -> FiguresAt:
    return FiguresAt(corner=corner, figures=figures)


class AssessWorst(StudyJob, frozen=True, kw_only=True):
    """Some lanes of one variant of the board over the corners; its result is them in order."""

    changes: tuple[Change, ...] = ()
    lanes: tuple[str, ...]
    tolerances: Tolerances = ()
    corners: int = 1

    @property
    def assessments(self) -> int:
        """One for each lane and corner."""
        return len(self.lanes) * self.corners

    def do(self, assessor: Assessor) -> tuple[LaneOverCorners, ...]:
        """The lanes; raises Stopped where the study is cancelled."""
        return over_corners(assessor, changed(assessor.basis.board, self.changes), self.lanes, self.tolerances)
