"""A pane as an SVG document: every item of its chart as a shape of its own, cut off at the plot's edges.

The toolkit's own SVG paint engine does not cut off what lies outside the plot; here the shapes are cut as numbers, so
that every program that shows SVG, also one without clip paths, shows the pane as it is.
"""

import base64
from collections.abc import Iterator
from html import escape
from typing import Any

import numpy as np
from PySide6.QtCore import QBuffer, QByteArray, QIODevice, QRectF, Qt
from PySide6.QtGui import QColor, QFontInfo, QFontMetricsF, QImage, QImageWriter, QPen, qRgba

from workbench.arrays import Bytes, Floats
from workbench.desk.panes.figures import cut, runs
from workbench.desk.panes.kinds.density import density_table
from workbench.desk.panes.pane import Pane
from workbench.desk.panes.plot.axes import FONT_POINTS, TICK_PX, Plane, QuantityAxis
from workbench.desk.panes.plot.marks import Band, Curve, Dots, Mark, Straight, Tinted, Words
from workbench.desk.widgets.theme import GRID_PX, figures_font

HEAD_PX = 6 * GRID_PX
_LINE_PX = 4 * GRID_PX
_SWATCH_PX = 14.0
_TITLE_POINTS, _NAME_POINTS = 9.0, 8.5
_FINER = (4, 2)
"""So many places across and up are drawn for each of the density's: a print shows more than a screen."""
_BASELINE = 0.78
"""Where letters stand in a line of text, as a share of its height."""


def svg_text(pane: Pane) -> str:
    """The document, with a title, the traces' names, axes and all that the chart shows."""
    theme, (head_px, names) = pane.theme, _head(pane)
    width, height = pane.width(), pane.height() - HEAD_PX + head_px
    family = QFontInfo(figures_font(FONT_POINTS)).family()
    shapes = [*names, *_Plot(pane, head_px).shapes()]
    body = "\n".join(shapes)
    title = escape(f"{pane.title}: {', '.join(one.trace.label for _, one in pane.shown)}", quote=False)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" version="1.1"'
        f' width="{width}" height="{height}" viewBox="0 0 {width} {height}"'
        f' font-family="{escape(family)}, sans-serif">\n<title>{title}</title>\n'
        f'<rect width="{width}" height="{height}" fill="{theme.sheet}"/>\n{body}\n</svg>\n'
    )


