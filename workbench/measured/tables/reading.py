"""Tables of text: CSV files and pasted spreadsheet cells, with the line of every row kept for what is said about it.

Recognised: tabs, semicolons, commas or blanks between cells; quoted cells, also over several lines; lines before the
header and comments (kept as notes); a row of units under the header; decimal points or commas.
"""

import csv
import re
from collections import deque
from collections.abc import Iterator, Sequence
from itertools import islice
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.board.measurement import MOST_POINTS
from workbench.errors import TableError
from workbench.measured.tables.decoding import Text, TextSource, lines_in
from workbench.measured.tables.numerals import (
    Cell,
    Decimal,
    decimal_of,
    looks_like_quantity,
    looks_numeric,
    number,
    unit_word,
)
from workbench.wording import instead, quoted

_COMMENT = ("#", "!", "%", "//")
_MOST_NOTES = 200
_MOST_COLUMNS = 1000
_MOST_ROWS = MOST_POINTS + 1_000
"""What a board keeps of a trace, and what may stand above it; whoever takes the rows says when they are too many."""
_SNIFFED_LINES = 50
BLANKS = " "
"""Stands for any number of blanks between cells."""
_COMMENT_SIGNS = "#!%/ \t"
_NO_COMMENT = r"#\s*(?:{}|N/A|NUM!|REF!|VALUE!|WERT!|DIV/0!|NAME\?|NULL!)"
"""A number sign that is a cell: alone over a column of numbers, or a spreadsheet's word for a value that failed."""
_UNITS = ("s", "V", "Hz", "m", "ohm", "dB", "UI")
_BRACKETED = re.compile(r"(.*?)\s*[(\[]\s*([^()\[\]]*?)\s*[)\]]\s*", re.DOTALL)
_TAIL = re.compile(r"(.*?)(?:_|\s+in\s+|\s*/\s*|\s*,\s*|\s+)([A-Za-zµμΩ\"]+)", re.DOTALL)


class Column(NamedTuple):
    """One column: its name without the unit, the unit that its header gives ("" for none), and where it stands."""

    name: str
    unit: str
    at: int
    title: str

    def unit_for(self, unit: str) -> str | None:
        """The header's unit as `quantity.parse` knows it, where it fits the SI unit `unit`; else None."""
        if self.unit:
            return unit_word(self.unit, unit)
        tail = _TAIL.fullmatch(self.title)
        if tail is not None and unit_word(tail[2], unit):
            return unit_word(tail[2], unit)
        return unit_word(self.title, unit)


class TextTable(NamedTuple):
    """A table as it stands in the text.

    Attributes:
        source: where it comes from.
        notes: comments and lines before the header, with their line numbers.
        columns: one for each cell of a row; without a header they are called "column 1", "column 2", ...
        header_line: the header's line, from 1; None where there is none.
        rows: the cells of each row.
        lines: the line of each row, from 1.
        decimal: the decimal sign.
    """

    source: TextSource
    notes: tuple[Cell, ...]
    columns: tuple[Column, ...]
    header_line: int | None
    rows: list[tuple[str, ...]]
    lines: list[int]
    decimal: Decimal

    def column(self, title: str) -> Column:
        """The column of that header (with or without its unit, in any case), or "column 3" by its place.

        Raises:
            TableError: there is none, or more than one.
        """
        wanted = title.strip().casefold()
        by_title = [c for c in self.columns if c.title.casefold() == wanted]
        found = by_title or [c for c in self.columns if wanted in (c.name.casefold(), f"column {c.at + 1}")]
        if len(found) == 1:
            return found[0]
        if found:
            problem = f"{len(found)} columns are called {quoted(title)}"
            raise TableError(self.source.name, self.header_line, problem, "name it by its place, such as column 3")
        remedy = instead(title, [c.title for c in self.columns], "name one of the table's columns")
        raise TableError(self.source.name, self.header_line, f"there is no column {quoted(title)}", remedy)

    def cells(self, column: Column) -> Iterator[Cell]:
        """The cells of a column, with their lines."""
        at = column.at
        return (Cell(line, row[at]) for line, row in zip(self.lines, self.rows, strict=True))

    def numbers(self, column: Column, what: str) -> Floats:
        """A column's numbers, shape (rows,).

        Args:
            column: the column.
            what: what it holds, for the sentence that refuses: "the time".

        Raises:
            TableError: a cell is empty, no number, or not finite.
        """
        fast = _fast_numbers([row[column.at] for row in self.rows], self.decimal)
        if fast is not None:
            return fast
        return np.array([number(cell, self.decimal, self.source.name, what) for cell in self.cells(column)])


