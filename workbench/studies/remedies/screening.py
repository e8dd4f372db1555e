"""Which of many variants are worth an assessment: each is sketched, which takes a fraction of one."""

from collections.abc import Sequence

from workbench.board.edits.changes import Change, changed
from workbench.engine.tails.eye import EyeReach
from workbench.studies.figures import LaneFigures
from workbench.studies.pool.jobs import Assessor, StudyJob
from workbench.studies.remedies.answer import RANKS
from workbench.studies.remedies.moves import Remedy, dearest
from workbench.studies.remedies.worst import Tolerances, over_corners

SKETCHES = 4
"""So many sketches are counted as one assessment.

On the demo shelf's lanes with a conditioner put in they take the time of 1.8 (0.13 s each, an assessment 0.29 s). What
a search takes in all is held by time in `tests/bench/bench_remedy.py`.
"""
SLACK_GUARDS = 0.5
"""What is sketched so little below passing, in guard bands, may pass: a sketch is a little off."""


class SketchSome(StudyJob, frozen=True, kw_only=True):
    """Sketches a lane under a few variants of the board, `SKETCHES` at most."""

    lane: str
    variants: tuple[tuple[Change, ...], ...]
    tolerances: Tolerances = ()
    corners: int = 1

    @property
    def assessments(self) -> int:
        """So many sketches are worth one assessment, at each corner."""
        return self.corners

    def do(self, assessor: Assessor) -> tuple[LaneFigures, ...]:
        """The lane's figures under each variant, sketched; raises Stopped where the study is cancelled."""
        return tuple(
            over_corners(
                assessor, changed(assessor.basis.board, one), (self.lane,), self.tolerances, EyeReach.PICTURE
            )[0].worst
            for one in self.variants
        )


def sketches(
    lane: str, base: tuple[Change, ...], variants: Sequence[tuple[Change, ...]], tolerances: Tolerances = (),
    corners: int = 1,
) -> list[SketchSome]:  # fmt: skip
    """Jobs that sketch a lane under variants of the board with the base changes made.

    Args:
        lane: its name.
        base: changes that are made anyway.
        variants: the changes of each variant.
        tolerances: what varies besides; nothing: the variants alone.
        corners: how many boards each variant is sketched as.
    """
    return [
        SketchSome(
            number=first, lane=lane, variants=tuple((*base, *one) for one in variants[first : first + SKETCHES]),
            tolerances=tolerances, corners=corners,
        )
        for first in range(0, len(variants), SKETCHES)
    ]  # fmt: skip


def most_promising(sketched: Sequence[tuple[Remedy, LaneFigures]], order: Sequence[str], most: int) -> list[Remedy]:
    """The variants to assess: what seems to pass, the cheapest first, then what comes nearest to passing."""

    def rank(one: tuple[Remedy, LaneFigures]) -> tuple[bool, tuple[int, int, int], int, float]:
        remedy, figures = one
        falls_short = figures.margin_guards < 1.0 - SLACK_GUARDS
        dear = (0, 0, 0) if falls_short else dearest(remedy, order)
        return falls_short, dear, -RANKS[figures.verdict], -figures.margin_guards

    return [remedy for remedy, _ in sorted(sketched, key=rank)[:most]]
