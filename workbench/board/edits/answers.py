"""Edits of the answers that are kept with a board."""

from msgspec.structs import replace

from workbench.board.edits.checked import sound
from workbench.board.kept_answer import KeptAnswer
from workbench.board.model import Board
from workbench.errors import EditError
from workbench.wording import instead, quoted


def keep_answer(board: Board, answer: KeptAnswer) -> Board:
    """The board with an answer; one of that name gives way to it; raises EditError."""
    names = [one.name for one in board.answers]
    at = names.index(answer.name) if answer.name in names else len(names)
    return sound(replace(board, answers=(*board.answers[:at], answer, *board.answers[at + 1 :])))


def drop_answer(board: Board, name: str) -> Board:
    """The board without an answer.

    Raises:
        EditError: it has none of that name.
    """
    left = tuple(one for one in board.answers if one.name != name)
    if len(left) == len(board.answers):
        names = tuple(one.name for one in board.answers)
        raise EditError(f"no answer {quoted(name)} is kept with the board; {instead(name, names, 'choose another')}")
    return replace(board, answers=left)