class _Plot:
    """The chart of a pane: from places on its axes to pixels, item by item."""

    def __init__(self, pane: Pane, head_px: int) -> None:
        self._pane, self._chart = pane, pane.chart
        self._plot = pane.chart.plot.translated(0.0, head_px)
        (self._x0, self._x1), (self._y0, self._y1) = pane.chart.ranges()
        self._plane = Plane(self._plot, *pane.chart.ranges())

    def shapes(self) -> Iterator[str]:
        """Every visible item, from back to front, then the axes."""
        for mark in self._chart.drawn:
            shapes = "\n".join(self._mark(mark)) if mark.visible else ""
            if shapes:
                yield f'<g opacity="{mark.opacity:g}">\n{shapes}\n</g>'
        yield from self._axis(self._chart.left)
        yield from self._axis(self._chart.bottom)

    def _mark(self, mark: Mark) -> Iterator[str]:
        match mark:
            case Curve():
                yield from self._curve(mark)
            case Straight():
                yield from self._line(mark)
            case Tinted():
                yield from self._image(mark)
            case Dots():
                yield from self._dots(mark)
            case Words():
                yield from self._words(mark)
            case Band():
                yield from self._area(mark)

    def _curve(self, mark: Curve) -> Iterator[str]:
        if not mark.x.size:
            return
        for run_x, run_y in runs(self._plane.px(mark.x), self._plane.py(mark.y), mark.connect):
            for part in cut(run_x, run_y, self._edges):
                yield _polyline(part, mark.pen)

    def _line(self, mark: Straight) -> Iterator[str]:
        upright, value = mark.upright, np.array([mark.value] * 2)
        left, right, top, bottom = self._edges
        x = self._plane.px(value) if upright else np.array([left, right])
        y = np.array([top, bottom]) if upright else self._plane.py(value)
        for part in cut(x, y, self._edges):
            yield _polyline(part, mark.pen)

    def _image(self, mark: Tinted) -> Iterator[str]:
        area = mark.area
        columns, rows = mark.places.shape
        seen = QRectF(self._x0, self._y0, self._x1 - self._x0, self._y1 - self._y0).intersected(area)
        wide, high = area.width() / columns, area.height() / rows
        first, last = _whole(seen.left() - area.left(), seen.right() - area.left(), wide, columns)
        low, top = _whole(seen.top() - area.top(), seen.bottom() - area.top(), high, rows)
        fine = _finer(_finer(mark.places[first:last, low:top], _FINER[0]).T, _FINER[1]).T
        picture = _png_text(fine.T[::-1], density_table(self._pane.theme))
        x = self._plane.px(area.left() + wide * np.array([first, last]))
        y = self._plane.py(area.top() + high * np.array([low, top]))
        # Whole places of the density may reach a little over the plot's edge: half a place at most is moved inside.
        left, right, upper, lower = self._edges
        x, y = np.clip(x, left, right), np.clip(y, upper, lower)
        yield (
            f'<image x="{x[0]:.2f}" y="{y[1]:.2f}" width="{x[1] - x[0]:.2f}" height="{y[0] - y[1]:.2f}"'
            f' preserveAspectRatio="none" xlink:href="data:image/png;base64,{picture}"/>'
        )

    def _dots(self, mark: Dots) -> Iterator[str]:
        left, right, top, bottom = self._edges
        ink, edge = mark.fill.name(), mark.pen.color().name()
        for x, y, size in zip(self._plane.px(mark.x), self._plane.py(mark.y), mark.size_px, strict=True):
            if left <= x <= right and top <= y <= bottom:
                yield f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{size / 2.0:g}" fill="{ink}" stroke="{edge}"/>'

    def _words(self, mark: Words) -> Iterator[str]:
        place, box = self._plane.place(*mark.place), mark.box(self._plane)
        x, y, left, top = place.x(), place.y(), box.left(), box.top()
        plot_left, plot_right, plot_top, plot_bottom = self._edges
        if not (plot_left - 1.0 <= x <= plot_right + 1.0 and plot_top - 1.0 <= y <= plot_bottom + 1.0):
            return
        behind = mark.ground
        yield (
            f'<rect x="{left:.2f}" y="{top:.2f}" width="{box.width():.2f}" height="{box.height():.2f}"'
            f' fill="{behind.name()}" fill-opacity="{behind.alphaF():.2f}"/>'
        )
        yield _text(left + 1.0, top + _BASELINE * box.height(), mark.text, mark.ink)

    def _area(self, mark: Band) -> Iterator[str]:
        rect = mark.area
        left, right, top, bottom = self._edges
        x = np.clip(self._plane.px(np.array([rect.left(), rect.right()])), left, right)
        y = np.clip(self._plane.py(np.array([rect.bottom(), rect.top()])), top, bottom)
        fill = mark.fill
        yield (
            f'<rect x="{x[0]:.2f}" y="{y[0]:.2f}" width="{x[1] - x[0]:.2f}" height="{y[1] - y[0]:.2f}"'
            f' fill="{fill.name()}" fill-opacity="{fill.alphaF():.3f}"/>'
        )

    def _axis(self, axis: QuantityAxis) -> Iterator[str]:
        left, right, top, bottom = self._edges
        upright = axis is self._chart.left
        low, high = (self._y0, self._y1) if upright else (self._x0, self._x1)
        values = axis.ticks(low, high, bottom - top if upright else right - left)
        pen, ink, line = axis.pen, axis.ink, _line_px(FONT_POINTS)
        ends = (left, left if upright else right), (bottom, top if upright else bottom)
        yield _polyline((np.array(ends[0]), np.array(ends[1])), pen)
        for value, label in zip(values, axis.words(values), strict=True):
            if upright:
                y = float(self._plane.py(np.array([value]))[0])
                yield _polyline((np.array([left - TICK_PX, left]), np.array([y, y])), pen)
                yield _text(left - 2.0 * TICK_PX, y + 0.3 * line, label, ink, anchor="end")
            else:
                x = float(self._plane.px(np.array([value]))[0])
                yield _polyline((np.array([x, x]), np.array([bottom, bottom + TICK_PX])), pen)
                yield _text(x, bottom + 2.0 * TICK_PX + 0.7 * line, label, ink, anchor="middle")

    @property
    def _edges(self) -> tuple[float, float, float, float]:
        return self._plot.left(), self._plot.right(), self._plot.top(), self._plot.bottom()


def picture_height(pane: Pane) -> int:
    """How high the drawing is, px: as the pane, and higher where the traces' names take more than its one line."""
    return pane.height() - HEAD_PX + _head(pane)[0]


