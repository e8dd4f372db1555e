"""The findings panel: whole sentences, alike ones together, each with the way to its place and what to do about it."""

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QAction, QGuiApplication, QKeyEvent, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QCheckBox,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from workbench.desk.findings.listed import ListedFinding, advice, listed, place_of
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.places import MANUAL
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.elided import ElidedLabel
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.reports.pages.reference import finding_id
from workbench.wording import counted

_GATHER_MS = 60
_HEIGHT_PX = 60 * GRID_PX
_LEAST_PX = 30 * GRID_PX
_NOTHING = "Nothing that a reviewer would flag."
_WAITING = "Nothing is assessed yet."


class FindingsPanel(QWidget):
    """Lists the findings of the board or of the current lane. Hidden until it is asked for.

    Signals:
        said: a sentence for the status line.
        opened: the panel is shown and wants room.
        manual_wanted: the manual is to be opened at a rule; carries its name.
        remedy_wanted: what would make a lane pass is to be searched; carries the lane.

    Attributes:
        found: what is listed.
        rows: a widget for each, in their order.
    """

    said = Signal(str)
    opened = Signal()
    manual_wanted = Signal(str)
    remedy_wanted = Signal(str)

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        del theme  # the stylesheet dresses it
        self.setObjectName("findingsPanel")
        self.setAccessibleName("Findings")
        self._document, self._state, self._computing = document, state, computing
        self.found: tuple[ListedFinding, ...] | None = None
        self.rows: tuple[FindingRow, ...] = ()
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._make()
        self._gather = QTimer(self, singleShot=True, interval=_GATHER_MS)
        self._gather.timeout.connect(self.fill)
        for signal in (computing.lane_ready, document.changed, state.lane_changed):
            signal.connect(self._soon)
        self.hide()

    @property
    def sentence(self) -> str:
        """How many there are, at the head."""
        return self._count.full

    def actions(self) -> list[QAction]:
        """What the menus offer."""
        return [self._action]

    def open(self) -> None:
        """Show the panel with the findings that there are."""
        self.show()
        self.fill()
        self.opened.emit()
        self.only.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def height_wanted(self) -> int:
        """How high the panel would like to be."""
        return _HEIGHT_PX

    def copy(self) -> None:
        """Copy the list to the clipboard, a line each."""
        found = self.found or ()
        QGuiApplication.clipboard().setText("\n".join(one.text for one in found))
        self.said.emit(f"Copied: {counted(len(found), 'finding')}")

    def fill(self) -> None:
        """List what is known by now; rows whose finding is still the same stay as they are."""
        if not self.isVisible():
            return
        known = self._computing.assessments
        lanes = [lane.name for lane in self._document.board.lanes if lane.name in known]
        if self.only.isChecked():
            lanes = [name for name in lanes if name == self._state.lane]
        found = listed([known[name] for name in lanes])
        if found == self.found:
            return
        self.found = found
        for row in self.rows:
            self._list.removeWidget(row)
            row.deleteLater()
        self.rows = tuple(self._row(one) for one in found)
        for at, row in enumerate(self.rows):
            self._list.insertWidget(at, row)
        what = f"of {self._state.lane}" if self.only.isChecked() else f"of {counted(len(lanes), 'lane')}"
        self._count.set_full(f"{counted(len(found), 'finding')} {what}" if found else _NOTHING if lanes else _WAITING)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape puts the panel away."""
        if event.key() == Qt.Key.Key_Escape:
            self.hide()
        else:
            super().keyPressEvent(event)

    def _make(self) -> None:
        caption, self._count = QLabel("Findings"), ElidedLabel()
        caption.setObjectName("caption")
        self.only = QCheckBox("This lane only")
        self.only.toggled.connect(lambda _: self.fill())
        copy, close = QPushButton("Copy"), QPushButton("Close")
        copy.setToolTip("Copy the list to the clipboard")
        copy.clicked.connect(lambda _=False: self.copy())
        close.clicked.connect(lambda _=False: self.hide())
        head = QHBoxLayout()
        for part, stretch in ((caption, 0), (self._count, 1), (self.only, 0), (copy, 0), (close, 0)):
            head.addWidget(part, stretch)
        inside = QWidget()
        inside.setObjectName("findingsList")
        self._list = QVBoxLayout(inside)
        self._list.setContentsMargins(0, 0, 0, 0)
        self._list.setSpacing(2 * GRID_PX)
        self._list.addStretch(1)
        area = QScrollArea(widgetResizable=True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setWidget(inside)
        body = QVBoxLayout(self)
        body.setContentsMargins(3 * GRID_PX, 2 * GRID_PX, 3 * GRID_PX, 2 * GRID_PX)
        body.setSpacing(GRID_PX)
        body.addLayout(head)
        body.addWidget(area, 1)
        self.setMinimumHeight(_LEAST_PX)
        self._action = QAction("&Findings", self)
        self._action.setObjectName("view.findings")
        self._action.setShortcut(QKeySequence("Ctrl+Shift+F"))
        self._action.triggered.connect(lambda _=False: self.open())

    def _row(self, one: ListedFinding) -> "FindingRow":
        row = FindingRow(one)
        row.go.clicked.connect(lambda _=False: self._go(one))
        row.manual.clicked.connect(lambda _=False: self.manual_wanted.emit(one.rule))
        row.remedy.clicked.connect(lambda _=False: self.remedy_wanted.emit(self._nearest(one)))
        return row

    def _go(self, one: ListedFinding) -> None:
        lane = self._nearest(one)
        self._state.set_lane(lane)
        self._state.select_element(place_of(self._document.board, lane, one.sentence))
        self.said.emit(f"{lane}: {one.sentence}")

    def _nearest(self, one: ListedFinding) -> str:
        """The current lane where the finding holds for it, else its first."""
        return self._state.lane if self._state.lane in one.lanes else one.lanes[0]

    def _soon(self, *_: object) -> None:
        if self.isVisible() and not self._gather.isActive():
            self._gather.start()


class FindingRow(QWidget):
    """One finding: its severity and sentence, its lanes, and below that what can be done."""

    def __init__(self, one: ListedFinding, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("finding")
        self.setProperty(MANUAL, finding_id(one.rule))
        self.severity = QLabel(one.severity)
        self.severity.setObjectName("severity")
        self.severity.setMinimumWidth(14 * GRID_PX)
        self.severity.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.severity.setProperty("severity", one.severity)
        self.words = _words(one.sentence)
        self.where = _words(one.where)
        self.where.setObjectName("quiet")
        self.advice = _words(advice(one.rule))
        self.advice.setObjectName("quiet")
        self.advice.hide()
        self.go = _link("Go there", f"Show {one.lanes[0]} and what the finding is about")
        self.what = _link("What to do", "What the manual says about it, here")
        self.what.setCheckable(True)
        self.what.toggled.connect(self.advice.setVisible)
        self.what.setVisible(bool(self.advice.text()))
        self.manual = _link("Manual", "Open the manual where it tells of this finding")
        self.remedy = _link("Make it pass…", "Search for changes that make the lane pass")
        self._links = QGridLayout()
        self._links.setHorizontalSpacing(3 * GRID_PX)
        self._links.setVerticalSpacing(0)
        self._links.setColumnStretch(4, 1)
        self._lay_links(4)
        text = QVBoxLayout()
        text.setSpacing(0)
        for part in (self.words, self.where):
            text.addWidget(part)
        text.addLayout(self._links)
        text.addWidget(self.advice)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(2 * GRID_PX)
        row.addWidget(self.severity)
        row.addLayout(text, 1)
        self.setAccessibleName(one.text)
        self.setMinimumWidth(1)  # the links wrap, see below: nothing is cut off where the window is narrow

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Put the links on one line where they fit, else on two."""
        super().resizeEvent(event)
        parts = (self.go, self.what, self.remedy, self.manual)
        wide = sum(part.sizeHint().width() for part in parts) + 9 * GRID_PX
        self._lay_links(4 if wide <= self.width() - self.severity.width() - 2 * GRID_PX else 2)

    def _lay_links(self, columns: int) -> None:
        for at, link in enumerate((self.go, self.what, self.remedy, self.manual)):
            self._links.addWidget(link, at // columns, at % columns)


def _words(text: str) -> QLabel:
    label = QLabel(text, wordWrap=True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setTextInteractionFlags(
        Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
    )
    label.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
    label.setAlignment(Qt.AlignmentFlag.AlignTop)
    return label


def _link(words: str, tip: str) -> QPushButton:
    button = QPushButton(words)
    button.setObjectName("link")
    button.setFlat(True)
    button.setToolTip(tip)
    button.setAccessibleDescription(tip)
    button.setAutoDefault(False)
    return button
