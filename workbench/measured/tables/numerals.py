"""Numbers in tables: which sign is the decimal's, and what a cell says.

A comma means one thing here and another there. So the sign is taken from cells that can mean only one thing ("0,5",
"12,75", "1.234,5"), and where every one could be either ("1,234") it is asked for.
"""

import math
import re
from collections.abc import Iterable
from typing import Literal, NamedTuple

from workbench.errors import NotStatedError, QuantityError, TableError
from workbench.quantity import parse
from workbench.wording import quoted

Decimal = Literal[".", ","]

NUMBER = re.compile(r"[+-]?(?:\d[\d.,'\u00a0\u202f]*|[.,]\d+)(?:[eE][+-]?\d+)?")
"""Whatever looks like a number, whichever its decimal sign, with or without grouped thousands."""
_PLAIN = {
    ".": re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"),
    ",": re.compile(r"[+-]?(?:\d+,?\d*|,\d+)(?:[eE][+-]?\d+)?"),
}
_GROUPED = {
    ".": re.compile(r"[+-]?\d{1,3}(?:([,'\u00a0\u202f])\d{3})(?:\1\d{3})*(?:\.\d*)?"),
    ",": re.compile(r"[+-]?\d{1,3}(?:([.'\u00a0\u202f])\d{3})(?:\1\d{3})*(?:,\d*)?"),
}
_EITHER = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
"""One comma with three digits after it: a thousand, or a decimal."""
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity|1\.#\w+|#num!|#n/a|#wert!|#div/0!|n/a)", re.IGNORECASE)
_MOST_CHARACTERS = 64


class Cell(NamedTuple):
    """One cell and its line, from 1."""

    line: int
    text: str


def tidied(text: str) -> str:
    """A cell without blanks around it, with a plain minus."""
    return text.strip().replace("\u2212", "-")


def looks_numeric(text: str) -> bool:
    """Whether a cell is a number by its looks, alone or a word for one that is not finite."""
    tidy = tidied(text)
    return NUMBER.fullmatch(tidy) is not None or _NOT_FINITE.fullmatch(tidy) is not None


def looks_like_quantity(text: str) -> bool:
    """Whether a cell is a number by its looks, alone or with a unit: "12", "12,5 mm", "4 mil"."""
    found = NUMBER.match(tidied(text))
    if found is None:
        return looks_numeric(text)
    unit = tidied(text)[found.end() :]
    return re.fullmatch(r"\s*(?:[A-Za-zµμΩ%\"]{0,6}|[A-Za-z]+/[A-Za-z]+)", unit) is not None


def decimal_of(cells: Iterable[Cell], source: str) -> Decimal:
    """The decimal sign of a table's numeric cells.

    Args:
        cells: those that begin with a number.
        source: what sentences call the table.

    Raises:
        TableError: some cells can only have a decimal comma, others only a decimal point.
        NotStatedError: every comma could be either.
    """
    sure: dict[str, Cell] = {}
    grouped = False
    point: Cell | None = None
    either: Cell | None = None
    for cell in cells:
        comma = "," in cell.text
        # A million cells pass here; most are settled without looking closer.
        if comma and "," in sure and "." not in cell.text:
            continue
        if not comma and (point is not None or "." not in cell.text):
            continue
        if not looks_like_quantity(cell.text):
            continue
        sign = _sign_in(cell.text)
        if sign == "point":
            point = cell
        elif sign == "either":
            either = either or cell
        else:
            sure.setdefault(sign, cell)
            grouped = grouped or (sign == "," and "." in cell.text)
    # Where one cell shows that points group the thousands, others may have such points alone.
    return _judged(sure, None if grouped else point, either, source)


def _sign_in(text: str) -> str:
    """What a number with a comma or point in it shows: the decimal sign, "point" (only points), or "either"."""
    found = NUMBER.match(tidied(text))
    word = found[0] if found else ""
    if "," not in word:
        return "point"
    if "." in word:
        return "." if word.rindex(".") > word.rindex(",") else ","
    if word.count(",") > 1:
        return "."
    return "either" if _EITHER.fullmatch(word) else ","


def _judged(sure: dict[str, Cell], point: Cell | None, either: Cell | None, source: str) -> Decimal:
    comma = sure.get(",")
    if comma is not None and (other := sure.get(".") or point):
        problem = f"{quoted(comma.text)} has a decimal comma and {quoted(other.text)} in line {other.line} a point"
        raise TableError(source, comma.line, problem, "write all numbers with the same decimal sign")
    if comma is not None:
        return ","
    if either is not None and "." not in sure:
        problem = f"{quoted(either.text)} may be a decimal comma or grouped thousands"
        raise NotStatedError(source, either.line, problem, "state the decimal sign", wanted="decimal")
    return "."


