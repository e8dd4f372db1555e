"""What the command line makes of a study's answer: its forms, the edited board, whether every lane passes."""

from collections.abc import Callable, Iterable
from typing import Any, NamedTuple

from workbench.board.model import Board


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
