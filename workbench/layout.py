"""Laying text out in columns of a terminal: cells, widths, paragraphs."""

import textwrap
import unicodedata
from collections.abc import Mapping, Sequence
from typing import Literal

Align = Literal["left", "right"]
ELLIPSIS = "..."
GAP = "  "


def safe(text: str) -> str:
    """Text from a file without the control characters that a terminal would obey, on one line."""
    return "".join(sign if sign.isprintable() else "?" for sign in text.replace("\n", " ").replace("\t", " "))


def width_of(text: str) -> int:
    """Columns that a text takes: wide signs two, combining ones none."""
    return sum(_columns(sign) for sign in text)


def clipped(text: str, columns: int) -> str:
    """The text, or as much of it as fits in `columns` with an ellipsis."""
    if width_of(text) <= columns:
        return text
    room = max(columns - len(ELLIPSIS), 0)
    kept = ""
    for sign in text:
        room -= _columns(sign)
        if room < 0:
            break
        kept += sign
    return f"{kept.rstrip()}{ELLIPSIS}"[:columns]


def shortened(text: str, columns: int) -> str:
    """As `clipped`, but what is left out is the middle: names that begin alike stay distinguishable by their ends."""
    if width_of(text) <= columns or columns <= len(ELLIPSIS) + 1:
        return clipped(text, columns)
    end, room = "", (columns - len(ELLIPSIS)) // 2
    for sign in reversed(text):
        room -= _columns(sign)
        if room < 0:
            break
        end = sign + end
    return f"{clipped(text, columns - width_of(end))}{end}"


def column_widths(rows: Sequence[Sequence[str]]) -> list[int]:
    """Columns that each cell position needs over all rows (all of the same length)."""
    return [max(width_of(cell) for cell in cells) for cells in zip(*rows, strict=True)]


def row_text(
    cells: Sequence[str], widths: Sequence[int], aligns: Sequence[Align], shades: Mapping[int, str] | None = None
) -> str:
    """One line of a table.

    Args:
        cells: its texts, none wider than its column.
        widths: columns of each cell.
        aligns: which side of its column each text stands on.
        shades: ANSI colour codes of some cells, by position; the blanks stay plain.
    """
    placed = []
    for at, (cell, width, align) in enumerate(zip(cells, widths, aligns, strict=True)):
        blanks = " " * (width - width_of(cell))
        text = shaded(cell, shades[at]) if shades and at in shades else cell
        placed.append(blanks + text if align == "right" else text + blanks)
    return GAP.join(placed).rstrip()


def shaded(text: str, shade: str) -> str:
    """The text between the ANSI sequences that set a colour code and clear it."""
    return f"\x1b[{shade}m{text}\x1b[0m"


def paragraph(text: str, columns: int, *, first: str = "", rest: str = "") -> list[str]:
    """A text broken into lines of at most `columns`; `first` and `rest` stand before the first and the other lines."""
    return textwrap.wrap(text, width=columns, initial_indent=first, subsequent_indent=rest, break_on_hyphens=False)


def _columns(sign: str) -> int:
    if unicodedata.combining(sign):
        return 0
    return 2 if unicodedata.east_asian_width(sign) in "WF" else 1
