"""Edits of lanes, elements, devices and the board's own fields: functions from a board to a new board.

Every edit leaves a sound board or raises `EditError` with one sentence; the board it was given is never changed, so
that undoing is keeping the old one. Catalogue entries are edited in `edits_catalogue`.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import chain
from typing import Any, NoReturn, TypeVar

from msgspec.structs import replace

from workbench.board.checking import check
from workbench.board.model import Board, Bundle, Device, Element, Guard, Lane, Run, Stage
from workbench.errors import EditError
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.wording import instead, quoted

T = TypeVar("T")


def sound(board: Board) -> Board:
    """The board itself, where it is sound.

    Raises:
        EditError: it is not; the sentence is that of its first fault.
    """
    for fault in check(board):
        raise EditError(f"{fault.problem}; {fault.remedy}") from fault
    return board


def add_lane(board: Board, lane: Lane, *, at: int | None = None) -> Board:
    """The board with one more lane, before the lane number `at` (from 0) or at the end; raises EditError."""
    at = len(board.lanes) if at is None else _place(at, len(board.lanes) + 1, "lane")
    return sound(replace(board, lanes=(*board.lanes[:at], lane, *board.lanes[at:])))


def remove_lane(board: Board, name: str) -> Board:
    """The board without a lane and its measurements; raises EditError."""
    number = lane_number(board, name)
    left = (*board.lanes[:number], *board.lanes[number + 1 :])
    measured = tuple(one for one in board.measurements if one.lane != name)
    return sound(replace(board, lanes=left, measurements=measured, bundles=without_lanes(board.bundles, {name})))


def rename_lane(board: Board, name: str, new: str) -> Board:
    """The board with a lane renamed, also where measurements name it; raises EditError."""
    number = lane_number(board, name)
    measured = tuple(replace(one, lane=new) if one.lane == name else one for one in board.measurements)
    lanes = _with(board.lanes, number, replace(board.lanes[number], name=new))
    bundles = tuple(
        replace(
            bundle,
            order=tuple(new if one == name else one for one in bundle.order),
            against=tuple(new if one == name else one for one in bundle.against),
        )
        for bundle in board.bundles
    )
    return sound(replace(board, lanes=lanes, measurements=measured, bundles=bundles))


def without_lanes(bundles: tuple[Bundle, ...], gone: Collection[str]) -> tuple[Bundle, ...]:
    """Bundles that name some lanes no more."""
    return tuple(
        replace(
            bundle,
            order=tuple(one for one in bundle.order if one not in gone),
            against=tuple(one for one in bundle.against if one not in gone),
        )
        for bundle in bundles
    )


def duplicate_lane(board: Board, name: str, new: str) -> Board:
    """The board with a copy of a lane right after it, its stages on the lowest free channels of the same devices.

    Raises:
        EditError: there is no such lane, the new name is taken, or a device has no free channel left.
    """
    number = lane_number(board, name)
    path: list[Element] = []
    taken: list[Stage] = []
    for element in board.lanes[number].path:
        if isinstance(element, Stage):
            element = Stage(device=element.device, channel=free_channel(board, element.device, taken))  # noqa: PLW2901
            taken.append(element)
        path.append(element)
    return add_lane(board, replace(board.lanes[number], name=new, path=tuple(path)), at=number + 1)


def move_lane(board: Board, name: str, to: int) -> Board:
    """The board with a lane moved to the place `to` (from 0); raises EditError."""
    return sound(replace(board, lanes=_moved(board.lanes, lane_number(board, name), to, "lane")))


def set_lanes(
    board: Board,
    names: Collection[str],
    *,
    transmitter: str | None = None,
    receiver: str | None = None,
    profile: str | None = None,
    board_profile: bool = False,
) -> Board:
    """The board with one value set on many lanes at once; what is None stays as it is.

    Args:
        board: the board.
        names: the lanes.
        transmitter, receiver: catalogue names.
        profile: a profile's id.
        board_profile: True to give the lanes the board's own profile again.

    Raises:
        EditError: a lane, an end or the profile does not exist.
    """
    numbers = {lane_number(board, name) for name in names}
    given = {"transmitter": transmitter, "receiver": receiver, "profile": profile}
    changes: dict[str, Any] = {key: value for key, value in given.items() if value is not None}
    if board_profile:
        changes["profile"] = None
    lanes = (replace(lane, **changes) if number in numbers else lane for number, lane in enumerate(board.lanes))
    return sound(replace(board, lanes=tuple(lanes)))


def insert_element(board: Board, lane: str, at: int, element: Element) -> Board:
    """The board with an element inserted before place `at` (from 0) of a lane's path; raises EditError."""
    path = _path(board, lane)
    at = _place(at, len(path) + 1, "element")
    return _with_path(board, lane, (*path[:at], element, *path[at:]))


