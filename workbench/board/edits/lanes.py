"""Edits of lanes, one or many at once, and of the board's own fields: functions from a board to a new board.

Every edit leaves a sound board or raises `EditError` with one sentence; the board it was given is never changed, so
that undoing is keeping the old one. The result is checked once, so that 256 lanes change as readily as one.
"""

import re
from collections.abc import Collection, Sequence
from typing import Any, NamedTuple

from msgspec.structs import replace

from workbench.board.edits.checked import lane_number, refuse, sound, with_item
from workbench.board.edits.devices import ChannelFinder
from workbench.board.edits.ways import WayFinder
from workbench.board.model import Board, Bundle, Guard, Lane, Run
from workbench.wording import quoted

FIRST_NAME, FIRST_TRACE_M, FIRST_CABLE_M = "L0", 0.1, 0.5


class CopiedLanes(NamedTuple):
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


def copy_lanes(board: Board, names: Collection[str]) -> CopiedLanes:
    """Copies of lanes, after the last of them; each stage on a free channel, each network's way a free one.

    A channel of the same device where it has one free, else of a device of the same part and settings, else of a new
    device like it.

    Raises:
        EditError: there is no such lane.
    """
    if not names:
        refuse("no lane is selected", "choose the lanes to copy")
    numbers = sorted(lane_number(board, name) for name in names)
    finder, ways = ChannelFinder(board), WayFinder(board)
    taken = {lane.name for lane in board.lanes}
    copies: list[Lane] = []
    for number in numbers:
        lane = board.lanes[number]
        path = tuple(map(finder.like, lane.path))
        copies.append(ways.like(replace(lane, name=next_name(taken, lane.name), path=path)))
        taken.add(copies[-1].name)
    at = numbers[-1] + 1
    lanes = (*board.lanes[:at], *copies, *board.lanes[at:])
    made = sound(replace(board, lanes=lanes, devices=tuple(finder.devices)))
    return CopiedLanes(made, tuple(lane.name for lane in copies), tuple(device.ref for device in finder.added))


def add_first_lane(board: Board) -> Board:
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
        refuse(f"the catalogue lacks {' and '.join(missing)} to make a lane of", "add it from Parts first")
    run = (*catalogue.lines, *catalogue.cables)[0]
    lane = Lane(
        name=FIRST_NAME,
        transmitter=catalogue.transmitters[0].name,
        receiver=catalogue.receivers[0].name,
        path=(Run(line=run.name, length_m=FIRST_TRACE_M if catalogue.lines else FIRST_CABLE_M),),
    )
    return sound(replace(board, lanes=(*board.lanes, lane)))


def remove_lanes(board: Board, names: Collection[str]) -> Board:
    """The board without some lanes, their measurements and their names in bundles; raises EditError."""
    for name in names:
        lane_number(board, name)
    gone = frozenset(names)
    lanes = tuple(lane for lane in board.lanes if lane.name not in gone)
    measured = tuple(one for one in board.measurements if one.lane not in gone)
    return sound(replace(board, lanes=lanes, measurements=measured, bundles=_without_lanes(board.bundles, gone)))


def step_lanes(board: Board, names: Collection[str], step: int, among: Collection[str]) -> Board:
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


def place_lanes(board: Board, names: Collection[str], gap: int, among: Sequence[str]) -> Board:
    """The board with some lanes moved together to one place of the list, in the board's order.

    Args:
        board: the board.
        names: the lanes that move.
        gap: before which of the listed lanes they come; as many as there are: after the last.
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


def rename_lane(board: Board, name: str, new: str) -> Board:
    """The board with a lane renamed, also where measurements and bundles name it; raises EditError."""
    number = lane_number(board, name)
    if new != name and any(lane.name == new for lane in board.lanes):
        refuse(f"there is already a lane {quoted(new)}", "give this one another name")
    if not new:
        refuse("a lane needs a name", "give it at least one character")
    measured = tuple(replace(one, lane=new) if one.lane == name else one for one in board.measurements)
    lanes = with_item(board.lanes, number, replace(board.lanes[number], name=new))
    bundles = tuple(
        replace(
            bundle,
            order=tuple(new if one == name else one for one in bundle.order),
            against=tuple(new if one == name else one for one in bundle.against),
        )
        for bundle in board.bundles
    )
    return sound(replace(board, lanes=lanes, measurements=measured, bundles=bundles))


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


def set_board(
    board: Board,
    *,
    title: str | None = None,
    notes: str | None = None,
    prepared_by: str | None = None,
    prepared_for: str | None = None,
    revision: str | None = None,
    profile: str | None = None,
    guard: Guard | None = None,
) -> Board:
    """The board with some of its own fields set; what is None stays as it is.

    Args:
        board: the board.
        title: what it is called.
        notes: what a colleague should know.
        prepared_by: who answers for it, for the report's head.
        prepared_for: for whom.
        revision: which state of the design it is.
        profile: the interface of lanes that name none of their own.
        guard: the guard bands.

    Raises:
        EditError: the board would not be valid.
    """
    given = {
        "title": title, "notes": notes, "prepared_by": prepared_by, "prepared_for": prepared_for, "revision": revision,
        "profile": profile, "guard": guard,
    }  # fmt: skip
    changes: dict[str, Any] = {key: value for key, value in given.items() if value is not None}
    return sound(replace(board, **changes))


def _without_lanes(bundles: tuple[Bundle, ...], gone: Collection[str]) -> tuple[Bundle, ...]:
    """Bundles that name some lanes no more."""
    return tuple(
        replace(
            bundle,
            order=tuple(one for one in bundle.order if one not in gone),
            against=tuple(one for one in bundle.against if one not in gone),
        )
        for bundle in bundles
    )
