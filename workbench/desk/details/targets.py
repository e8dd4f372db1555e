"""What the details form can show and change: each target reads one record of a board and writes it back. No widget."""

from collections.abc import Callable, Iterable
from typing import Any

import msgspec
from msgspec.structs import replace

from workbench.board.edits.bundles import BundlePlace, bundle_place, set_bundle_place
from workbench.board.edits.catalogue import put_profile, replace_entry
from workbench.board.edits.devices import free_channel, free_channels
from workbench.board.edits.lanes import rename_lane, set_board, set_lanes
from workbench.board.edits.limits import OwnLimits, own_limits, set_own_limits
from workbench.board.edits.path import replace_element
from workbench.board.index import Index, section_names
from workbench.board.library import Starter, builtin_profiles, profile_of, provenance_of
from workbench.board.model import Board, Component, Element, Lane, Run, Stage
from workbench.board.profile import Profile
from workbench.desk.widgets.choices import ChoiceItem
from workbench.facts import Fact
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.record import Record, records_in

Struct = msgspec.Struct


class Target(Struct, frozen=True):
    """Something whose fields can be shown and set."""

    def read(self, board: Board) -> Struct | None:
        """The record as the board has it; None where it is not there (any more)."""
        raise NotImplementedError

    def write(self, board: Board, record: Struct) -> Board:
        """The board with the record set; raises EditError."""
        raise NotImplementedError

    def name(self, board: Board) -> str:
        """What undo calls it: "RX3, element 4"."""
        raise NotImplementedError

    @property
    def label(self) -> str:
        """What a link to it is called."""
        return str(getattr(self, self.__struct_fields__[-1], "") if self.__struct_fields__ else "the board")

    def fields(self) -> tuple[str, ...]:
        """The fields that are shown; empty: all of them."""
        return ()

    def kinds(self, board: Board) -> tuple[type[Struct], ...]:
        """The kinds of record that may stand here."""
        record = self.read(board)
        return () if record is None else (type(record),)

    def choices(self, board: Board, path: tuple[str, ...], fact: Fact) -> tuple[ChoiceItem, ...]:
        """What a field (its keys from the record down) may be chosen from; empty where it is free."""
        del path
        names = tuple(ChoiceItem(name, name) for name in Index(board).names(fact.section)) if fact.section else ()
        return (ChoiceItem(None, "none"), *names) if fact.section and fact.default is None else names

    def leads_to(self, board: Board, path: tuple[str, ...], fact: Fact, value: object) -> "Target | None":
        """What a field's value names, to be shown in its turn."""
        del path
        return entry_target(board, fact.section, str(value)) if fact.section and value is not None else None

    def after(self, record: Struct) -> "Target":
        """The target once `record` was written: another one where that changed its name."""
        del record
        return self

    def locked(self, board: Board) -> bool:
        """Whether it may only be read."""
        del board
        return False

    def source(self, board: Board, field: str, starters: Iterable[Starter]) -> str:
        """Where a field's value comes from, as far as one of the starters knows it; "" where none does."""
        del board, field, starters
        return ""


class BoardTarget(Target, frozen=True):
    """The board's own fields."""

    def read(self, board: Board) -> Board:
        """The board itself."""
        return board

    def write(self, board: Board, record: Struct) -> Board:
        """The board with the fields set; raises EditError."""
        assert isinstance(record, Board)
        fields: dict[str, Any] = {name: getattr(record, name) for name in self.fields()}
        return set_board(board, **fields)

    def name(self, board: Board) -> str:
        """Always the same."""
        del board
        return "the board"

    def fields(self) -> tuple[str, ...]:
        """Not what the other views show."""
        return ("title", "notes", "prepared_by", "prepared_for", "revision", "profile", "guard")

    def choices(self, board: Board, path: tuple[str, ...], fact: Fact) -> tuple[ChoiceItem, ...]:
        """The profiles."""
        return profile_choices(board) if path == ("profile",) else super().choices(board, path, fact)

    def leads_to(self, board: Board, path: tuple[str, ...], fact: Fact, value: object) -> Target | None:
        """The profile of that id."""
        if path == ("profile",):
            return ProfileTarget(str(value))
        return super().leads_to(board, path, fact, value)


