"""Small arithmetic and wording that several panes share."""

import math
from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from workbench.arrays import Floats
from workbench.desk.panes.link import Range
from workbench.desk.panes.plot.axes import nice, number
from workbench.desk.panes.readout import ReadoutPiece
from workbench.desk.widgets.theme import Theme
from workbench.engine.views import ERROR_RATIOS
from workbench.quantity import show

_LEAST_STEP = 1e-200
"""What is smaller is no step at all: a room over it would not fit into floating point."""

_STEPS_PER_RANGE = 8.0
CLOSED = "closed"


def roomy(low: float, high: float) -> Range:
    """A range around values that moves only when they leave it by a step."""
    if not high > low:
        return Range(low - 1.0, high + 1.0)
    step = nice((high - low) / _STEPS_PER_RANGE)
    return Range(step * math.floor(low / step + 1e-9), step * math.ceil(high / step - 1e-9))


def ratio_words(ratio: float) -> str:
    """An error ratio as axes and readouts write it."""
    return f"{ratio:.0e}".replace("e-0", "e-") if ratio < 1.0 else "1"


def nearest_ratio(ratio: float | None) -> int:
    """Which of the views' error ratios is nearest to one on a log scale; the middle one where none is known."""
    wanted = math.log10(ratio) if ratio else -12.0
    return int(np.argmin([abs(math.log10(one) - wanted) for one in ERROR_RATIOS]))


def opening_ui(bath_ui: Floats, bathtub: Floats, log_ratio: float) -> tuple[float, float] | None:
    """Where a bathtub (log10 of BER) is below a level around its deepest place; None where it never is.

    Times in UI and ratios have shape (n,) each.
    """
    deepest = int(np.argmin(bathtub))
    if bathtub[deepest] >= log_ratio:
        return None
    above = bathtub >= log_ratio
    before, behind = np.flatnonzero(above[:deepest]), np.flatnonzero(above[deepest:])
    left = _crossing(bath_ui, bathtub, int(before[-1]), log_ratio) if before.size else float(bath_ui[0])
    right = _crossing(bath_ui, bathtub, deepest + int(behind[0]) - 1, log_ratio) if behind.size else float(bath_ui[-1])
    return left, right


def _crossing(x: Floats, y: Floats, at: int, level: float) -> float:
    """Where the line from point `at` to the next crosses a level."""
    share = (level - y[at]) / (y[at + 1] - y[at])
    return float(x[at] + share * (x[at + 1] - x[at]))


def lens(x: Floats, half: Floats) -> tuple[Floats, Floats]:
    """The outline of an opening of half height `half`: closed rings where it is positive, NaN between them.

    Both have shape (n,), the outline as long as its rings take.
    """
    rings_x: list[Floats] = []
    rings_y: list[Floats] = []
    edges = np.flatnonzero(np.diff(np.concatenate(([0], (half > 0.0).astype(int), [0]))))
    for first, behind in zip(edges[0::2], edges[1::2], strict=True):
        inside_x, inside_y = x[first:behind], half[first:behind]
        left = [_crossing(x, half, int(first) - 1, 0.0)] if first else []
        right = [_crossing(x, half, int(behind) - 1, 0.0)] if behind < x.size else []
        ring_x = np.concatenate((left, inside_x, right, inside_x[::-1]))
        ring_y = np.concatenate(([0.0] * len(left), inside_y, [0.0] * len(right), -inside_y[::-1]))
        rings_x += [ring_x, ring_x[:1], np.array([np.nan])]
        rings_y += [ring_y, ring_y[:1], np.array([np.nan])]
    if not rings_x:
        return np.empty(0), np.empty(0)
    return np.concatenate(rings_x[:-1]), np.concatenate(rings_y[:-1])


def runs(x: Floats, y: Floats, connect: str) -> Iterator[tuple[Floats, Floats]]:
    """The stretches of points (shape (n,)) that a curve joins, by its way to connect: "all", "pairs" or "finite"."""
    if connect == "pairs":
        yield from ((x[at : at + 2], y[at : at + 2]) for at in range(0, x.size - 1, 2))
        return
    whole = np.isfinite(x) & np.isfinite(y)
    edges = np.flatnonzero(np.diff(np.concatenate(([0], whole.astype(int), [0]))))
    for first, behind in zip(edges[0::2], edges[1::2], strict=True):
        if behind - first > 1:
            yield x[first:behind], y[first:behind]


def cut(x: Floats, y: Floats, edges: tuple[float, float, float, float]) -> list[tuple[Floats, Floats]]:
    """The parts of a line of points that lie within edges (left, right, low, high).

    Each straight piece is cut as Y.-D. Liang and B. A. Barsky do, "A new concept and method for line clipping", ACM
    Transactions on Graphics 3(1), 1984; pieces that meet uncut are joined again.
    """
    left, right, low, high = edges
    dx, dy = np.diff(x), np.diff(y)
    enter, leave = np.zeros(dx.size), np.ones(dx.size)
    for step, room in ((-dx, x[:-1] - left), (dx, right - x[:-1]), (-dy, y[:-1] - low), (dy, high - y[:-1])):
        along = np.divide(room, step, out=np.zeros_like(room), where=np.abs(step) > _LEAST_STEP)
        enter = np.where(step < -_LEAST_STEP, np.maximum(enter, along), enter)
        leave = np.where(step > _LEAST_STEP, np.minimum(leave, along), leave)
        leave = np.where((np.abs(step) <= _LEAST_STEP) & (room < 0.0), -1.0, leave)
    parts: list[tuple[list[float], list[float]]] = []
    joined, last = False, -2
    for at in np.flatnonzero(enter <= leave).tolist():
        if not (joined and enter[at] == 0.0 and last == at - 1):
            parts.append(([x[at] + enter[at] * dx[at]], [y[at] + enter[at] * dy[at]]))
        parts[-1][0].append(x[at] + leave[at] * dx[at])
        parts[-1][1].append(y[at] + leave[at] * dy[at])
        joined, last = bool(leave[at] == 1.0), at
    return [(np.array(part_x), np.array(part_y)) for part_x, part_y in parts]


def time_pieces(time_ui: float, ui_s: float, theme: Theme) -> list[ReadoutPiece]:
    """A place in time, in UI and in seconds."""
    return [
        ReadoutPiece(f"{number(time_ui, 3)} UI", theme.quiet, spare=True, figure="time_ui"),
        ReadoutPiece(show(time_ui * ui_s, "s", digits=3), theme.quiet, spare=True, figure="time_s"),
    ]


def value_pieces(values: Iterable[tuple[int, str]], unit: str, theme: Theme, figure: str) -> list[ReadoutPiece]:
    """Figures of several traces in their inks, each named `figure`, and the unit once."""
    figures: Sequence[ReadoutPiece] = [
        ReadoutPiece(text, theme.traces[slot], figure=figure, slot=slot) for slot, text in values
    ]
    return [*figures, ReadoutPiece(unit, theme.quiet)] if figures and unit else list(figures)


def millivolts(value_v: float) -> str:
    """A voltage in mV to three significant digits."""
    shown = 1e3 * value_v
    return number(shown, 0 if abs(shown) >= 100 else 1 if abs(shown) >= 10 else 2)
