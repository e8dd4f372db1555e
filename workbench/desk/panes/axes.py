"""Axes of the panes: ticks as close as their numbers can be read at ease, thin lines, the unit in place of a number.

The unit stands in place of the last number but one: the drawing rule of DIN 461 (from memory); it takes no room from a
small pane.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Literal, NamedTuple

import pyqtgraph as pg  # type: ignore[import-untyped]
from PySide6.QtGui import QColor, QFontMetricsF, QPen

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
FONT_POINTS = 8.0
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


class QuantityAxis(pg.AxisItem):  # type: ignore[misc]
    """One axis of a pane."""

    def __init__(self, side: Literal["left", "bottom"], scale: Scale) -> None:
        super().__init__(side, maxTickLength=3, showValues=True)
        self._side, self._count_scale = side, scale
        self.setStyle(
            tickTextOffset=2, autoExpandTextSpace=False, autoReduceTextSpace=False, hideOverlappingLabels=False,
            tickAlpha=255,
        )  # fmt: skip
        self._take_letters()
        self.enableAutoSIPrefix(False)

    def _take_letters(self) -> None:
        font = figures_font(FONT_POINTS)
        self._metrics = QFontMetricsF(font)
        self.setStyle(tickFont=font)
        larger = max(letters_share(), 1.0)
        if self._side == "left":
            self.setWidth(round(LEFT_PX * larger))
        else:
            self.setHeight(round(BOTTOM_PX * larger))

    def set_scale(self, scale: Scale) -> None:
        """Count otherwise."""
        self._count_scale = scale
        self.picture = None
        self.update()

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours, and letters as large as they are now."""
        self._take_letters()
        pen = QPen(QColor(theme.line))
        pen.setCosmetic(True)
        self.setPen(pen)
        self.setTickPen(pen)
        self.setTextPen(QColor(theme.quiet))

    def tickValues(self, low: float, high: float, size: float) -> list[tuple[float, list[float]]]:  # noqa: N802
        """One level of ticks, as the toolkit asks for them: the closest that can be read, but no more than it takes."""
        spacing = min(size / _AT_EASE, _WIDEST_PX)
        counts = [int(size / (share * spacing)) for share in (0.6, 0.8, 1.0, 1.3, 1.7, 2.2, 3.0)]
        ticks: list[float] = []
        for count in counts:
            fewer = self._count_scale.ticks(low, high, max(count, _FEWEST))
            if ticks and len(fewer) < _FEWEST:
                break
            ticks = fewer
            if count <= _FEWEST or self._fits(ticks, (high - low) / max(size, 1.0)):
                break
        return [(1.0, ticks)]

    def _fits(self, ticks: list[float], per_px: float) -> bool:
        """Whether the numbers at some ticks keep their distance."""
        labels = self._count_scale.labels(ticks)
        sizes = [self._metrics.height() if self._side == "left" else self._metrics.horizontalAdvance(one)
                 for one in labels]  # fmt: skip
        gaps = [(b - a) / per_px for a, b in pairwise(ticks)]
        needs = [(one + other) / 2.0 + _GAP_PX[self._side] for one, other in pairwise(sizes)]
        return all(gap >= need for gap, need in zip(gaps, needs, strict=True))

    def tickStrings(self, values: list[float], _scale: float, _spacing: float) -> list[str]:  # noqa: N802
        """What stands at the ticks, the unit among it."""
        return with_unit(self._count_scale.labels(values), self._count_scale.unit, _ROOM[self._side])
