"""Which column of a lane list holds the names, and which the length of which run of the pattern lane.

By what the user says, or by a column's title: the line's name ("card trace", "card trace 2" for the second run of it),
"run 2" (the second run of the path) or "element 3" (the third element). Never by the columns' order.
"""

import re
from typing import NamedTuple

import msgspec

from workbench.board.model import Lane, Run
from workbench.errors import NotStatedError, TableError
from workbench.measured.tables.numerals import looks_like_quantity, unit_word
from workbench.measured.tables.reading import Column, TextTable
from workbench.wording import any_of, quoted

NAME_TITLES = frozenset({
    "name", "lane", "lanes", "lane name", "net", "net name", "nets", "signal", "signal name", "pair", "pair name",
    "differential pair", "diff pair",
})  # fmt: skip
_FILLER = re.compile(r"\b(?:length|lengths|len|routed|of|the)\b")


class LanePattern(msgspec.Struct, frozen=True, kw_only=True):
    """How a lane list is to be read.

    Attributes:
        lane: a lane of the board whose path is the pattern.
        names: title of the column with the lanes' names; None: recognised by its title.
        runs: (place on the pattern's path from 1, title of the column with that run's length); empty: recognised.
        unit: of lengths that have none and stand in a column without one, such as "mil"; None: not known.
        add: whether lanes that the board does not have are made, like the pattern lane.
        pair_ends: endings of the two halves of a pair, such as ("_P", "_N"), where the list has each half; else None.
    """

    lane: str
    names: str | None = None
    runs: tuple[tuple[int, str], ...] = ()
    unit: str | None = None
    add: bool = False
    pair_ends: tuple[str, str] | None = None


class RunColumn(NamedTuple):
    """A column with the length of the run at `place` (from 1) of the pattern; `unit` of its bare numbers, or None."""

    column: Column
    place: int
    line: str
    unit: str | None


class MatchedColumns(NamedTuple):
    """The column of names, those of lengths, and those that are not used."""

    names: Column
    runs: tuple[RunColumn, ...]
    unused: tuple[Column, ...]


def match_columns(table: TextTable, lane: Lane, pattern: LanePattern) -> MatchedColumns:
    """Match a list's columns to a pattern lane.

    Args:
        table: the list.
        lane: the pattern lane.
        pattern: what the user said.

    Raises:
        TableError: a column or place that is named is not there, or a column stands for two runs.
        NotStatedError: a column's meaning has to be stated.
    """
    names = _name_column(table, pattern)
    places = {place: run.line for place, run in enumerate(lane.path, 1) if isinstance(run, Run)}
    if not places:
        raise TableError(table.source.name, None, f"the pattern lane {quoted(lane.name)} has no run", "choose another")
    chosen = _stated(table, pattern, places) if pattern.runs else _recognised(table, names, places)
    if pattern.unit is not None and unit_word(pattern.unit, "m") is None:
        problem = f"{quoted(pattern.unit)} is not a unit of length"
        raise TableError(table.source.name, None, problem, "state one such as mm, in or mil")
    runs = tuple(
        RunColumn(column, place, places[place], _bare_unit(table, column, pattern))
        for place, column in sorted(chosen.items())
    )
    used = {names.at, *(run.column.at for run in runs)}
    return MatchedColumns(names, runs, tuple(column for column in table.columns if column.at not in used))


def _bare_unit(table: TextTable, column: Column, pattern: LanePattern) -> str | None:
    known = column.unit_for("m")
    if column.unit and known is None and not pattern.unit and not _all_have_units(table, column):
        problem = f"column {quoted(column.title)}: {quoted(column.unit)} is not a unit of length that is known here"
        remedy = 'write one such as "(mm)" or "(mil)" in its title'
        raise NotStatedError(table.source.name, table.header_line, problem, remedy, wanted="unit")
    return known or (unit_word(pattern.unit, "m") if pattern.unit else None)


def _all_have_units(table: TextTable, column: Column) -> bool:
    return all(re.search(r"[A-Za-zµμ\"]$", cell.text.strip()) for cell in table.cells(column) if cell.text.strip())


def _name_column(table: TextTable, pattern: LanePattern) -> Column:
    if pattern.names is not None:
        return table.column(pattern.names)
    titled = [column for column in table.columns if _folded(column.name) in NAME_TITLES]
    if len(titled) == 1:
        return titled[0]
    worded = [c for c in table.columns if not any(looks_like_quantity(cell.text) for cell in table.cells(c))]
    if not titled and len(worded) == 1:
        return worded[0]
    shown = any_of(column.title for column in titled or worded or table.columns)
    problem = f"it is not clear which column holds the lanes' names ({shown})"
    raise NotStatedError(table.source.name, table.header_line, problem, "state its title", wanted="names")


def _stated(table: TextTable, pattern: LanePattern, places: dict[int, str]) -> dict[int, Column]:
    chosen: dict[int, Column] = {}
    for place, title in pattern.runs:
        if place not in places:
            runs = ", ".join(f"{at} ({line})" for at, line in places.items())
            problem = f"element {place} of lane {quoted(pattern.lane)} is not a run"
            raise TableError(table.source.name, None, problem, f"name one of its runs: {runs}")
        column = table.column(title)
        if place in chosen or column in chosen.values():
            problem = f"column {quoted(title)} and element {place}: one of the two is named twice"
            raise TableError(table.source.name, table.header_line, problem, "name one column for each run")
        chosen[place] = column
    return chosen


def _recognised(table: TextTable, names: Column, places: dict[int, str]) -> dict[int, Column]:
    chosen: dict[int, Column] = {}
    known = _titles_of(places)
    lengths = []
    for column in table.columns:
        if column.at == names.at:
            continue
        said = known.get(_folded(_without_unit(column)))
        if said is not None:
            if said in chosen:
                both = f"{quoted(chosen[said].title)} and {quoted(column.title)}"
                problem = f"columns {both} both stand for element {said}"
                raise TableError(table.source.name, table.header_line, problem, "remove one of the two")
            chosen[said] = column
        elif column.unit_for("m") is not None or "length" in column.title.casefold():
            lengths.append(column)
    if not chosen and len(places) == 1 and len(lengths) == 1:
        return {next(iter(places)): lengths[0]}
    if chosen:
        return chosen
    runs = ", ".join(f"{at} ({line})" for at, line in places.items())
    problem = "no column's title names a run of the pattern"
    remedy = f"state which column belongs to which element: {runs}"
    raise NotStatedError(table.source.name, table.header_line, problem, remedy, wanted="runs")


def _titles_of(places: dict[int, str]) -> dict[str, int]:
    """Every title that names a run, folded, and the place that it means."""
    titles: dict[str, int] = {}
    met: dict[str, int] = {}
    lines = list(places.values())
    for number, (place, line) in enumerate(places.items(), 1):
        met[line] = met.get(line, 0) + 1
        if lines.count(line) == 1:
            titles[_folded(line)] = place
        else:
            titles[_folded(f"{line} {met[line]}")] = place
        titles[f"run {number}"] = titles[f"element {place}"] = place
    return titles


def _without_unit(column: Column) -> str:
    found = re.fullmatch(r"(.*?)(?:_|\s+in\s+|\s*/\s*|\s+)([A-Za-zµμ]+)", column.title)
    if not column.unit and found is not None and unit_word(found[2], "m"):
        return found[1]
    return column.name


def _folded(title: str) -> str:
    plain = title.casefold().replace("_", " ")
    without = " ".join(_FILLER.sub(" ", plain).split())
    return without or " ".join(plain.split())
