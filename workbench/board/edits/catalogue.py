"""Edits of the catalogue and of the board's own profiles: functions from a board to a new board.

What refers to an entry follows it when it is renamed. Which fields refer is read from their facts, so that a new kind
of part needs no word here.
"""

from collections.abc import Callable, Iterator
from typing import NamedTuple, TypeVar

import msgspec
from msgspec.structs import replace

from workbench.board.edits.checked import refuse, sound
from workbench.board.entry_source import renamed, with_copy
from workbench.board.index import section_names
from workbench.board.model import Board, Element
from workbench.board.profile import Profile
from workbench.facts import facts_of
from workbench.parts.record import Record
from workbench.wording import instead, quoted

StructT = TypeVar("StructT", bound=msgspec.Struct)
Entries = tuple[Record, ...]


class Use(NamedTuple):
    """One field that names an entry: its JSON path, and the place in words such as 'lane "D0"'."""

    place: str
    words: str


def where_used(board: Board, section: str, name: str) -> tuple[Use, ...]:
    """Every field that names an entry of a section.

    Raises:
        EditError: there is no such section.
    """
    _section(board, section)
    return tuple(
        Use(f"{place}.{fact.name}", words)
        for place, words, record in _referring(board)
        for fact in facts_of(type(record))
        if section in fact.section and getattr(record, fact.name) == name
    )


def add_entry(board: Board, section: str, entry: Record) -> Board:
    """The board with one more entry at the end of a section; raises EditError."""
    return sound(_with_section(board, section, (*_section(board, section), entry)))


def copy_entry(board: Board, section: str, name: str, copy: str) -> Board:
    """The board with a copy of an entry under another name, and its sources; raises EditError."""
    entries = _section(board, section)
    entry = entries[_entry_number(entries, section, name)]
    board = replace(board, sources=with_copy(board.sources, section, name, copy))
    return add_entry(board, section, replace(entry, **{"name": copy}))


def replace_entry(board: Board, section: str, name: str, entry: Record) -> Board:
    """The board with an entry's definition replaced, in its place; under another name, what refers to it follows.

    Raises:
        EditError: there is no such entry, the new name is taken, or something in use would be lost.
    """
    entries = _section(board, section)
    number = _entry_number(entries, section, name)
    changed = _with_section(board, section, (*entries[:number], entry, *entries[number + 1 :]))
    new = _name(entry)
    if new == name:
        return sound(changed)
    changed = replace(changed, sources=renamed(changed.sources, section, name, new))
    return sound(_referring_to(changed, section, name, new))


def remove_entry(board: Board, section: str, name: str, *, substitute: str | None = None) -> Board:
    """The board without an entry.

    Args:
        board: the board.
        section: the catalogue key it stands under.
        name: the entry.
        substitute: the entry that takes its place wherever it is used; None: it may not be in use.

    Raises:
        EditError: there is no such entry, it is in use, or the substitute can't stand in its places.
    """
    entries = _section(board, section)
    number = _entry_number(entries, section, name)
    uses = where_used(board, section, name)
    if uses and substitute is None:
        words = list(dict.fromkeys(use.words for use in uses))
        more = f" and {len(words) - 5} more" if len(words) > 5 else ""
        refuse(f"{quoted(name)} is used by {', '.join(words[:5])}{more}", "name another to take its place")
    if substitute == name:
        refuse(f"{quoted(name)} can't take its own place", "name another entry")
    board = board if substitute is None else _referring_to(board, section, name, substitute)
    left = _section(board, section)
    return sound(_with_section(board, section, (*left[:number], *left[number + 1 :])))


def put_profile(board: Board, profile: Profile) -> Board:
    """The board with a profile of its own; one that it already has under that id is replaced; raises EditError."""
    ids = [known.id for known in board.profiles]
    number = ids.index(profile.id) if profile.id in ids else len(ids)
    return sound(replace(board, profiles=(*board.profiles[:number], profile, *board.profiles[number + 1 :])))


def remove_profile(board: Board, profile_id: str) -> Board:
    """The board without its own profile of an id; raises EditError, also where lanes need it and none is built in."""
    left = tuple(profile for profile in board.profiles if profile.id != profile_id)
    if len(left) == len(board.profiles):
        known = tuple(profile.id for profile in board.profiles)
        remedy = instead(profile_id, known, "choose one of the board's own")
        refuse(f"the board has no profile {quoted(profile_id)} of its own", remedy)
    return sound(replace(board, profiles=left))


def _section(board: Board, section: str) -> Entries:
    if section not in section_names():
        remedy = instead(section, section_names(), "choose another")
        refuse(f"the catalogue has no section {quoted(section)}", remedy)
    entries: Entries = getattr(board.catalogue, section)
    return entries


def _with_section(board: Board, section: str, entries: Entries) -> Board:
    return replace(board, catalogue=replace(board.catalogue, **{section: entries}))


def _name(entry: Record) -> str:
    name: str = entry.name  # type: ignore[attr-defined]  # every kind that stands in a section has one
    return name


def _entry_number(entries: Entries, section: str, name: str) -> int:
    names = [_name(entry) for entry in entries]
    if name not in names:
        remedy = instead(name, names, "choose one of that section")
        refuse(f"there is no {quoted(name)} among the {section}", remedy)
    return names.index(name)


def _referring(board: Board) -> Iterator[tuple[str, str, msgspec.Struct]]:
    """Everything that may name a catalogue entry: JSON path, words, record."""
    for section in section_names():
        for number, entry in enumerate(getattr(board.catalogue, section)):
            yield f"$.catalogue.{section}[{number}]", f"{section} entry {quoted(_name(entry))}", entry
    for number, device in enumerate(board.devices):
        yield f"$.devices[{number}]", f"device {quoted(device.ref)}", device
    for number, bundle in enumerate(board.bundles):
        yield f"$.bundles[{number}]", f"bundle {quoted(bundle.name)}", bundle
    for number, lane in enumerate(board.lanes):
        yield f"$.lanes[{number}]", f"lane {quoted(lane.name)}", lane
        for at, element in enumerate(lane.path):
            yield f"$.lanes[{number}].path[{at}]", f"lane {quoted(lane.name)}", element


def _referring_to(board: Board, section: str, old: str, new: str) -> Board:
    """The board with every reference to `old` in a section turned to `new`."""
    rename = _renaming(section, old, new)
    entries = {s: tuple(map(rename, getattr(board.catalogue, s))) for s in section_names()}
    lanes = []
    for lane in board.lanes:
        path: tuple[Element, ...] = tuple(map(rename, lane.path))
        lanes.append(replace(rename(lane), path=path))
    return replace(
        board,
        catalogue=replace(board.catalogue, **entries),
        devices=tuple(map(rename, board.devices)),
        bundles=tuple(map(rename, board.bundles)),
        lanes=tuple(lanes),
    )


def _renaming(section: str, old: str, new: str) -> Callable[[StructT], StructT]:
    def rename(record: StructT) -> StructT:
        fields = [fact.name for fact in facts_of(type(record)) if section in fact.section]
        changes = {field: new for field in fields if getattr(record, field) == old}
        return replace(record, **changes) if changes else record

    return rename
