"""What Parts offers, group by group, and what each item puts into a lane: no widget."""

from collections import Counter
from collections.abc import Collection
from typing import Literal, NamedTuple

from workbench.board.edits.devices import channel_of, channel_of_part, free_channels, lanes_by_channel
from workbench.board.edits.lanes import set_lanes
from workbench.board.edits.taking import PartsLibrary, take_entry
from workbench.board.index import section_names
from workbench.board.library import Starter, starter_catalogues
from workbench.board.model import COMPONENT_SECTIONS, RUN_SECTIONS, Board, Catalogue, Component, Element, Run, Stage
from workbench.board.starting import CABLE_M, TRACE_M
from workbench.board.user_library import UserLibrary
from workbench.errors import EditError
from workbench.facts import fact_of
from workbench.quantity import show

ENDS = {"transmitters": "transmitter", "receivers": "receiver"}
PLACEABLE = (*RUN_SECTIONS, *COMPONENT_SECTIONS, "conditioners", *ENDS)
_ORDER = (*RUN_SECTIONS, *COMPONENT_SECTIONS, "conditioners", *ENDS, "dielectrics", "foils")


class PartItem(NamedTuple):
    """One thing in Parts.

    Attributes:
        kind: "entry" of the board's catalogue, "channel" of a fitted device (`name` is its reference), or an entry of a
            "starter" that the board does not have yet.
        section: the catalogue key it stands under; "devices" for a channel.
        name: what it is called.
        starter: which starter it comes from, else "".
        library: the user's own library where it comes from that.
    """

    kind: Literal["entry", "channel", "starter"]
    section: str
    name: str
    starter: str = ""
    library: PartsLibrary | None = None

    @property
    def source(self) -> PartsLibrary:
        """What an entry of a starter comes from; raises KeyError where it comes from none."""
        return self.library or PartsLibrary(starter_catalogues()[self.starter].catalogue)

    @property
    def placeable(self) -> bool:
        """Whether it can stand on a path or at its ends."""
        return self.kind == "channel" or self.section in PLACEABLE

    @property
    def cuts(self) -> bool:
        """Whether it can be put into the middle of a run."""
        return self.placeable and self.section not in RUN_SECTIONS and self.section not in ENDS


class PartRow(NamedTuple):
    """An item and the few words beside it."""

    item: PartItem
    note: str


class PartGroup(NamedTuple):
    """A caption and what stands under it; `section` is that of the board's catalogue where entries can be made."""

    title: str
    rows: tuple[PartRow, ...]
    section: str = ""


class MadePart(NamedTuple):
    """A board ready for an element, the element, and what is worth saying about it."""

    board: Board
    element: Element
    words: str


def part_groups(board: Board, library: UserLibrary | None = None) -> tuple[PartGroup, ...]:
    """The board's own entries by section, devices with free channels, then what else there is to take.

    Args:
        board: the board.
        library: the user's own library, which comes before the starters.
    """
    uses = _uses(board)
    own = [
        PartGroup(section_title(section), tuple(PartRow(PartItem("entry", section, name), _used(uses[section, name]))
                                             for name in _names(board.catalogue, section)),
                  "" if section == "networks" else section)  # these are imported, not made by hand
        for section in _ordered()
    ]  # fmt: skip
    devices = tuple(
        PartRow(PartItem("channel", "devices", device.ref), _channels(free))
        for device in board.devices
        if (free := free_channels(board, device))
    )
    others = [] if library is None else [_to_take(board, library.starter(), library.parts())]
    others += [_to_take(board, one) for one in starter_catalogues().values()]
    filled = [group for group in (PartGroup("Free channels", devices), *own) if group.rows]
    empty = [group for group in own if not group.rows and group.section]
    return (*filled, *empty, *(group for group in others if group.rows))


def _to_take(board: Board, starter: Starter, own: PartsLibrary | None = None) -> PartGroup:
    """What the board does not have yet of a starter, or of the user's own library."""
    return PartGroup(f"{starter.title} (starter)" if own is None else starter.title, tuple(
        PartRow(PartItem("starter", section, entry.name, starter.id, own), section_title(section).lower())
        for section in _ordered() for entry in getattr(starter.catalogue, section)
        if entry not in getattr(board.catalogue, section)
    ))  # fmt: skip