class LaneTarget(Target, frozen=True):
    """One lane, or what several lanes are given at once; `shown` are the fields, empty for all."""

    lanes: tuple[str, ...]
    shown: tuple[str, ...] = ()

    def read(self, board: Board) -> Lane | None:
        """The first of the lanes."""
        return next((lane for lane in board.lanes if self.lanes and lane.name == self.lanes[0]), None)

    def write(self, board: Board, record: Struct) -> Board:
        """The board with what differs set on each of the lanes; raises EditError."""
        old = self.read(board)
        assert isinstance(record, Lane)
        if old is None:
            return board
        lanes = self.lanes
        if record.name != old.name:
            board, lanes = rename_lane(board, old.name, record.name), (record.name,)
        changed: dict[str, Any] = {
            key: value
            for key in ("transmitter", "receiver", "profile")
            if (value := getattr(record, key)) != getattr(old, key) and value is not None
        }
        to_board = record.profile is None and old.profile is not None
        return set_lanes(board, lanes, board_profile=to_board, **changed) if changed or to_board else board

    def name(self, board: Board) -> str:
        """The lane, or how many."""
        del board
        return self.lanes[0] if len(self.lanes) == 1 else f"{len(self.lanes)} lanes"

    def fields(self) -> tuple[str, ...]:
        """A name is one lane's own."""
        name = ("name",) if len(self.lanes) == 1 else ()
        return self.shown or (*name, "profile", "transmitter", "receiver")

    def choices(self, board: Board, path: tuple[str, ...], fact: Fact) -> tuple[ChoiceItem, ...]:
        """The profiles, with the board's first."""
        if path == ("profile",):
            return (ChoiceItem(None, f"As the board: {board.profile}"), *profile_choices(board))
        return super().choices(board, path, fact)

    def leads_to(self, board: Board, path: tuple[str, ...], fact: Fact, value: object) -> Target | None:
        """The profile that holds, or the end."""
        if path == ("profile",):
            return ProfileTarget(board.profile if value is None else str(value))
        return super().leads_to(board, path, fact, value)

    def after(self, record: Struct) -> Target:
        """The lane under its new name."""
        assert isinstance(record, Lane)
        return replace(self, lanes=(record.name,)) if len(self.lanes) == 1 else self


class ElementTarget(Target, frozen=True):
    """An element on a lane's path, at a place from 0."""

    lane: str
    at: int

    def read(self, board: Board) -> Element | None:
        """The element at that place."""
        path = next((lane.path for lane in board.lanes if lane.name == self.lane), ())
        return path[self.at] if 0 <= self.at < len(path) else None

    def write(self, board: Board, record: Struct) -> Board:
        """The board with the element; a stage on another device gets a free channel there; raises EditError."""
        old = self.read(board)
        if isinstance(record, Stage) and isinstance(old, Stage) and record.device != old.device:
            record = replace(record, channel=free_channel(board, record.device))
        assert isinstance(record, Run | Component | Stage)
        return replace_element(board, self.lane, self.at, record)

    def name(self, board: Board) -> str:
        """The lane and the place."""
        del board
        return f"{self.lane}, element {self.at + 1}"

    def choices(self, board: Board, path: tuple[str, ...], fact: Fact) -> tuple[ChoiceItem, ...]:
        """The devices with a free channel, and the free channels of this one."""
        stage = self.read(board)
        if isinstance(stage, Stage) and path == ("device",):
            usable = (d.ref for d in board.devices if d.ref == stage.device or free_channels(board, d))
            return tuple(ChoiceItem(ref, ref) for ref in usable)
        if isinstance(stage, Stage) and path == ("channel",):
            device = next((d for d in board.devices if d.ref == stage.device), None)
            free = free_channels(board, device) if device is not None else ()
            return tuple(ChoiceItem(n, str(n)) for n in sorted({stage.channel, *free}))
        if path == ("bundle",):
            return (ChoiceItem(None, "none"), *(ChoiceItem(one.name, one.name) for one in board.bundles))
        if path == ("way",) and isinstance(stage, Component):
            ways = Index(board).component(stage.part).ways()
            return tuple(ChoiceItem(n, str(n)) for n in range(1, ways + 1))
        return super().choices(board, path, fact)


class BundleTarget(Target, frozen=True):
    """How a lane lies in a bundle, with what holds for all lanes there."""

    bundle: str
    lane: str

    def read(self, board: Board) -> BundlePlace | None:
        """Its place; None where it doesn't lie there."""
        return bundle_place(board, self.bundle, self.lane)

    def write(self, board: Board, record: Struct) -> Board:
        """The board with the lane lying so; raises EditError."""
        assert isinstance(record, BundlePlace)
        return set_bundle_place(board, self.bundle, self.lane, record)

    def name(self, board: Board) -> str:
        """The lane and the bundle."""
        del board
        return f"{self.lane} in {self.bundle}"


