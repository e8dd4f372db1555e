"""Figures in a pane's head: short pieces of text, each in its ink; where room is short, some can be spared."""

from collections.abc import Sequence
from typing import NamedTuple

from PySide6.QtCore import QPointF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QMouseEvent, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from workbench.desk.widgets.theme import set_letters

_POINTS, _SMALLER = 8.5, (7.5, 6.5)
_GAP_PX = 6.0
_DOTS = "…"


class ReadoutPiece(NamedTuple):
    """A piece of text.

    Attributes:
        text: the words.
        ink: their colour, "#rrggbb".
        spare: whether it may be left out where there is little room.
        figure: which figure it is: of the lane by its name, of a reading at the cursor by its field; "" for none.
        slot: the number of the trace that it is of.
    """

    text: str
    ink: str
    spare: bool = False
    figure: str = ""
    slot: int = 0


class Readout(QWidget):
    """Pieces from left to right, flush right.

    Signals:
        clicked: the figures were clicked.
        changed: other figures are said.

    Attributes:
        asked: the piece that was clicked last; None since others are shown.
    """

    clicked = Signal()
    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        set_letters(self, _POINTS)
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self._pieces: tuple[ReadoutPiece, ...] = ()
        self._points = _POINTS
        self.asked: ReadoutPiece | None = None
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    @property
    def text(self) -> str:
        """All that is said, also what there is no room for."""
        return "  ".join(piece.text for piece in self._pieces)

    def say(self, pieces: Sequence[ReadoutPiece]) -> None:
        """Show other pieces."""
        told = tuple(piece for piece in pieces if piece.text)
        if told != self._pieces:
            self._pieces, self.asked = told, None
            self.setToolTip(f"{self.text}\nClick, or F9: how was this computed?")
            self._choose_size()
            self.update()
            self.changed.emit()

    def least_px(self) -> float:
        """How wide the figures are that can't be spared, as small as they may be."""
        letters = QFont(self.font())
        letters.setPointSizeF(letters.pointSizeF() * _SMALLER[-1] / self._points)
        metrics = QFontMetricsF(letters)
        kept = [(piece, metrics.horizontalAdvance(piece.text)) for piece in self._pieces if not piece.spare]
        return _total(kept)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Choose the figures' size anew."""
        super().resizeEvent(event)
        self._choose_size()

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """The figures were clicked."""
        if event.button() is Qt.MouseButton.LeftButton and self._pieces:
            self.asked = self._piece_at(event.position().x())
            self.clicked.emit()
        else:
            super().mousePressEvent(event)

    @property
    def figures(self) -> tuple[ReadoutPiece, ...]:
        """The pieces that are figures: the one that was clicked first, where the cursor stands last."""
        found = [piece for piece in self._pieces if piece.figure]
        return tuple(sorted(found, key=lambda piece: (piece is not self.asked, piece.spare)))

    def _piece_at(self, x_px: float) -> ReadoutPiece | None:
        """The figure nearest to a place, px from the left; None where there is none."""
        pieces = self.fitting(float(self.width()))
        at, places = max(self.width() - _total(pieces), 0.0), list[tuple[float, ReadoutPiece]]()
        for piece, width in pieces:
            if piece.figure:
                places.append((abs(at + width / 2.0 - x_px), piece))
            at += width + _GAP_PX
        return min(places, key=lambda place: place[0])[1] if places else None

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """One line of text high."""
        return QSize(0, self.fontMetrics().height() + 2)

    def fitting(self, room: float) -> list[tuple[ReadoutPiece, float]]:
        """The pieces that are drawn within `room` px, and their widths; an ellipsis stands for figures that are not."""
        metrics = self.fontMetrics()
        pieces = [(piece, float(metrics.horizontalAdvance(piece.text))) for piece in self._pieces]
        while _total(pieces) > room:
            spare = next((at for at in reversed(range(len(pieces))) if pieces[at][0].spare), None)
            if spare is None:
                break
            del pieces[spare]
        if _total(pieces) <= room:
            return pieces
        dots = ReadoutPiece(_DOTS, pieces[0][0].ink), float(metrics.horizontalAdvance(_DOTS))
        while pieces and _total([*pieces, dots]) > room:
            del pieces[-1]
        return [*pieces, dots]

    def _choose_size(self) -> None:
        """Smaller figures rather than fewer, where four traces have theirs side by side."""
        for points in (_POINTS, *_SMALLER):
            self._points = points
            set_letters(self, points)
            if not any(piece.text == _DOTS for piece, _ in self.fitting(float(self.width()))):
                return

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the pieces that there is room for, flush right; the tip has all of them."""
        painter = QPainter(self)
        metrics = self.fontMetrics()
        pieces = self.fitting(float(self.width()))
        x = max(self.width() - _total(pieces), 0.0)
        base = (self.height() + metrics.ascent() - metrics.descent()) / 2.0
        for piece, width in pieces:
            painter.setPen(QColor(piece.ink))
            painter.drawText(QPointF(x, base), piece.text)
            x += width + _GAP_PX


def _total(pieces: Sequence[tuple[ReadoutPiece, float]]) -> float:
    return sum(width for _, width in pieces) + _GAP_PX * max(len(pieces) - 1, 0)