def section_title(section: str) -> str:
    """What a section is called."""
    return fact_of(Catalogue, section).label


def made(board: Board, lane: str, item: PartItem, *, passing_over: Collection[str] = ()) -> MadePart:
    """What an item puts into a lane.

    Args:
        board: the board.
        lane: the lane.
        item: what was taken from Parts.
        passing_over: references of fitted devices whose free channels a conditioner shall not use.

    Raises:
        EditError: it has no place on a path, or is not there any more.
    """
    if item.kind == "starter":
        board, name = _taken(board, item)
        item = PartItem("entry", item.section, name)
    if item.section in RUN_SECTIONS:
        run = Run(line=item.name, length_m=TRACE_M if item.section == "lines" else CABLE_M)
        return MadePart(board, run, f"{item.name}, {show(run.length_m, 'm')}")
    if item.section in COMPONENT_SECTIONS:
        return MadePart(board, Component(part=item.name), item.name)
    if item.kind == "channel":
        fitted = channel_of(board, item.name)
        return MadePart(fitted.board, fitted.stage, _stage_words(board, fitted.stage))
    if item.section == "conditioners":
        fitted = channel_of_part(board, item.name, lane, passing_over=passing_over)
        stage = fitted.stage
        words = f"{item.name} as a new device {stage.device}, channel {stage.channel}"
        return MadePart(fitted.board, stage, words if fitted.is_new else _stage_words(board, stage))
    raise EditError(f"{item.name!r} is used inside lines and vias; it can't be placed on a path")


def with_end(board: Board, lanes: tuple[str, ...], item: PartItem) -> Board:
    """The board with a transmitter or receiver from Parts on lanes; raises EditError."""
    if item.kind == "starter":
        board, name = _taken(board, item)
    else:
        name = item.name
    if item.section == "transmitters":
        return set_lanes(board, lanes, transmitter=name)
    return set_lanes(board, lanes, receiver=name)


def added(board: Board, item: PartItem) -> Board:
    """The board with a starter's entry in its catalogue, in no lane yet; raises EditError."""
    if item.kind != "starter":
        return board
    return _taken(board, item)[0]


def _taken(board: Board, item: PartItem) -> tuple[Board, str]:
    """The board with a starter's entry, and the name that it has there."""
    return take_entry(board, item.source.catalogue, item.section, item.name, known=item.source.known)


def _stage_words(board: Board, stage: Stage) -> str:
    held = [*dict.fromkeys(lanes_by_channel(board, stage.device).values())]
    part = next(device.part for device in board.devices if device.ref == stage.device)
    shares = any(one.shared_controls() for one in board.catalogue.conditioners if one.name == part)
    shared = f", sharing its settings with {_few(held)}" if held and shares else ""
    return f"{stage.device} channel {stage.channel}{shared}"


def _few(names: list[str]) -> str:
    more = f" and {len(names) - 2} more" if len(names) > 2 else ""
    return " and ".join(names[:2]) if not more else ", ".join(names[:2]) + more


def _ordered() -> tuple[str, ...]:
    known = section_names()
    return tuple(section for section in _ORDER if section in known)


def _names(catalogue: Catalogue, section: str) -> tuple[str, ...]:
    return tuple(entry.name for entry in getattr(catalogue, section))


def _uses(board: Board) -> Counter[tuple[str, str]]:
    """How many lanes use each entry, by section and name."""
    parts = {device.ref: device.part for device in board.devices}
    uses: Counter[tuple[str, str]] = Counter()
    for lane in board.lanes:
        names: set[tuple[str, str]] = {("transmitters", lane.transmitter), ("receivers", lane.receiver)}
        for element in lane.path:
            match element:
                case Run(line=name):
                    names |= {(section, name) for section in RUN_SECTIONS}
                case Component(part=name):
                    names |= {(section, name) for section in COMPONENT_SECTIONS}
                case Stage(device=ref):
                    names.add(("conditioners", parts.get(ref, "")))
        uses.update(names)
    return uses


def _used(lanes: int) -> str:
    return "" if not lanes else "1 lane" if lanes == 1 else f"{lanes} lanes"


def _channels(free: tuple[int, ...]) -> str:
    return f"channel {free[0]}" if len(free) == 1 else f"channels {', '.join(map(str, free))}"
