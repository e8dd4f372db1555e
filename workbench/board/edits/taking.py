"""Taking entries of another catalogue, with all they refer to, into a board's own."""

from msgspec.structs import replace

from workbench.board.checking import name_groups
from workbench.board.edits.checked import refuse, sound
from workbench.board.model import Board, Catalogue
from workbench.parts.record import Record
from workbench.wording import quoted


def take_entry(board: Board, source: Catalogue, section: str, name: str) -> tuple[Board, str]:
    """The board with an entry of another catalogue and what that refers to.

    An entry that the board has already, word for word, is not added again; one whose name the board has for something
    else comes under the name with the next free number.

    Returns:
        The board, and the name that the entry has on it.

    Raises:
        EditError: there is no such entry.
    """
    changed, name = _take(board, source, section, name)
    return sound(changed), name


def _take(board: Board, source: Catalogue, section: str, name: str) -> tuple[Board, str]:
    entry = _entry(source, section, name)
    for field, sections, referred in entry.references():
        there = next((s for s in sections if _named(source, s, referred) is not None), sections[0])
        board, known_as = _take(board, source, there, referred)
        if known_as != referred:
            entry = replace(entry, **{field: known_as})
    for other in getattr(board.catalogue, section):
        if replace(other, name=name) == entry and _is_numbered(other.name, name):
            return board, str(other.name)
    free = _free_name(board, section, name)
    taken = replace(entry, **{"name": free})
    section_with_it = (*getattr(board.catalogue, section), taken)
    return replace(board, catalogue=replace(board.catalogue, **{section: section_with_it})), free


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