def _head(pane: Pane) -> tuple[int, list[str]]:
    """The title and the traces' names in their colours, on as many lines as the names need; the lines' height, px."""
    base, line = 0.5 * HEAD_PX + 0.35 * _line_px(_TITLE_POINTS), 0
    bold = figures_font(_TITLE_POINTS)
    bold.setBold(True)
    found = [_text(2.0 * GRID_PX, base, pane.title, QColor(pane.theme.ink), points=_TITLE_POINTS, bold=True)]
    x = first = 6.0 * GRID_PX + QFontMetricsF(bold, pane).horizontalAdvance(pane.title)
    names = QFontMetricsF(figures_font(_NAME_POINTS), pane)
    for number, one in pane.shown:
        label, room = one.trace.label, pane.width() - _SWATCH_PX - 3.0 * GRID_PX
        if x > first and x + names.horizontalAdvance(label) > room:
            x, line = first, line + 1
        label = names.elidedText(label, Qt.TextElideMode.ElideMiddle, room - x)
        y = base + line * _LINE_PX
        ink = pane.theme.traces[number]
        swatch_y = HEAD_PX / 2.0 - 1.0 + line * _LINE_PX
        found.append(f'<rect x="{x:.2f}" y="{swatch_y:g}" width="{_SWATCH_PX:g}" height="2" fill="{ink}"/>')
        if len(pane.shown) > 1:
            found.append(_text(x + _SWATCH_PX / 2.0, swatch_y - 2.0, f"{number + 1}", QColor(ink), anchor="middle"))
        x += _SWATCH_PX + GRID_PX
        found.append(_text(x, y, label, QColor(pane.theme.quiet), points=_NAME_POINTS))
        x += names.horizontalAdvance(label) + 2.0 * GRID_PX
    return HEAD_PX + line * _LINE_PX, found


def _finer(image: Any, times: int) -> Any:  # noqa: ANN401 - an image of whole numbers
    """An image (levels, shape (n, m)) with so many rows for each, read straight between their middles."""
    count = image.shape[0]
    if count < 2:
        return image
    at = np.clip((np.arange(count * times) + 0.5) / times - 0.5, 0.0, count - 1.0)
    before = np.minimum(at.astype(int), count - 2)
    share = (at - before)[:, None]
    return np.rint(image[before] * (1.0 - share) + image[before + 1] * share).astype(image.dtype)


def _whole(low: float, high: float, step: float, count: int) -> tuple[int, int]:
    """The nearest whole places around a stretch, at least one."""
    first = min(max(int(np.floor(low / step + 0.5)), 0), count - 1)
    return first, min(max(int(np.ceil(high / step - 0.5)), first + 1), count)


def _line_px(points: float) -> float:
    """A font's size in the screen's pixels."""
    return float(QFontInfo(figures_font(points)).pixelSize())


def _text(
    x: float, y: float, words: str, ink: QColor, *, points: float = FONT_POINTS, anchor: str = "start",
    bold: bool = False,
) -> str:  # fmt: skip
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{_line_px(points):.2f}" text-anchor="{anchor}"{weight}'
        f' fill="{ink.name()}">{escape(words, quote=False)}</text>'
    )


def _polyline(points: tuple[Floats, Floats], pen: QPen) -> str:
    ink, dashes = pen.color(), ""
    if pen.style() is not Qt.PenStyle.SolidLine:
        dashes = f' stroke-dasharray="{" ".join(f"{part * pen.widthF():g}" for part in pen.dashPattern())}"'
    places = " ".join(f"{x:.2f},{y:.2f}" for x, y in zip(*points, strict=True))
    return (
        f'<polyline fill="none" stroke="{ink.name()}" stroke-opacity="{ink.alphaF():.2f}"'
        f' stroke-width="{pen.widthF():g}"{dashes} points="{places}"/>'
    )


def _png_text(places: Bytes, table: Bytes) -> str:
    """A picture of places in a table of colours, (rows, columns), with that table: a quarter of what colours take."""
    rows = np.ascontiguousarray(places)
    image = QImage(rows.data, rows.shape[1], rows.shape[0], rows.shape[1], QImage.Format.Format_Indexed8)
    image.setColorTable([qRgba(*colour) for colour in table.tolist()])
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    QImageWriter(buffer, QByteArray(b"png")).write(image)
    return base64.b64encode(buffer.data().data()).decode()
