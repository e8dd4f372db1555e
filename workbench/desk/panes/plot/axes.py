"""Axes of the panes: ticks as close as their numbers can be read at ease, thin lines, the unit in place of a number.

The unit stands in place of the last number but one: the drawing rule of DIN 461 (from memory); it takes no room from a
small pane.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen

from workbench.arrays import Floats
from workbench.desk.widgets.theme import Theme, figures_font, letters_share

LEFT_PX, BOTTOM_PX = 40, 18
_FEWEST = 3
_AT_EASE = 10.0
"""About how many ticks an axis has where there is room."""
_WIDEST_PX = 90.0
_GAP_PX = {"left": 7.0, "bottom": 14.0}
"""The least room between numbers above and beside each other."""
_ROOM = {"left": 4, "bottom": 5}
"""How many characters a number and the unit may have together."""
_ALIGNED = {
    "left": Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
    "bottom": Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop,
}
FONT_POINTS = 8.0
TICK_PX, _APART_PX = 3.0, 2.0
"""How long a tick is, and how far its number stands from it."""
_MINUS = "−"


class Scale(NamedTuple):
    """How an axis counts: where its ticks stand within a range, and what is written at them."""

    unit: str
    ticks: Callable[[float, float, int], list[float]]
    labels: Callable[[Sequence[float]], list[str]]


def linear_scale(unit: str, factor: float = 1.0) -> Scale:
    """Even steps of 1, 2 or 5; what is written is the value times `factor`."""

    def ticks(low: float, high: float, count: int) -> list[float]:
        return [value / factor for value in even_ticks(low * factor, high * factor, count)]

    def labels(values: Sequence[float]) -> list[str]:
        shown = [value * factor for value in values]
        step = min((b - a for a, b in pairwise(shown)), default=1.0)
        decimals = max(0, -math.floor(math.log10(step) + 1e-9)) if step > 0 else 0
        return [number(value, decimals) for value in shown]

    return Scale(unit, ticks, labels)


def log_scale(unit: str, factor: float = 1.0) -> Scale:
    """Ticks at 1, 2 and 5 of each decade; positions are decimal logarithms of the value."""

    def ticks(low: float, high: float, count: int) -> list[float]:
        shift = math.log10(factor)
        for digits in ((1, 2, 5), (1, 3), (1,)):
            decades = range(math.floor(low + shift), math.ceil(high + shift) + 1)
            places = [decade + math.log10(digit) - shift for decade in decades for digit in digits]
            inside = [place for place in places if low <= place <= high]
            if len(inside) <= max(count, 2):
                return inside
        return inside

    def labels(values: Sequence[float]) -> list[str]:
        return [f"{10.0**value * factor:.3g}" for value in values]

    return Scale(unit, ticks, labels)


def ratio_scale() -> Scale:
    """For decimal logarithms of error ratios: whole multiples of three."""

    def ticks(low: float, high: float, count: int) -> list[float]:
        step = next((step for step in (1, 3, 6, 12) if (high - low) / step <= count), 24)
        return [float(at) for at in range(step * math.ceil(low / step), math.floor(high) + 1, step)]

    def labels(values: Sequence[float]) -> list[str]:
        return [f"1e{value:.0f}" if value else "1" for value in values]

    return Scale("", ticks, labels)


def even_ticks(low: float, high: float, count: int) -> list[float]:
    """At most `count` + 1 multiples of 1, 2 or 5 times a power of ten between two values."""
    if not high > low:
        return [low]
    step = nice((high - low) / max(count, 1))
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [at * step for at in range(first, last + 1)]


def nice(value: float, steps: Sequence[float] = (1.0, 2.0, 5.0, 10.0)) -> float:
    """The least of `steps` times a power of ten that is not below a positive value."""
    power = 10.0 ** math.floor(math.log10(value))
    return power * next((step for step in steps if step * power >= value * (1.0 - 1e-9)), steps[-1])


def number(value: float, decimals: int) -> str:
    """A number with a true minus sign, and none before zero."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0.0:
        return f"{0.0:.{decimals}f}"
    return text.replace("-", _MINUS)


def with_unit(labels: list[str], unit: str, room: int = 5) -> list[str]:
    """The labels with the unit in place of the last but one, or after the last where there are too few.

    Zero keeps its place: there the unit stands one before it. Of three labels the middle one keeps its number where
    both together have no more than `room` characters.
    """
    if not unit or not labels:
        return labels
    if len(labels) < _FEWEST:
        return [*labels[:-1], f"{labels[-1]} {unit}"]
    at = len(labels) - 2
    if len(labels) == _FEWEST and len(labels[at]) + len(unit) <= room:
        return [labels[0], f"{labels[at]} {unit}", labels[-1]]
    if at > 1 and float(labels[at].replace(_MINUS, "-")) == 0.0:
        at -= 1
    return [*labels[:at], unit, *labels[at + 1 :]]


