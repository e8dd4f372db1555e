"""What all edits share: a board is checked before it is handed on, and what can't be done is refused in a sentence."""

from collections.abc import Sequence
from typing import NoReturn, TypeVar

from msgspec.structs import replace

from workbench.board.checking import check
from workbench.board.entry_source import of_names
from workbench.board.index import entry_names
from workbench.board.model import Board
from workbench.errors import EditError
from workbench.wording import instead, quoted

T = TypeVar("T")


def sound(board: Board) -> Board:
    """The board itself, where it is sound; sources of entries that are gone went with them.

    Raises:
        EditError: it is not; the sentence is that of its first fault.
    """
    board = without_lost_sources(board)
    for fault in check(board):
        raise EditError(f"{fault.problem}; {fault.remedy}") from fault
    return board


def without_lost_sources(board: Board) -> Board:
    """The board without the sources of entries that it has no more."""
    left = of_names(board.sources, entry_names(board.catalogue)) if board.sources else ()
    return board if left == board.sources else replace(board, sources=left)


def refuse(problem: str, remedy: str) -> NoReturn:
    """Refuse an edit; raises EditError with one sentence."""
    raise EditError(f"{problem}; {remedy}")


def lane_number(board: Board, name: str) -> int:
    """Where a lane stands, from 0; raises EditError where there is none of that name."""
    return _number_of(name, [lane.name for lane in board.lanes], "lane")


def device_number(board: Board, ref: str) -> int:
    """Where a device stands, from 0; raises EditError where there is none of that reference designator."""
    return _number_of(ref, [device.ref for device in board.devices], "device")


def with_item(items: tuple[T, ...], number: int, item: T) -> tuple[T, ...]:
    """Items with the one at `number` (from 0) replaced."""
    return (*items[:number], item, *items[number + 1 :])


def _number_of(name: str, names: Sequence[str], what: str) -> int:
    if name not in names:
        refuse(f"there is no {what} {quoted(name)}", instead(name, names, f"choose a {what} of the board"))
    return names.index(name)
