"""Painting bars: the names left, the words right of them; for the window and for paper alike."""

from PySide6.QtCore import QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter

from workbench.desk.studies.pictures.answer_view import paint_unknown
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font
from workbench.studies.presentation import Bar, BarPicture

_ROW_PX, _HEAD_PX = 6 * GRID_PX, 6 * GRID_PX
_WIDTH_PX, _LEAST_PX = 420, 1.5
_POINTS = 8.5


def bars_size(picture: BarPicture | None) -> QSize:
    """Room for every bar of a picture, in px."""
    return QSize(_WIDTH_PX, _HEAD_PX + (len(picture.bars) if picture is not None else 1) * _ROW_PX)


def bar_at(picture: BarPicture, y_px: float) -> int | None:
    """Which bar is at a height, px from the top; None where none is."""
    row = int((y_px - _HEAD_PX) // _ROW_PX)
    return row if 0 <= row < len(picture.bars) else None


def paint_bars(
    painter: QPainter, picture: BarPicture, size: QSize | QSizeF, theme: Theme, *, chosen: int | None = None
) -> None:
    """Paint a picture's unit, and for each bar its name, itself from one value to the other, and its words.

    Args:
        painter: of what is painted on.
        picture: the bars.
        size: the room for them, px.
        theme: the colours.
        chosen: the number of the bar that stands out; None for none.
    """
    bars = picture.bars
    painter.setFont(figures_font(_POINTS))
    words = QFontMetricsF(painter.font(), painter.device())
    left = max(words.horizontalAdvance(bar.name) for bar in bars) + 5.0 * GRID_PX
    right = max(words.horizontalAdvance(bar.words) for bar in bars) + 4.0 * GRID_PX
    plot = QRectF(left, _HEAD_PX, max(size.width() - left - right, 40.0), len(bars) * _ROW_PX)
    ends = [end for bar in bars if bar.span is not None for end in bar.span]
    low, high = min((*ends, 0.0)), max((*ends, 0.0))
    scale = plot.width() / max(high - low, 1e-9)
    zero = left - low * scale
    painter.setPen(QColor(theme.quiet))
    head = QRectF(GRID_PX, 0.0, size.width() - 2.0 * GRID_PX, _HEAD_PX)
    unit = words.elidedText(picture.unit, Qt.TextElideMode.ElideRight, head.width())
    painter.drawText(head, Qt.AlignmentFlag.AlignVCenter, unit)
    for row, bar in enumerate(bars):
        line = QRectF(plot.left(), plot.top() + row * _ROW_PX, plot.width(), _ROW_PX)
        if row == chosen:
            painter.fillRect(QRectF(0.0, line.top(), size.width(), _ROW_PX), QColor(theme.raised))
        _paint_words(painter, bar, line, right, theme)
        if bar.span is None:
            paint_unknown(painter, line.adjusted(0.0, 5.0, 0.0, -5.0), theme)
            continue
        first, last = sorted(zero + end * scale for end in bar.span)
        box = QRectF(first, line.top() + 5.0, max(last - first, _LEAST_PX), _ROW_PX - 10.0)
        painter.fillRect(box, QColor(theme.traces[0]))
    painter.setPen(QColor(theme.line))
    if ends:
        painter.drawLine(int(zero), int(plot.top()), int(zero), int(plot.bottom()))


def _paint_words(painter: QPainter, bar: Bar, line: QRectF, right_px: float, theme: Theme) -> None:
    """The name left of a bar's line, its words right of it."""
    middle = Qt.AlignmentFlag.AlignVCenter
    painter.setPen(QColor(theme.ink))
    name = QRectF(0.0, line.top(), line.left() - 2.0 * GRID_PX, line.height())
    painter.drawText(name, middle | Qt.AlignmentFlag.AlignRight, bar.name)
    painter.setPen(QColor(theme.quiet))
    painter.drawText(QRectF(line.right() + 2.0 * GRID_PX, line.top(), right_px, line.height()), middle, bar.words)
