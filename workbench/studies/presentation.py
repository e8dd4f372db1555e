"""What an answer shows, whatever the study was: no widget here."""

from collections.abc import Callable
from typing import NamedTuple

from workbench.board.model import Board
from workbench.parts.conditioners.controls import Settings
from workbench.quantity import show
from workbench.studies.figures import LaneFigures

Edit = Callable[[Board], Board]


class Point(NamedTuple):
    """One variant of the board that was assessed.

    Attributes:
        words: what it is, for the status line and for those who hear it.
        margin_guards: the worst lane's normalized margin there; None where it is not known.
        edit: makes the variant of the board; None where nothing is to be made.
        marked: a word at it in the picture ("now", "best"); "" mostly.
        judged: whether there is a limit that the margin is counted from; else it is the bare opening.
        figure: the path of the margin in the answer's JSON; "" where the answer does not keep it.
    """

    words: str
    margin_guards: float | None
    edit: Edit | None = None
    marked: str = ""
    judged: bool = True
    figure: str = ""


class MapPicture(NamedTuple):
    """Margin over two controls: a row of points for each of `rows`, a point for each of `columns`."""

    across: str
    down: str
    columns: tuple[str, ...]
    rows: tuple[str, ...]
    points: tuple[tuple[Point | None, ...], ...]


class CurveLine(NamedTuple):
    """One curve: its name and a point at each x; None where there is none."""

    name: str
    points: tuple[Point | None, ...]


class CurvePicture(NamedTuple):
    """Margin against something: its name, its unit in SI, x in that unit, and a line for each variant.

    With `common` every line is to have a point at every x, and where it has none it is not known yet; without, each
    line has points of its own.
    """

    axis: str
    unit: str
    x: tuple[float, ...]
    lines: tuple[CurveLine, ...]
    common: bool = True


class Bar(NamedTuple):
    """How much one thing matters.

    Attributes:
        name: the thing.
        span: from, to; None while that is not known.
        words: the value in words.
        figure: the path of the value in the answer's JSON; "" where it has none.
    """

    name: str
    span: tuple[float, float] | None
    words: str
    figure: str = ""


class BarPicture(NamedTuple):
    """How much each thing matters, in a unit."""

    unit: str
    bars: tuple[Bar, ...]


Picture = MapPicture | CurvePicture | BarPicture


class TableRow(NamedTuple):
    """A line of the table.

    Attributes:
        cells: its cells.
        point: the variant that it stands for.
        figures: for each cell the path of the figure that it shows, in the answer's JSON; "" for words.
    """

    cells: tuple[str, ...]
    point: Point | None = None
    figures: tuple[str, ...] = ()


class Presentation(NamedTuple):
    """An answer as the window shows it.

    Attributes:
        sentence: the answer in a sentence or two.
        picture: what is drawn; None where nothing is.
        heads, rows: a table, the best first.
        edit: applies the answer; None where it changes nothing.
        edit_name: what undo calls that.
    """

    sentence: str
    picture: Picture | None
    heads: tuple[str, ...]
    rows: tuple[TableRow, ...]
    edit: Edit | None = None
    edit_name: str = ""


MOST_ROWS = 200
"""Rows of a table: nobody reads more."""
NORMALIZED = "normalized margin"
MARGIN_HEADS = ("height margin", "width margin", NORMALIZED)
NOT_KNOWN = "not known"


def guards_words(margin: float | None) -> str:
    """A normalized margin as text: "+3.2", "not known"."""
    return NOT_KNOWN if margin is None else f"{margin:+z.1f}"


def settings_words(settings: Settings) -> str:
    """How a device is set, in a line."""
    return ", ".join(f"{control} {position}" for control, position in settings.items())


def by_size(bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """Bars with the largest effect first, whatever its sign; what is not known yet last, in the order given."""
    return tuple(sorted(bars, key=lambda bar: -max(map(abs, bar.span)) if bar.span is not None else 0.0))


def margin_cells(lane: LaneFigures) -> tuple[str, str, str]:
    """A lane's margins under `MARGIN_HEADS`: in V, in UI, normalized; the bare opening where no limit is known."""
    if lane.margin_height_v is None and lane.margin_width_ui is None:
        height, width = f"open {show(lane.height_v, 'V', digits=3)}", f"open {lane.width_ui:.3f} UI"
    else:
        height, width = _signed(lane.margin_height_v, "V"), _signed(lane.margin_width_ui, "UI")
    return height, width, guards_words(lane.margin_guards)


def margin_paths(place: str, lane: LaneFigures) -> tuple[str, str, str]:
    """Where the figures of `margin_cells` stand, for a lane at a place of the answer's JSON."""
    bare = lane.margin_height_v is None and lane.margin_width_ui is None
    height, width = ("height_v", "width_ui") if bare else ("margin_height_v", "margin_width_ui")
    return f"{place}.{height}", f"{place}.{width}", f"{place}.margin_guards"


def _signed(value: float | None, unit: str) -> str:
    if value is None:
        return NOT_KNOWN
    return ("" if value < 0.0 else "+") + show(value, unit, digits=3)
