"""What the lane table does to the board, in one lane or in many at once: functions from a board to a new board.

No widget. Edits of many lanes check the result once, so that 256 lanes change as readily as one.
"""

import re
from collections.abc import Collection, Iterator, Sequence
from typing import NamedTuple, NoReturn

from msgspec.structs import replace

from workbench.board.edits.devices import lane_number, rename_lane, sound, without_lanes
from workbench.board.edits.path import new_device
from workbench.board.model import Board, Device, Element, Lane, Run, Stage
from workbench.errors import EditError
from workbench.wording import quoted

FIRST_NAME, FIRST_TRACE_M, FIRST_CABLE_M = "L0", 0.1, 0.5


class Copied(NamedTuple):
    """A board with copies of lanes: their names, and the devices that had to be added for them."""

    board: Board
    names: tuple[str, ...]
    devices: tuple[str, ...]


def next_name(taken: Collection[str], name: str) -> str:
    """The first free name after one: "RX4" after "RX3", "clock 2" after "clock"."""
    counted = re.fullmatch(r"(.*?)(\d{1,9})", name, re.DOTALL)
    stem, digits = (counted[1], counted[2]) if counted else (f"{name} ", "1")
    number = int(digits) + 1
    while (new := f"{stem}{number:0{len(digits)}d}") in taken:
        number += 1
    return new


def copied(board: Board, names: Collection[str]) -> Copied:
    """Copies of lanes, behind the last of them; each stage on a free channel.

    A channel of the same device where it has one free, else of a device of the same part and settings, else of a new
    device like it.

    Raises:
        EditError: there is no such lane.
    """
    if not names:
        _refuse("no lane is selected", "choose the lanes to copy")
    numbers = sorted(lane_number(board, name) for name in names)
    fitting = _Fitting(board)
    taken = {lane.name for lane in board.lanes}
    copies: list[Lane] = []
    for number in numbers:
        lane = board.lanes[number]
        path = tuple(map(fitting.like, lane.path))
        copies.append(replace(lane, name=next_name(taken, lane.name), path=path))
        taken.add(copies[-1].name)
    at = numbers[-1] + 1
    lanes = (*board.lanes[:at], *copies, *board.lanes[at:])
    made = sound(replace(board, lanes=lanes, devices=tuple(fitting.devices)))
    return Copied(made, tuple(lane.name for lane in copies), fitting.added)


def with_first_lane(board: Board) -> Board:
    """A board without lanes with one: a single run between the first ends of the catalogue; raises EditError."""
    catalogue = board.catalogue
    missing = [
        what
        for what, section in (
            ("a line or cable", (*catalogue.lines, *catalogue.cables)),
            ("a transmitter", catalogue.transmitters),
            ("a receiver", catalogue.receivers),
        )
        if not section
    ]
    if missing:
        _refuse(f"the catalogue lacks {' and '.join(missing)} to make a lane of", "add it from Parts first")
    run = (*catalogue.lines, *catalogue.cables)[0]
    lane = Lane(
        name=FIRST_NAME,
        transmitter=catalogue.transmitters[0].name,
        receiver=catalogue.receivers[0].name,
        path=(Run(line=run.name, length_m=FIRST_TRACE_M if catalogue.lines else FIRST_CABLE_M),),
    )
    return sound(replace(board, lanes=(*board.lanes, lane)))


def removed(board: Board, names: Collection[str]) -> Board:
    """The board without some lanes, their measurements and their names in bundles; raises EditError."""
    for name in names:
        lane_number(board, name)
    gone = frozenset(names)
    lanes = tuple(lane for lane in board.lanes if lane.name not in gone)
    measured = tuple(one for one in board.measurements if one.lane not in gone)
    return sound(
        replace(board, lanes=lanes, measurements=measured, bundles=without_lanes(board.bundles, gone))
    )


