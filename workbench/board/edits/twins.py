"""The same edit on several lanes at once: which place of another lane corresponds to one of this."""

from collections.abc import Callable, Mapping, Sequence

from workbench.board.edits.path import Cut, Gap, Spot, check_spot, element_at, path_of
from workbench.board.model import Board, Component, Element, Run, Stage

LaneEdit = Callable[[Board, str, int], Board]
"""An edit of one lane at one of its places: (board, lane, place from 0)."""


def twin(board: Board, lane: str, at: int, other: str) -> int | None:
    """The place on another lane that corresponds to place `at` of a lane: the same entry, met as often before.

    Stages correspond to stages of any device. None where the other lane has no such element; raises EditError.
    """
    path, others = path_of(board, lane), path_of(board, other)
    wanted = _likeness(element_at(board, lane, at))
    if at < len(others) and _likeness(others[at]) == wanted:
        return at
    rank = sum(_likeness(element) == wanted for element in path[:at])
    places = [number for number, element in enumerate(others) if _likeness(element) == wanted]
    return places[rank] if rank < len(places) else None


def twins(board: Board, lane: str, at: int, lanes: Sequence[str]) -> dict[str, int]:
    """The corresponding place on each of several lanes that has one, `lane` itself among them; raises EditError."""
    found = {other: twin(board, lane, at, other) for other in dict.fromkeys((lane, *lanes))}
    return {other: place for other, place in found.items() if place is not None}


def twin_spots(board: Board, lane: str, spot: Spot, lanes: Sequence[str]) -> dict[str, Spot]:
    """The corresponding spot on each of several lanes that has one, `lane` itself among them; raises EditError.

    A cut lies as far after the beginning of the run, or where that is too short, at the same share of it.
    """
    check_spot(path_of(board, lane), spot)
    found: dict[str, Spot] = {}
    for other in dict.fromkeys((lane, *lanes)):
        there = _twin_spot(board, lane, spot, other)
        if there is not None:
            found[other] = there
    return found


def on_each(board: Board, places: Mapping[str, int], edit: LaneEdit) -> Board:
    """The board with an edit done at a place of each of several lanes; raises EditError."""
    for lane, at in places.items():
        board = edit(board, lane, at)
    return board


def _twin_spot(board: Board, lane: str, spot: Spot, other: str) -> Spot | None:
    path, others = path_of(board, lane), path_of(board, other)
    if isinstance(spot, Cut):
        at = twin(board, lane, spot.at, other)
        run, there = path[spot.at], others[at] if at is not None else None
        if at is None or not isinstance(run, Run) or not isinstance(there, Run):
            return None
        inside = spot.before_m < there.length_m
        return Cut(at, spot.before_m if inside else spot.before_m / run.length_m * there.length_m)
    if other == lane or spot.at == 0:
        return spot
    if spot.at == len(path):
        return Gap(len(others))
    before, after = twin(board, lane, spot.at - 1, other), twin(board, lane, spot.at, other)
    if before is not None:
        return Gap(before + 1)
    return Gap(after) if after is not None else None


def _likeness(element: Element) -> tuple[str, str]:
    match element:
        case Run(line=name):
            return "run", name
        case Component(part=name):
            return "component", name
        case Stage():
            return "stage", ""
