"""Board files as commands read and write them; what a board is gets loaded with the first one: help needs none."""

from pathlib import Path
from typing import TYPE_CHECKING

from workbench.errors import WorkbenchError
from workbench.wording import any_of, quoted

if TYPE_CHECKING:
    from workbench.board.model import Board
    from workbench.board.reading import LoadedBoard


def load_board(file: str | Path) -> "LoadedBoard":
    """Read a board file; raises BoardFileError where it can't be read."""
    from workbench.board.reading import load_board as load  # noqa: PLC0415 - help starts without boards

    return load(file)


def save_board(board: "Board", file: str | Path) -> None:
    """Write a board file; raises BoardFileError where it can't be written."""
    from workbench.board.writing import save_board as save  # noqa: PLC0415 - help starts without boards

    save(board, file)


def lanes_of(board: "Board", asked: list[str]) -> tuple[str, ...]:
    """The lanes that were named, each once; raises WorkbenchError for one that the board does not have."""
    names = tuple(lane.name for lane in board.lanes)
    for name in asked:
        if name not in names:
            remedy = f"write {any_of(names)}" if names else "the board has none"
            raise WorkbenchError(f"there is no lane {quoted(name)}; {remedy}")
    return tuple(dict.fromkeys(asked))
