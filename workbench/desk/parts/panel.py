"""Parts: what can be put on a path, to be dragged out or inserted by Enter."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QContextMenuEvent, QCursor, QKeySequence
from PySide6.QtWidgets import QLabel, QLineEdit, QMenu, QVBoxLayout, QWidget

from workbench.board.edits.part_items import PartGroup, PartItem, added, part_groups, section_title
from workbench.board.model import Board
from workbench.board.user_library import UserLibrary
from workbench.desk.parts.listing import PartsList
from workbench.desk.session.document import Document
from workbench.desk.session.own_entries import copied_entry, kinds_of, new_entry
from workbench.desk.session.part_drag import DragSession
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters
from workbench.errors import WorkbenchError
from workbench.parts.record import Record

_NOTHING = "Nothing in Parts has that in its name."


class PartsPanel(QWidget):
    """Catalogue entries by section, free channels of the devices, and what the starters have beyond that.

    Attributes:
        drag: what is under way to the strip; `PathStrip.follow` takes it.

    Signals:
        entry_selected: an entry of the board's catalogue is marked: (section, name).
        said: a sentence about what was done.
        naming: an entry was made or is to be renamed: (section, name); its name is to be typed.
        deleting: an entry is to be deleted: (section, name).
    """

    entry_selected = Signal(str, str)
    said = Signal(str)
    naming = Signal(str, str)
    deleting = Signal(str, str)

    def __init__(
        self, document: Document, state: ViewState, theme: Theme, parent: QWidget | None = None,
        *, library: UserLibrary | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("parts")
        del state  # Parts are the same for every lane
        self._document, self._theme, self._library = document, theme, library
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
        """Ask for the marked item after the selected element, or in the middle of the selected run."""
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

    def show_entry(self, section: str, name: str) -> None:
        """Mark an entry of the board's own that is shown elsewhere; says nothing of it."""
        item = PartItem("entry", section, name)
        if self.list.current() != item:
            self.list.blockSignals(True)
            self.list.mark(item)
            self.list.blockSignals(False)

    def make_new(self, section: str = "") -> None:
        """Make an entry of a section, or of the marked one; where it has several kinds, a menu asks which."""
        section = section or self.list.section
        kinds = kinds_of(section) if section else ()
        if not kinds:
            self.said.emit("Select a heading of the board's own entries first; the new entry goes under it.")
        elif len(kinds) == 1:
            self.make_kind(section, kinds[0][1])
        else:
            menu = self.kind_menu = QMenu(self)
            menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
            for word, kind in kinds:
                action = menu.addAction(word)
                action.triggered.connect(lambda _=False, kind=kind: self.make_kind(section, kind))
            menu.popup(QCursor.pos())

    def make_under_mark(self) -> None:
        """Make an entry of the marked section."""
        self.make_new()

    def make_kind(self, section: str, kind: type[Record]) -> None:
        """Make an entry of a kind; its name is typed next."""
        board = self._document.board
        try:
            made = new_entry(board, section, kind)
        except WorkbenchError as error:
            self.said.emit(f"A new entry of {section_title(section).lower()}: {error}.")
            return
        if self._document.apply(f"add {made.name}", lambda _: made.board):
            self.naming.emit(section, made.name)

    def copy(self) -> None:
        """Copy the marked entry; the copy's name is typed next."""
        item = self._own()
        if item is not None:
            made = copied_entry(self._document.board, item.section, item.name)
            if self._document.apply(f"copy {item.name}", lambda _: made.board):
                self.naming.emit(item.section, made.name)

    def rename(self) -> None:
        """Type the marked entry's name anew."""
        item = self._own()
        if item is not None:
            self.naming.emit(item.section, item.name)

    def delete(self) -> None:
        """Delete the marked entry."""
        item = self._own()
        if item is not None:
            self.deleting.emit(item.section, item.name)

    def keep(self) -> None:
        """Keep the marked entry in the user's own library, for other boards."""
        item = self._own()
        if item is None or self._library is None:
            return
        title = self._document.board.title or "a board without a title"
        try:
            path = self._library.keep(self._document.board, item.section, item.name, f"board {title}")
        except WorkbenchError as error:
            self.said.emit(str(error))
            return
        self.said.emit(f"Kept in the library of parts: {item.name} ({path.parent})")
        self._follow(self._document.board)

    def _own(self) -> PartItem | None:
        item = self.list.current()
        if item is None or item.kind != "entry":
            self.said.emit("Select an entry of the board's own catalogue first.")
            return None
        return item

    # --- making

    def _make(self) -> None:
        set_letters(self.caption, 8.0, spacing_px=1.2)
        self.filter.setPlaceholderText("Filter")
        self.filter.setAccessibleName("Filter of Parts")
        self.filter.setClearButtonEnabled(True)
        set_letters(self.list, 9.0)
        self.empty.setWordWrap(True)
        self.empty.hide()
        box = QVBoxLayout(self)
        box.setContentsMargins(3 * GRID_PX, GRID_PX, GRID_PX, GRID_PX)
        box.setSpacing(GRID_PX)
        for part in (self.caption, self.filter, self.empty):
            box.addWidget(part)
        box.addWidget(self.list, 1)
        self.list.new_wanted.connect(self.make_new)
        self.setFocusProxy(self.list)

    def _make_actions(self) -> None:
        # Qt hands `triggered` a flag that is no argument of these.
        for name, text, keys, do in (
            ("insert", "Insert from Parts", ("Return", "Enter"), lambda: self.insert(fresh=False)),
            ("insert-fresh", "Insert on a new device", ("Shift+Return",), lambda: self.insert(fresh=True)),
            ("insert-inside", "Put into the middle of the run", ("Ctrl+Return",), lambda: self.insert(inside=True)),
            ("add", "Add to the catalogue", ("Ctrl+Shift+A",), self.add),
            ("new", "New entry…", ("Insert",), self.make_under_mark),
            ("copy", "Copy entry", ("Ctrl+D",), self.copy),
            ("rename", "Rename entry", ("F2",), self.rename),
            ("delete", "Delete entry", ("Delete",), self.delete),
            ("keep", "Keep in my library", (), self.keep),
        ):
            action = QAction(text, self)
            action.setObjectName(f"parts.{name}")
            action.setShortcuts([QKeySequence(key) for key in keys])
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
            action.triggered.connect(do)
            self.addAction(action)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:  # noqa: N802 - Qt's name
        """Offer what can be done with the marked item or heading, and nothing else."""
        offered = self._offered()
        if offered:
            menu = QMenu(self)
            menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
            for action in offered:
                menu.addAction(action)
            menu.popup(event.globalPos())

    def _offered(self) -> list[QAction]:
        item, named = self.list.current(), {action.objectName(): action for action in self.actions()}
        words: list[str] = []
        if item is not None and item.placeable:
            words += ["insert", *(["insert-fresh"] if item.section == "conditioners" else [])]
            words += ["insert-inside"] if item.cuts else []
        if item is not None and item.kind == "starter":
            words += ["add"]
        if self.list.section:
            words += ["new"]
        if item is not None and item.kind == "entry":
            words += ["copy", "rename", "delete", *(["keep"] if self._library is not None else [])]
        return [named[f"parts.{word}"] for word in words]

    # --- following

    def _follow(self, board: Board) -> None:
        groups = part_groups(board, self._library)
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
