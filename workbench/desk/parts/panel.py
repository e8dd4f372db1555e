"""Parts: what can be put on a path, to be dragged out or inserted by Enter."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QContextMenuEvent, QFont, QKeySequence
from PySide6.QtWidgets import QLabel, QLineEdit, QMenu, QVBoxLayout, QWidget

from workbench.board.edits.part_items import PartGroup, PartItem, added, part_groups
from workbench.board.model import Board
from workbench.desk.parts.listing import PartsList
from workbench.desk.session.document import Document
from workbench.desk.session.part_drag import DragSession
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font

_NOTHING = "Nothing in Parts has that in its name."


class PartsPanel(QWidget):
    """Catalogue entries by section, free channels of the devices, and what the starters have beyond that.

    Attributes:
        drag: what is under way to the strip; `PathStrip.follow` takes it.

    Signals:
        entry_selected: an entry of the board's catalogue is marked: (section, name).
        said: a sentence about what was done.
    """

    entry_selected = Signal(str, str)
    said = Signal(str)

    def __init__(self, document: Document, state: ViewState, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("parts")
        del state  # Parts are the same for every lane
        self._document, self._theme = document, theme
        self._groups: tuple[PartGroup, ...] = ()
        self.drag = DragSession(self)
        self.caption, self.filter, self.empty = QLabel("PARTS"), QLineEdit(), QLabel(_NOTHING)
        self.caption.setObjectName("caption")
        self.empty.setObjectName("empty")
        self.list = PartsList(self.drag, self)
        self._make()
        self._make_actions()
        document.changed.connect(self._follow)
        self.filter.textChanged.connect(self._narrow)
        self.list.currentItemChanged.connect(self._tell)
        self.list.itemDoubleClicked.connect(lambda *_: self.insert())
        self.set_theme(theme)
        self._follow(document.board)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.list.set_theme(theme)

    def insert(self, *, fresh: bool = False, inside: bool = False) -> None:
        """Ask for the marked item behind the selected element, or in the middle of the selected run."""
        item = self.list.current()
        if item is None:
            return
        if item.placeable:
            self.drag.wanted.emit(item, fresh, inside)
        else:
            self.said.emit(f"{item.name} is used inside lines and vias; it can't be placed on a path")

    def add(self) -> None:
        """Take the marked starter entry into the board's catalogue."""
        item = self.list.current()
        if item is not None and item.kind == "starter":
            self._document.apply(f"add {item.name} to the catalogue", lambda board: added(board, item))

    def mark(self, item: PartItem) -> None:
        """Mark an item, if it is there."""
        self.list.mark(item)

    # --- making

    def _make(self) -> None:
        spaced = figures_font(8.0)
        spaced.setLetterSpacing(QFont.SpacingType.AbsoluteSpacing, 1.2)
        self.caption.setFont(spaced)
        self.filter.setPlaceholderText("Filter")
        self.filter.setAccessibleName("Filter of Parts")
        self.filter.setClearButtonEnabled(True)
        self.list.setFont(figures_font(9.0))
        self.empty.setWordWrap(True)
        self.empty.hide()
        box = QVBoxLayout(self)
        box.setContentsMargins(3 * GRID_PX, GRID_PX, GRID_PX, GRID_PX)
        box.setSpacing(GRID_PX)
        for part in (self.caption, self.filter, self.empty):
            box.addWidget(part)
        box.addWidget(self.list, 1)
        self.setFocusProxy(self.list)

    def _make_actions(self) -> None:
        # Qt hands `triggered` a flag that is no argument of these.
        for name, text, keys, do in (
            ("insert", "Insert from Parts", ("Return", "Enter"), lambda: self.insert(fresh=False)),
            ("insert-fresh", "Insert on a new device", ("Shift+Return",), lambda: self.insert(fresh=True)),
            ("insert-inside", "Put into the middle of the run", ("Ctrl+Return",), lambda: self.insert(inside=True)),
            ("add", "Add to the catalogue", ("Ctrl+Shift+A",), self.add),
        ):
            action = QAction(text, self)
            action.setObjectName(f"parts.{name}")
            action.setShortcuts([QKeySequence(key) for key in keys])
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            action.triggered.connect(do)
            self.addAction(action)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:  # noqa: N802 - Qt's name
        """Offer what can be done with the marked item."""
        if self.list.current() is not None:
            menu = QMenu(self)
            menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
            menu.addActions(self.actions())
            menu.popup(event.globalPos())

    # --- following

    def _follow(self, board: Board) -> None:
        groups = part_groups(board)
        if groups != self._groups:
            self._groups = groups
            self.list.fill(groups, self._theme)
            self._narrow(self.filter.text())

    def _narrow(self, text: str) -> None:
        self.empty.setVisible(not self.list.narrow(text))

    def _tell(self) -> None:
        item = self.list.current()
        if item is not None and item.kind == "entry":
            self.entry_selected.emit(item.section, item.name)
