"""Which column of a measured table is the axis and which the curve, in which units, and on what axis the samples lie.

Titles and units decide, never the columns' order; what they leave open is asked for (`NotStatedError`).
"""

import re
from collections.abc import Iterable

import msgspec
import numpy as np

from workbench.arrays import Floats
from workbench.errors import NotStatedError, QuantityError, TableError
from workbench.measured.tables.numerals import unit_word
from workbench.measured.tables.reading import Column, TextTable
from workbench.quantity import parse
from workbench.wording import any_of, quoted

_AXIS_WORDS = {"s": frozenset({"time", "t", "x"}), "Hz": frozenset({"frequency", "freq", "f", "x"})}
_AXIS_NAMES = {"s": "time", "Hz": "frequency"}
_RATE = re.compile(
    r"(?:sampl\w*)[\s_]*(rate|frequency|interval|period|spacing|step|time)|(dt|time step|time increment|x increment)\b",
    re.IGNORECASE,
)
_VALUE = re.compile(r"[\s:=,;\t\"]*([+-]?\d[\d.,]*(?:[eE][+-]?\d+)?)\s*([A-Za-zµμ/]*)")


class StatedByUser(msgspec.Struct, frozen=True, kw_only=True):
    """What the user says about a table, where it does not say it itself; None: nothing.

    Attributes:
        x, y: titles of the axis's and the curve's columns ("column 2" where there are no titles).
        minus: title of a column to subtract from `y`: the other half of the pair.
        x_unit, y_unit: their units, such as "ns" and "mV".
        sample_rate_hz: samples per second, Hz, where no column has the time, or only with few digits.
        parameter: "transmission" or "reflection" of a table over frequency.
        quantity: "impedance", "reflection" or "transmitted" of a step.
        round_trip: whether a reflected step's time counts the way there and back.
        loss_positive: whether a loss in dB is a positive number.
    """

    x: str | None = None
    y: str | None = None
    minus: str | None = None
    x_unit: str | None = None
    y_unit: str | None = None
    sample_rate_hz: float | None = None
    parameter: str | None = None
    quantity: str | None = None
    round_trip: bool | None = None
    loss_positive: bool | None = None


NOTHING_STATED = StatedByUser()


def words_of(title: str) -> set[str]:
    """The words of a title, folded to small letters."""
    return set(re.findall(r"[a-z]+\d*|\d+", title.casefold().replace("_", " ")))


def ask(table: TextTable, problem: str, remedy: str, wanted: str) -> NotStatedError:
    """The refusal that asks for what `wanted` names, at the header's line."""
    return NotStatedError(table.source.name, table.header_line, problem, remedy, wanted=wanted)


def axis_column(table: TextTable, stated: StatedByUser, unit: str) -> Column | None:
    """The axis's column; None where only the sample rate gives it.

    Args:
        table: the table.
        stated: what the user says.
        unit: "s" or "Hz".

    Raises:
        NotStatedError: it is not clear which column it is.
        TableError: the stated one is not there.
    """
    if stated.x is not None:
        return table.column(stated.x)
    by_word = [c for c in table.columns if words_of(c.name) & _AXIS_WORDS[unit]]
    by_unit = [c for c in table.columns if c.unit_for(unit) is not None]
    for found in ([c for c in by_unit if c in by_word], by_unit, by_word):
        if len(found) == 1:
            return found[0]
    if unit == "s" and not by_word and not by_unit and len(table.columns) == 1:
        return None
    if table.header_line is None and len(table.columns) == 2:
        rising = [c for c in table.columns if bool(np.all(np.diff(table.numbers(c, "the value")) > 0.0))]
        if len(rising) == 1:
            return rising[0]
    what = _AXIS_NAMES[unit]
    shown = any_of(column.title for column in table.columns)
    raise ask(table, f"it is not clear which column is the {what} ({shown})", "state its title", "x")


def curve_columns(table: TextTable, axis: Column | None, stated: StatedByUser, unit: str) -> list[Column]:
    """The columns that may be the curve: that stated, or those whose unit fits `unit`, or those without any unit.

    Raises:
        TableError: the stated one is not there.
    """
    if stated.y is not None:
        return [table.column(stated.y)]
    others = [column for column in table.columns if column != axis]
    fitting = [column for column in others if column.unit_for(unit) is not None]
    return fitting or [column for column in others if not _has_other_unit(column, unit)]


def _has_other_unit(column: Column, unit: str) -> bool:
    return any(column.unit_for(other) is not None for other in ("s", "Hz", "V", "ohm", "dB", "m") if other != unit)


