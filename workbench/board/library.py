"""What the program brings along: interface profiles and starter catalogues, data in ``resources/``.

A board may carry a profile of its own under a built-in id; it then replaces the built-in one on that board.
"""

from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Annotated, TypeVar

import msgspec
from msgspec.structs import replace

from workbench.board.entry_source import EntrySource, TakenField, known_of
from workbench.board.model import Board, Catalogue
from workbench.board.profile import Profile, Status
from workbench.errors import BoardFileError
from workbench.facts import choice, text
from workbench.parts.record import Record
from workbench.resources import resource

ALL_OTHERS = "*"
"""Stands for every number of an entry that has no provenance of its own."""


class Provenance(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where numbers come from and how far they may be trusted."""

    source: Annotated[str, text("Source", "Where the numbers come from.", required=True)]
    status: Annotated[Status, choice("Status", "How far they may be trusted.")]


class Starter(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A named set of catalogue entries to begin a board with.

    Attributes:
        id: the word that chooses it on the command line.
        title, notes: what it is for.
        marked: the sentence that says its entries are invented.
        catalogue: the entries, section by section.
        sources: provenance by section, entry and field; the field ``*`` stands for all others of the entry.
    """

    id: Annotated[str, text("Id", "The word that chooses it.", required=True)]
    title: Annotated[str, text("Title", "What it is for.", required=True)]
    notes: str = ""
    marked: Annotated[str, text("Marked", "Says that the entries are invented.", required=True)]
    catalogue: Catalogue
    sources: dict[str, dict[str, dict[str, Provenance]]]

    def provenance(self, section: str, entry: str, field: str) -> Provenance:
        """Where one number of an entry comes from.

        Raises:
            KeyError: the data states no source for it.
        """
        known = self.sources[section][entry]
        return known[field] if field in known else known[ALL_OTHERS]


class _ProfileFile(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    title: str
    notes: str
    profiles: tuple[Profile, ...]


_Kind = TypeVar("_Kind", _ProfileFile, Starter)


@cache
def builtin_profiles() -> dict[str, Profile]:
    """The profiles that come with the program, by id, in the order of their file.

    Raises:
        BoardFileError: the installed data is missing or damaged.
    """
    return {profile.id: profile for profile in _read(resource("profiles.json"), _ProfileFile).profiles}


def profile_of(board: Board, profile_id: str) -> Profile:
    """The profile of that id as the board has it: its own first, else the built-in one.

    Raises:
        KeyError: neither the board nor the program has it.
    """
    for profile in board.profiles:
        if profile.id == profile_id:
            return profile
    return builtin_profiles()[profile_id]


@cache
def starter_catalogues() -> dict[str, Starter]:
    """The starter catalogues that come with the program, by id, sorted.

    Raises:
        BoardFileError: the installed data is missing or damaged.
    """
    starters = [_read(path, Starter) for path in resource("catalogue").glob("*.json")]
    return {starter.id: starter for starter in sorted(starters, key=lambda starter: starter.id)}


def provenance_of(
    record: Record, section: str, field: str, starters: Iterable[Starter], own: Iterable[EntrySource] = ()
) -> TakenField | None:
    """Where a number of a board's entry comes from.

    The board's own sources come first: they also say what the number was where it was edited since. Then it is that of
    the starter's entry of its name, as long as it has that number; a copy under another name is known as long as
    nothing else of it has changed.

    Args:
        record: the entry.
        section: the catalogue key that it stands under.
        field: the number's field.
        starters: where to look, the first that knows it counts.
        own: the board's sources.
    """
    taken = known_of(own, section, record, field)
    if taken is not None:
        return taken
    name = getattr(record, "name", "")
    for starter in starters:
        for entry in getattr(starter.catalogue, section):
            of_its_name = entry.name == name and type(entry) is type(record)
            if not of_its_name and entry != replace(record, **{"name": entry.name}):
                continue
            known = entry.name in starter.sources.get(section, {})
            if known and getattr(entry, field, None) == getattr(record, field, None):
                found = starter.provenance(section, entry.name, field)
                return TakenField(found.source, found.status)
    return None


def _read(path: Path, kind: type[_Kind]) -> _Kind:
    try:
        return msgspec.json.decode(path.read_bytes(), type=kind)
    except (OSError, msgspec.MsgspecError) as error:
        raise BoardFileError(
            path.name, f"the installed data can't be read ({error})", "install the program again"
        ) from error