def number(cell: Cell, decimal: Decimal, source: str, what: str) -> float:
    """A cell's number.

    Args:
        cell: the cell.
        decimal: the table's decimal sign.
        source: what sentences call the table.
        what: what the column holds, such as "the time".

    Raises:
        TableError: it is empty, no number, or not finite.
    """
    text = tidied(cell.text)
    plain = as_plain(text, decimal)
    if plain is not None:
        value = float(plain)
        if math.isfinite(value):
            return value
    raise TableError(source, cell.line, *_why_no_number(text, what, finite=plain is None))


def _why_no_number(text: str, what: str, *, finite: bool) -> tuple[str, str]:
    if not text:
        return f"{what} is missing", "fill the cell, or remove the line"
    if not finite or _NOT_FINITE.fullmatch(text):
        return f"{what} is {quoted(text)}, which is not a finite number", "remove the line, or correct the value"
    return f"{what} is {quoted(text)}, which is not a number here", "write a plain number"


def as_plain(text: str, decimal: Decimal) -> str | None:
    """A number's text with a decimal point and no grouping; None where it is not a number with that decimal sign."""
    if len(text) > _MOST_CHARACTERS:
        return None
    if _PLAIN[decimal].fullmatch(text):
        return text.replace(",", ".")
    grouped = _GROUPED[decimal].fullmatch(text)
    return text.replace(grouped[1], "").replace(",", ".") if grouped else None


def quantity_of(cell: Cell, decimal: Decimal, source: str, what: str, *, unit: str, bare_unit: str | None) -> float:
    """A cell's quantity: a number with its own unit, or a bare one in the column's.

    Args:
        cell: the cell.
        decimal: the table's decimal sign.
        source: what sentences call the table.
        what: what the column holds, such as "the length".
        unit: the SI unit of the result.
        bare_unit: the unit of a number without one; None where it is not known.

    Raises:
        TableError: it is no such quantity.
        NotStatedError: it has no unit and the column's is not known.
    """
    text = tidied(cell.text)
    found = NUMBER.match(text)
    own = text[found.end() :].strip() if found else ""
    plain = as_plain(found[0], decimal) if found else None
    if plain is None:
        raise TableError(source, cell.line, *_why_no_number(text, what, finite=True))
    if not own and bare_unit is None:
        remedy = f"state the unit, or write it in the column's name, such as ({'mm' if unit == 'm' else unit})"
        raise NotStatedError(source, cell.line, f"{what} {quoted(text)} has no unit", remedy, wanted="unit")
    try:
        return parse(f"{plain} {unit_word(own, unit) or own or bare_unit}", unit=unit)
    except QuantityError as error:
        problem, _, remedy = str(error).partition("; ")
        raise TableError(source, cell.line, f"{what}: {problem}", remedy) from error


_SPELLED = {
    "hz": "Hz", "khz": "kHz", "mhz": "MHz", "ghz": "GHz", "thz": "THz",
    "v": "V", "volt": "V", "volts": "V", "mv": "mV", "millivolts": "mV",
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s", "ms": "ms", "us": "us", "ns": "ns", "ps": "ps",
    "fs": "fs", "nanoseconds": "ns", "picoseconds": "ps",
    "mil": "mil", "mils": "mil", "thou": "mil", "inch": "in", "inches": "in", "in": "in", "ft": "ft", "feet": "ft",
    "mm": "mm", "cm": "cm", "um": "um", "m": "m", "millimeter": "mm", "millimeters": "mm", "millimetres": "mm",
    "meters": "m", "metres": "m", "ohm": "ohm", "ohms": "ohm", "db": "dB", "ui": "UI",
}  # fmt: skip
"""Units as tables spell them, folded to small letters; only what can mean one thing."""

_AMBIGUOUS = frozenset({"MV", "MS", "MM", "M", "S", "FS", "PS"})
"""Capitals that may be another unit: a mega, siemens. The case counts."""


def unit_word(word: str, unit: str) -> str | None:
    """The unit that a word in a table means, as `quantity.parse` knows it; None where it is none for `unit`.

    Args:
        word: as the table has it.
        unit: the SI unit that it has to fit.
    """
    clean = word.strip().strip(".").replace('"', "in")
    if clean in _AMBIGUOUS and not (unit == "m" and clean == "MM") and not (unit == "s" and clean in {"S", "PS", "FS"}):
        return None
    spelled = _SPELLED.get(clean.casefold(), clean)
    try:
        parse(f"1 {spelled}", unit=unit)
    except QuantityError:
        return None
    return spelled if clean else None