def _fast_numbers(words: Sequence[str], decimal: Decimal) -> Floats | None:
    """Plain numbers at once; None where any is not plain or not finite, so that each has to be looked at."""
    # Python would read 1_000 as a number.
    if any("_" in word for word in words) or (decimal == "," and any("." in word for word in words)):
        return None
    try:
        values = np.array([word.replace(",", ".") for word in words] if decimal == "," else words, np.float64)
    except ValueError:
        return None
    return values if np.isfinite(values).all() else None


def read_table(
    text: Text, *, all_numeric: bool = False, decimal: Decimal | None = None, separator: str | None = None
) -> TextTable:
    """The table in a text.

    Args:
        text: the text.
        all_numeric: True for traces: the rows begin with the first of nothing but numbers. Else the first that holds
            any number, or number with unit, begins them.
        decimal: the decimal sign, where it is known.
        separator: what stands between cells, where it is known.

    Raises:
        TableError: there is no table, a row has more or fewer cells than the header, a quote is not closed.
        NotStatedError: the decimal sign has to be stated.
    """
    between = separator or _separator_of(text.text)
    raw, notes = _rows_of(text.text, between, text.source.name)
    first = _first_of_data(raw, all_numeric=all_numeric)
    if first is None:
        what = "numbers" if all_numeric else "a row with a number"
        remedy = "give a header line and rows of cells below it"
        raise TableError(text.source.name, None, f"it holds no table: nowhere stand {what}", remedy)
    above, body = raw.taken(first), raw
    columns, header_line, before = _columns_of(above, notes, body.first, between, text.source.name)
    _require_even(body, len(columns), header_line, text.source.name, between)
    columns = _without_empty(columns, body.rows)
    table = TextTable(text.source, (*notes, *before), columns, header_line, body.rows, body.lines, decimal or ".")
    return table if decimal else table._replace(decimal=_decimal_of(table, between, text.text))


Raw = tuple[int, tuple[str, ...]]
"""A row's line, from 1, and its cells."""


class _Rows(NamedTuple):
    """Rows by their lines and cells: two lists, because a file may have millions."""

    lines: list[int]
    rows: list[tuple[str, ...]]

    @property
    def first(self) -> Raw:
        return self.lines[0], self.rows[0]

    def taken(self, count: int) -> list[Raw]:
        """Take the first rows off."""
        first = list(zip(self.lines[:count], self.rows[:count], strict=True))
        del self.lines[:count], self.rows[:count]
        return first


class _Lines:
    """Lines for the CSV reader, one after the other, less the comments; it knows how far it is."""

    def __init__(self, lines: Iterator[str], between: str) -> None:
        self._lines = lines
        self._no_comment = re.compile(_NO_COMMENT.format(re.escape(between)), re.IGNORECASE)
        self.at = 0
        self.begins = True
        self._comments = 0
        self.notes: list[Cell] = []
        self._last: tuple[int, str] | None = None

    def all_notes(self) -> list[Cell]:
        """The first comments, and the last, which may be the header."""
        if self._comments > _MOST_NOTES and self._last is not None:
            return [*self.notes, _note(*self._last)]
        return self.notes

    def __iter__(self) -> "_Lines":
        return self

    def __next__(self) -> str:
        for line in self._lines:
            self.at += 1
            # Inside a quoted cell nothing is a comment.
            if self.begins and line.startswith(_COMMENT) and not self._no_comment.match(line):
                if self._comments < _MOST_NOTES:
                    self.notes.append(_note(self.at, line))
                self._comments += 1
                self._last = (self.at, line)
                continue
            self.begins = False
            return f"{line}\n"
        raise StopIteration


