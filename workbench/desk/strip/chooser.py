"""A list of what can be put on a path, with a filter, opened beside the strip by a key."""

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, QPoint, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QApplication,
    QFrame,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QVBoxLayout,
    QWidget,
)

from workbench.board.edits.part_items import PartGroup, PartItem
from workbench.desk.widgets.theme import GRID_PX

_ITEM = Qt.ItemDataRole.UserRole
_SIZE = (320, 300)


class PartChooser(QFrame):
    """Type to narrow the list down, Enter to take, Escape to leave. It lies over the window, it is none of its own.

    Signals:
        chosen: the item, and whether a device of its own is asked for (Shift+Enter).
    """

    chosen = Signal(object, bool)

    def __init__(self, owner: QWidget) -> None:
        super().__init__(owner)
        self.setObjectName("partChooser")
        self._owner = owner
        self.hide()
        self.caption = QLabel()
        self.filter = QLineEdit()
        self.filter.setPlaceholderText("Type to narrow down")
        self.filter.setAccessibleName("Filter of the list")
        self.filter.setClearButtonEnabled(True)
        self.list = QListWidget()
        self.list.setAccessibleName("What can be put here")
        self.list.setFrameShape(QFrame.Shape.NoFrame)
        box = QVBoxLayout(self)
        box.setContentsMargins(*[2 * GRID_PX] * 4)
        box.setSpacing(GRID_PX)
        for part in (self.caption, self.filter, self.list):
            box.addWidget(part)
        self.resize(*_SIZE)
        self.filter.textChanged.connect(self._narrow)
        self.filter.installEventFilter(self)
        self.list.installEventFilter(self)
        self.list.itemActivated.connect(lambda *_: self._take(fresh=False))

    def offer(self, caption: str, groups: Sequence[PartGroup], place: QPoint) -> None:
        """Open the list at a place on the screen."""
        self.caption.setText(caption)
        self.list.clear()
        for group in groups:
            for item, note in group.rows:
                row = QListWidgetItem(f"{item.name}  ·  {note or group.title.lower()}")
                row.setData(_ITEM, item)
                self.list.addItem(row)
        self.filter.clear()
        self._narrow("")
        self._open_at(place)

    def leave(self) -> None:
        """Close the list and give the keys back."""
        focused = QApplication.focusWidget()
        had_focus = focused is not None and self.isAncestorOf(focused)
        self.hide()
        if had_focus:
            self._owner.setFocus()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Let the arrows walk the list, Enter take what is marked, Escape leave; go when the keys go elsewhere."""
        if isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress:
            return self._key(event, typing=watched is self.filter) or super().eventFilter(watched, event)
        if event.type() == QEvent.Type.FocusOut:
            to = QApplication.focusWidget()
            if self.isVisible() and to is not None and not self.isAncestorOf(to):
                self.hide()
        return super().eventFilter(watched, event)

    def _key(self, event: QKeyEvent, *, typing: bool) -> bool:
        """Whether a key was one of the list's own."""
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._take(fresh=bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier))
        elif typing and event.key() in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            self._step(1 if event.key() == Qt.Key.Key_Down else -1)
        else:
            return False
        return True

    def _open_at(self, place: QPoint) -> None:
        """Lie over the window at a place on the screen, as large as there is room."""
        window = self._owner.window()
        self.setParent(window)
        self.resize(min(_SIZE[0], window.width()), min(_SIZE[1], window.height()))
        wanted = window.mapFromGlobal(place)
        self.move(
            max(min(wanted.x(), window.width() - self.width()), 0),
            max(min(wanted.y(), window.height() - self.height()), 0),
        )
        self.raise_()
        self.show()
        self.filter.setFocus(Qt.FocusReason.PopupFocusReason)

    def _shown(self) -> list[int]:
        return [row for row in range(self.list.count()) if not self.list.item(row).isHidden()]

    def _narrow(self, text: str) -> None:
        words = text.casefold().split()
        for row in range(self.list.count()):
            item = self.list.item(row)
            item.setHidden(not all(word in item.text().casefold() for word in words))
        shown = self._shown()
        self.list.setCurrentRow(shown[0] if shown else -1)

    def _step(self, by: int) -> None:
        shown = self._shown()
        if shown:
            now = shown.index(self.list.currentRow()) if self.list.currentRow() in shown else 0
            self.list.setCurrentRow(shown[min(max(now + by, 0), len(shown) - 1)])

    def _take(self, *, fresh: bool) -> None:
        row = self.list.currentItem()
        if row is not None and not row.isHidden():
            item: PartItem = row.data(_ITEM)
            self.leave()
            self.chosen.emit(item, fresh)