def remove_element(board: Board, lane: str, at: int) -> Board:
    """The board without the element at place `at` (from 0) of a lane's path; raises EditError."""
    path = _path(board, lane)
    at = _place(at, len(path), "element")
    return _with_path(board, lane, (*path[:at], *path[at + 1 :]))


def move_element(board: Board, lane: str, at: int, to: int) -> Board:
    """The board with the element at place `at` moved to place `to` (both from 0) of the path; raises EditError."""
    return _with_path(board, lane, _moved(_path(board, lane), at, to, "element"))


def replace_element(board: Board, lane: str, at: int, element: Element) -> Board:
    """The board with another element at place `at` (from 0) of a lane's path; raises EditError."""
    path = _path(board, lane)
    return _with_path(board, lane, _with(path, _place(at, len(path), "element"), element))


def set_run_length(board: Board, lane: str, at: int, *, length_m: float) -> Board:
    """The board with the run at place `at` (from 0) `length_m` (m) long; raises EditError, also where it is none."""
    run = _run(_path(board, lane), at, f"element {at + 1} of lane {quoted(lane)}")
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
    path = _path(board, lane)
    if not isinstance(path[_place(at, len(path), "element")], Stage):
        raise EditError(f"element {at + 1} of lane {quoted(lane)} is not a conditioner channel; choose one to slide")
    before = _run(path, at - 1, "what stands before the conditioner channel")
    after = _run(path, at + 1, "what stands after the conditioner channel")
    ahead_m = before.length_m + float(by_m)
    behind_m = before.length_m + after.length_m - ahead_m
    if not (ahead_m > 0.0 and behind_m > 0.0):
        room = f"stay inside the {before.length_m:g} m before and the {after.length_m:g} m after it"
        _refuse(f"the conditioner channel can't slide by {by_m:g} m", room)
    path = _with(path, at - 1, replace(before, length_m=ahead_m))
    return _with_path(board, lane, _with(path, at + 1, replace(after, length_m=behind_m)))


def split_run(board: Board, lane: str, at: int, *, before_m: float, element: Element) -> Board:
    """The board with a run cut in two and a stage (or component) put into the cut.

    Args:
        board: the board.
        lane: the lane's name.
        at: the run's place on the path, from 0.
        before_m: how much of the run's length lies before the cut, m.
        element: what stands in the cut.

    Raises:
        EditError: no run stands there, the cut is not inside it, or the element can't stand there.
    """
    path = _path(board, lane)
    run = _run(path, at, f"element {at + 1} of lane {quoted(lane)}")
    if not 0.0 < before_m < run.length_m:
        _refuse(f"a run of {run.length_m:g} m can't be cut at {before_m:g} m", "cut it between its two ends")
    first = replace(run, length_m=float(before_m))
    last = replace(run, length_m=run.length_m - float(before_m))
    return _with_path(board, lane, (*path[:at], first, element, last, *path[at + 1 :]))


def add_device(board: Board, device: Device) -> Board:
    """The board with one more device fitted; raises EditError."""
    return sound(replace(board, devices=(*board.devices, device)))


def remove_device(board: Board, ref: str) -> Board:
    """The board without a device; raises EditError, also where a lane still passes through it."""
    number = device_number(board, ref)
    lanes = tuple(lane.name for lane in board.lanes if any(_is_stage_of(p, ref) for p in lane.path))
    if lanes:
        used = f"{quoted(ref)} is in lane {', '.join(map(quoted, lanes[:8]))}"
        _refuse(used, "remove its conditioner channels first")
    return sound(replace(board, devices=(*board.devices[:number], *board.devices[number + 1 :])))


def rename_device(board: Board, ref: str, new: str) -> Board:
    """The board with a device's reference designator changed, in the lanes too; raises EditError."""
    number = device_number(board, ref)
    devices = _with(board.devices, number, replace(board.devices[number], ref=new))
    lanes = tuple(
        replace(lane, path=tuple(_on_device(element, ref, new) for element in lane.path)) for lane in board.lanes
    )
    return sound(replace(board, devices=devices, lanes=lanes))


