"""Edits of what was measured: functions from a board to a new board; every one raises `EditError` where it can't be."""

from msgspec.structs import replace

from workbench.board.edits import sound
from workbench.board.measurement import Measurement
from workbench.board.messages import instead, quoted
from workbench.board.model import Board
from workbench.errors import EditError


def put_measurement(board: Board, measurement: Measurement) -> Board:
    """The board with a measurement; one that it has under that name is replaced in its place; raises EditError."""
    names = [one.name for one in board.measurements]
    at = names.index(measurement.name) if measurement.name in names else len(names)
    kept = (*board.measurements[:at], measurement, *board.measurements[at + 1 :])
    return sound(replace(board, measurements=kept))


def remove_measurement(board: Board, name: str) -> Board:
    """The board without a measurement; raises EditError where there is none of that name."""
    at = measurement_number(board, name)
    return sound(replace(board, measurements=(*board.measurements[:at], *board.measurements[at + 1 :])))


def measurement_number(board: Board, name: str) -> int:
    """Where a measurement stands, from 0.

    Raises:
        EditError: there is none of that name.
    """
    names = [one.name for one in board.measurements]
    if name not in names:
        remedy = instead(name, names, "take one in first")
        raise EditError(f"there is no measurement {quoted(name)}; {remedy}")
    return names.index(name)
