"""Bars: how much each thing matters, from one value to another."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from workbench.desk.questions.answer_view import AnswerView
from workbench.desk.questions.told import Bar, BarPicture
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
        self.setAccessibleDescription("; ".join(f"{bar.name}: {bar.words}" for bar in picture.bars))
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
        bars = self._picture.bars
        words = QFontMetricsF(painter.font())
        left = max(words.horizontalAdvance(bar.name) for bar in bars) + 5.0 * GRID_PX
        right = max(words.horizontalAdvance(bar.words) for bar in bars) + 4.0 * GRID_PX
        plot = QRectF(left, _HEAD_PX, max(self.width() - left - right, 40.0), len(bars) * _ROW_PX)
        ends = [end for bar in bars if bar.span is not None for end in bar.span]
        low, high = min((*ends, 0.0)), max((*ends, 0.0))
        scale = plot.width() / max(high - low, 1e-9)
        zero = left - low * scale
        painter.setPen(QColor(self._theme.quiet))
        head = QRectF(GRID_PX, 0.0, self.width() - 2.0 * GRID_PX, _HEAD_PX)
        unit = words.elidedText(self._picture.unit, Qt.TextElideMode.ElideRight, head.width())
        painter.drawText(head, Qt.AlignmentFlag.AlignVCenter, unit)
        for row, bar in enumerate(bars):
            top = plot.top() + row * _ROW_PX
            self._paint_words(painter, bar, QRectF(plot.left(), top, plot.width(), _ROW_PX), right)
            if bar.span is None:
                self._paint_unknown(painter, QRectF(plot.left(), top + 5.0, plot.width(), _ROW_PX - 10.0))
                continue
            first, last = sorted(zero + end * scale for end in bar.span)
            box = QRectF(first, top + 5.0, max(last - first, _LEAST_PX), _ROW_PX - 10.0)
            painter.fillRect(box, QColor(self._theme.traces[0]))
        painter.setPen(QColor(self._theme.line))
        if ends:
            painter.drawLine(int(zero), int(plot.top()), int(zero), int(plot.bottom()))

    def _paint_words(self, painter: QPainter, bar: Bar, line: QRectF, right_px: float) -> None:
        """The name left of a bar's line, its words right of it."""
        middle = Qt.AlignmentFlag.AlignVCenter
        painter.setPen(QColor(self._theme.ink))
        name = QRectF(0.0, line.top(), line.left() - 2.0 * GRID_PX, line.height())
        painter.drawText(name, middle | Qt.AlignmentFlag.AlignRight, bar.name)
        painter.setPen(QColor(self._theme.quiet))
        painter.drawText(QRectF(line.right() + 2.0 * GRID_PX, line.top(), right_px, line.height()), middle, bar.words)