def factor_of(table: TextTable, column: Column, unit: str, stated: str | None, wanted: str) -> float:
    """What a column's numbers are multiplied by to be in `unit`: by its title, else by the stated unit.

    Args:
        table: the table.
        column: the column.
        unit: the SI unit.
        stated: the unit that the user says; it goes before the title's.
        wanted: the name under which it is asked for.

    Raises:
        NotStatedError: neither gives a unit.
        TableError: the stated unit doesn't fit.
    """
    if stated is not None and unit_word(stated, unit) is None:
        problem = f"{quoted(stated)} is not a unit for column {quoted(column.title)}"
        raise TableError(table.source.name, table.header_line, problem, f"state one such as {_such_as(unit)}")
    word = unit_word(stated, unit) if stated is not None else column.unit_for(unit)
    if word is None:
        known = f"{quoted(column.unit)} is not a unit of {unit} known here" if column.unit else "has no unit"
        problem = f"column {quoted(column.title)}: {known}" if column.unit else f"column {quoted(column.title)} {known}"
        raise ask(table, problem, f"state it, or write it in the title, such as ({_such_as(unit)})", wanted)
    return parse(f"1 {word}", unit=unit)


def _such_as(unit: str) -> str:
    return {"s": "ns", "Hz": "GHz", "V": "mV"}.get(unit, unit)


def rising(table: TextTable, column: Column, unit: str, factor: float) -> Floats:
    """An axis's numbers times `factor`, which must rise from row to row, shape (rows,).

    Raises:
        TableError: one does not rise; the sentence says whether it is repeated, unsorted, or another column's.
    """
    what = _AXIS_NAMES[unit]
    values = table.numbers(column, f"the {what}")
    at = np.nonzero(np.diff(values) <= 0.0)[0]
    if at.size:
        n = int(at[0]) + 1
        again = values[n] == values[n - 1]
        problem = f"the {what} {'is that of the line before' if again else 'is less than that of the line before'}"
        remedy = "sort the rows" if not again else "remove one of the two lines"
        if again and unit == "s":
            remedy = "write it with more digits, or state the sample rate"
        if at.size > values.size // 4 and bool((np.diff(values) < 0.0).any()):
            remedy = f"column {quoted(column.title)} may not be the {what}: state which column is"
        raise TableError(table.source.name, table.lines[n], problem, remedy)
    return values * factor


def times_s(table: TextTable, stated: StatedByUser) -> tuple[Floats, Column | None]:
    """The samples' times in s, shape (rows,), and their column, None where the sample rate gives them.

    Raises:
        NotStatedError: the time's column, its unit or the sample rate has to be stated.
        TableError: the times don't rise, or contradict the stated sample rate.
    """
    column = axis_column(table, stated, "s")
    if column is None:
        interval = 1.0 / stated.sample_rate_hz if stated.sample_rate_hz else _noted_interval_s(table)
        return np.arange(len(table.rows)) * interval, None
    factor = factor_of(table, column, "s", stated.x_unit, "x_unit")
    if stated.sample_rate_hz is None:
        return rising(table, column, "s", factor), column
    values = table.numbers(column, "the time") * factor
    even = np.arange(values.size) / stated.sample_rate_hz
    span, noted = even[-1], float(values[-1] - values[0])
    if abs(span - noted) > 2e-3 * span + 2.0 / stated.sample_rate_hz:
        problem = f"the times span {noted:.4g} s, but the stated sample rate gives {span:.4g} s"
        raise TableError(table.source.name, None, problem, "state the right sample rate or time unit")
    return values[0] + even, column


def _noted_interval_s(table: TextTable) -> float:
    """The sample interval in s that a comment or a line before the header gives."""
    for note in table.notes:
        said = _RATE.search(note.text)
        value = _VALUE.match(note.text, said.end()) if said else None
        if said is None or value is None or "," in value[1]:
            continue
        per_second = (said[1] or "").casefold() in {"rate", "frequency"}
        unit = re.sub(r"(?i)(?:sa|s)/s(?:ec)?$", "Hz", value[2]) if per_second else value[2]
        word = unit_word(unit, "Hz" if per_second else "s") if unit else None
        if word is None:
            continue
        try:
            number = parse(f"{value[1]} {word}", unit="Hz" if per_second else "s")
        except QuantityError:
            continue
        if number > 0.0:
            return 1.0 / number if per_second else number
    problem = "no column has the time, and no line above gives the sample rate"
    raise ask(table, problem, "state the sample rate", "sample_rate_hz")


def the_one(table: TextTable, found: Iterable[Column], what: str, wanted: str = "y") -> Column:
    """The only one of several columns.

    Raises:
        NotStatedError: there is none, or more than one.
    """
    columns = list(found)
    if len(columns) == 1:
        return columns[0]
    shown = any_of(column.title for column in columns or table.columns)
    raise ask(table, f"it is not clear which column is the {what} ({shown})", "state its title", wanted)
