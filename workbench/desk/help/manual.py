"""The manual in a window of its own, opened where it is asked for."""

from collections.abc import Sequence

from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QTextBrowser, QVBoxLayout, QWidget

from workbench.desk.widgets.theme import Theme
from workbench.reports.pages.manual import manual_html
from workbench.reports.pages.reference import CommandPage

_SIZE = (720, 640)


class ManualView(QWidget):
    """Shows the manual; Escape closes it. It needs no network and follows no link out of itself."""

    def __init__(
        self, theme: Theme, commands: Sequence[CommandPage] = (), keys: Sequence[tuple[str, str]] = (),
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent, Qt.WindowType.Window)
        self._commands, self._keys = commands, keys
        self.setObjectName("manual")
        self.setWindowTitle("Manual")
        self.resize(*_SIZE)
        self.pages = QTextBrowser()
        self.pages.setOpenLinks(False)
        self.pages.anchorClicked.connect(self._follow)
        self.pages.setAccessibleName("Manual")
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.addWidget(self.pages)
        QShortcut(QKeySequence(Qt.Key.Key_Escape), self, self.close)
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        document = self.pages.document()
        document.setDefaultStyleSheet(
            f"a {{ color: {theme.accent}; }} .quiet, th {{ color: {theme.quiet}; }} .code {{ color: {theme.quiet}; }}"
            f" dt {{ font-weight: 600; }}"
        )
        at = self.pages.verticalScrollBar().value()
        self.pages.setHtml(manual_html("plain", self._commands, self._keys))
        self.pages.verticalScrollBar().setValue(at)

    def show_at(self, anchor: str = "") -> None:
        """Show the manual, at an anchor of it ("finding-id", "part-via"); an unknown one shows the beginning."""
        self.show()
        self.raise_()
        self.activateWindow()
        self.pages.verticalScrollBar().setValue(0)
        if anchor:
            self.pages.scrollToAnchor(anchor)

    def _follow(self, link: QUrl) -> None:
        self.pages.scrollToAnchor(link.fragment())
