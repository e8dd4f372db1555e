"""A window beside the main one, as forms and views of their own have it."""

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QLayout, QVBoxLayout, QWidget

from workbench.desk.widgets.theme import GRID_PX, Theme


class FormWindow(QWidget):
    """Escape closes it, and asked for again it comes to the front.

    Args:
        name: its object name.
        title: what stands over it.
        size: width and height at first, px.
        parent: the main window.
    """

    def __init__(self, name: str, title: str, size: tuple[int, int], parent: QWidget | None = None) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self.setObjectName(name)
        self.setWindowTitle(title)
        self.resize(*size)
        QShortcut(QKeySequence(Qt.Key.Key_Escape), self, self.close)

    def set_theme(self, theme: Theme) -> None:
        """The stylesheet has every colour."""
        del theme

    def come_forward(self) -> None:
        """Be shown, before all other windows."""
        self.show()
        self.raise_()
        self.activateWindow()

    def stack(
        self, parts: Sequence[tuple[QWidget | QLayout, int]], buttons: Sequence[QWidget],
        *, beside: QWidget | None = None,
    ) -> None:  # fmt: skip
        """Lay parts one below the other, and the buttons at the right under them.

        Args:
            parts: each with its share of the height that is left.
            buttons: from the left.
            beside: what stands to their left.
        """
        row = QHBoxLayout()
        if beside is not None:
            row.addWidget(beside, 1)
        row.addStretch(1)
        for button in buttons:
            row.addWidget(button)
        body = QVBoxLayout(self)
        body.setContentsMargins(3 * GRID_PX, 3 * GRID_PX, 3 * GRID_PX, 3 * GRID_PX)
        body.setSpacing(2 * GRID_PX)
        for part, share in (*parts, (row, 0)):
            if isinstance(part, QWidget):
                body.addWidget(part, share)
            else:
                body.addLayout(part, share)
