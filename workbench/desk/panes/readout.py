"""Figures in a pane's head: short pieces of text, each in its ink, as many as there is room for."""

from collections.abc import Sequence
from typing import NamedTuple

from PySide6.QtCore import QPointF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from workbench.desk.theme import figures_font

_POINTS = 8.5
_GAP_PX = 6.0


class Piece(NamedTuple):
    """A piece of text and its ink, "#rrggbb"."""

    text: str
    ink: str


class Readout(QWidget):
    """Pieces from left to right, flush right."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFont(figures_font(_POINTS))
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self._pieces: tuple[Piece, ...] = ()

    @property
    def text(self) -> str:
        """All that is said, also what there is no room for."""
        return "  ".join(piece.text for piece in self._pieces)

    def say(self, pieces: Sequence[Piece]) -> None:
        """Show other pieces."""
        told = tuple(piece for piece in pieces if piece.text)
        if told != self._pieces:
            self._pieces = told
            self.setToolTip(self.text)
            self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """One line of text high."""
        return QSize(0, self.fontMetrics().height() + 2)

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the pieces that there is room for; the tip has all of them."""
        painter = QPainter(self)
        metrics = self.fontMetrics()
        widths = [float(metrics.horizontalAdvance(piece.text)) for piece in self._pieces]
        total = sum(widths) + _GAP_PX * max(len(widths) - 1, 0)
        x, right = max(self.width() - total, 0.0), float(self.width())
        base = (self.height() + metrics.ascent() - metrics.descent()) / 2.0
        for number, (piece, width) in enumerate(zip(self._pieces, widths, strict=True)):
            fits = width <= right - x + 0.5
            if not fits and number:
                break
            text = piece.text if fits else metrics.elidedText(piece.text, Qt.TextElideMode.ElideRight, int(right - x))
            painter.setPen(QColor(piece.ink))
            painter.drawText(QPointF(x, base), text)
            x += width + _GAP_PX
