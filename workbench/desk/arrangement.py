"""The window's regions in their places: three columns, how high and wide each is, remembered between sessions."""

from collections.abc import Sequence

from PySide6.QtCore import QByteArray, QEvent, QObject, QSize, Qt, QTimer
from PySide6.QtWidgets import QApplication, QFrame, QMainWindow, QScrollArea, QSplitter, QVBoxLayout, QWidget

from workbench.desk.session.settings import Preferences
from workbench.desk.widgets.theme import GRID_PX

SMALLEST = (800, 460)
USUAL = (1280, 720)
_FRAME = (16, 48)
"""What a window's frame and title take of the screen, px, at the most that is usual."""
_COLUMNS_PX = (448, 560, 272)
_LEFT_PX = (400, 240)
_CENTRE_PX = (156, 450, 0)
_STRETCHED = 1
"""The part of the centre that takes the height that is left, and the column that takes the width: the second."""
_LEAST_PX = 166
"""What the centre shows at least of its parts: the path strip's height."""


class Arrangement:
    """Three columns of parts with dividers between them.

    Args:
        settings: what is remembered between sessions.
        left, centre, right: the parts of each column, from the top.

    Attributes:
        columns, left, centre: the dividers.
        middle: what the centre is seen through; it scrolls where the open parts ask for more height than there is.
    """

    def __init__(
        self, settings: Preferences, *, left: Sequence[QWidget], centre: Sequence[QWidget], right: Sequence[QWidget]
    ) -> None:
        self._settings = settings
        self.left = _splitter(Qt.Orientation.Vertical, *left)
        self.centre = _splitter(Qt.Orientation.Vertical, *centre)
        self.centre.setStretchFactor(_STRETCHED, 1)
        self.middle = Middle(self.centre)
        self.columns = _splitter(Qt.Orientation.Horizontal, self.left, self.middle, _column(*right))
        self.columns.setStretchFactor(_STRETCHED, 1)

    def standard(self) -> None:
        """Go back to the standard sizes."""
        self._settings.forget_sizes()
        self._set_standard()

    def restore(self, window: QMainWindow) -> None:
        """Give the window and the parts the sizes of the last session."""
        geometry = self._settings.sizes("window")
        if not geometry.isEmpty():
            window.restoreGeometry(geometry)
        self._set_standard()
        for name, (splitter, _) in self._splitters().items():
            splitter.restoreState(self._settings.sizes(name))

    def remember(self, window: QMainWindow) -> None:
        """Keep the sizes for the next session."""
        for name, (splitter, _) in self._splitters().items():
            self._settings.set_sizes(name, splitter.saveState())
        self._settings.set_sizes("window", QByteArray(window.saveGeometry()))

    def make_room(self, part: QWidget, wanted_px: int, largest_share: float) -> None:
        """Give a part of the centre the height it wants, up to a share of it all; the panes give it away."""
        sizes, at = self.centre.sizes(), self.centre.indexOf(part)
        wanted = min(wanted_px, int(self.middle.height() * largest_share))
        if sizes[at] < wanted:
            sizes[_STRETCHED] = max(sizes[_STRETCHED] + sizes[at] - wanted, 0)
            sizes[at] = wanted
            self.centre.setSizes(sizes)

    def _set_standard(self) -> None:
        for splitter, sizes in self._splitters().values():
            splitter.setSizes(sizes)

    def _splitters(self) -> dict[str, tuple[QSplitter, list[int]]]:
        return {
            "columns": (self.columns, list(_COLUMNS_PX)),
            "left": (self.left, list(_LEFT_PX)),
            "centre": (self.centre, list(_CENTRE_PX)),
        }


class Middle(QScrollArea):
    """The middle column: its parts keep their least heights, and it scrolls where the window is too low for them."""

    def __init__(self, parts: QSplitter) -> None:
        super().__init__(widgetResizable=True)
        self.setObjectName("middle")
        self._parts = parts
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidget(parts)
        self._follow = QTimer(self, singleShot=True, interval=0)  # a part just opened gets its place first
        self._follow.timeout.connect(self._follow_focus)
        QApplication.instance().focusChanged.connect(self._soon)  # type: ignore[union-attr]
        self.verticalScrollBar().rangeChanged.connect(self._soon)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as its parts need beside the scroll bar: nothing is cut off at the right."""
        bar = self.verticalScrollBar().sizeHint().width()
        return QSize(self._parts.minimumSizeHint().width() + bar, _LEAST_PX)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """A part that appears or goes changes how wide the column must be."""
        if event.type() is QEvent.Type.LayoutRequest and watched is self._parts:
            self.updateGeometry()
        return super().eventFilter(watched, event)

    def _soon(self) -> None:
        self._follow.start()

    def _follow_focus(self) -> None:
        """What has the keyboard is in sight, after it moved and after parts opened; a click moves nothing under it."""
        now = self._parts.window().focusWidget()
        if now is None or not self._parts.isAncestorOf(now) or QApplication.mouseButtons():
            return
        part = now
        while (around := part.parentWidget()) is not None and around is not self._parts:
            part = around
        for wanted in (part, now):
            self.ensureWidgetVisible(wanted, 0, 0)
        self.horizontalScrollBar().setValue(0)


def fitting_size(window: QWidget) -> QSize:
    """The usual size, or what the window's screen has room for with a frame and a title around it."""
    room = window.screen().availableGeometry().size() - QSize(*_FRAME)
    return QSize(*USUAL).boundedTo(room).expandedTo(QSize(*SMALLEST))


def stacked(*parts: QWidget, stretched: QWidget) -> QWidget:
    """Parts one below the other without room between them; one takes the height that is left."""
    whole = QWidget()
    body = QVBoxLayout(whole)
    body.setContentsMargins(0, 0, 0, 0)
    body.setSpacing(0)
    for part in parts:
        body.addWidget(part, 1 if part is stretched else 0)
    return whole


def _splitter(orientation: Qt.Orientation, *parts: QWidget) -> QSplitter:
    splitter = QSplitter(orientation)
    splitter.setHandleWidth(GRID_PX)
    splitter.setChildrenCollapsible(False)
    for part in parts:
        splitter.addWidget(part)
    return splitter


def _column(*parts: QWidget) -> QWidget:
    column = QWidget()
    body = QVBoxLayout(column)
    body.setContentsMargins(0, 0, 0, 0)
    body.setSpacing(GRID_PX)
    for part in parts:
        body.addWidget(part)
    body.setStretchFactor(parts[-1], 1)
    return column
