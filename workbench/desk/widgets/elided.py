"""A label that is shortened where there is no room for all of it."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget


class ElidedLabel(QLabel):
    """A label that never asks for more room than there is; the whole text is its tip and its accessible text."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.full = ""
        self.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Preferred)

    def set_full(self, text: str) -> None:
        """Show a text, shortened where it doesn't fit."""
        self.full = text
        self.setAccessibleDescription(text)
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Fit the text anew."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        short = self.fontMetrics().elidedText(self.full, Qt.TextElideMode.ElideRight, max(self.width(), 1))
        self.setText(short)
        self.setToolTip(self.full if short != self.full else "")
