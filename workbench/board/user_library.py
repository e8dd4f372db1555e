"""The user's own library of parts: a folder of entries that every board may take from, each with its source."""

import re
from pathlib import Path

import msgspec

from workbench.board.edits.taking import take_entry
from workbench.board.library import ALL_OTHERS, Provenance, Starter
from workbench.board.model import Board, Catalogue
from workbench.board.starting import merged
from workbench.errors import BoardFileError, EditError
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

    def starter(self) -> Starter:
        """All entries as one starter catalogue, read anew where files have changed; damaged files are left out."""
        files = _files(self.folder)
        if files != self._known[0]:
            self._known = (files, self._read(files))
        return self._known[1]

    def keep(self, board: Board, section: str, name: str, source: str) -> Path:
        """Put an entry of a board, with all it refers to, into the library; one of that name is replaced.

        Args:
            board: the board.
            section: the catalogue key it stands under.
            name: the entry.
            source: where its numbers come from.

        Returns:
            The file.

        Raises:
            BoardFileError: the folder can't be written to.
            EditError: there is no such entry.
        """
        nothing = Board(title="", profile=board.profile, profiles=board.profiles)
        alone, _ = take_entry(nothing, board.catalogue, section, name)
        said = Provenance(source=source, status="own requirement")
        sources = {
            one: {entry.name: {ALL_OTHERS: said} for entry in getattr(alone.catalogue, one)}
            for one in Catalogue.__struct_fields__ if getattr(alone.catalogue, one)
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


def _files(folder: Path) -> tuple[tuple[str, int], ...]:
    if not folder.is_dir():
        return ()
    return tuple(sorted((path.name, path.stat().st_mtime_ns) for path in folder.glob(f"*{ENDING}")))


def _plain(name: str) -> str:
    """A name that every file system takes."""
    return re.sub(r"[^\w .-]+", "_", name).strip(" .") or "part"
