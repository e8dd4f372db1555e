"""Edits along a path as a designer makes them: put something at a spot, take it out again, the same on several lanes.

A stage or component that stood inside a line leaves one run behind when it is taken out, as there was one before it was
put there. Functions from a board to a new board; every one raises `EditError` where the result would not be sound.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from workbench.board.edits.devices import free_channel, insert_element, lane_number, sound, split_run
from workbench.board.model import Board, Component, Device, Element, Run, Stage
from workbench.errors import EditError
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.wording import quoted

Path = tuple[Element, ...]
LaneEdit = Callable[[Board, str, int], Board]
"""An edit of one lane at one of its places: (board, lane, place from 0)."""


class Gap(NamedTuple):
    """Between two elements: before place `at` (from 0)."""

    at: int


class Cut(NamedTuple):
    """Inside the run at place `at`, `before_m` (m) from its beginning."""

    at: int
    before_m: float


Spot = Gap | Cut


class FreeChannel(NamedTuple):
    """A board with a channel to place: the stage, and whether its device was added for it."""

    board: Board
    stage: Stage
    is_new: bool


def path_of(board: Board, lane: str) -> Path:
    """The elements of a lane; raises EditError where there is no such lane."""
    return board.lanes[lane_number(board, lane)].path


def put(board: Board, lane: str, spot: Spot, element: Element) -> Board:
    """The board with an element at a spot of a lane's path; raises EditError."""
    if isinstance(spot, Gap):
        return insert_element(board, lane, spot.at, element)
    return split_run(board, lane, spot.at, before_m=spot.before_m, element=element)


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
    return _relocated(board, lane, at, spot)[0]


def place_after_relocating(board: Board, lane: str, at: int, spot: Spot) -> int:
    """The place that `relocate` would give the element; raises EditError."""
    return _relocated(board, lane, at, spot)[1]


def _relocated(board: Board, lane: str, at: int, spot: Spot) -> tuple[Board, int]:
    element = _checked(path_of(board, lane), at, lane)[at]
    if spot in (Gap(at), Gap(at + 1)):
        return board, at
    if isinstance(spot, Cut) and spot.at == at:
        raise EditError("a run can't be put into itself; choose another place for it")
    # A stand-in, since a stage's channel can't be held twice even for a moment.
    path = path_of(board, lane)
    lands = landing(spot)
    longer = _inserted(path, spot, element)
    old = at if at < spot.at else at + (1 if isinstance(spot, Gap) else 2)
    shorter, joined = _without(longer, old)
    moved_back = (1 if old < lands else 0) + (1 if joined and old < lands else 0)
    return _with_path(board, lane, shorter), lands - moved_back


def twin(board: Board, lane: str, at: int, other: str) -> int | None:
    """The place on another lane that corresponds to place `at` of a lane: the same entry, met as often before.

    Stages correspond to stages of any device. None where the other lane has no such element; raises EditError.
    """
    path, others = path_of(board, lane), path_of(board, other)
    wanted = _likeness(path[at])
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

    A cut lies as far behind the beginning of the run, or where that is too short, at the same share of it.
    """
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


def new_device(board: Board, part: str) -> Device:
    """A device of a part with the first free reference U1, U2, ... and the first position of every control.

    Raises:
        EditError: there is no such conditioner.
    """
    conditioner = _conditioner(board, part)
    refs = {device.ref for device in board.devices}
    ref = next(f"U{n}" for n in range(1, len(refs) + 2) if f"U{n}" not in refs)
    return Device(ref=ref, part=part, settings=conditioner.settings_near())


def channel_of(board: Board, ref: str) -> FreeChannel:
    """A free channel of a device; raises EditError where there is none."""
    return FreeChannel(board, Stage(device=ref, channel=free_channel(board, ref)), is_new=False)


def channel_of_part(board: Board, part: str, lane: str, *, passing_over: Collection[str] = ()) -> FreeChannel:
    """A channel of a conditioner for a lane.

    A device of that part that has a free channel and is not in the lane yet gives it; where there is none, one is
    added.

    Args:
        board: the board.
        part: the conditioner.
        lane: the lane that it is for.
        passing_over: references of devices that shall not give it.

    Raises:
        EditError: there is no such conditioner.
    """
    here = {element.device for element in path_of(board, lane) if isinstance(element, Stage)}
    for device in board.devices:
        usable = device.part == part and device.ref not in here and device.ref not in passing_over
        if usable and free_channels(board, device):
            return channel_of(board, device.ref)
    device = new_device(board, part)
    return FreeChannel(
        replace(board, devices=(*board.devices, device)), Stage(device=device.ref, channel=1), is_new=True
    )


def free_channels(board: Board, device: Device) -> tuple[int, ...]:
    """The channels of a device that no lane holds; raises EditError where its part is unknown."""
    held = {
        element.channel
        for lane in board.lanes
        for element in lane.path
        if isinstance(element, Stage) and element.device == device.ref
    }
    return tuple(n for n in range(1, _conditioner(board, device.part).channels + 1) if n not in held)


def _conditioner(board: Board, part: str) -> Conditioner:
    found = next((entry for entry in board.catalogue.conditioners if entry.name == part), None)
    if found is None:
        raise EditError(f"there is no conditioner {quoted(part)} in the catalogue; add it there first")
    return found


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


def _inserted(path: Path, spot: Spot, element: Element) -> Path:
    if isinstance(spot, Gap):
        if not 0 <= spot.at <= len(path):
            raise EditError(f"there is no element {spot.at + 1}; choose 1 to {len(path) + 1}")
        return (*path[: spot.at], element, *path[spot.at :])
    run = path[spot.at] if 0 <= spot.at < len(path) else None
    if not isinstance(run, Run):
        raise EditError(f"element {spot.at + 1} is not a run that could be cut; choose a run")
    if not 0.0 < spot.before_m < run.length_m:
        raise EditError(f"a run of {run.length_m:g} m can't be cut at {spot.before_m:g} m; cut it between its two ends")
    first, last = replace(run, length_m=spot.before_m), replace(run, length_m=run.length_m - spot.before_m)
    return (*path[: spot.at], first, element, last, *path[spot.at + 1 :])


def _without(path: Path, at: int) -> tuple[Path, bool]:
    """The path without an element, and whether two runs were joined where it stood."""
    before = path[at - 1] if at > 0 else None
    after = path[at + 1] if at + 1 < len(path) else None
    divided = isinstance(before, Run) and isinstance(after, Run) and before.line == after.line
    if isinstance(path[at], Run) or not divided:
        return (*path[:at], *path[at + 1 :]), False
    assert isinstance(before, Run)
    assert isinstance(after, Run)
    whole = replace(before, length_m=before.length_m + after.length_m)
    return (*path[: at - 1], whole, *path[at + 2 :]), True


def _checked(path: Path, at: int, lane: str) -> Path:
    if not 0 <= at < len(path):
        raise EditError(f"lane {quoted(lane)} has no element {at + 1}; choose 1 to {len(path)}")
    return path


def _with_path(board: Board, lane: str, path: Path) -> Board:
    number = lane_number(board, lane)
    changed = replace(board.lanes[number], path=path)
    return sound(replace(board, lanes=(*board.lanes[:number], changed, *board.lanes[number + 1 :])))
