"""A data sheet's table of gains: a column per setting over a column of frequencies, or a row per setting.

Units are read from the titles or stated, never guessed: a table that leaves open whether 2.5 is MHz or GHz, or whether
a number is dB, is asked about.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.errors import ModelError, NotStatedError, QuantityError, TableError
from workbench.makers.gain_table import GainTable, checked
from workbench.measured.tables.decoding import Text
from workbench.measured.tables.reading import Column, TextTable, read_table
from workbench.measured.tables.trace_columns import ask
from workbench.quantity import parse


class Units(NamedTuple):
    """What the user states: the unit of frequencies ("GHz"), and of gains ("dB"); "" where the table says it."""

    frequency: str = ""
    gain: str = ""


NOTHING_STATED = Units()


def read_gain_table(table: TextTable, units: Units = NOTHING_STATED) -> GainTable:
    """The gains of a table.

    Args:
        table: as it stands in the text.
        units: what is stated about it.

    Raises:
        NotStatedError: the unit of the frequencies or of the gains has to be stated.
        TableError: a cell is not a number, there is nothing but one column, or the table makes no sense.
    """
    if units.gain and units.gain != "dB":
        raise TableError(table.source.name, None, f"a gain in {units.gain} is not read", "convert it to dB")
    try:
        if _frequencies_in_titles(table):
            return checked(_by_rows(table, units))
        return checked(_by_columns(table, units))
    except ModelError as error:
        raise TableError(table.source.name, None, str(error).partition("; ")[0], "correct the table") from error


def table_of_gains(text: Text) -> TextTable:
    """The table in a text, whose titles may be numbers and whose settings may be words.

    Raises:
        TableError: there is no table, a row has more or fewer cells than the titles, a quote is not closed.
        NotStatedError: the decimal sign has to be stated.
    """
    try:
        table = read_table(text, all_numeric=True)
    except NotStatedError:
        raise
    except TableError:
        table = read_table(text)
    if table.header_line is not None:
        return table
    above = table.notes[-1] if table.notes else None
    # Titles that are numbers are taken for no titles: they stand among the lines above, or as the first row.
    cells = (
        [above.text.split(mark) for mark in "\t;," if len(above.text.split(mark)) == len(table.columns)]
        if above
        else []
    )
    if above is not None and cells:
        return table._replace(columns=_titled(cells[0]), header_line=above.line, notes=table.notes[:-1])
    if len(table.rows) < 2:
        return table
    titled = _titled(table.rows[0])
    return table._replace(columns=titled, header_line=table.lines[0], rows=table.rows[1:], lines=table.lines[1:])


def _titled(cells: Sequence[str]) -> tuple[Column, ...]:
    """Columns of titles that may be numbers; a unit stands in brackets at a title's end."""
    found = []
    for at, cell in enumerate(cells):
        title = cell.strip()
        name, bracket, unit = title.removesuffix(")").rpartition("(")
        apart = bool(bracket) and title.endswith(")")
        found.append(Column(name.strip() if apart else title, unit.strip() if apart else "", at, title))
    return tuple(found)


def _frequencies_in_titles(table: TextTable) -> bool:
    """Whether all titles but the first are frequencies: each with its unit, or bare beside no column of frequencies."""
    first, *others = table.columns
    if table.header_line is None or not others or first.unit_for("Hz") or "freq" in first.title.casefold():
        return False
    return all(_frequency(column.title, "Hz") is not None for column in others)


def _frequency(title: str, bare_unit: str) -> float | None:
    """A frequency in Hz as a title has it; a bare number in `bare_unit`; None for what is none."""
    try:
        return float(title) * parse(f"1 {bare_unit}", unit="Hz")
    except ValueError:
        pass
    try:
        return parse(title, unit="Hz")
    except QuantityError:
        return None


def _by_rows(table: TextTable, units: Units) -> GainTable:
    """A row per setting; frequencies in the titles."""
    corner = table.columns[0]
    bare = [column for column in table.columns[1:] if _is_bare(column.title)]
    unit = units.frequency
    if bare and not unit:
        problem = f"the frequency {bare[0].title} in its titles has no unit"
        raise ask(table, problem, "state one of Hz, kHz, MHz, GHz", "frequency_unit")
    _require_db(table, units, (corner, *table.columns))
    f_hz = np.array([_frequency(column.title, unit or "Hz") for column in table.columns[1:]])
    gains = np.array([table.numbers(column, "the gain") for column in table.columns[1:]])
    order = np.argsort(f_hz, kind="stable")
    settings = tuple(cell.text.strip() for cell in table.cells(corner))
    return GainTable(f_hz[order], settings, gains.T[:, order])


def _is_bare(title: str) -> bool:
    try:
        float(title)
    except ValueError:
        return False
    return True


def _by_columns(table: TextTable, units: Units) -> GainTable:
    """A column per setting; frequencies in the first column, or the one whose title says so."""
    axis = next((column for column in table.columns if column.unit_for("Hz")), table.columns[0])
    others = [column for column in table.columns if column != axis]
    if not others:
        raise TableError(table.source.name, table.header_line, "it has one column only", "give a column per setting")
    unit = units.frequency or axis.unit_for("Hz")
    if not unit:
        problem = f"the frequencies of column {axis.title} have no unit"
        raise ask(table, problem, "state one of Hz, kHz, MHz, GHz", "frequency_unit")
    _require_db(table, units, tuple(others))
    f_hz = table.numbers(axis, "the frequency") * parse(f"1 {unit}", unit="Hz")
    gains = np.array([table.numbers(column, "the gain") for column in others])
    order = np.argsort(f_hz, kind="stable")
    return GainTable(f_hz[order], tuple(_setting(column) for column in others), gains[:, order])


def _setting(column: Column) -> str:
    return (column.name if column.unit.casefold() == "db" else column.title).strip()


def _require_db(table: TextTable, units: Units, columns: tuple[Column, ...]) -> None:
    """Refuse where neither a title nor the user says that the gains are in dB."""
    words = [word.casefold() for column in columns for word in (column.unit, column.title)]
    said = any("db" in word for word in words) or any("db" in cell.text.casefold() for cell in table.notes)
    if not (units.gain or said):
        raise ask(table, "nothing says that its gains are in dB", "state dB", "gain_unit")


def trimmed_to_positive(table: GainTable) -> GainTable:
    """The table without 0 Hz, which a logarithm does not have; its gain holds below the next frequency.

    A first point at 0 Hz moves to a tenth of the next frequency.
    """
    f_hz: Floats = table.f_hz.copy()
    if f_hz[0] == 0.0 and f_hz.size > 1:
        f_hz[0] = f_hz[1] / 10.0
    return table._replace(f_hz=f_hz)
