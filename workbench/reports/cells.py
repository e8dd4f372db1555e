"""Cells of CSV that a spreadsheet shows and never runs.

A spreadsheet takes a cell that begins with ``=``, ``+``, ``-`` or ``@`` for a formula, whoever wrote it. Text of that
kind gets an apostrophe in front, the spreadsheets' own mark of text; numbers stay numbers.
"""

import csv
import io
from collections.abc import Iterable, Sequence

_RUN = ("=", "+", "-", "@", "\t", "\r")


def csv_text(rows: Iterable[Sequence[object]], separator: str = ",") -> str:
    """Rows as lines of CSV; what is None is empty, floats stand in their shortest form, text is only ever text."""
    text = io.StringIO()
    csv.writer(text, delimiter=separator, lineterminator="\n").writerows(map(cells, rows))
    return text.getvalue()


def cells(row: Sequence[object]) -> list[object]:
    """One row's cells, each as it may stand in a file for a spreadsheet."""
    return [f"'{cell}" if isinstance(cell, str) and _would_run(cell) else cell for cell in row]


def _would_run(text: str) -> bool:
    return text.startswith(_RUN) and not _is_number(text)


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return "_" not in text
