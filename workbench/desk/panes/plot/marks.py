"""What is drawn in a chart: curves, straight lines, dots, bands, a picture, words; each in the axes' units.

A mark knows what it shows and how it looks; the chart gives it the plane (which part is shown where) and the painter.
Nothing here is a widget or an object of the toolkit's, since making hundreds of those is what a window waits for.
"""

from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import Any, Literal

import numpy as np
import shiboken6
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QImage, QPainter, QPen, QPolygonF

from workbench.arrays import Bytes, Floats
from workbench.desk.panes.figures import runs
from workbench.desk.panes.plot.axes import FONT_POINTS, Plane
from workbench.desk.widgets.theme import figures_font

Connect = Literal["all", "finite", "pairs"]
_FAR_PX = 1e6
"""Places further off are drawn here: the toolkit counts pixels in numbers that end."""
_EMPTY: Floats = np.empty(0)
_MARGIN_PX = 1.0
"""Room around words."""


class Mark(ABC):
    """Something drawn.

    Attributes:
        z: what has more of it is drawn later.
        visible, opacity: whether it is drawn, and how strongly (0 to 1).
        changed: told after every change, by the chart that shows it.
    """

    def __init__(self) -> None:
        self.z = 0.0
        self.visible, self.opacity = True, 1.0
        self.changed: Callable[[Mark], None] | None = None

    def set_visible(self, visible: bool) -> None:
        """Show it, or not."""
        if visible != self.visible:
            self.visible = visible
            self._tell()

    def show(self) -> None:
        """Show it from now on."""
        self.set_visible(True)

    def hide(self) -> None:
        """Show it no more."""
        self.set_visible(False)

    def set_opacity(self, opacity: float) -> None:
        """Draw it more or less strongly."""
        if opacity != self.opacity:
            self.opacity = opacity
            self._tell()

    @abstractmethod
    def paint(self, painter: QPainter, plane: Plane) -> None:
        """Draw it on a plane."""

    def _tell(self) -> None:
        if self.changed is not None:
            self.changed(self)


class Inked(Mark):
    """A mark that is drawn with a pen.

    Attributes:
        pen: which.
    """

    def __init__(self) -> None:
        super().__init__()
        self.pen = QPen()
        self.pen.setCosmetic(True)

    def set_pen(self, pen: QPen) -> None:
        """Draw it with another pen."""
        if pen != self.pen:
            self.pen = pen
            self._tell()


