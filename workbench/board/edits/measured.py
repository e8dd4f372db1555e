"""Edits of what was measured: functions from a board to a new board; every one raises `EditError` where it can't be."""

from msgspec.structs import replace

from workbench.board.edits.checked import lane_number, refuse, sound
from workbench.board.measurement import MeasuredResponse, Measurement, stretch_words
from workbench.board.model import Board, Component, Element, Run, Stage
from workbench.wording import instead, quoted


def put_measurement(board: Board, measurement: Measurement) -> Board:
    """The board with a measurement; one that it has under that name is replaced in its place; raises EditError.

    A response between places keeps in words what stands there now, so that a later change of the path is noticed.
    """
    if isinstance(measurement, MeasuredResponse) and measurement.first and not measurement.made_of:
        measurement = replace(measurement, made_of=_made_of(board, measurement))
    names = [one.name for one in board.measurements]
    at = names.index(measurement.name) if measurement.name in names else len(names)
    kept = (*board.measurements[:at], measurement, *board.measurements[at + 1 :])
    return sound(replace(board, measurements=kept))


def remove_measurement(board: Board, name: str) -> Board:
    """The board without a measurement; raises EditError where there is none of that name."""
    at = measurement_number(board, name)
    return sound(replace(board, measurements=(*board.measurements[:at], *board.measurements[at + 1 :])))


def _made_of(board: Board, measured: MeasuredResponse) -> str:
    path = board.lanes[lane_number(board, measured.lane)].path
    if measured.last > len(path):
        places = f"1 to {len(path)}"
        refuse(f"lane {quoted(measured.lane)} has no element {measured.last}", f"name elements from {places}")
    return stretch_words(map(_piece, path[measured.first - 1 : measured.last]))


def _piece(element: Element) -> tuple[str, float | None]:
    match element:
        case Run(line=name, length_m=length_m):
            return name, length_m
        case Component(part=name):
            return name, None
        case Stage(device=ref, channel=channel):
            return f"{ref} channel {channel}", None


def measurement_number(board: Board, name: str) -> int:
    """Where a measurement stands, from 0.

    Raises:
        EditError: there is none of that name.
    """
    names = [one.name for one in board.measurements]
    if name not in names:
        remedy = instead(name, names, "import one first")
        refuse(f"there is no measurement {quoted(name)}", remedy)
    return names.index(name)
