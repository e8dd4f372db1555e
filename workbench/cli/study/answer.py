"""What the command line makes of a study's answer: its forms, the edited board, whether every lane passes."""

import argparse
from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from workbench.board.model import Board
from workbench.errors import QuantityError, StudyError
from workbench.quantity import parse


class Found(NamedTuple):
    """An answer with all that may be asked of it.

    Attributes:
        answer: the record itself; it has `made`.
        text: the answer as lines of text.
        rows: the answer as a table, the head first.
        edited: the board with the answer applied; raises StudyError where there is nothing to apply.
        passes: whether every lane passes in the answer.
    """

    answer: Any
    text: Callable[[], str]
    rows: Callable[[], Iterable[tuple[object, ...]]]
    edited: Callable[[], Board]
    passes: bool


def nothing_to_apply() -> Board:
    """For an answer that changes nothing on the board.

    Raises:
        StudyError: always.
    """
    raise StudyError("this answer changes nothing on the board; omit --board-out")


def length_m(text: str) -> float:
    """A length in m as it is typed, with or without its unit; argparse shows what is wrong with it."""
    try:
        return parse(text, unit="m")
    except QuantityError as error:
        raise argparse.ArgumentTypeError(str(error)) from error
