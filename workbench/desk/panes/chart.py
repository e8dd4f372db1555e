"""A plot of one pane: two thin axes around curves, and the pointer's gestures as signals.

It is a toolkit view box with two axes and nothing else: no menus, buttons or ranging of its own.
"""

import math

import numpy as np
import pyqtgraph as pg  # type: ignore[import-untyped]
from PySide6.QtCore import QEvent, QPointF, QRect, Qt, Signal
from PySide6.QtGui import QColor, QMouseEvent, QPen, QWheelEvent
from PySide6.QtWidgets import QApplication, QGraphicsGridLayout, QGraphicsItem, QRubberBand, QWidget

from workbench.arrays import Floats
from workbench.desk.panes.axes import FONT_POINTS, QuantityAxis, Scale
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font

_WHEEL_NOTCH = 120.0
_ZOOM_PER_NOTCH = 0.8
MARKS_Z, CURVES_Z, WORDS_Z, CURSOR_Z = -5.0, 0.0, 10.0, 20.0
_BEHIND_WORDS = 210


class Chart(pg.GraphicsView):  # type: ignore[misc]
    """Curves over one x and one y axis.

    Attributes:
        box, left, bottom: the plot and its axes.
        drawn: every item that was put into the plot.

    Signals:
        zoomed: the wheel was turned: (x at the pointer, factor on the range, True for the y axis).
        panned: dragged by (x, y), in the axes' units.
        pointed: the pointer is at x, or (None) left.
        picked: clicked at x.
        marked: clicked at x with Shift.
        boxed: a rectangle was drawn with Ctrl: (left, right, bottom, top), in the axes' units.
        fit_wanted: double click.
    """

    zoomed = Signal(float, float, bool)
    panned = Signal(float, float)
    pointed = Signal(object)
    picked = Signal(float)
    marked = Signal(float)
    boxed = Signal(float, float, float, float)
    fit_wanted = Signal()

    def __init__(self, x_scale: Scale, y_scale: Scale, parent: QWidget | None = None) -> None:
        super().__init__(parent, background=None)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.viewport().setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setFrameShape(self.Shape.NoFrame)
        # Its own ground fills it: what stands behind need not be painted first.
        self.viewport().setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.box = pg.ViewBox(enableMouse=False, enableMenu=False, defaultPadding=0.0)
        self.box.disableAutoRange()
        self.left, self.bottom = QuantityAxis("left", y_scale), QuantityAxis("bottom", x_scale)
        self.left.linkToView(self.box)
        self.bottom.linkToView(self.box)
        self.drawn: list[QGraphicsItem] = []
        self._frame = pg.GraphicsWidget()
        grid = QGraphicsGridLayout()
        grid.setContentsMargins(0, 2 * GRID_PX, 3 * GRID_PX, 0)
        grid.setSpacing(0)
        grid.addItem(self.left, 0, 0)
        grid.addItem(self.box, 0, 1)
        grid.addItem(self.bottom, 1, 1)
        self._frame.setLayout(grid)
        self.setCentralItem(self._frame)
        self._pressed: QPointF | None = None
        self._last: QPointF | None = None
        self._dragging = self._boxing = False
        self._rubber = QRubberBand(QRubberBand.Shape.Rectangle, self)

    def add(self, item: QGraphicsItem, z: float = CURVES_Z) -> None:
        """Put an item into the plot."""
        item.setZValue(z)
        self.drawn.append(item)
        self.box.addItem(item, ignoreBounds=True)

    def set_ranges(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Show a part of the plane, in the axes' units."""
        self.box.setRange(xRange=x, yRange=y, padding=0.0, update=True, disableAutoRange=True)

    def ranges(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """The part that is shown."""
        (x0, x1), (y0, y1) = self.box.viewRange()
        return (x0, x1), (y0, y1)

    def place_of(self, x: float, y: float) -> QPointF:
        """Where a point of the plane is, in the widget's pixels."""
        return QPointF(self.mapFromScene(self.box.mapViewToScene(QPointF(x, y))))

    def place_words(self, words: pg.TextItem, x: float, y: float) -> None:
        """Put words right of a place, or left of it where the plot has no room on the right."""
        (low, high), _ = self.ranges()
        room = (high - x) / (high - low) * self.box.width()
        words.setAnchor((0.0 if room > words.boundingRect().width() else 1.0, words.anchor[1]))
        words.setPos(x, y)

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours."""
        self.setBackground(theme.sheet)
        self.left.set_theme(theme)
        self.bottom.set_theme(theme)

    # --- the pointer; the toolkit's own handling is left out: it looks up items at every move

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """A drag or a click begins."""
        if event.button() is Qt.MouseButton.LeftButton:
            self._pressed = self._last = event.position()
            self._dragging = False
            self._boxing = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
            event.accept()
        else:
            event.ignore()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Drag, or point."""
        here = event.position()
        if self._pressed is None or self._last is None:
            x, inside = self._at(here)
            self.pointed.emit(x if inside else None)
            return
        if not self._dragging:
            self._dragging = (here - self._pressed).manhattanLength() >= QApplication.startDragDistance()
        if self._dragging and self._boxing:
            self._rubber.setGeometry(QRect(self._pressed.toPoint(), here.toPoint()).normalized())
            self._rubber.show()
        elif self._dragging:
            before, after = self._view_point(self._last), self._view_point(here)
            self.panned.emit(before.x() - after.x(), before.y() - after.y())
            self._last = here

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """A click is a press without a drag."""
        if event.button() is Qt.MouseButton.LeftButton and self._pressed is not None:
            x, inside = self._at(event.position())
            if self._dragging and self._boxing:
                self._end_box(self._pressed, event.position())
            elif not self._dragging and inside:
                shifted = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
                (self.marked if shifted else self.picked).emit(x)
            self._pressed = self._last = None
        event.accept()

    def _end_box(self, first: QPointF, last: QPointF) -> None:
        self._rubber.hide()
        a, b = self._view_point(first), self._view_point(last)
        (left, right), (bottom, top) = sorted((a.x(), b.x())), sorted((a.y(), b.y()))
        if right > left and top > bottom:
            self.boxed.emit(left, right, bottom, top)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Everything again."""
        if event.button() is Qt.MouseButton.LeftButton:
            self.fit_wanted.emit()
        event.accept()

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Zoom x about the pointer, with Shift y."""
        delta = event.angleDelta()
        notches = (delta.y() or delta.x()) / _WHEEL_NOTCH
        upright = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        at = self._view_point(event.position())
        self.zoomed.emit(at.y() if upright else at.x(), math.pow(_ZOOM_PER_NOTCH, notches), upright)
        event.accept()

    def leaveEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """The pointer left."""
        super().leaveEvent(event)
        self.pointed.emit(None)

    def _view_point(self, place: QPointF) -> QPointF:
        return QPointF(self.box.mapSceneToView(self.mapToScene(place.toPoint())))

    def _at(self, place: QPointF) -> tuple[float, bool]:
        scene = self.mapToScene(place.toPoint())
        return float(self.box.mapSceneToView(scene).x()), bool(self.box.sceneBoundingRect().contains(scene))


def thin(colour: str, *, dashed: bool = False, alpha: int = 255, width: float = 1.0) -> QPen:
    """A pen that stays as thin as it is when the plot is zoomed; only width 1 is fast for long curves."""
    ink = QColor(colour)
    ink.setAlpha(alpha)
    pen = QPen(ink, width)
    pen.setCosmetic(True)
    if dashed:
        pen.setStyle(Qt.PenStyle.CustomDashLine)
        pen.setDashPattern([4.0, 3.0])
    return pen


def curve(*, smooth: bool = True) -> pg.PlotCurveItem:
    """A curve that is filled with `setData` for as long as its pane lives."""
    item = pg.PlotCurveItem(antialias=smooth)
    item.setSegmentedLineMode("off")
    return item


def upright_line(colour: str = "", *, dashed: bool = False) -> pg.InfiniteLine:
    """A vertical line across the plot that the pointer does not catch."""
    line = pg.InfiniteLine(angle=90, movable=False)
    if colour:
        line.setPen(thin(colour, dashed=dashed))
    return line


def small_text(anchor: tuple[float, float]) -> pg.TextItem:
    """A few words in the plot; `anchor` is the point of the text that stands at its place."""
    text = pg.TextItem(anchor=anchor)
    text.setFont(figures_font(FONT_POINTS))
    text.textItem.document().setDocumentMargin(1.0)
    return text


def ink_words(text: pg.TextItem, ink: str, sheet: str) -> None:
    """Colour words, with enough of the sheet behind them to be read over curves; letters as large as they are now."""
    behind = QColor(sheet)
    behind.setAlpha(_BEHIND_WORDS)
    text.setColor(ink)
    text.setFont(figures_font(FONT_POINTS))
    text.fill = pg.mkBrush(behind)
    text.update()


def pairs(x: Floats, low: Floats | float, high: Floats | float) -> tuple[Floats, Floats]:
    """Ends of upright strokes at `x` from `low` to `high`, for a curve that connects pairs.

    Args:
        x: shape (n,), in the chart's unit.
        low: one for all, or shape (n,).
        high: likewise.

    Returns:
        Places and heights, shape (2 n,) each.
    """
    ends = np.empty(2 * x.size)
    ends[0::2], ends[1::2] = low, high
    return np.repeat(x, 2), ends
