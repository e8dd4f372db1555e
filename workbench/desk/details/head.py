"""What stands over and under a page of the details: heading, way back, what makes a lane pass; where the page leads."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from workbench.desk.details.pages import DetailsPage, PageLink
from workbench.desk.details.style import breakable, named, sign_button, word_button
from workbench.desk.details.targets import Target
from workbench.desk.widgets.elided import ElidedLabel
from workbench.desk.widgets.theme import GRID_PX, set_letters, usual_points


class DetailsHead(QWidget):
    """A page's heading, the sentence below it, and two buttons that stand there at times.

    Attributes:
        back: leads to what was shown before.
        remedy: looks for what would make the lane pass.
    """

    def __init__(self) -> None:
        super().__init__()
        self._title = ElidedLabel()
        self._title.setObjectName("title")
        set_letters(self._title, usual_points() + 2.0, heavy=True)
        self._subtitle = named(QLabel(wordWrap=True), "note")
        self._subtitle.setTextFormat(Qt.TextFormat.PlainText)
        self.back = sign_button("\u2039", "Back to what was shown before")
        self.remedy = word_button("Make it pass…", link=True)
        self.remedy.setToolTip("Look for what to change so that this lane passes (P in the lane table)")
        self.remedy.hide()
        line = QHBoxLayout()
        line.setSpacing(GRID_PX)
        line.addWidget(self.back)
        line.addWidget(self._title, 1)
        body = QVBoxLayout(self)
        body.setContentsMargins(3 * GRID_PX, 2 * GRID_PX, 3 * GRID_PX, 2 * GRID_PX)
        body.setSpacing(2)
        body.addLayout(line)
        body.addWidget(self._subtitle)
        body.addWidget(self.remedy)

    def show_page(self, page: DetailsPage, *, way_back: bool) -> None:
        """Head a page; `way_back`: something was shown before it."""
        self._title.set_full(page.title)
        self._subtitle.setText(breakable(page.subtitle))
        self._subtitle.setVisible(bool(page.subtitle))
        self.back.setVisible(way_back)


class PageLinks(QWidget):
    """Where a page leads, a button each.

    Signals:
        followed: one was clicked; carries its target.
    """

    followed = Signal(object)

    def __init__(self, links: tuple[PageLink, ...], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.links = links
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(0)
        if links:
            caption = named(QLabel("Devices"), "caption")
            caption.setIndent(0)
            body.addWidget(caption)
        for link in links:
            body.addWidget(self._button(link.words, link.target))

    def _button(self, words: str, target: Target) -> QPushButton:
        button = word_button(words, link=True)
        button.clicked.connect(lambda: self.followed.emit(target))
        return button