def _note(at: int, line: str) -> Cell:
    return Cell(at, line.lstrip(_COMMENT_SIGNS).rstrip())


def _rows_of(text: str, between: str, source: str) -> tuple[_Rows, list[Cell]]:
    """Every row that is not empty, with the line where it begins, and the comments."""
    physical = _Lines(lines_in(text), between)
    found = _Rows([], [])
    reader = csv.reader(physical, delimiter=between, strict=True, skipinitialspace=True)
    ended = 0
    try:
        while True:
            physical.begins = True
            cells = next(physical).split() if between == BLANKS else next(reader)
            ended = physical.at
            if len(cells) > _MOST_COLUMNS:
                raise TableError(source, ended, f"the row has {len(cells)} cells", "check what separates them")
            if any(map(str.strip, cells)):
                found.lines.append(ended - sum(cell.count("\n") for cell in cells))
                found.rows.append(tuple(cells))
                if len(found.rows) > _MOST_ROWS:
                    raise TableError(source, ended, f"it has more than {_MOST_ROWS:,} rows", "give a shorter record")
    except StopIteration:
        return found, physical.all_notes()
    except csv.Error as error:
        problem = "a quoted cell that begins here or soon after does not end as it should"
        raise TableError(source, ended + 1, problem, "close its quote right before the separator") from error


def _separator_of(text: str) -> str:
    """What stands between cells, by the first and last lines."""
    lines = lines_in(text)
    some = [*islice(lines, _SNIFFED_LINES), *deque(lines, _SNIFFED_LINES)]
    some = [line for line in some if line.strip()]
    some = [re.sub(r'"(?:[^"]|"")*"', '""', line) for line in some if not line.startswith(_COMMENT)]
    for mark in ("\t", ";"):
        if 2 * sum(mark in line for line in some) >= max(len(some), 1):
            return mark
    words = [line.split() for line in some if line.lstrip()[:1] in "+-.0123456789"]
    if words and all(len(row) > 1 and all(_is_bare_number(word) for word in row) for row in words):
        return BLANKS
    return ","


def _is_bare_number(word: str) -> bool:
    return looks_numeric(word) and not word.endswith(",")


def _first_of_data(raw: _Rows, *, all_numeric: bool) -> int | None:
    for n, cells in enumerate(raw.rows):
        filled = [cell for cell in cells if cell.strip()]
        if all(map(looks_numeric, filled)) if all_numeric else any(map(looks_like_quantity, filled)):
            return n
    return None


def _columns_of(
    before: Sequence[Raw], notes: Sequence[Cell], first: Raw, between: str, source: str
) -> tuple[tuple[Column, ...], int | None, list[Cell]]:
    """The columns, the header's line, and what stands before it."""
    line, cells = first
    width = len(_trimmed(cells)) if not before else len(cells)
    titles, header_line, used = _header(before, width)
    if header_line is None and before and not _is_note(before[-1], source):
        _refuse_width(before[-1], first, between, source)
    if header_line is None and notes and notes[-1].line < line:
        commented = notes[-1].text.split() if between == BLANKS else notes[-1].text.split(between)
        if len(commented) == width > 1 and not any(map(looks_numeric, commented)):
            titles, header_line = commented, notes[-1].line
    told = [Cell(number, between.join(row).rstrip(between + " ")) for number, row in before[: len(before) - used]]
    columns = tuple(_column(title, at) for at, title in enumerate(titles or [""] * width))
    return columns, header_line, told


