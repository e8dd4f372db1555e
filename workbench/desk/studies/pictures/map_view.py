"""A map of margin over two settings: cells that can be walked through and clicked."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from workbench.desk.studies.pictures.answer_view import PointView
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font
from workbench.studies.figures import verdict_at
from workbench.studies.presentation import MapPicture, Point, guards_words

_HEAD_PX, _ROW_PX, _LEAST_CELL_PX = 6 * GRID_PX, 6 * GRID_PX, 9 * GRID_PX
_MOST_CELL_PX = (24 * GRID_PX, 11 * GRID_PX)
_FULL_GUARDS = 12.0
"""Margin at which a cell has its full colour."""
_WALK = {Qt.Key.Key_Left: (-1, 0), Qt.Key.Key_Right: (1, 0), Qt.Key.Key_Up: (0, -1), Qt.Key.Key_Down: (0, 1)}


class MapView(PointView):
    """Shows a map; the verdict's sign stands in each cell, so that nothing hangs on colour.

    Attributes:
        picture: the map; None before the first.
        at: the chosen cell, (column, row).
    """

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Map of margin over two settings", parent)
        self.picture: MapPicture | None = None
        self.at = (0, 0)

    def show_picture(self, picture: MapPicture) -> None:
        """Show a map; the cell that the user chose stays chosen, else it is the marked one."""
        self.picture = picture
        if self.held and self.point_at(self.at) is not None:
            self._tell()
            self.update()
            return
        places = [(c, r) for r, row in enumerate(picture.points) for c, p in enumerate(row) if p and p.marked]
        best = next((place for place in places if self.point_at(place).marked != "now"), (0, 0))  # type: ignore[union-attr]
        self.at = best
        self._tell()
        self.update()

    @property
    def current(self) -> Point | None:
        """The chosen cell's point."""
        return self.point_at(self.at)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for the least cells."""
        columns, rows = self._size()
        return QSize(int(self._left() + columns * _LEAST_CELL_PX), _HEAD_PX + rows * _ROW_PX + _HEAD_PX)

    def cell_rect(self, column: int, row: int) -> QRectF:
        """Where a cell is, px."""
        columns, rows = self._size()
        wide = min((self.width() - self._left() - 2 * GRID_PX) / max(columns, 1), _MOST_CELL_PX[0])
        high = min((self.height() - 2 * _HEAD_PX) / max(rows, 1), _MOST_CELL_PX[1])
        return QRectF(self._left() + column * wide, 2 * _HEAD_PX + row * high, wide - 2.0, high - 2.0)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint heads and cells."""
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.sheet))
        if self.picture is None:
            return
        painter.setFont(figures_font(8.5))
        self._paint_heads(painter, self.picture)
        for r, row in enumerate(self.picture.points):
            for c, point in enumerate(row):
                self._paint_cell(painter, self.cell_rect(c, r), point, (c, r) == self.at)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Choose the cell below the pointer."""
        place = self._place_at(event.position())
        if place is not None:
            self._go(place)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Take the cell."""
        if self._place_at(event.position()) is not None and self.current is not None:
            self.chosen.emit(self.current)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Walk with the arrows, take with Enter."""
        step = _WALK.get(Qt.Key(event.key()))
        if step is not None:
            self._go((self.at[0] + step[0], self.at[1] + step[1]))
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.current is not None:
            self.chosen.emit(self.current)
        else:
            super().keyPressEvent(event)

    def _go(self, place: tuple[int, int]) -> None:
        columns, rows = self._size()
        if not (0 <= place[0] < columns and 0 <= place[1] < rows):
            return
        self.at = place
        self._moved()

    def point_at(self, place: tuple[int, int]) -> Point | None:
        """The point of a cell (column, row); None where it is not known or there is no such cell."""
        columns, rows = self._size()
        if self.picture is None or not (0 <= place[0] < columns and 0 <= place[1] < rows):
            return None
        return self.picture.points[place[1]][place[0]]

    def _place_at(self, at: QPointF) -> tuple[int, int] | None:
        columns, rows = self._size()
        places = ((c, r) for r in range(rows) for c in range(columns))
        return next((place for place in places if self.cell_rect(*place).contains(at)), None)

    def _size(self) -> tuple[int, int]:
        return (0, 0) if self.picture is None else (len(self.picture.columns), len(self.picture.rows))

    def _left(self) -> float:
        if self.picture is None:
            return 0.0
        words = QFontMetricsF(figures_font(8.5), self)
        return max(words.horizontalAdvance(name) for name in (self.picture.down, *self.picture.rows)) + 4.0 * GRID_PX

    def _paint_heads(self, painter: QPainter, picture: MapPicture) -> None:
        painter.setPen(QColor(self._theme.quiet))
        middle = Qt.AlignmentFlag.AlignVCenter
        painter.drawText(QRectF(self._left(), 0.0, self.width(), _HEAD_PX), middle, picture.across)
        painter.drawText(QRectF(2.0 * GRID_PX, _HEAD_PX, self._left(), _HEAD_PX), middle, picture.down)
        painter.setPen(QColor(self._theme.ink))
        for c, name in enumerate(picture.columns):
            cell = self.cell_rect(c, 0)
            box = QRectF(cell.left(), _HEAD_PX, cell.width(), _HEAD_PX)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, _fitted(painter, name, cell.width()))
        for r, name in enumerate(picture.rows):
            cell = self.cell_rect(0, r)
            painter.drawText(QRectF(2.0 * GRID_PX, cell.top(), self._left(), cell.height()), middle, name)

    def _paint_cell(self, painter: QPainter, box: QRectF, point: Point | None, current: bool) -> None:
        theme = self._theme
        margin = point.margin_guards if point is not None else None
        if point is None or margin is None:
            self._paint_unknown(painter, box)
        else:
            painter.fillRect(box, _shade(theme, margin, judged=point.judged))
        if current:
            painter.setPen(QPen(QColor(theme.accent), 2.0 if self.hasFocus() else 1.0))
            painter.drawRect(box.adjusted(0.5, 0.5, -0.5, -0.5))
        painter.setPen(QColor(theme.ink))
        if margin is not None:
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, guards_words(margin))
        if point is not None and point.marked and box.height() > 1.5 * _ROW_PX:
            painter.setPen(QColor(theme.quiet))
            painter.setFont(figures_font(7.5))
            low = QRectF(box.left(), box.bottom() - 3.5 * GRID_PX, box.width(), 3.0 * GRID_PX)
            painter.drawText(low, Qt.AlignmentFlag.AlignCenter, _fitted(painter, point.marked, box.width()))
            painter.setFont(figures_font(8.5))


def _shade(theme: Theme, margin: float, *, judged: bool) -> QColor:
    """The verdict's colour, the fuller the further the margin is from its border."""
    verdict = verdict_at(margin)
    colour = QColor(theme.verdicts[verdict if judged or verdict == "fail" else "not judged"])
    colour.setAlphaF(0.16 + 0.34 * min(abs(margin) / _FULL_GUARDS, 1.0))
    return colour


def _fitted(painter: QPainter, text: str, width: float) -> str:
    return painter.fontMetrics().elidedText(text, Qt.TextElideMode.ElideRight, int(width))
