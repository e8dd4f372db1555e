"""Bars: how much each thing matters, from one value to another."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from workbench.desk.questions.answer_view import AnswerView
from workbench.desk.questions.told import BarPicture
from workbench.desk.theme import GRID_PX, Theme, figures_font

_ROW_PX, _HEAD_PX = 6 * GRID_PX, 6 * GRID_PX
_LEAST_PX = 1.5


class BarView(AnswerView):
    """Shows bars, the names left and the words right of them."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "What matters how much", parent)
        self._picture: BarPicture | None = None
        self.setMinimumWidth(260)

    def show_picture(self, picture: BarPicture) -> None:
        """Show what a picture has."""
        self._picture = picture
        self.setAccessibleDescription("; ".join(f"{name}: {words}" for name, _, _, words in picture.bars))
        self.setMinimumHeight(self.sizeHint().height())
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """Room for every bar."""
        rows = len(self._picture.bars) if self._picture is not None else 1
        return QSize(420, _HEAD_PX + rows * _ROW_PX)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint names, bars and words."""
        del event
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._theme.sheet))
        if self._picture is None or not self._picture.bars:
            return
        painter.setFont(figures_font(8.5))
        words = QFontMetricsF(painter.font())
        left = max(words.horizontalAdvance(name) for name, *_ in self._picture.bars) + 5.0 * GRID_PX
        right = max(words.horizontalAdvance(text) for *_, text in self._picture.bars) + 4.0 * GRID_PX
        room = max(self.width() - left - right, 40.0)
        low = min(0.0, *(min(a, b) for _, a, b, _ in self._picture.bars))
        high = max(0.0, *(max(a, b) for _, a, b, _ in self._picture.bars))
        scale = room / max(high - low, 1e-9)
        zero = left - low * scale
        painter.setPen(QColor(self._theme.quiet))
        painter.drawText(QRectF(left, 0.0, room, _HEAD_PX), Qt.AlignmentFlag.AlignVCenter, self._picture.unit)
        for row, (name, start, end, text) in enumerate(self._picture.bars):
            top = float(_HEAD_PX + row * _ROW_PX)
            line = QRectF(0.0, top, left - 2.0 * GRID_PX, _ROW_PX)
            painter.setPen(QColor(self._theme.ink))
            painter.drawText(line, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignRight, name)
            first, last = sorted((zero + start * scale, zero + end * scale))
            bar = QRectF(first, top + 5.0, max(last - first, _LEAST_PX), _ROW_PX - 10.0)
            painter.fillRect(bar, QColor(self._theme.traces[0]))
            painter.setPen(QColor(self._theme.quiet))
            beside = QRectF(left + room + 2.0 * GRID_PX, top, right, _ROW_PX)
            painter.drawText(beside, Qt.AlignmentFlag.AlignVCenter, text)
        painter.setPen(QColor(self._theme.line))
        painter.drawLine(int(zero), _HEAD_PX, int(zero), _HEAD_PX + len(self._picture.bars) * _ROW_PX)
