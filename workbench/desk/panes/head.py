"""The head of a pane, and the page with a sentence that stands in for curves."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenu, QToolButton, QWidget

from workbench.desk.panes.readout import Readout
from workbench.desk.widgets.stylesheet import set_state
from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters

HEAD_PX = 6 * GRID_PX
_NAME_POINTS = 9.0


class PaneHead(QWidget):
    """Name, switches and readout in one line; the name opens the list of panes once a menu is given.

    Where there is no room for all of it the figures stay: the switches are in the name's menu too.
    """

    def __init__(self, title: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("paneHead")
        self.setFixedHeight(HEAD_PX)
        self.name, self.readout = QToolButton(), Readout()
        self.name.setObjectName("paneName")
        self.name.setText(title)
        set_letters(self.name, _NAME_POINTS)
        self.name.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.name.setAccessibleName(f"{title}: choose another pane")
        self._switches: list[QToolButton] = []
        self._line = self._fill = ""
        self._row = QHBoxLayout(self)
        self._row.setContentsMargins(GRID_PX, 1, 2 * GRID_PX, 0)
        self._row.setSpacing(GRID_PX)
        self._row.addWidget(self.name)
        self._row.addWidget(self.readout, 1)
        self.readout.changed.connect(self._make_room)

    def set_menu(self, menu: QMenu) -> None:
        """Offer other panes under the name."""
        self.name.setMenu(menu)
        self.name.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.name.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.name.setToolTip("Choose what is shown here")
        if self._switches:
            menu.addSeparator()
        for switch in self._switches:
            action = menu.addAction(switch.toolTip())
            action.setCheckable(True)
            action.setChecked(switch.isChecked())
            switch.toggled.connect(action.setChecked)
            action.toggled.connect(switch.setChecked)

    def add_switch(self, text: str, tip: str) -> QToolButton:
        """A switch between name and readout."""
        switch = QToolButton()
        switch.setText(text)
        switch.setToolTip(tip)
        switch.setAccessibleName(tip)
        switch.setCheckable(True)
        set_letters(switch, _NAME_POINTS - 1.0)
        switch.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self._switches.append(switch)
        self._row.insertWidget(len(self._switches), switch)
        return switch

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Room for the switches, or for the figures only."""
        super().resizeEvent(event)
        self._make_room()

    def _make_room(self) -> None:
        margins, gap = self._row.contentsMargins(), self._row.spacing()
        room = self.width() - margins.left() - margins.right() - self.name.sizeHint().width() - gap
        taken = sum(switch.sizeHint().width() + gap for switch in self._switches)
        for switch in self._switches:
            switch.setVisible(room - taken >= self.readout.least_px())

    def set_theme(self, theme: Theme, *, focused: bool) -> None:
        """Take a theme's colours; the pane that has the keyboard is told by its name and the line above it."""
        self._line, self._fill = theme.accent if focused else theme.line, theme.sheet
        set_state(self.name, "current", focused)
        self.update()

    def paintEvent(self, _: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """The sheet, and a line along its top."""
        painter = QPainter(self)
        painter.fillRect(self.rect(), QColor(self._fill))
        painter.fillRect(0, 0, self.width(), 1, QColor(self._line))


class EmptyPage(QLabel):
    """A sentence in the middle of a pane."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("emptyPage")
        self.setWordWrap(True)
        set_letters(self, _NAME_POINTS)
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setMargin(4 * GRID_PX)
        self.setMinimumSize(1, 1)
