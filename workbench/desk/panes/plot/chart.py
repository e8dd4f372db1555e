"""A plot of one pane: two thin axes around what is drawn, and the pointer's gestures as signals.

It paints itself: what is drawn are marks (`marks`), no objects of the toolkit's.
"""

import math
from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRect, QRectF, Qt, Signal
from PySide6.QtGui import QColor, QMouseEvent, QPainter, QPaintEvent, QPen, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QApplication, QRubberBand, QWidget

from workbench.arrays import Floats
from workbench.desk.panes.plot.axes import Plane, QuantityAxis, Scale
from workbench.desk.panes.plot.marks import Curve, Mark, Straight, Words
from workbench.desk.widgets.theme import GRID_PX, Theme

_WHEEL_NOTCH = 120.0
_ZOOM_PER_NOTCH = 0.8
MARKS_Z, CURVES_Z, WORDS_Z, CURSOR_Z = -5.0, 0.0, 10.0, 20.0
_BEHIND_WORDS = 210
_TOP_PX, _RIGHT_PX = 2 * GRID_PX, 3 * GRID_PX


class Chart(QWidget):
    """Curves over one x and one y axis.

    Attributes:
        left, bottom: the axes.
        drawn: everything that was put into the plot.

    Signals:
        zoomed: the wheel was turned: (x at the pointer, factor on the range, True for the y axis).
        panned: dragged by (x, y), in the axes' units.
        pointed: the pointer is at x, or (None) left.
        picked: clicked at x.
        marked: clicked at x with Shift.
        boxed: a rectangle was drawn with Ctrl: (left, right, bottom, top), in the axes' units.
        fit_wanted: double click.
        ranged, resized: another part is shown; the plot has another size.
    """

    zoomed = Signal(float, float, bool)
    panned = Signal(float, float)
    pointed = Signal(object)
    picked = Signal(float)
    marked = Signal(float)
    boxed = Signal(float, float, float, float)
    fit_wanted = Signal()
    ranged = Signal()
    resized = Signal()

    def __init__(self, x_scale: Scale, y_scale: Scale, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setMouseTracking(True)
        # Its own ground fills it: what stands behind need not be painted first.
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.left, self.bottom = QuantityAxis("left", y_scale), QuantityAxis("bottom", x_scale)
        self.drawn: list[Mark] = []
        self._x, self._y = (0.0, 1.0), (0.0, 1.0)
        self._ground = QColor()
        self._pressed: QPointF | None = None
        self._last: QPointF | None = None
        self._dragging = self._boxing = False
        self._rubber: QRubberBand | None = None

    @property
    def plot(self) -> QRectF:
        """Where the plot is without its axes, in the widget's pixels."""
        across, down = self.left.room_px, self.bottom.room_px
        wide, high = self.width() - across - _RIGHT_PX, self.height() - down - _TOP_PX
        return QRectF(across, _TOP_PX, max(wide, 1), max(high, 1))

    @property
    def plane(self) -> Plane:
        """What is shown where."""
        return Plane(self.plot, self._x, self._y)

    def add(self, mark: Mark, z: float = CURVES_Z) -> None:
        """Put a mark into the plot, over those with as much of z or less."""
        mark.z, mark.changed = z, self._follow_mark
        at = sum(one.z <= z for one in self.drawn)
        self.drawn.insert(at, mark)
        self._follow_mark(mark)

    def set_ranges(self, x: tuple[float, float], y: tuple[float, float]) -> None:
        """Show a part of the plane, in the axes' units."""
        if (x, y) != (self._x, self._y):
            self._x, self._y = x, y
            self.update()
            self.ranged.emit()

    def set_scale(self, scale: Scale) -> None:
        """Count otherwise along x."""
        self.bottom.set_scale(scale)
        self.update()

    def ranges(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """The part that is shown."""
        return self._x, self._y

    def place_of(self, x: float, y: float) -> QPointF:
        """Where a point of the plane is, in the widget's pixels."""
        return self.plane.place(x, y)

    def place_words(self, words: Words, x: float, y: float) -> None:
        """Put words right of a place, or left of it where the plot has no room on the right."""
        low, high = self._x
        room = (high - x) / (high - low) * self.plot.width()
        words.set_anchor((0.0 if room > words.width else 1.0, words.anchor[1]))
        words.set_place(x, y)

    def spread_words(self, words: Sequence[Words]) -> None:
        """Move words that stand in the plot inside it whole, and up or down where they would cover those before them.

        Args:
            words: those that matter most first; each stands where it belongs.
        """
        plane, taken = self.plane, list[QRectF]()
        for one in words:
            box = one.box(plane)
            if not one.visible or not one.text or not box.intersects(plane.plot):
                continue
            free = beside(inside(box, plane.plot), plane.plot, taken)
            taken.append(free)
            if free != box:
                across, down = one.anchor
                at = self._view_point(free.topLeft() + QPointF(across * free.width(), down * free.height()))
                one.set_place(at.x(), at.y())

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours."""
        self._ground = QColor(theme.sheet)
        self.left.set_theme(theme)
        self.bottom.set_theme(theme)
        self.update()

    def _follow_mark(self, _: Mark) -> None:
        """Paint it again."""
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint ground, marks and axes."""
        plane, painter = self.plane, QPainter(self)
        painter.fillRect(event.rect(), self._ground)
        painter.save()
        painter.setClipRect(plane.plot, Qt.ClipOperation.IntersectClip)
        for mark in self.drawn:
            if mark.visible:
                painter.setOpacity(mark.opacity)
                mark.paint(painter, plane)
        painter.restore()
        self.left.paint(painter, plane)
        self.bottom.paint(painter, plane)
        painter.end()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """The plot has another size."""
        super().resizeEvent(event)
        self.resized.emit()

    # --- the pointer

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
            if self._rubber is None:
                self._rubber = QRubberBand(QRubberBand.Shape.Rectangle, self)
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
        if self._rubber is not None:
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
        """A place on the widget as a point of the plane."""
        plot, (left, right), (bottom, top) = self.plot, self._x, self._y
        across, up = (place.x() - plot.left()) / plot.width(), (plot.bottom() - place.y()) / plot.height()
        return QPointF(left + across * (right - left), bottom + up * (top - bottom))

    def _at(self, place: QPointF) -> tuple[float, bool]:
        return self._view_point(place).x(), self.plot.contains(place)


def inside(box: QRectF, plot: QRectF) -> QRectF:
    """A rectangle moved as little as it takes to lie in another, at its upper left where it is larger."""
    left = max(min(box.left(), plot.right() - box.width()), plot.left())
    top = max(min(box.top(), plot.bottom() - box.height()), plot.top())
    return QRectF(left, top, box.width(), box.height())


def beside(box: QRectF, plot: QRectF, taken: Sequence[QRectF]) -> QRectF:
    """A rectangle moved up or down, as little as it takes, to where none lies; as it is where the plot has no room."""
    levels = [box.top(), *(level for one in taken for level in (one.top() - box.height(), one.bottom()))]
    for top in sorted(levels, key=lambda level: abs(level - box.top())):
        there = QRectF(box.left(), top, box.width(), box.height())
        within = top >= plot.top() and there.bottom() <= plot.bottom()
        if within and not any(there.intersects(one) for one in taken):
            return there
    return box


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


def curve(*, smooth: bool = True) -> Curve:
    """A curve that is filled with `set_data` for as long as its pane lives."""
    return Curve(smooth=smooth)


def upright_line() -> Straight:
    """A vertical line across the plot."""
    return Straight(upright=True)


def small_text(anchor: tuple[float, float]) -> Words:
    """A few words in the plot; `anchor` is the point of the text that stands at its place."""
    return Words(anchor)


def ink_words(text: Words, ink: str, sheet: str) -> None:
    """Colour words, with enough of the sheet behind them to be read over curves; letters as large as they are now."""
    behind = QColor(sheet)
    behind.setAlpha(_BEHIND_WORDS)
    text.set_colours(QColor(ink), behind)


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
