"""Taking entries of another catalogue, with all they refer to, into a board's own."""

from msgspec.structs import replace

from workbench.board.checking import name_groups
from workbench.board.edits.lanes import sound
from workbench.board.messages import quoted
from workbench.board.model import Board, Catalogue
from workbench.errors import EditError
from workbench.parts.record import Record


def take_entry(board: Board, source: Catalogue, shelf: str, name: str) -> tuple[Board, str]:
    """The board with an entry of another catalogue and what that refers to.

    An entry that the board has already, word for word, is not added again; one whose name the board has for something
    else comes under the name with the next free number.

    Returns:
        The board, and the name that the entry has on it.

    Raises:
        EditError: there is no such entry.
    """
    changed, name = _take(board, source, shelf, name)
    return sound(changed), name


def _take(board: Board, source: Catalogue, shelf: str, name: str) -> tuple[Board, str]:
    entry = _entry(source, shelf, name)
    for field, shelves, referred in entry.references():
        there = next((s for s in shelves if _named(source, s, referred) is not None), shelves[0])
        board, known_as = _take(board, source, there, referred)
        if known_as != referred:
            entry = replace(entry, **{field: known_as})
    for other in getattr(board.catalogue, shelf):
        if replace(other, name=name) == entry and _is_numbered(other.name, name):
            return board, str(other.name)
    free = _free_name(board, shelf, name)
    taken = replace(entry, **{"name": free})
    shelf_with_it = (*getattr(board.catalogue, shelf), taken)
    return replace(board, catalogue=replace(board.catalogue, **{shelf: shelf_with_it})), free


def _entry(source: Catalogue, shelf: str, name: str) -> Record:
    entry = _named(source, shelf, name)
    if entry is None:
        raise EditError(f"there is no {quoted(name)} among the {shelf} to take; choose another entry")
    return entry


def _named(catalogue: Catalogue, shelf: str, name: str) -> Record | None:
    entries: tuple[Record, ...] = getattr(catalogue, shelf, ())
    return next((entry for entry in entries if getattr(entry, "name", None) == name), None)


def _is_numbered(name: str, plain: str) -> bool:
    return name == plain or (name.startswith(f"{plain} ") and name[len(plain) + 1 :].isdigit())


def _free_name(board: Board, shelf: str, name: str) -> str:
    group = next(group for group in name_groups() if shelf in group)
    taken = {entry.name for one in group for entry in getattr(board.catalogue, one)}
    if name not in taken:
        return name
    return next(f"{name} {n}" for n in range(2, len(taken) + 3) if f"{name} {n}" not in taken)
