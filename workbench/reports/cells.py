"""Cells of CSV that a spreadsheet shows and never runs.

A spreadsheet takes a cell that begins with ``=``, ``+``, ``-`` or ``@`` for a formula, whoever wrote it. Text of that
kind gets an apostrophe in front, the spreadsheets' own mark of text; numbers stay numbers, and so does a number with
its unit, such as a setting's name "-3.5 dB": two words that no formula can consist of, whatever they are called.
"""

import csv
import io
import re
from collections.abc import Iterable, Sequence

_RUN = ("=", "+", "-", "@", "\t", "\r")
# One blank and a unit of letters after the number: no digit, bracket or operator that could refer to a cell or run.
_WITH_UNIT = re.compile(r"[+-]\d+(?:\.\d+)? (?:[A-Za-zµμΩ%]+)(?:/[A-Za-z]+)?")


def csv_text(rows: Iterable[Sequence[object]], separator: str = ",") -> str:
    """Rows as lines of CSV; what is None is empty, floats stand in their shortest form, text is only ever text."""
    text = io.StringIO()
    csv.writer(text, delimiter=separator, lineterminator="\n").writerows(map(cells, rows))
    return text.getvalue()


def cells(row: Sequence[object]) -> list[object]:
    """One row's cells, each as it may stand in a file for a spreadsheet."""
    return [f"'{cell}" if isinstance(cell, str) and _would_run(cell) else cell for cell in row]


def _would_run(text: str) -> bool:
    return text.startswith(_RUN) and not _is_number(text) and not _WITH_UNIT.fullmatch(text)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return "_" not in text
