"""What the catalogue shelf offers, group by group, and what each item puts into a lane: no widget."""

from collections import Counter
from collections.abc import Collection
from typing import Literal, NamedTuple

from workbench.board.edits.lanes import set_lanes
from workbench.board.edits.path import channel_of, channel_of_part, free_channels
from workbench.board.edits.taking import take_entry
from workbench.board.index import shelf_names
from workbench.board.library import starter_catalogues
from workbench.board.model import FIXTURE_SHELVES, RUN_SHELVES, Board, Catalogue, Fixture, Placement, Run, Stage
from workbench.board.starting import CABLE_M, TRACE_M
from workbench.errors import EditError
from workbench.facts import fact_of
from workbench.quantity import show

ENDS = {"transmitters": "transmitter", "receivers": "receiver"}
PLACEABLE = (*RUN_SHELVES, *FIXTURE_SHELVES, "conditioners", *ENDS)
_ORDER = (*RUN_SHELVES, *FIXTURE_SHELVES, "conditioners", *ENDS, "dielectrics", "foils")


class ShelfItem(NamedTuple):
    """One thing on the shelf.

    Attributes:
        kind: "entry" of the board's catalogue, "channel" of a fitted device (`name` is its reference), or an entry of a
            "starter" that the board does not have yet.
        shelf: the catalogue key it stands under; "devices" for a channel.
        name: what it is called.
        starter: which starter it comes from, else "".
    """

    kind: Literal["entry", "channel", "starter"]
    shelf: str
    name: str
    starter: str = ""

    @property
    def placeable(self) -> bool:
        """Whether it can stand on a path or at its ends."""
        return self.kind == "channel" or self.shelf in PLACEABLE

    @property
    def cuts(self) -> bool:
        """Whether it can be put into the middle of a run."""
        return self.placeable and self.shelf not in RUN_SHELVES and self.shelf not in ENDS


class ShelfRow(NamedTuple):
    """An item and the few words beside it."""

    item: ShelfItem
    note: str


class ShelfGroup(NamedTuple):
    """A caption and what stands under it."""

    title: str
    rows: tuple[ShelfRow, ...]


class Made(NamedTuple):
    """A board ready for a placement, the placement, and what is worth saying about it."""

    board: Board
    placement: Placement
    words: str


def shelf_groups(board: Board) -> tuple[ShelfGroup, ...]:
    """The board's own entries by shelf, devices with free channels, then what the starters have beyond that."""
    uses = _uses(board)
    own = [
        ShelfGroup(shelf_title(shelf), tuple(ShelfRow(ShelfItem("entry", shelf, name), _used(uses[shelf, name]))
                                             for name in _names(board.catalogue, shelf)))
        for shelf in _ordered()
    ]  # fmt: skip
    devices = tuple(
        ShelfRow(ShelfItem("channel", "devices", device.ref), _channels(free))
        for device in board.devices
        if (free := free_channels(board, device))
    )
    starters = [
        ShelfGroup(f"{starter.title} (starter)", tuple(
            ShelfRow(ShelfItem("starter", shelf, entry.name, starter.id), shelf_title(shelf).lower())
            for shelf in _ordered() for entry in getattr(starter.catalogue, shelf)
            if entry not in getattr(board.catalogue, shelf)
        ))
        for starter in starter_catalogues().values()
    ]  # fmt: skip
    groups = [ShelfGroup("Free channels", devices), *own, *starters]
    return tuple(group for group in groups if group.rows)


def shelf_title(shelf: str) -> str:
    """What a shelf is called."""
    return fact_of(Catalogue, shelf).label


