"""The line above the path strip: what lane it is, what is being done, and two switches."""

from PySide6.QtCore import Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QToolButton, QWidget

from workbench.desk.widgets.plain_line import PlainLine
from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters


class StripHead(QWidget):
    """Caption, figures or a sentence, the switch for all selected lanes and the one for even spacing.

    Signals:
        switched: one of the switches was turned.
    """

    switched = Signal()

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self.setObjectName("stripHead")
        self.caption, self.text = QLabel("PATH"), PlainLine()
        set_letters(self.caption, 8.0, spacing_px=1.2)
        set_letters(self.text, 9.0)
        self.all_lanes = self._switch("Only this lane", "Change the same element on every selected lane")
        self.even = self._switch("Not to scale", "Every element as wide as the others, rather than to length")
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2 * GRID_PX)
        for part, stretch in ((self.caption, 0), (self.text, 1), (self.all_lanes, 0), (self.even, 0)):
            row.addWidget(part, stretch)
        self._said, self._is_message = "", False
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self._show()

    def say(self, text: str, *, is_message: bool) -> None:
        """Show figures, or a message in the accent's colour."""
        self._said, self._is_message = text, is_message
        if not is_message:  # a message comes and goes with the pointer, and moves nothing around it
            self._make_room()
        self._show()

    def set_lanes(self, count: int) -> None:
        """Offer to change all selected lanes where there are several."""
        self.all_lanes.setVisible(count > 1)
        if count <= 1:
            self.all_lanes.setChecked(False)
        self.all_lanes.setText(f"All {count} selected lanes" if self.all_lanes.isChecked() else "Only this lane")

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Room for the caption, or for the figures only."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        """Where there is little room the caption goes first, then all but the beginning of what is said."""
        shown = [one for one in (self.caption, self.all_lanes, self.even) if one is self.caption or one.isVisible()]
        gaps = 2 * GRID_PX * len(shown)
        others = sum(one.sizeHint().width() for one in shown) + gaps
        self.caption.setVisible(self.width() - others >= self.text.fontMetrics().horizontalAdvance(self._said))

    def _show(self) -> None:
        self.text.say(self._said, self._theme.accent if self._is_message else self._theme.ink)

    def _switch(self, text: str, tip: str) -> QToolButton:
        button = QToolButton()
        button.setText(text)
        button.setToolTip(tip)
        button.setAccessibleName(tip)
        button.setCheckable(True)
        button.toggled.connect(lambda _: self.switched.emit())
        return button