class Curve(Inked):
    """Points, joined.

    Attributes:
        x, y: the points, shape (n,) each.
        connect: each with the next ("all"), where both are finite ("finite"), or the first two, the next two ("pairs").
    """

    def __init__(self, *, smooth: bool = True) -> None:
        super().__init__()
        self.x, self.y = _EMPTY, _EMPTY
        self.connect: Connect = "all"
        self._smooth = smooth
        self._drawn: tuple[Plane, list[QPolygonF], list[QLineF]] | None = None

    @property
    def points(self) -> tuple[Floats, Floats]:
        """Where they are along x and y, shape (n,) each."""
        return self.x, self.y

    def set_data(self, x: Floats, y: Floats, connect: Connect = "all") -> None:
        """Show other points, shape (n,) each."""
        if connect == self.connect and _same(x, self.x) and _same(y, self.y):
            return
        self.x, self.y, self.connect, self._drawn = np.asarray(x, float), np.asarray(y, float), connect, None
        self._tell()

    def paint(self, painter: QPainter, plane: Plane) -> None:
        """Draw it on a plane."""
        if not self.x.size:
            return
        if self._drawn is None or self._drawn[0] != plane:
            self._drawn = (plane, *self._placed(plane))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, self._smooth)
        painter.setPen(self.pen)
        for polygon in self._drawn[1]:
            painter.drawPolyline(polygon)
        if self._drawn[2]:
            painter.drawLines(self._drawn[2])

    def _placed(self, plane: Plane) -> tuple[list[QPolygonF], list[QLineF]]:
        x, y = plane.px(self.x), plane.py(self.y)
        if self.connect == "pairs":
            ends = _near(np.stack([x, y], axis=1)[: x.size // 2 * 2]).reshape(-1, 4)
            return [], [QLineF(*one) for one in ends.tolist()]
        return [_polygon(_near(run_x), _near(run_y)) for run_x, run_y in runs(x, y, self.connect)], []


class Straight(Inked):
    """A line right across the plot, upright or level, at one value.

    Attributes:
        upright: whether it stands at an x.
        value: where.
    """

    def __init__(self, *, upright: bool, value: float = 0.0) -> None:
        super().__init__()
        self.upright, self.value = upright, value

    def set_value(self, value: float) -> None:
        """Put it elsewhere."""
        if value != self.value:
            self.value = value
            self._tell()

    def paint(self, painter: QPainter, plane: Plane) -> None:
        """Draw it on a plane."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setPen(self.pen)
        plot, at = plane.plot, plane.place(self.value, self.value)
        if self.upright and plot.left() <= at.x() <= plot.right():
            painter.drawLine(QLineF(at.x(), plot.bottom(), at.x(), plot.top()))
        elif not self.upright and plot.top() <= at.y() <= plot.bottom():
            painter.drawLine(QLineF(plot.left(), at.y(), plot.right(), at.y()))


class Dots(Inked):
    """Round dots with an edge of the pen.

    Attributes:
        x, y: where, shape (n,) each.
        size_px: how large each is, shape (n,).
        fill: what they are filled with.
    """

    def __init__(self) -> None:
        super().__init__()
        self.x, self.y, self.size_px = _EMPTY, _EMPTY, _EMPTY
        self.fill = QColor()

    def set_data(self, x: Floats, y: Floats, size_px: Floats) -> None:
        """Show other dots, shape (n,) each."""
        self.x, self.y, self.size_px = x, y, size_px
        self._tell()

    def set_fill(self, fill: QColor) -> None:
        """Fill them otherwise."""
        self.fill = fill
        self._tell()

    def paint(self, painter: QPainter, plane: Plane) -> None:
        """Draw those that stand in the plane."""
        x, y = plane.px(self.x), plane.py(self.y)
        seen = (x >= plane.plot.left()) & (x <= plane.plot.right()) & (np.abs(y) < _FAR_PX)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(self.pen)
        painter.setBrush(self.fill)
        for place in zip(x[seen].tolist(), y[seen].tolist(), self.size_px[seen].tolist(), strict=True):
            painter.drawEllipse(QPointF(*place[:2]), place[2] / 2.0, place[2] / 2.0)


class Band(Mark):
    """A rectangle of the plane, filled.

    Attributes:
        area: where, in the axes' units.
        fill: what with.
    """

    def __init__(self) -> None:
        super().__init__()
        self.area, self.fill = QRectF(), QColor()

    def set_area(self, area: QRectF) -> None:
        """Put it elsewhere."""
        if area != self.area:
            self.area = area
            self._tell()

    def set_fill(self, fill: QColor) -> None:
        """Fill it otherwise."""
        self.fill = fill
        self._tell()

    def paint(self, painter: QPainter, plane: Plane) -> None:
        """Fill it on a plane."""
        area = self.area
        painter.fillRect(plane.area(area.left(), area.right(), area.top(), area.bottom()), self.fill)


class Tinted(Mark):
    """Places in a table of colours, stretched smoothly over a rectangle of the plane.

    Attributes:
        places: shape (columns, rows), rows from below.
        area: where, in the axes' units.
    """

    def __init__(self) -> None:
        super().__init__()
        self.visible = False
        self.places: Bytes = np.zeros((1, 1), np.uint8)
        self.area = QRectF()
        self._inks = np.zeros(256, np.uint32)
        self._image: QImage | None = None

    def set_places(self, places: Bytes, area: QRectF) -> None:
        """Show another picture, shape (columns, rows), over an area in the axes' units."""
        self.places, self.area, self._image = places, area, None
        self._tell()

    def set_table(self, table: Bytes) -> None:
        """Take other colours, shape (256, 4): red, green, blue, alpha."""
        red, green, blue, alpha = table.astype(np.uint32).T
        self._inks, self._image = alpha << 24 | red << 16 | green << 8 | blue, None
        self._tell()

    def paint(self, painter: QPainter, plane: Plane) -> None:
        """Draw it on a plane."""
        if self._image is None:
            colours = np.ascontiguousarray(self._inks[self.places.T[::-1]])
            rows, columns = colours.shape
            image = QImage(colours.data, columns, rows, 4 * columns, QImage.Format.Format_RGB32)
            self._image = image.copy()  # the colours' own memory goes when this ends
        area = self.area
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.drawImage(plane.area(area.left(), area.right(), area.top(), area.bottom()), self._image)


class Words(Mark):
    """A few words with a ground of their own.

    Attributes:
        text: what they say, on one line or several.
        anchor: which point of them stands at their place, as shares of width and height from the upper left.
        place: where that is, in the axes' units.
        ink, ground: their colour, and that behind them.
    """

    def __init__(self, anchor: tuple[float, float]) -> None:
        super().__init__()
        self.text, self.anchor, self.place = "", anchor, (0.0, 0.0)
        self.ink, self.ground = QColor(), QColor()
        self._font, self._size = figures_font(FONT_POINTS), (0.0, 0.0)

    @property
    def font(self) -> QFont:
        """Their letters."""
        return self._font

    @property
    def width(self) -> float:
        """How wide they are, px."""
        return self._measured()[0]

    @property
    def height(self) -> float:
        """How high they are, px."""
        return self._measured()[1]

    def set_text(self, text: str) -> None:
        """Say something else."""
        if text != self.text:
            self.text, self._size = text, (0.0, 0.0)
            self._tell()

    def set_anchor(self, anchor: tuple[float, float]) -> None:
        """Stand otherwise about their place."""
        if anchor != self.anchor:
            self.anchor = anchor
            self._tell()

    def set_place(self, x: float, y: float) -> None:
        """Stand elsewhere."""
        if (x, y) != self.place:
            self.place = x, y
            self._tell()

    def set_colours(self, ink: QColor, ground: QColor) -> None:
        """Take other colours, and letters as large as they are now."""
        font = figures_font(FONT_POINTS)
        if (ink, ground, font) != (self.ink, self.ground, self._font):
            self.ink, self.ground, self._font, self._size = ink, ground, font, (0.0, 0.0)
            self._tell()

    def box(self, plane: Plane) -> QRectF:
        """Where they stand on a plane, px."""
        at, (width, height) = plane.place(*self.place), self._measured()
        return QRectF(at.x() - self.anchor[0] * width, at.y() - self.anchor[1] * height, width, height)

    def paint(self, painter: QPainter, plane: Plane) -> None:
        """Write them on a plane."""
        if not self.text:
            return
        box = self.box(plane)
        painter.fillRect(box, self.ground)
        painter.setFont(self._font)
        painter.setPen(self.ink)
        painter.drawText(box.adjusted(_MARGIN_PX, _MARGIN_PX, 0.0, 0.0), Qt.AlignmentFlag.AlignLeft, self.text)

    def _measured(self) -> tuple[float, float]:
        if self._size == (0.0, 0.0):
            metrics, lines = QFontMetricsF(self._font), self.text.split("\n")
            wide = max(metrics.horizontalAdvance(line) for line in lines)
            self._size = wide + 2.0 * _MARGIN_PX, len(lines) * metrics.lineSpacing() + 2.0 * _MARGIN_PX
        return self._size


def _same(new: Floats, old: Floats) -> bool:
    """Whether two rows of points are alike, with the same gaps."""
    return new is old or np.array_equal(new, old, equal_nan=True)


def _near(px: Floats) -> Floats:
    return np.clip(px, -_FAR_PX, _FAR_PX)


def _polygon(x: Floats, y: Floats) -> QPolygonF:
    """Points (shape (n,) each) as the toolkit has them, written into its own memory."""
    polygon = QPolygonF()
    polygon.resize(x.size)
    own: Any = shiboken6.VoidPtr(polygon.data(), 16 * x.size, True)  # type: ignore[call-arg,arg-type]  # stubs lag
    memory = np.frombuffer(own, float).reshape(-1, 2)
    memory[:, 0], memory[:, 1] = x, y
    return polygon
