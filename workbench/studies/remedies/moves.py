"""A move: one thing that can be altered on a board for the sake of a lane, and how moves go together."""

from collections.abc import Sequence
from itertools import combinations

import msgspec

from workbench.board.checking import check
from workbench.board.edits.changes import Change, Lengths, changed
from workbench.board.model import Board
from workbench.quantity import show
from workbench.studies.forms import CLASSES
from workbench.studies.remedies.alterations import ConditionerPut

SETTINGS, PARTS, LAYOUT, MATERIAL = CLASSES


class RemedyMove(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to alter.

    Attributes:
        kind: its class, one of `CLASSES`.
        words: what to do, as an instruction without a full stop.
        knob: what is turned; of two moves of one knob only one can be made.
        at: its position on the knob: two moves one apart in one number are neighbours.
        now_at: where the knob stands on the board; empty where that is no position of it.
        changes: what it does to the board.
        cost: what it takes besides, in words; "" for nothing.
        power_w: how much more power it takes, W; None where the parts' data does not say.
        price: its rank within its class, the cheapest 0.
    """

    kind: str
    words: str
    knob: str
    at: tuple[int, ...]
    now_at: tuple[int, ...] = ()
    changes: tuple[Change, ...]
    cost: str = ""
    power_w: float | None = 0.0
    price: int = 0

    @property
    def is_next_to_now(self) -> bool:
        """Whether the knob stands one step away on the board."""
        return _one_apart(self.at, self.now_at)

    def is_beside(self, other: "RemedyMove") -> bool:
        """Whether another move is one step of the same knob away."""
        return self.knob == other.knob and _one_apart(self.at, other.at)


def _one_apart(one: tuple[int, ...], other: tuple[int, ...]) -> bool:
    return len(one) == len(other) and sum(abs(a - b) for a, b in zip(one, other, strict=True)) == 1


Remedy = tuple[RemedyMove, ...]
"""Moves made together: one, or two of different knobs."""


def power_words(power_w: float) -> str:
    """More power, as words."""
    return f"{show(power_w, 'W', digits=3)} more"


def changes_of(moves: Sequence[RemedyMove]) -> tuple[Change, ...]:
    """What moves do together; channels are put in last, since they move the places of what comes after them."""
    changes = [change for move in moves for change in move.changes]
    return tuple(sorted(changes, key=lambda change: isinstance(change, ConditionerPut)))


def dearest(moves: Sequence[RemedyMove], order: Sequence[str]) -> tuple[int, int, int]:
    """What orders remedies by how dear they are: the number of moves, the dearest class, the price within it."""
    return len(moves), max(order.index(move.kind) for move in moves), max(move.price for move in moves)


def is_sound(board: Board, changes: Sequence[Change]) -> bool:
    """Whether the board with changes is one that could be saved."""
    return next(iter(check(changed(board, changes))), None) is None


def pairs(moves: Sequence[RemedyMove]) -> list[Remedy]:
    """All pairs of moves of different knobs that leave each other's runs alone; a lane gets one channel at most."""
    return [
        (one, other)
        for one, other in combinations(moves, 2)
        if one.knob != other.knob
        and not _lengthened(one) & _lengthened(other)
        and sum(isinstance(change, ConditionerPut) for change in (*one.changes, *other.changes)) < 2
    ]


def _lengthened(move: RemedyMove) -> set[str]:
    """The lanes whose runs a move gives other lengths: of two such moves on one lane only the later would count."""
    return {change.lane for change in move.changes if isinstance(change, Lengths)}


def around(remedy: Remedy, moves: Sequence[RemedyMove]) -> list[Remedy]:
    """What stands one step of one of a remedy's knobs away; a move that is not made is the knob where it stands."""
    found: list[Remedy] = []
    for number, move in enumerate(remedy):
        before, after = remedy[:number], remedy[number + 1 :]
        found += [(*before, other, *after) for other in moves if move.is_beside(other)]
        if move.is_next_to_now:
            found.append((*before, *after))
    return found


def key_of(remedy: Remedy) -> frozenset[tuple[str, tuple[int, ...]]]:
    """What tells remedies apart."""
    return frozenset((move.knob, move.at) for move in remedy)