class Plane(NamedTuple):
    """Which part of the axes' plane is shown, and where on the widget.

    Attributes:
        plot: where, px.
        x, y: least and largest, in the axes' units.
    """

    plot: QRectF
    x: tuple[float, float]
    y: tuple[float, float]

    def px(self, x: Floats) -> Floats:
        """Places along x in pixels; same shape."""
        share = (x - self.x[0]) / (self.x[1] - self.x[0])
        return np.asarray(self.plot.left() + share * self.plot.width())

    def py(self, y: Floats) -> Floats:
        """Levels in pixels from above; same shape."""
        share = (y - self.y[0]) / (self.y[1] - self.y[0])
        return np.asarray(self.plot.bottom() - share * self.plot.height())

    def place(self, x: float, y: float) -> QPointF:
        """A point of the plane in pixels."""
        plot, (left, right), (bottom, top) = self.plot, self.x, self.y
        across, up = (x - left) / (right - left), (y - bottom) / (top - bottom)
        return QPointF(plot.left() + across * plot.width(), plot.bottom() - up * plot.height())

    def area(self, left: float, right: float, bottom: float, top: float) -> QRectF:
        """A rectangle of the plane in pixels, the right way up."""
        return QRectF(self.place(left, top), self.place(right, bottom)).normalized()


class QuantityAxis:
    """One axis of a pane.

    Attributes:
        upright: whether it stands at the plot's left edge; else it lies under it.
        font: the letters of its numbers.
        pen, ink: of its lines, and of its numbers.
        room_px: how much it takes beside the plot.
    """

    def __init__(self, side: Literal["left", "bottom"], scale: Scale) -> None:
        self.upright, self._side, self._scale = side == "left", side, scale
        self.pen, self.ink = QPen(), QColor()
        self._told: tuple[tuple[float, float, float], list[float], list[str]] | None = None
        self._take_letters()

    def _take_letters(self) -> None:
        self.font = figures_font(FONT_POINTS)
        self._metrics = QFontMetricsF(self.font)
        larger = max(letters_share(), 1.0)
        self.room_px = round((LEFT_PX if self.upright else BOTTOM_PX) * larger)
        self._told = None

    def set_scale(self, scale: Scale) -> None:
        """Count otherwise."""
        self._scale, self._told = scale, None

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours, and letters as large as they are now."""
        self._take_letters()
        self.pen = QPen(QColor(theme.line))
        self.pen.setCosmetic(True)
        self.ink = QColor(theme.quiet)

    def ticks(self, low: float, high: float, size_px: float) -> list[float]:
        """Where ticks stand between two values, `size_px` apart: the closest that can be read with ease."""
        spacing = min(size_px / _AT_EASE, _WIDEST_PX)
        counts = [int(size_px / (share * spacing)) for share in (0.6, 0.8, 1.0, 1.3, 1.7, 2.2, 3.0)]
        ticks: list[float] = []
        for count in counts:
            fewer = self._scale.ticks(low, high, max(count, _FEWEST))
            if ticks and len(fewer) < _FEWEST:
                break
            ticks = fewer
            if count <= _FEWEST or self._fits(ticks, (high - low) / max(size_px, 1.0)):
                break
        return ticks

    def _fits(self, ticks: list[float], per_px: float) -> bool:
        """Whether the numbers at some ticks keep their distance."""
        labels = self._scale.labels(ticks)
        sizes = [self._metrics.height() if self.upright else self._metrics.horizontalAdvance(one) for one in labels]
        gaps = [(b - a) / per_px for a, b in pairwise(ticks)]
        needs = [(one + other) / 2.0 + _GAP_PX[self._side] for one, other in pairwise(sizes)]
        return all(gap >= need for gap, need in zip(gaps, needs, strict=True))

    def words(self, ticks: Sequence[float]) -> list[str]:
        """What stands at the ticks, the unit among it."""
        return with_unit(self._scale.labels(ticks), self._scale.unit, _ROOM[self._side])

    def paint(self, painter: QPainter, plane: Plane) -> None:
        """Draw line, ticks and numbers along a plane's edge."""
        plot = plane.plot
        low, high = plane.y if self.upright else plane.x
        ticks, numbers = self._numbered(low, high, plot.height() if self.upright else plot.width())
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setFont(self.font)
        painter.setPen(self.pen)
        painter.drawLine(QLineF(plot.bottomLeft(), plot.topLeft() if self.upright else plot.bottomRight()))
        places = [plane.place(plane.x[0], one) if self.upright else plane.place(one, plane.y[0]) for one in ticks]
        step = QPointF(-TICK_PX, 0.0) if self.upright else QPointF(0.0, TICK_PX)
        painter.drawLines([QLineF(place, place + step) for place in places])
        painter.setPen(self.ink)
        for place, words in zip(places, numbers, strict=True):
            painter.drawText(self._word_box(place), _ALIGNED[self._side], words)

    def _numbered(self, low: float, high: float, size_px: float) -> tuple[list[float], list[str]]:
        """Ticks and what stands at them: found once for a range, since curves move far oftener than that."""
        asked = low, high, size_px
        if self._told is None or self._told[0] != asked:
            ticks = self.ticks(low, high, size_px)
            self._told = asked, ticks, self.words(ticks)
        return self._told[1], self._told[2]

    def _word_box(self, place: QPointF) -> QRectF:
        """Where the number at a tick is written."""
        if self.upright:
            wide, high = self.room_px - TICK_PX - _APART_PX, self._metrics.height()
            return QRectF(place.x() - self.room_px, place.y() - high / 2.0, wide, high)
        return QRectF(place.x() - _WIDEST_PX, place.y() + TICK_PX, 2.0 * _WIDEST_PX, self.room_px - TICK_PX)
