"""What a remedy study answers: for every lane what would make it pass, and what that does to the others."""

import msgspec

from workbench.board.edits.changes import Change, changed
from workbench.board.edits.checked import sound
from workbench.board.model import Board
from workbench.engine.assessment import Verdict
from workbench.studies.figures import LaneFigures
from workbench.studies.record import AnswerOrigin
from workbench.studies.remedies.moves import RemedyMove, changes_of
from workbench.studies.remedies.worst import FiguresAt, LaneOverCorners
from workbench.studies.variation.tolerances import Tolerance

RANKS: dict[Verdict, int] = {"fail": 0, "marginal": 1, "not judged": 1, "pass": 2}


class CornerEffect(msgspec.Struct, frozen=True, kw_only=True):
    """What a remedy does to a lane at one corner: what deviates there, in words, and the lane before and after."""

    corner: str
    before: LaneFigures
    after: LaneFigures


class RemedyEffect(msgspec.Struct, frozen=True, kw_only=True):
    """What a remedy does to one lane.

    Attributes:
        before, after: the lane without and with it, each at its worst corner.
        corners: the lane at each corner, the board as it is first; nothing where nothing varies.
    """

    before: LaneFigures
    after: LaneFigures
    corners: tuple[CornerEffect, ...] = ()

    @property
    def harms(self) -> bool:
        """Whether its verdict gets worse."""
        return RANKS[self.after.verdict] < RANKS[self.before.verdict]

    @property
    def worst_before(self) -> str:
        """The corner where the lane has least margin without it; "" where nothing varies."""
        return min(self.corners, key=lambda one: one.before.margin_guards).corner if self.corners else ""

    @property
    def worst_after(self) -> str:
        """The corner where the lane has least margin with it; "" where nothing varies."""
        return min(self.corners, key=lambda one: one.after.margin_guards).corner if self.corners else ""


    @property
    def left(self) -> LaneOverCorners:
        """The lane with the remedy made."""
        at = tuple(FiguresAt(corner=one.corner, figures=one.after) for one in self.corners)
        return LaneOverCorners(worst=self.after, corners=at)


def effect_of(before: LaneOverCorners, after: LaneOverCorners) -> RemedyEffect:
    """What became of a lane."""
    known = {one.corner: one.figures for one in before.corners}
    return RemedyEffect(
        before=before.worst, after=after.worst,
        corners=tuple(
            CornerEffect(corner=one.corner, before=known[one.corner], after=one.figures)
            for one in after.corners if one.corner in known
        ),
    )  # fmt: skip


class RemedyOffer(msgspec.Struct, frozen=True, kw_only=True):
    """One answer, verified by assessing every lane that it touches.

    Attributes:
        lane: what it does to the lane that it is for.
        moves: what to change.
        others: what it does to every other lane whose signal path or neighbours it changes.
        nearby_guards: the lane's least margin one step of one knob away, itself included; None where no step is known.
        base: the changes of the lanes that were cured before it, which it is made after.
    """

    lane: RemedyEffect
    moves: tuple[RemedyMove, ...]
    others: tuple[RemedyEffect, ...]
    nearby_guards: float | None
    base: tuple[Change, ...]

    @property
    def words(self) -> str:
        """What to change, as a sentence without a full stop."""
        said = ", and ".join(move.words for move in self.moves)
        return said[0].upper() + said[1:]

    @property
    def kinds(self) -> str:
        """The classes of its moves."""
        return " + ".join(dict.fromkeys(move.kind for move in self.moves))

    @property
    def cost(self) -> str:
        """What it takes besides; "" for nothing."""
        return "; ".join(dict.fromkeys(move.cost for move in self.moves if move.cost))

    @property
    def power_w(self) -> float | None:
        """How much more power it takes, W; None where the parts' data does not say."""
        found = [move.power_w for move in self.moves]
        return None if None in found else sum(one for one in found if one is not None)

    @property
    def harms(self) -> tuple[str, ...]:
        """The lanes that it makes worse than they are."""
        return tuple(one.after.lane for one in self.others if one.harms)

    @property
    def cures(self) -> bool:
        """Whether the lane passes, and no other gets a worse verdict."""
        return self.lane.after.verdict == "pass" and not self.harms

    @property
    def changes(self) -> tuple[Change, ...]:
        """All that it changes, what it is made after included."""
        return (*self.base, *changes_of(self.moves))

    def edit(self, board: Board) -> Board:
        """The board with it made; raises EditError where the result would not be sound."""
        return sound(changed(board, self.changes))


class Tried(msgspec.Struct, frozen=True, kw_only=True):
    """How many variants of a class were tried for a lane, and the best margin among them; None for no variant."""

    kind: str
    count: int
    best_guards: float | None


class LaneRemedies(msgspec.Struct, frozen=True, kw_only=True):
    """What would make one lane pass.

    Attributes:
        lane: the lane as it is, after what the lanes before it took.
        offers: what makes it pass, the cheapest first.
        nearest: where nothing does, the best of what was tried; None where nothing is better than it is.
        tried: what was tried, by class.
        said: the answer in a sentence without a full stop.
        left_out: where the search was cut short, each in a sentence without a full stop.
        corners: the lane as it is at each corner, the board as it is first; nothing where nothing varies.
    """

    lane: LaneFigures
    offers: tuple[RemedyOffer, ...]
    nearest: RemedyOffer | None
    tried: tuple[Tried, ...]
    said: str
    left_out: tuple[str, ...] = ()
    corners: tuple[FiguresAt, ...] = ()

    @property
    def chosen(self) -> RemedyOffer | None:
        """The cheapest that makes it pass and no other lane worse; None where there is none."""
        return next((offer for offer in self.offers if offer.cures), None)


class RemedyAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What a remedy study found; the lanes one after another, each on the board that the cures before it leave.

    Attributes:
        made: which board and program it is of.
        allowed: the classes of changes, in the order in which they were tried.
        lanes: what was found for each.
        tolerances: what every variant was varied by besides; then all figures are those of a lane's worst corner.
        corners: how many boards each variant was assessed as, itself included.
    """

    made: AnswerOrigin
    allowed: tuple[str, ...]
    lanes: tuple[LaneRemedies, ...]
    tolerances: tuple[Tolerance, ...] = ()
    corners: int = 1

    def edit(self, board: Board) -> Board:
        """The board with the cheapest cure of every lane that has one; raises EditError."""
        cures = [one.chosen for one in self.lanes if one.chosen is not None]
        return cures[-1].edit(board) if cures else board
