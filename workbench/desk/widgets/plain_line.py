"""One line of text that changes with every move of the pointer: it is only painted, and moves nothing around it."""

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QSizePolicy, QWidget


class PlainLine(QWidget):
    """A line of text, shortened where it doesn't fit; the whole text is its tip and its accessible name.

    A label would have its whole window laid out anew with each text.
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._text, self._ink = "", ""
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)

    def say(self, text: str, ink: str) -> None:
        """Show a text in a colour."""
        if (text, ink) == (self._text, self._ink):
            return
        self._text, self._ink = text, ink
        self.setAccessibleName(text)
        self.update()

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """One line high."""
        return QSize(0, self.fontMetrics().height() + 2)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Paint as much of the text as there is room for."""
        del event
        painter = QPainter(self)
        painter.setPen(QColor(self._ink))
        shown = self.fontMetrics().elidedText(self._text, Qt.TextElideMode.ElideRight, self.width())
        self.setToolTip(self._text if shown != self._text else "")
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignVCenter, shown)
        painter.end()
