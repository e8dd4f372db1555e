"""The user's own library of parts: a folder of entries that every board may take from, each with its source."""

import re
from collections.abc import Iterator
from pathlib import Path

import msgspec

from workbench.board.edits.taking import PartsLibrary, take_entry
from workbench.board.entry_source import EntrySource, known_of, source_of
from workbench.board.library import ALL_OTHERS, Provenance, Starter, starter_catalogues
from workbench.board.model import Board, Catalogue
from workbench.board.starting import merged
from workbench.errors import BoardFileError, EditError
from workbench.facts import facts_of
from workbench.parts.record import Record
from workbench.replacing import replace_file

LIBRARY = "my-library"
"""The id that the library goes by among the starters."""
ENDING = ".part.json"
_NOTHING = Starter(id=LIBRARY, title="My library", marked="Entries of your own.", catalogue=Catalogue(), sources={})


class UserLibrary:
    """Entries in a folder, a file each; the folder is made when the first one is kept.

    Attributes:
        folder: where they are; other programs and colleagues may put files there.
        faults: a sentence for each file that could not be read the last time.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.faults: tuple[str, ...] = ()
        self._known: tuple[tuple[tuple[str, int], ...], Starter] = ((), _NOTHING)
        self._parts: PartsLibrary | None = None

    def starter(self) -> Starter:
        """All entries as one starter catalogue, read anew where files have changed; damaged files are left out."""
        files = _files(self.folder)
        if files != self._known[0]:
            self._known, self._parts = (files, self._read(files)), None
        return self._known[1]

    def parts(self) -> PartsLibrary:
        """All entries, and where their values come from, as a board's file takes them."""
        known = self.starter()
        if self._parts is None:
            self._parts = PartsLibrary(known.catalogue, tuple(sources_of(known)))
        return self._parts

    def keep(self, board: Board, section: str, name: str, source: str) -> Path:
        """Put an entry of a board, with all it refers to, into the library; one of that name is replaced.

        Args:
            board: the board.
            section: the catalogue key it stands under.
            name: the entry.
            source: where its numbers come from, but for those whose source the board knows.

        Returns:
            The file.

        Raises:
            BoardFileError: the folder can't be written to.
            EditError: there is no such entry.
        """
        nothing = Board(title="", profile=board.profile, profiles=board.profiles)
        alone, _ = take_entry(nothing, board.catalogue, section, name, known=board.sources)
        said = Provenance(source=source, status="own requirement")
        sources = {
            one: {entry.name: {ALL_OTHERS: said, **_known(alone, one, entry)} for entry in entries}
            for one in Catalogue.__struct_fields__ if (entries := getattr(alone.catalogue, one))
        }  # fmt: skip
        kept = msgspec.structs.replace(_NOTHING, title=name, catalogue=alone.catalogue, sources=sources)
        path = self.folder / f"{section} {_plain(name)}{ENDING}"
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            replace_file(path, msgspec.json.format(msgspec.json.encode(kept)) + b"\n")
        except OSError as error:
            reason = error.strerror or str(error)
            raise BoardFileError(path.name, f"it can't be kept ({reason})", "make its folder writable") from error
        return path

    def _read(self, files: tuple[tuple[str, int], ...]) -> Starter:
        found, faults = _NOTHING, []
        for name, _ in files:
            path = self.folder / name
            try:
                one = msgspec.json.decode(path.read_bytes(), type=Starter)
                catalogue = merged([found.catalogue, one.catalogue])
            except (OSError, msgspec.MsgspecError, EditError) as error:
                faults.append(f"{name} in the library of parts can't be read ({error})")
                continue
            sources = {
                key: {**found.sources.get(key, {}), **one.sources.get(key, {})}
                for key in (*found.sources, *one.sources)
            }
            found = msgspec.structs.replace(found, catalogue=catalogue, sources=sources)
        self.faults = tuple(faults)
        return found


def known_starters(library: UserLibrary | None) -> Iterator[Starter]:
    """Whatever knows where entries come from: the user's own library first, then the program's starters."""
    if library is not None:
        yield library.starter()
    yield from starter_catalogues().values()


def sources_of(starter: Starter) -> Iterator[EntrySource]:
    """Where the values of a starter's entries come from, as a board's file keeps it: one record an entry and source."""
    for section, stated in starter.sources.items():
        entries: tuple[Record, ...] = getattr(starter.catalogue, section, ())
        for entry in entries:
            name: str = entry.name  # type: ignore[attr-defined]  # every kind that stands in a section has one
            by_source: dict[Provenance, list[str]] = {}
            for fact in facts_of(type(entry)) if name in stated else ():
                by_source.setdefault(starter.provenance(section, name, fact.name), []).append(fact.name)
            for said, fields in by_source.items():
                yield source_of(section, entry, said.source, said.status, fields)


def _known(board: Board, section: str, record: Record) -> dict[str, Provenance]:
    """What the board's own sources say of an entry's values that are still those."""
    found = {fact.name: known_of(board.sources, section, record, fact.name) for fact in facts_of(type(record))}
    return {
        field: Provenance(source=one.source, status=one.status)
        for field, one in found.items() if one is not None and not one.before
    }  # fmt: skip


def _files(folder: Path) -> tuple[tuple[str, int], ...]:
    if not folder.is_dir():
        return ()
    return tuple(sorted((path.name, path.stat().st_mtime_ns) for path in folder.glob(f"*{ENDING}")))


def _plain(name: str) -> str:
    """A name that every file system takes."""
    return re.sub(r"[^\w .-]+", "_", name).strip(" .") or "part"
