"""How the panes stand: rows of cells, what each shows, their sizes; as the text that is remembered."""

from typing import Literal, NamedTuple, get_args

import msgspec

from workbench.desk.panes.link import USUAL_RATIOS

Kind = Literal["frequency", "pulse", "eye", "bathtub", "impedance"]
KINDS: tuple[Kind, ...] = get_args(Kind)
MOST_CELLS = 6
_USUAL: tuple[Kind, ...] = ("frequency", "pulse", "eye", "bathtub", "impedance", "frequency")
_LARGEST = 1_000_000


class PaneArrangement(NamedTuple):
    """An arrangement that is offered: its name and how many cells each row has."""

    name: str
    rows: tuple[int, ...]


CHOICES = (
    PaneArrangement("One pane", (1,)),
    PaneArrangement("Two side by side", (2,)),
    PaneArrangement("Two stacked", (1, 1)),
    PaneArrangement("Three: one above two", (1, 2)),
    PaneArrangement("Three side by side", (3,)),
    PaneArrangement("Four", (2, 2)),
    PaneArrangement("Five", (2, 3)),
    PaneArrangement("Six", (3, 3)),
)
_FIRST_OF_ROW = 3
"""With so few cells the eye stands first."""


class Layout(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """A layout of the panes.

    Attributes:
        rows: cells in each row.
        cells: what each cell shows, row by row.
        heights: sizes of the rows, px; empty: all alike.
        widths: sizes of the cells of each row, px; empty: all alike.
        log: whether frequency axes are logarithmic.
        ratios: error ratios of the eye's contours.
    """

    rows: tuple[int, ...] = (2, 2)
    cells: tuple[Kind, ...] = _USUAL[:4]
    heights: tuple[int, ...] = ()
    widths: tuple[tuple[int, ...], ...] = ()
    log: bool = False
    ratios: tuple[float, ...] = USUAL_RATIOS

    @property
    def sound(self) -> bool:
        """Whether it can be shown: one to six cells, one kind each, sizes for all or for none."""
        cells = sum(self.rows)
        sizes = (*self.heights, *(width for row in self.widths for width in row))
        return (
            0 < cells <= MOST_CELLS
            and all(count > 0 for count in self.rows)
            and len(self.cells) == cells
            and len(self.heights) in (0, len(self.rows))
            and tuple(len(row) for row in self.widths) in ((), self.rows)
            and all(0 <= size < _LARGEST for size in sizes)
        )


def layout_text(layout: Layout) -> str:
    """A layout as one line of text."""
    return msgspec.json.encode(layout).decode()


def layout_of(text: str) -> Layout:
    """The layout that a text has; one that can't be read or shown is the standard one."""
    try:
        layout = msgspec.json.decode(text, type=Layout)
    except (msgspec.DecodeError, UnicodeEncodeError):
        return Layout()
    return layout if layout.sound else Layout()


def rearranged(cells: tuple[Kind, ...], rows: tuple[int, ...]) -> tuple[Kind, ...]:
    """What the cells of other rows show: what they did, then kinds that are not there yet."""
    count = sum(rows)
    order: tuple[Kind, ...] = ("eye", "frequency", "pulse", "bathtub", "impedance")
    missing = tuple(kind for kind in order if kind not in cells)
    return (*cells, *missing, *_USUAL)[:count]
