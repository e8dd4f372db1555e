"""Curves of margin against a position or a length: points that can be walked along and clicked."""

import math

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from workbench.desk.studies.pictures.answer_view import PointView
from workbench.desk.studies.pictures.so_far import drawn_stretches, guards_range, unknown_spans, x_range
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font
from workbench.quantity import show
from workbench.studies.presentation import NORMALIZED, NOT_KNOWN, CurvePicture, Point

_LEFT_PX, _BOTTOM_PX, _TOP_PX, _RIGHT_PX = 12 * GRID_PX, 9 * GRID_PX, 5 * GRID_PX, 3 * GRID_PX
_LEAST = QSize(260, 130)
_FAINT = 0.35


class CurveView(PointView):
    """Shows curves; the chosen one stands out, and its point can be moved with the arrows.

    Attributes:
        picture: the curves; None before the first.
        line, place: the chosen point, by its curve and its place on x.
    """

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Margin against position or length", parent)
        self.picture: CurvePicture | None = None
        self.line = self.place = 0
        self.setMinimumSize(_LEAST)

    def show_picture(self, picture: CurvePicture) -> None:
        """Show curves; the point that the user chose stays chosen, else it is the best."""
        before, self.picture = self.picture, picture
        kept = self._found_again(before, picture) if self.held and before is not None else None
        self.line, self.place = kept or self._best(picture)
        self._tell()
        self.update()

    def _found_again(self, before: CurvePicture, now: CurvePicture) -> tuple[int, int] | None:
        """The chosen point in a picture that has grown."""
        name, x = before.lines[self.line].name, before.x[self.place]
        line = next((n for n, one in enumerate(now.lines) if one.name == name), None)
        return (line, now.x.index(x)) if line is not None and x in now.x else None

    @staticmethod
    def _best(picture: CurvePicture) -> tuple[int, int]:
        known = [
            (point.margin_guards, line, place)
            for line, one in enumerate(picture.lines)
            for place, point in enumerate(one.points)
            if point is not None and point.margin_guards is not None
        ]
        _, line, place = max(known, default=(0.0, 0, 0))
        return line, place

    @property
    def current(self) -> Point | None:
        """The chosen point."""
        if self.picture is None or not self.picture.lines:
            return None
        return self.picture.lines[self.line].points[self.place]

    def place_of(self, line: int, place: int) -> QPointF | None:
        """Where a point is, px; None where there is none."""
        assert self.picture is not None
        point = self.picture.lines[line].points[place]
        if point is None or point.margin_guards is None:
            return None
        return QPointF(self.x_px(self.picture.x[place]), self._py(point.margin_guards))

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint axes, the guard band, curves."""
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.sheet))
        if self.picture is None or not self.picture.lines:
            return
        painter.setFont(figures_font(8.0))
        self._paint_gaps(painter, self.picture)
        self._paint_axes(painter, self.picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        order = [n for n in range(len(self.picture.lines)) if n != self.line]
        for number in (*order, self.line):
            self._paint_line(painter, self.picture, number)
        at = self.place_of(self.line, self.place)
        if at is not None:
            painter.setBrush(QColor(self._theme.accent))
            painter.setPen(QPen(QColor(self._theme.sheet), 1.5))
            painter.drawEllipse(at, 4.5, 4.5)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Choose the nearest point."""
        nearest = self._nearest(event.position())
        if nearest is not None:
            self.go(*nearest)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Take the point."""
        if self._nearest(event.position()) is not None and self.current is not None:
            self.chosen.emit(self.current)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Left and right along the curve, up and down from curve to curve, Enter takes."""
        key = event.key()
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right):
            self._walk(-1 if key == Qt.Key.Key_Left else 1)
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and self.picture is not None:
            count = len(self.picture.lines)
            self.go((self.line + (1 if key == Qt.Key.Key_Down else -1)) % max(count, 1), self.place)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.current is not None:
            self.chosen.emit(self.current)
        else:
            super().keyPressEvent(event)

    def _walk(self, step: int) -> None:
        """To the next known point of the line."""
        if self.picture is None or not self.picture.lines:
            return
        points = self.picture.lines[self.line].points
        place = self.place + step
        while 0 <= place < len(points) and points[place] is None:
            place += step
        if 0 <= place < len(points):
            self.go(self.line, place)

    def go(self, line: int, place: int) -> None:
        """Choose a point by its curve and place."""
        self.line, self.place = line, place
        self._moved()

    def _nearest(self, at: QPointF) -> tuple[int, int] | None:
        if self.picture is None:
            return None
        found: list[tuple[float, int, int]] = []
        for line, one in enumerate(self.picture.lines):
            for place in range(len(one.points)):
                where = self.place_of(line, place)
                if where is not None:
                    found.append(((where - at).manhattanLength(), line, place))
        return min(found)[1:] if found else None

    # --- painting

    def _paint_gaps(self, painter: QPainter, picture: CurvePicture) -> None:
        """Where the chosen line is not known: hatched, and said where there is room."""
        for first, last in unknown_spans(picture, self.line):
            box = QRectF(QPointF(self.x_px(first), self.plot.top()), QPointF(self.x_px(last), self.plot.bottom()))
            self._paint_unknown(painter, box)
            words = QRectF(0.0, 0.0, painter.fontMetrics().horizontalAdvance(NOT_KNOWN) + 2.0 * GRID_PX, 4.0 * GRID_PX)
            words.moveCenter(box.center())
            if words.width() < box.width():
                painter.fillRect(words, QColor(self._theme.raised))
                painter.setPen(QColor(self._theme.quiet))
                painter.drawText(words, Qt.AlignmentFlag.AlignCenter, NOT_KNOWN)

    def _paint_axes(self, painter: QPainter, picture: CurvePicture) -> None:
        theme, plot = self._theme, self.plot
        low, high = self._y_range()
        band = QRectF(QPointF(plot.left(), self._py(1.0)), QPointF(plot.right(), self._py(0.0))).intersected(plot)
        shade = QColor(theme.marginal)
        shade.setAlphaF(0.14)
        painter.fillRect(band, shade)
        painter.setPen(QPen(QColor(theme.line), 1.0))
        painter.drawLine(plot.bottomLeft(), plot.bottomRight())
        painter.drawLine(plot.bottomLeft(), plot.topLeft())
        painter.setPen(QColor(theme.quiet))
        for value in _ticks(low, high, 4):
            box = QRectF(0.0, self._py(value) - 8.0, plot.left() - 6.0, 16.0)
            beside = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
            painter.drawText(box, beside, f"{value:+g}" if value else "0")
        first, last = x_range(picture)
        for value in _ticks(first, last, max(int(plot.width() / 90.0), 2)):
            box = QRectF(self.x_px(value) - 50.0, plot.bottom() + 3.0, 100.0, 14.0)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, show(value, picture.unit, digits=3) if value else "0")
        below = QRectF(plot.left(), plot.bottom() + 16.0, plot.width(), 16.0)
        painter.drawText(below, Qt.AlignmentFlag.AlignCenter, picture.axis)
        painter.drawText(QRectF(2.0, 0.0, plot.width(), _TOP_PX), Qt.AlignmentFlag.AlignVCenter, NORMALIZED)

    def _paint_line(self, painter: QPainter, picture: CurvePicture, number: int) -> None:
        current = number == self.line
        ink = QColor(self._theme.traces[0] if current else self._theme.quiet)
        ink.setAlphaF(1.0 if current else _FAINT)
        painter.setPen(QPen(ink, 1.6 if current else 1.0))
        shown: list[QPointF] = []
        for stretch in drawn_stretches(picture, number):
            shown = [at for place in stretch if (at := self.place_of(number, place)) is not None]
            painter.drawPolyline(QPolygonF(shown))
            if len(shown) == 1:
                painter.drawEllipse(shown[0], 1.0, 1.0)
        if current and shown:
            self._paint_name(painter, picture.lines[number].name, shown[-1])

    def _paint_name(self, painter: QPainter, name: str, at: QPointF) -> None:
        """A line's name at its end, within the plot."""
        width = painter.fontMetrics().horizontalAdvance(name) + 4.0
        left = max(min(at.x(), self.plot.right()) - width - 6.0, self.plot.left() + 2.0)
        top = max(at.y() - 18.0, self.plot.top())
        painter.drawText(QRectF(left, top, width, 14.0), 0, name)

    @property
    def plot(self) -> QRectF:
        """Where the curves are drawn, px."""
        return QRectF(self.rect()).adjusted(_LEFT_PX, _TOP_PX, -_RIGHT_PX, -_BOTTOM_PX)

    def _y_range(self) -> tuple[float, float]:
        assert self.picture is not None
        low, high = guards_range(self.picture)
        room = 0.06 * (high - low)
        return low - room, high + room

    def x_px(self, x: float) -> float:
        """Where a position or length stands, px from the left."""
        assert self.picture is not None
        first, last = x_range(self.picture)
        share = (x - first) / (last - first) if last > first else 0.5
        return self.plot.left() + share * self.plot.width()

    def _py(self, margin: float) -> float:
        low, high = self._y_range()
        return self.plot.bottom() - (max(margin, low) - low) / (high - low) * self.plot.height()


def _ticks(low: float, high: float, wanted: int) -> list[float]:
    """Round values between two, about so many."""
    if high <= low:
        return [low]
    rough = (high - low) / wanted
    size = 10.0 ** math.floor(math.log10(rough))
    step = next(size * factor for factor in (1.0, 2.0, 5.0, 10.0) if size * factor >= rough)
    first = math.ceil(low / step)
    return [n * step for n in range(first, math.floor(high / step) + 1)]
