"""Entries of a board's own catalogue: made, copied, under names that are free. No widget."""

from typing import NamedTuple

from msgspec.structs import replace

from workbench.board.edits.catalogue import add_entry, copy_entry
from workbench.board.edits.taking import take_entry
from workbench.board.index import Index, section_names
from workbench.board.library import starter_catalogues
from workbench.board.model import Board, Catalogue
from workbench.desk.widgets.values import fresh, kind_word
from workbench.errors import EditError
from workbench.facts import fact_of, facts_of
from workbench.parts.record import Record, records_in


class OwnEntry(NamedTuple):
    """A board with one more entry, and what that is called."""

    board: Board
    name: str


def kinds_of(section: str) -> tuple[tuple[str, type[Record]], ...]:
    """The kinds that may stand in a section: a word for each, and its record type."""
    return tuple((kind_word(kind), kind) for kind in records_in(section))


def new_entry(board: Board, section: str, kind: type[Record]) -> OwnEntry:
    """The board with a new entry of a kind in a section, to be given its own numbers.

    It begins with the numbers of a starter's entry of that kind, made with what the board has; what that lacks comes
    along from the starter. Of a kind that no starter has, it begins with defaults and something allowed.

    Args:
        board: the board.
        section: the catalogue key it is to stand under.
        kind: one of `kinds_of` the section.

    Raises:
        EditError: it refers to entries of which there are none to be had.
    """
    name = free_name(board, f"new {kind_word(kind).lower()}", first=True)
    begun = _from_starter(board, section, kind)
    if begun is not None:
        board, entry = begun
    else:
        _require_parts(board, kind)
        made = fresh(kind, board=board)
        assert isinstance(made, Record)
        entry = made
    return OwnEntry(add_entry(board, section, replace(entry, **{"name": name})), name)


def _from_starter(board: Board, section: str, kind: type[Record]) -> tuple[Board, Record] | None:
    for starter in starter_catalogues().values():
        for entry in getattr(starter.catalogue, section):
            if type(entry) is kind:
                return _with_parts(board, entry, starter.catalogue)
    return None


def _with_parts(board: Board, entry: Record, source: Catalogue) -> tuple[Board, Record]:
    """An entry of another catalogue made with the board's own parts, as far as it has some."""
    for field, sections, referred in entry.references():
        own = next(iter(Index(board).names(sections)), None)
        if own is None:
            there = next(one for one in sections if referred in {part.name for part in getattr(source, one)})
            board, own = take_entry(board, source, there, referred)
        entry = replace(entry, **{field: own})
    return board, entry


def _require_parts(board: Board, kind: type[Record]) -> None:
    for fact in facts_of(kind):
        if fact.section and not Index(board).names(fact.section) and fact.default is not None:
            needed = " or ".join(fact_of(Catalogue, one).label.lower() for one in fact.section)
            raise EditError(f"it needs an entry of {needed}, and there is none yet; make or add that first")


def copied_entry(board: Board, section: str, name: str) -> OwnEntry:
    """The board with a copy of an entry beside it, under a free name; raises EditError where there is none."""
    copy = free_name(board, name)
    return OwnEntry(copy_entry(board, section, name, copy), copy)


def free_name(board: Board, name: str, *, first: bool = False) -> str:
    """A name that no entry has yet: with the next free number; `first`: without one where that is free."""
    taken = {entry.name for section in section_names() for entry in getattr(board.catalogue, section)}
    if first and name not in taken:
        return name
    return next(f"{name} {n}" for n in range(2, len(taken) + 3) if f"{name} {n}" not in taken)
