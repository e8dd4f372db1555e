"""Edits along a path as a designer makes them: put something at a spot, move it, take it out again.

A stage or component that stood inside a line leaves one run after when it is taken out, as there was one before it was
put there. Functions from a board to a new board; every one raises `EditError` where the result would not be sound.
"""

from typing import NamedTuple

from msgspec.structs import replace

from workbench.board.edits.checked import lane_number, refuse, sound, with_item
from workbench.board.model import Board, Element, Run, Stage
from workbench.wording import quoted

Path = tuple[Element, ...]


class Gap(NamedTuple):
    """Between two elements: before place `at` (from 0)."""

    at: int


class Cut(NamedTuple):
    """Inside the run at place `at`, `before_m` (m) from its beginning."""

    at: int
    before_m: float


Spot = Gap | Cut


def path_of(board: Board, lane: str) -> Path:
    """The elements of a lane; raises EditError where there is no such lane."""
    return board.lanes[lane_number(board, lane)].path


def element_at(board: Board, lane: str, at: int) -> Element:
    """The element at a place (from 0) of a lane's path; raises EditError where there is none."""
    return _checked(path_of(board, lane), at, lane)[at]


def put(board: Board, lane: str, spot: Spot, element: Element) -> Board:
    """The board with an element at a spot of a lane's path; raises EditError."""
    return _with_path(board, lane, inserted(path_of(board, lane), spot, element))


def landing(spot: Spot) -> int:
    """The place that an element has after it was `put` at a spot."""
    return spot.at if isinstance(spot, Gap) else spot.at + 1


def take_out(board: Board, lane: str, at: int) -> Board:
    """The board without an element; two runs of one line that it divided become one; raises EditError."""
    path = _checked(path_of(board, lane), at, lane)
    return _with_path(board, lane, _without(path, at)[0])


def relocate(board: Board, lane: str, at: int, spot: Spot) -> Board:
    """The board with an element taken out and put at a spot; raises EditError.

    Args:
        board: the board.
        lane: the lane's name.
        at: the element's place on the path, from 0.
        spot: where it goes, in the numbers of the path as it is.
    """
    return relocated(board, lane, at, spot)[0]


def replace_element(board: Board, lane: str, at: int, element: Element) -> Board:
    """The board with another element at place `at` (from 0) of a lane's path; raises EditError."""
    return _with_path(board, lane, with_item(_checked(path_of(board, lane), at, lane), at, element))


def set_run_length(board: Board, lane: str, at: int, *, length_m: float) -> Board:
    """The board with the run at place `at` (from 0) `length_m` (m) long; raises EditError, also where it is none."""
    run = _run(path_of(board, lane), at, f"element {at + 1} of lane {quoted(lane)}")
    return replace_element(board, lane, at, replace(run, length_m=float(length_m)))


def slide_stage(board: Board, lane: str, at: int, *, by_m: float) -> Board:
    """The board with a stage moved along its path; the runs on its two sides keep their total length.

    Args:
        board: the board.
        lane: the lane's name.
        at: the stage's place on the path, from 0.
        by_m: how far towards the receiver, m; negative is towards the transmitter.

    Raises:
        EditError: no stage stands there, a neighbour is not a run, or a run would have no length left.
    """
    path = path_of(board, lane)
    if not isinstance(_checked(path, at, lane)[at], Stage):
        refuse(f"element {at + 1} of lane {quoted(lane)} is not a conditioner channel", "choose one to slide")
    before = _run(path, at - 1, "what comes before the conditioner channel")
    after = _run(path, at + 1, "what comes after the conditioner channel")
    ahead_m = before.length_m + float(by_m)
    after_m = before.length_m + after.length_m - ahead_m
    if not (ahead_m > 0.0 and after_m > 0.0):
        room = f"stay inside the {before.length_m:g} m before and the {after.length_m:g} m after it"
        refuse(f"the conditioner channel can't slide by {by_m:g} m", room)
    path = with_item(path, at - 1, replace(before, length_m=ahead_m))
    return _with_path(board, lane, with_item(path, at + 1, replace(after, length_m=after_m)))


def check_spot(path: Path, spot: Spot) -> None:
    """Refuse a spot that is not on a path; raises EditError."""
    if isinstance(spot, Gap):
        if not 0 <= spot.at <= len(path):
            refuse(f"there is no element {spot.at + 1}", f"choose 1 to {len(path) + 1}")
        return
    run = path[spot.at] if 0 <= spot.at < len(path) else None
    if not isinstance(run, Run):
        refuse(f"element {spot.at + 1} is not a run that could be cut", "choose a run")
    if not 0.0 < spot.before_m < run.length_m:
        refuse(f"a run of {run.length_m:g} m can't be cut at {spot.before_m:g} m", "cut it between its two ends")


def inserted(path: Path, spot: Spot, element: Element) -> Path:
    """A path with an element at a spot, a run cut in two where it lies inside one; raises EditError."""
    check_spot(path, spot)
    if isinstance(spot, Gap):
        return (*path[: spot.at], element, *path[spot.at :])
    run = path[spot.at]
    assert isinstance(run, Run)
    first, last = run.cut(spot.before_m)
    return (*path[: spot.at], first, element, last, *path[spot.at + 1 :])


def relocated(board: Board, lane: str, at: int, spot: Spot) -> tuple[Board, int]:
    """The board that `relocate` makes, and the place that the element then has; raises EditError."""
    element = _checked(path_of(board, lane), at, lane)[at]
    if spot in (Gap(at), Gap(at + 1)):
        return board, at
    if isinstance(spot, Cut) and spot.at == at:
        refuse("a run can't be put into itself", "choose another place for it")
    # A stand-in, since a stage's channel can't be held twice even for a moment.
    path = path_of(board, lane)
    lands = landing(spot)
    longer = inserted(path, spot, element)
    old = at if at < spot.at else at + (1 if isinstance(spot, Gap) else 2)
    shorter, joined = _without(longer, old)
    moved_back = (1 if old < lands else 0) + (1 if joined and old < lands else 0)
    return _with_path(board, lane, shorter), lands - moved_back


def _without(path: Path, at: int) -> tuple[Path, bool]:
    """The path without an element, and whether two runs were joined where it stood."""
    before = path[at - 1] if at > 0 else None
    after = path[at + 1] if at + 1 < len(path) else None
    if isinstance(before, Run) and isinstance(after, Run) and not isinstance(path[at], Run):
        whole = before.joined(after)
        if whole is not None:
            return (*path[: at - 1], whole, *path[at + 2 :]), True
    return (*path[:at], *path[at + 1 :]), False


def _checked(path: Path, at: int, lane: str) -> Path:
    if not 0 <= at < len(path):
        refuse(f"lane {quoted(lane)} has no element {at + 1}", f"choose 1 to {len(path)}")
    return path


def _with_path(board: Board, lane: str, path: Path) -> Board:
    number = lane_number(board, lane)
    return sound(replace(board, lanes=with_item(board.lanes, number, replace(board.lanes[number], path=path))))


def _run(path: tuple[Element, ...], at: int, what: str) -> Run:
    element = path[at] if 0 <= at < len(path) else None
    if not isinstance(element, Run):
        refuse(f"{what} is not a run", "choose an element that is a run, or put one there first")
    return element
