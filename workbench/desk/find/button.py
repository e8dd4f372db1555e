"""The button in the menu bar that opens the palette."""

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QToolButton

from workbench.desk.widgets.icons import icon
from workbench.desk.widgets.theme import Theme


class FindButton(QToolButton):
    """Opens the palette, and says by which keys that goes."""

    def __init__(self, find: Callable[[], None], theme: Theme) -> None:
        super().__init__(autoRaise=True)
        self.setObjectName("find")
        self.setText("Find anything  Ctrl+K")
        self.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.setAccessibleName("Find an action, lane or part")
        self.clicked.connect(lambda _=False: find())
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        """Take the theme's ink."""
        self.setIcon(icon("find", theme.quiet))
