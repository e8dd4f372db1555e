"""Taking entries of another catalogue, with all they refer to, into a board's own."""

from collections.abc import Collection
from typing import NamedTuple

from msgspec.structs import replace

from workbench.board.checking import name_groups
from workbench.board.edits.checked import refuse, sound
from workbench.board.entry_source import EntrySource
from workbench.board.model import Board, Catalogue
from workbench.parts.record import Record
from workbench.wording import quoted


class PartsLibrary(NamedTuple):
    """A catalogue that entries may be taken from, and the sources of its entries' values."""

    catalogue: Catalogue
    known: tuple[EntrySource, ...] = ()


def take_entry(
    board: Board, source: Catalogue, section: str, name: str, *, known: Collection[EntrySource] = ()
) -> tuple[Board, str]:
    """The board with an entry of another catalogue, what that refers to, and where their values come from.

    An entry that the board has already, word for word, is not added again; one whose name the board has for something
    else comes under the name with the next free number.

    Args:
        board: the board.
        source: the other catalogue.
        section: the catalogue key it stands under.
        name: the entry.
        known: the sources of that catalogue's entries that go into the board's file with them.

    Returns:
        The board, and the name that the entry has on it.

    Raises:
        EditError: there is no such entry.
    """
    changed, name = _take(board, source, section, name, known)
    return sound(changed), name


def _take(
    board: Board, source: Catalogue, section: str, name: str, known: Collection[EntrySource]
) -> tuple[Board, str]:
    entry = _entry(source, section, name)
    for field, sections, referred in entry.references():
        there = next((s for s in sections if _named(source, s, referred) is not None), sections[0])
        board, known_as = _take(board, source, there, referred, known)
        if known_as != referred:
            entry = replace(entry, **{field: known_as})
    for other in getattr(board.catalogue, section):
        if replace(other, name=name) == entry and _is_numbered(other.name, name):
            return _with_sources(board, known, section, name, str(other.name)), str(other.name)
    free = _free_name(board, section, name)
    taken = replace(entry, **{"name": free})
    section_with_it = (*getattr(board.catalogue, section), taken)
    board = replace(board, catalogue=replace(board.catalogue, **{section: section_with_it}))
    return _with_sources(board, known, section, name, free), free


def _with_sources(board: Board, known: Collection[EntrySource], section: str, name: str, own: str) -> Board:
    """The board with the sources of an entry that it calls `own`; those that it has already stay."""
    if any((one.section, one.entry) == (section, own) for one in board.sources):
        return board
    taken = (replace(one, entry=own) for one in known if (one.section, one.entry) == (section, name))
    return replace(board, sources=(*board.sources, *taken))


def _entry(source: Catalogue, section: str, name: str) -> Record:
    entry = _named(source, section, name)
    if entry is None:
        refuse(f"there is no {quoted(name)} among the {section} to copy", "choose another entry")
    return entry


def _named(catalogue: Catalogue, section: str, name: str) -> Record | None:
    entries: tuple[Record, ...] = getattr(catalogue, section, ())
    return next((entry for entry in entries if getattr(entry, "name", None) == name), None)


def _is_numbered(name: str, plain: str) -> bool:
    return name == plain or (name.startswith(f"{plain} ") and name[len(plain) + 1 :].isdigit())


def _free_name(board: Board, section: str, name: str) -> str:
    group = next(group for group in name_groups() if section in group)
    taken = {entry.name for one in group for entry in getattr(board.catalogue, one)}
    if name not in taken:
        return name
    return next(f"{name} {n}" for n in range(2, len(taken) + 3) if f"{name} {n}" not in taken)