class EntryTarget(Target, frozen=True):
    """An entry of a catalogue section."""

    section: str
    entry: str

    def read(self, board: Board) -> Record | None:
        """The entry of that name."""
        entries: tuple[Record, ...] = getattr(board.catalogue, self.section, ())
        return next((entry for entry in entries if _name_of(entry) == self.entry), None)

    def write(self, board: Board, record: Struct) -> Board:
        """The board with the definition; what refers to it follows its name; raises EditError."""
        assert isinstance(record, Record)
        return replace_entry(board, self.section, self.entry, record)

    def name(self, board: Board) -> str:
        """The entry's own name."""
        del board
        return self.entry

    def choices(self, board: Board, path: tuple[str, ...], fact: Fact) -> tuple[ChoiceItem, ...]:
        """Of a conditioner also its controls, of which some may be each channel's own."""
        record = self.read(board)
        if path == ("per_channel",) and isinstance(record, Conditioner):
            return tuple(ChoiceItem(one.name, one.label) for one in record.controls())
        return super().choices(board, path, fact)

    def kinds(self, board: Board) -> tuple[type[Struct], ...]:
        """Every kind that stands in the section."""
        del board
        return records_in(self.section)

    def after(self, record: Struct) -> Target:
        """The entry under its new name."""
        return EntryTarget(self.section, _name_of(record))

    def source(self, board: Board, field: str, starters: Iterable[Starter]) -> str:
        """The board's own, which also say what was edited since; else that of a starter's entry of the same value."""
        record = self.read(board)
        found = None if record is None else provenance_of(record, self.section, field, starters, board.sources)
        return "" if found is None else found.words


class ProfileTarget(Target, frozen=True):
    """A profile: the board's own can be changed, a built-in one can be read and copied."""

    id: str

    def read(self, board: Board) -> Profile | None:
        """The profile as the board has it."""
        return profile_of(board, self.id) if self.is_own(board) or self.id in builtin_profiles() else None

    def write(self, board: Board, record: Struct) -> Board:
        """The board with the profile; raises EditError."""
        assert isinstance(record, Profile)
        return put_profile(board, record)

    def name(self, board: Board) -> str:
        """The profile's own id."""
        del board
        return self.id

    def fields(self) -> tuple[str, ...]:
        """All but the id, by which lanes know it."""
        return tuple(name for name in Profile.__struct_fields__ if name != "id")

    def is_own(self, board: Board) -> bool:
        """Whether the board has it as its own."""
        return any(profile.id == self.id for profile in board.profiles)

    def locked(self, board: Board) -> bool:
        """A built-in one is."""
        return not self.is_own(board)


class LimitsTarget(Target, frozen=True):
    """The owner's limits on the eye, for the lanes of a profile that has none of its standard's."""

    id: str

    def read(self, board: Board) -> OwnLimits | None:
        """The limits; None where the profile has others."""
        return own_limits(board, self.id)

    def write(self, board: Board, record: Struct) -> Board:
        """The board with the limits in its own copy of the profile; raises EditError."""
        assert isinstance(record, OwnLimits)
        return set_own_limits(board, self.id, record)

    def name(self, board: Board) -> str:
        """The profile's title."""
        return f"own limits of {profile_of(board, self.id).title}"


def entry_target(board: Board, sections: tuple[str, ...], name: str) -> EntryTarget | None:
    """The entry of a name on one of several sections; None where there is none."""
    for section in sections:
        if any(_name_of(entry) == name for entry in getattr(board.catalogue, section)):
            return EntryTarget(section, name)
    return None


def profile_choices(board: Board) -> tuple[ChoiceItem, ...]:
    """Every profile that lanes of a board may name, the board's own first."""
    own = {profile.id: profile for profile in board.profiles}
    known = {**own, **{key: profile for key, profile in builtin_profiles().items() if key not in own}}
    return tuple(ChoiceItem(key, f"{profile.title}{' (own)' if key in own else ''}") for key, profile in known.items())


def section_of(record: Struct) -> str | None:
    """The section that a record's kind stands on; None for one that stands on none."""
    section = getattr(record, "section", None)
    return section if section in section_names() else None


def _name_of(record: Struct) -> str:
    name: str = record.name  # type: ignore[attr-defined]  # every kind that stands in a section has one
    return name


Follow = Callable[[Target], None]