def made(board: Board, lane: str, item: ShelfItem, *, passing_over: Collection[str] = ()) -> Made:
    """What an item puts into a lane.

    Args:
        board: the board.
        lane: the lane.
        item: what was taken from the shelf.
        passing_over: references of fitted devices whose free channels a conditioner shall not use.

    Raises:
        EditError: it has no place on a path, or is not there any more.
    """
    if item.kind == "starter":
        board, name = take_entry(board, starter_catalogues()[item.starter].catalogue, item.shelf, item.name)
        item = ShelfItem("entry", item.shelf, name)
    if item.shelf in RUN_SHELVES:
        run = Run(line=item.name, length_m=TRACE_M if item.shelf == "lines" else CABLE_M)
        return Made(board, run, f"{item.name}, {show(run.length_m, 'm')}")
    if item.shelf in FIXTURE_SHELVES:
        return Made(board, Fixture(part=item.name), item.name)
    if item.kind == "channel":
        fitted = channel_of(board, item.name)
        return Made(fitted.board, fitted.stage, _stage_words(board, fitted.stage))
    if item.shelf == "conditioners":
        fitted = channel_of_part(board, item.name, lane, passing_over=passing_over)
        stage = fitted.stage
        words = f"{item.name} as a new device {stage.device}, channel {stage.channel}"
        return Made(fitted.board, stage, words if fitted.is_new else _stage_words(board, stage))
    raise EditError(f"{item.name!r} has no place on a path of its own; lines and vias are made with it")


def with_end(board: Board, lanes: tuple[str, ...], item: ShelfItem) -> Board:
    """The board with a transmitter or receiver from the shelf on lanes; raises EditError."""
    if item.kind == "starter":
        board, name = take_entry(board, starter_catalogues()[item.starter].catalogue, item.shelf, item.name)
    else:
        name = item.name
    if item.shelf == "transmitters":
        return set_lanes(board, lanes, transmitter=name)
    return set_lanes(board, lanes, receiver=name)


def added(board: Board, item: ShelfItem) -> Board:
    """The board with a starter's entry in its catalogue, in no lane yet; raises EditError."""
    if item.kind != "starter":
        return board
    return take_entry(board, starter_catalogues()[item.starter].catalogue, item.shelf, item.name)[0]


def _stage_words(board: Board, stage: Stage) -> str:
    held = [
        lane.name
        for lane in board.lanes
        if any(isinstance(placement, Stage) and placement.device == stage.device for placement in lane.path)
    ]
    shared = f", sharing its settings with {_few(held)}" if held else ""
    return f"{stage.device} channel {stage.channel}{shared}"


def _few(names: list[str]) -> str:
    more = f" and {len(names) - 2} more" if len(names) > 2 else ""
    return " and ".join(names[:2]) if not more else ", ".join(names[:2]) + more


def _ordered() -> tuple[str, ...]:
    known = shelf_names()
    return tuple(shelf for shelf in _ORDER if shelf in known)


def _names(catalogue: Catalogue, shelf: str) -> tuple[str, ...]:
    return tuple(entry.name for entry in getattr(catalogue, shelf))


def _uses(board: Board) -> Counter[tuple[str, str]]:
    """How many lanes use each entry, by shelf and name."""
    parts = {device.ref: device.part for device in board.devices}
    uses: Counter[tuple[str, str]] = Counter()
    for lane in board.lanes:
        names: set[tuple[str, str]] = {("transmitters", lane.transmitter), ("receivers", lane.receiver)}
        for placement in lane.path:
            match placement:
                case Run(line=name):
                    names |= {(shelf, name) for shelf in RUN_SHELVES}
                case Fixture(part=name):
                    names |= {(shelf, name) for shelf in FIXTURE_SHELVES}
                case Stage(device=ref):
                    names.add(("conditioners", parts.get(ref, "")))
        uses.update(names)
    return uses


def _used(lanes: int) -> str:
    return "" if not lanes else "1 lane" if lanes == 1 else f"{lanes} lanes"


def _channels(free: tuple[int, ...]) -> str:
    return f"channel {free[0]}" if len(free) == 1 else f"channels {', '.join(map(str, free))}"