def _header(before: Sequence[Raw], width: int) -> tuple[list[str], int | None, int]:
    """Titles, their line, and how many lines they take: a row of units under the names counts with them."""
    if not before or not _fits(before[-1][1], width) or any(map(looks_numeric, before[-1][1])):
        return [], None, 0
    line, last = before[-1]
    titles = _padded(last, width)
    if len(before) > 1 and _fits(before[-2][1], width) and _are_units(titles):
        names = _padded(before[-2][1], width)
        bare = [unit.strip(" ()[]") for unit in titles]
        merged = [f"{name} ({unit})" if unit else name for name, unit in zip(names, bare, strict=True)]
        return merged, before[-2][0], 2
    return titles, line, 1


def _fits(cells: Sequence[str], width: int) -> bool:
    filled = len(_trimmed(cells))
    return filled == width or (len(cells) == width and filled > 0 and width - filled < max(filled, 2))


def _trimmed(cells: Sequence[str]) -> list[str]:
    """The cells without the empty ones at the end."""
    count = max((n + 1 for n, cell in enumerate(cells) if cell.strip()), default=0)
    return list(cells[:count])


def _padded(cells: Sequence[str], width: int) -> list[str]:
    return [*(cell.strip() for cell in cells[:width]), *[""] * (width - len(cells))]


def _are_units(titles: Sequence[str]) -> bool:
    words = [title.strip(" ()[]") for title in titles if title.strip(" ()[]")]
    return bool(words) and all(any(unit_word(word, unit) for unit in _UNITS) for word in words)


def _is_note(row: Raw, source: str) -> bool:
    """Whether a row before the data may be passed over: a title, or a word with its value."""
    line, cells = row
    filled = _trimmed(cells)
    if looks_numeric(filled[0]):
        problem = "the row is neither a header nor a row of numbers"
        raise TableError(source, line, problem, "correct its cells, or remove the line")
    return len(filled) == 1 or any(map(looks_like_quantity, filled))


def _refuse_width(header: Raw, row: Raw, between: str, source: str) -> None:
    above = f"the one above it in line {header[0]} has {len(_trimmed(header[1]))}"
    problem = f"the row has {_cells(len(row[1]))}, and {above}"
    raise TableError(source, row[0], problem, _mend_cells(between))


def _mend_cells(between: str) -> str:
    comma = " (decimal commas need semicolons or tabs between them)" if between == "," else ""
    return f"give every row as many cells as the header{comma}"


def _cells(count: int) -> str:
    return "1 cell" if count == 1 else f"{count} cells"


def _column(title: str, at: int) -> Column:
    clean = " ".join(title.split())
    found = _BRACKETED.fullmatch(clean)
    if found is not None:
        return Column(found[1].strip() or found[2], found[2], at, clean)
    return Column(clean or f"column {at + 1}", "", at, clean or f"column {at + 1}")


def _require_even(body: _Rows, width: int, header_line: int | None, source: str, between: str) -> None:
    """Refuse a row with too few or too many cells; empty ones beyond the width are taken off."""
    for n, cells in enumerate(body.rows):
        if len(cells) == width:
            continue
        kept = _trimmed(cells)
        if len(kept) == width or (len(cells) > width > len(kept)):
            body.rows[n] = tuple(_padded(kept, width))
            continue
        headed = header_line is not None
        than = f"the header in line {header_line}" if headed else f"the first row in line {body.lines[0]}"
        problem = f"the row has {_cells(len(cells))}, and {than} {width}"
        raise TableError(source, body.lines[n], problem, _mend_cells(between))


def _without_empty(columns: tuple[Column, ...], rows: Sequence[Sequence[str]]) -> tuple[Column, ...]:
    """The columns less those that have neither a title nor a value."""
    untitled = [c for c in columns if c.title == f"column {c.at + 1}"]
    empty = {c.at for c in untitled if not any(row[c.at].strip() for row in rows)}
    return tuple(column for column in columns if column.at not in empty)


def _decimal_of(table: TextTable, between: str, text: str) -> Decimal:
    if "," not in text or (between == "," and '"' not in text):
        return "."
    return decimal_of((cell for column in table.columns for cell in table.cells(column)), table.source.name)