def replace_device(board: Board, ref: str, device: Device) -> Board:
    """The board with another part or other settings at a reference designator, which stays; raises EditError."""
    number = device_number(board, ref)
    return sound(replace(board, devices=_with(board.devices, number, replace(device, ref=ref))))


def set_settings(board: Board, refs: Iterable[str], chosen: Mapping[str, str]) -> Board:
    """The board with controls of one or more devices set.

    Args:
        board: the board.
        refs: the devices.
        chosen: the position by control; the others stay.

    Raises:
        EditError: there is no such device, or its part has no such control or position.
    """
    devices = board.devices
    for ref in refs:
        number = device_number(board, ref)
        known = tuple(devices[number].settings)
        for control in chosen:
            if control not in known:
                _refuse(f"{ref} has no control {quoted(control)}", instead(control, known, "leave it out"))
        settings = devices[number].settings | dict(chosen)
        devices = _with(devices, number, replace(devices[number], settings=settings))
    return sound(replace(board, devices=devices))


def set_board(
    board: Board,
    *,
    title: str | None = None,
    notes: str | None = None,
    profile: str | None = None,
    guard: Guard | None = None,
) -> Board:
    """The board with its `title`, `notes`, `profile` or `guard` set; what is None stays as it is; raises EditError."""
    given = {"title": title, "notes": notes, "profile": profile, "guard": guard}
    changes: dict[str, Any] = {key: value for key, value in given.items() if value is not None}
    return sound(replace(board, **changes))


def free_channel(board: Board, ref: str, taken: Iterable[Stage] = ()) -> int:
    """The lowest channel of a device, from 1, that no lane holds.

    Args:
        board: the board.
        ref: the device.
        taken: stages that are not on the board yet but count as well.

    Raises:
        EditError: there is no such device, or all its channels are held.
    """
    part = board.devices[device_number(board, ref)].part
    elements = chain(taken, *(lane.path for lane in board.lanes))
    held = {p.channel for p in elements if isinstance(p, Stage) and p.device == ref}
    channels = next(e.channels for e in board.catalogue.conditioners if isinstance(e, Conditioner) and e.name == part)
    free = next((channel for channel in range(1, channels + 1) if channel not in held), None)
    if free is None:
        _refuse(f"all {channels} channels of {quoted(ref)} are taken", "fit another device, or free one of them")
    return free


def lane_number(board: Board, name: str) -> int:
    """Where a lane stands, from 0; raises EditError where there is none of that name."""
    return _number_of(name, [lane.name for lane in board.lanes], "lane")


def device_number(board: Board, ref: str) -> int:
    """Where a device stands, from 0; raises EditError where there is none of that reference designator."""
    return _number_of(ref, [device.ref for device in board.devices], "device")


def _number_of(name: str, names: Sequence[str], what: str) -> int:
    if name not in names:
        _refuse(f"there is no {what} {quoted(name)}", instead(name, names, f"choose a {what} of the board"))
    return names.index(name)


def _refuse(problem: str, remedy: str) -> NoReturn:
    raise EditError(f"{problem}; {remedy}")


def _path(board: Board, lane: str) -> tuple[Element, ...]:
    return board.lanes[lane_number(board, lane)].path


def _with_path(board: Board, lane: str, path: tuple[Element, ...]) -> Board:
    number = lane_number(board, lane)
    return sound(replace(board, lanes=_with(board.lanes, number, replace(board.lanes[number], path=path))))


def _run(path: tuple[Element, ...], at: int, what: str) -> Run:
    element = path[at] if 0 <= at < len(path) else None
    if not isinstance(element, Run):
        _refuse(f"{what} is not a run", "choose an element that is a run, or put one there first")
    return element


def _place(at: int, count: int, what: str) -> int:
    if not 0 <= at < count:
        _refuse(f"there is no {what} number {at + 1}", f"choose 1 to {count}" if count else "add one first")
    return at


def _with(items: tuple[T, ...], number: int, item: T) -> tuple[T, ...]:
    return (*items[:number], item, *items[number + 1 :])


def _moved(items: tuple[T, ...], at: int, to: int, what: str) -> tuple[T, ...]:
    item = items[_place(at, len(items), what)]
    left = (*items[:at], *items[at + 1 :])
    _place(to, len(items), what)
    return (*left[:to], item, *left[to:])


def _is_stage_of(element: Element, ref: str) -> bool:
    return isinstance(element, Stage) and element.device == ref


def _on_device(element: Element, ref: str, new: str) -> Element:
    return replace(element, device=new) if isinstance(element, Stage) and element.device == ref else element