def renamed(board: Board, name: str, new: str) -> Board:
    """The board with a lane renamed; raises EditError, where the name is taken with a sentence of the table's own."""
    if new != name and any(lane.name == new for lane in board.lanes):
        _refuse(f"there is already a lane {quoted(new)}", "give this one another name")
    if not new:
        _refuse("a lane needs a name", "give it at least one character")
    return rename_lane(board, name, new)


def moved(board: Board, names: Collection[str], step: int, among: Collection[str]) -> Board:
    """The board with some lanes moved up (-1) or down (1) by one; those at the end of the list stay.

    Args:
        board: the board.
        names: the lanes that move.
        step: -1 or 1.
        among: the lanes that are listed; the others keep their places.
    """
    slots = [number for number, lane in enumerate(board.lanes) if lane.name in among]
    listed = [board.lanes[number] for number in slots]
    walk = range(len(listed)) if step < 0 else range(len(listed) - 1, -1, -1)
    for at in walk:
        to = at + step
        if listed[at].name in names and 0 <= to < len(listed) and listed[to].name not in names:
            listed[at], listed[to] = listed[to], listed[at]
    lanes = list(board.lanes)
    for number, lane in zip(slots, listed, strict=True):
        lanes[number] = lane
    return sound(replace(board, lanes=tuple(lanes)))


def placed(board: Board, names: Collection[str], gap: int, among: Sequence[str]) -> Board:
    """The board with some lanes moved together to one place of the list, in the board's order.

    Args:
        board: the board.
        names: the lanes that move.
        gap: before which of the listed lanes they come; as many as there are: behind the last.
        among: the lanes that are listed, in the board's order; the others keep their places.
    """
    by_name = {lane.name: lane for lane in board.lanes}
    above = [name for name in among[:gap] if name not in names]
    held = [name for name in among if name in names]
    below = [name for name in among[gap:] if name not in names]
    order = iter((*above, *held, *below))
    listed = frozenset(among)
    lanes = tuple(by_name[next(order)] if lane.name in listed else lane for lane in board.lanes)
    return sound(replace(board, lanes=lanes))


def in_words(names: Collection[str]) -> str:
    """How an undo step names lanes: the one, or how many."""
    return next(iter(names)) if len(names) == 1 else f"{len(names)} lanes"


class _Fitting:
    """Hands out channels while copies are made."""

    def __init__(self, board: Board) -> None:
        self._board = board
        self.devices: list[Device] = list(board.devices)
        self._channels = {entry.name: _channels(entry) for entry in board.catalogue.conditioners}
        self._held: dict[str, set[int]] = {device.ref: set() for device in board.devices}
        for lane in board.lanes:
            for stage in lane.path:
                if isinstance(stage, Stage):
                    self._held[stage.device].add(stage.channel)

    @property
    def added(self) -> tuple[str, ...]:
        """The devices that the board did not have."""
        return tuple(device.ref for device in self.devices[len(self._board.devices) :])

    def like(self, element: Element) -> Element:
        """An element like one: itself, or for a stage one on a free channel."""
        if not isinstance(element, Stage):
            return element
        device = next(device for device in self.devices if device.ref == element.device)
        ref, channel = next(self._free(device), ("", 0))
        if not ref:
            fresh = new_device(replace(self._board, devices=tuple(self.devices)), device.part)
            self.devices.append(replace(fresh, settings=device.settings))
            self._held[fresh.ref] = set()
            ref, channel = fresh.ref, 1
        self._held[ref].add(channel)
        return Stage(device=ref, channel=channel)

    def _free(self, like: Device) -> Iterator[tuple[str, int]]:
        others = (one for one in self.devices if (one.part, one.settings) == (like.part, like.settings))
        for device in (like, *others):
            for channel in range(1, self._channels[device.part] + 1):
                if channel not in self._held[device.ref]:
                    yield device.ref, channel


def _channels(entry: object) -> int:
    channels: int = getattr(entry, "channels", 0)
    return channels


def _refuse(problem: str, remedy: str) -> NoReturn:
    raise EditError(f"{problem}; {remedy}")
