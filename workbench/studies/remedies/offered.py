"""What may be taken for a lane: the entries of the board's catalogue, and those of a library of the user's own."""

from typing import Any, NamedTuple

from workbench.board.edits.changes import Change
from workbench.board.edits.taking import PartsLibrary, take_entry
from workbench.board.model import Board, Catalogue
from workbench.errors import EditError
from workbench.studies.remedies.alterations import EntryTaken

NO_LIBRARY = PartsLibrary(Catalogue())
_SAID = " from your library"


class OfferedEntry(NamedTuple):
    """An entry that may be taken.

    Attributes:
        entry: the entry.
        name: what it is called on the board.
        changes: what brings it there; none for one of the board's own.
        said: " from your library" for one of that.
    """

    entry: Any
    name: str
    changes: tuple[Change, ...] = ()
    said: str = ""


def offered(board: Board, library: PartsLibrary, section: str, most: int) -> list[OfferedEntry]:
    """The entries of a section, the board's own first, then those of the library that the board has not.

    Args:
        board: the board.
        library: the user's own.
        section: the catalogue key.
        most: so many of each at most.
    """
    own = [OfferedEntry(entry, entry.name) for entry in getattr(board.catalogue, section)[:most]]
    known = {entry.name for entry in getattr(board.catalogue, section)}
    taken = []
    for entry in getattr(library.catalogue, section)[:most]:
        try:
            _, name = take_entry(board, library.catalogue, section, entry.name)
            nothing = Board(title="", profile=board.profile, profiles=board.profiles)
            alone, _ = take_entry(nothing, library.catalogue, section, entry.name, known=library.known)
        except EditError:
            continue  # what it refers to is not in the library: it can't be taken
        if name not in known:
            change = EntryTaken(section, entry.name, alone.catalogue, alone.sources)
            taken.append(OfferedEntry(entry, name, (change,), _SAID))
    return [*own, *taken]
