"""Lanes being dragged: rows of the lane table dragged to another place, with a line that shows where they land."""

from PySide6.QtCore import QPoint, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter
from PySide6.QtWidgets import QApplication, QTableView

_EDGE_PX = 24
_LINE_PX, _KNOB_PX = 2.0, 3.0


class LaneDrag:
    """A gesture over a table of lanes, fed by its presses, moves and releases; it changes nothing itself.

    Args:
        view: the table; it is scrolled while the pointer is near its edges.

    Attributes:
        names: the lanes being dragged; () while nothing is dragged.
        gap: before which row they would land; the number of rows: after the last. None while the pointer is outside.
    """

    def __init__(self, view: QTableView) -> None:
        self._view = view
        self._from: QPoint | None = None
        self._ready: tuple[str, ...] = ()
        self.names: tuple[str, ...] = ()
        self.gap: int | None = None

    @property
    def pressed(self) -> bool:
        """Whether the button went down on a lane and neither came up nor was given up since."""
        return self._from is not None

    def press(self, place: QPoint, names: tuple[str, ...]) -> None:
        """The button went down on a row; `names` are the lanes that a drag takes along."""
        self._from, self._ready = place, names

    def move(self, place: QPoint) -> bool:
        """The pointer moved, button down; says whether lanes are being dragged."""
        if self._from is None:
            return False
        if not self.names:
            if (place - self._from).manhattanLength() < QApplication.startDragDistance():
                return False
            self.names = self._ready
        self._scroll(place)
        self.gap = self._gap_at(place)
        self._view.viewport().update()
        return True

    def drop(self) -> tuple[tuple[str, ...], int | None]:
        """The button came up: the lanes that were dragged, and before which row they land; None: nowhere."""
        found = (self.names, self.gap)
        self.cancel()
        return found

    def cancel(self) -> bool:
        """Put them back; says whether any were being dragged."""
        held, self._from, self._ready, self.names, self.gap = bool(self.names), None, (), (), None
        self._view.viewport().update()
        return held

    def paint(self, painter: QPainter, colour: QColor) -> None:
        """The line where the lanes land."""
        if self.gap is None:
            return
        height, width = self._view.verticalHeader().defaultSectionSize(), self._view.viewport().width()
        top = self.gap * height - self._view.verticalScrollBar().value()
        y = max(_LINE_PX / 2, min(top, self._view.viewport().height() - _LINE_PX / 2))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        painter.drawRect(QRectF(0.0, y - _LINE_PX / 2, width, _LINE_PX))
        for x in (_KNOB_PX, width - _KNOB_PX):
            painter.drawEllipse(QPointF(x, y), _KNOB_PX, _KNOB_PX)

    def _gap_at(self, place: QPoint) -> int | None:
        beside = _EDGE_PX * 2
        if not self._view.viewport().rect().adjusted(-beside, -beside, beside, beside).contains(place):
            return None
        height = self._view.verticalHeader().defaultSectionSize()
        row = round((place.y() + self._view.verticalScrollBar().value()) / height)
        return max(0, min(row, self._view.model().rowCount()))

    def _scroll(self, place: QPoint) -> None:
        bar, height = self._view.verticalScrollBar(), self._view.viewport().height()
        if place.y() < _EDGE_PX:
            bar.setValue(bar.value() - bar.singleStep())
        elif place.y() > height - _EDGE_PX:
            bar.setValue(bar.value() + bar.singleStep())
