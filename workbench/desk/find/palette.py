"""Finding anything by a few letters of its name: actions, lanes, catalogue entries, devices."""

from collections.abc import Callable, Iterator
from typing import Any

from PySide6.QtCore import (
    QAbstractListModel,
    QEvent,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QRect,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import QAction, QColor, QFont, QFontMetricsF, QKeyEvent, QKeySequence, QPainter
from PySide6.QtWidgets import (
    QFrame,
    QLabel,
    QLineEdit,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from workbench.board.index import section_names
from workbench.board.model import Board, Catalogue
from workbench.desk.find.search import Item, SearchMatch, find
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.facts import fact_of

WIDTH_PX = 560
ROW_PX = 26
SHOWN_ROWS = 11
_AtIndex = QModelIndex | QPersistentModelIndex


class Palette(QFrame):
    """The box over the window.

    Args:
        actions_provider: every action of the window, asked for each time it opens.
        document, state: the board, and where a lane that was found is made current.
        theme: colours.
        parent: the window that it lies over.

    Signals:
        entry_chosen: a catalogue entry was chosen; carries section and name.
        device_chosen: a device was chosen; carries its reference.
    """

    entry_chosen = Signal(str, str)
    device_chosen = Signal(str)

    def __init__(
        self, actions_provider: Callable[[], list[QAction]], document: Document, state: ViewState, theme: Theme,
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._actions, self._document, self._state = actions_provider, document, state
        self._items: tuple[Item, ...] = ()
        self._before: QWidget | None = None
        self.setObjectName("palette")
        self.setAccessibleName("Find anything")
        self.field = QLineEdit(placeholderText="Find an action, lane, part or device")
        self.field.setAccessibleName("Find an action, lane, part or device")
        self.field.setFrame(False)
        self.field.textChanged.connect(self._search)
        self.field.installEventFilter(self)
        self._rows = _Rows(self)
        self.list = QListView(uniformItemSizes=True)
        self.list.setFrameShape(QFrame.Shape.NoFrame)
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setModel(self._rows)
        self._painting = _Painting(theme, self)
        self.list.setItemDelegate(self._painting)
        self.list.clicked.connect(self._clicked)
        self._nothing = QLabel()
        self._nothing.setObjectName("nothing")
        body = QVBoxLayout(self)
        body.setContentsMargins(1, 1, 1, 1)
        body.setSpacing(0)
        for part in (self.field, self.list, self._nothing):
            body.addWidget(part)
        self.set_theme(theme)
        self.hide()

    def open(self) -> None:
        """Open the box, or begin anew where it is open; the keyboard goes to it."""
        if self.isHidden():
            self._before = self.window().focusWidget()
        self._items = tuple(self._all_items(self._document.board))
        self.field.clear()
        self._search("")
        self.show()
        self.raise_()
        self.field.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def shut(self) -> None:
        """Close the box; the keyboard goes back to where it was."""
        if self.isHidden():
            return
        before, self._before = self._before, None
        self.hide()
        self._items = ()
        self._rows.fill([])
        if before is not None:
            before.setFocus(Qt.FocusReason.ShortcutFocusReason)

    @property
    def found(self) -> tuple[Item, ...]:
        """What fits at the moment, the best first."""
        return tuple(found.item for found in self._rows.found)

    def run_current(self) -> None:
        """Do what the current row says; one that can't be done now is passed over."""
        row = self.list.currentIndex().row()
        if 0 <= row < len(self._rows.found):
            item = self._rows.found[row].item
            if item.enabled:
                self.shut()
                item.run()

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours."""
        self._painting.theme = theme
        self.list.viewport().update()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """Walk the rows while typing; close when the keyboard leaves."""
        if watched is self.field and event.type() == QEvent.Type.FocusOut:
            focus = self.window().focusWidget()
            if focus is None or not self.isAncestorOf(focus):
                self._before = None
                self.shut()
        elif watched is self.field and event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            return self._key(event)
        return super().eventFilter(watched, event)

    def _clicked(self, index: QModelIndex) -> None:
        self._go(index.row())
        self.run_current()

    def _key(self, event: QKeyEvent) -> bool:
        by = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_PageUp: 1 - SHOWN_ROWS,
              Qt.Key.Key_PageDown: SHOWN_ROWS - 1, Qt.Key.Key_Tab: 1, Qt.Key.Key_Backtab: -1}  # fmt: skip
        key = Qt.Key(event.key())
        if key in by:
            self._walk(by[key])
        elif key == Qt.Key.Key_Escape:
            self.shut()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.run_current()
        else:
            return False
        return True

    def _walk(self, by: int) -> None:
        rows = len(self._rows.found)
        at = self.list.currentIndex().row()
        if rows:
            # Single steps go round, pages stop at the ends.
            self._go((at + by) % rows if abs(by) == 1 else min(max(at + by, 0), rows - 1))

    def _go(self, row: int) -> None:
        self.list.setCurrentIndex(self._rows.index(row))
        item = self._rows.found[row].item
        self.field.setAccessibleDescription(" ".join(filter(None, (item.name, item.kind, item.shortcut))))

    def _search(self, typed: str) -> None:
        found = find(typed, self._items)
        self._rows.fill(found)
        self.list.setVisible(bool(found))
        self._nothing.setVisible(not found)
        self._nothing.setText(f"Nothing has a name like “{typed.strip()}”. Try fewer letters.")
        if found:
            self._go(0)
        self._fit(len(found))

    def _fit(self, rows: int) -> None:
        over = self.parentWidget()
        room = over.width() if over is not None else WIDTH_PX + 4 * GRID_PX
        self.setFixedWidth(min(WIDTH_PX, room - 4 * GRID_PX))
        self.list.setFixedHeight(max(min(rows, SHOWN_ROWS), 1) * ROW_PX)
        self.adjustSize()
        if over is not None:
            self.move((room - self.width()) // 2, 12 * GRID_PX)

    def _all_items(self, board: Board) -> Iterator[Item]:
        for action in self._actions():
            if not action.isSeparator() and action.text() and action.isVisible():
                yield _of_action(action)
        for lane in board.lanes:
            yield Item(lane.name, "lane", _bound(self._state.set_lane, lane.name))
        for device in board.devices:
            yield Item(device.ref, f"device, {device.part}", _bound(self.device_chosen.emit, device.ref))
        for section in section_names():
            kind = fact_of(Catalogue, section).label.lower()
            for entry in getattr(board.catalogue, section):
                yield Item(entry.name, kind, _bound(self.entry_chosen.emit, section, entry.name))


FOUND_AS = "foundAs"
"""The property of an action whose text says little outside of its menu: what it is called in the palette."""


def _of_action(action: QAction) -> Item:
    name = str(action.property(FOUND_AS) or "")
    name = name or action.text().replace("&&", "\0").replace("&", "").replace("\0", "&")
    shortcut = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
    return Item(name, "action" if not action.isCheckable() else "switch", action.trigger, shortcut, action.isEnabled())


def _bound(call: Callable[..., object], *values: str) -> Callable[[], None]:
    def run() -> None:
        call(*values)

    return run


class _Rows(QAbstractListModel):
    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.found: list[SearchMatch] = []

    def fill(self, found: list[SearchMatch]) -> None:
        """Show other rows."""
        self.beginResetModel()
        self.found = found
        self.endResetModel()

    def rowCount(self, parent: _AtIndex | None = None) -> int:  # noqa: N802 - Qt's name
        """How many there are."""
        return 0 if parent is not None and parent.isValid() else len(self.found)

    def data(self, index: _AtIndex, role: int = Qt.ItemDataRole.DisplayRole) -> Any:  # noqa: ANN401 - Qt's
        """The name, and for those who can't see the row all of it."""
        item = self.found[index.row()].item
        if role == Qt.ItemDataRole.DisplayRole:
            return item.name
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return " ".join(filter(None, (item.name, item.kind, item.shortcut)))
        return self.found[index.row()] if role == Qt.ItemDataRole.UserRole else None


class _Painting(QStyledItemDelegate):
    """Name with the letters that were meant set off, kind and shortcut at the right."""

    def __init__(self, theme: Theme, parent: QObject) -> None:
        super().__init__(parent)
        self.theme = theme

    def sizeHint(self, option: QStyleOptionViewItem, index: _AtIndex) -> QSize:  # noqa: N802 - Qt's name
        """Rows are alike."""
        del option, index
        return QSize(WIDTH_PX // 2, ROW_PX)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: _AtIndex) -> None:
        """Paint a row."""
        found: SearchMatch = index.data(Qt.ItemDataRole.UserRole)
        current = bool(option.state & QStyle.StateFlag.State_Selected)
        theme = self.theme
        painter.save()
        if current:
            painter.fillRect(option.rect, QColor(theme.desk))
            mark = QRect(option.rect)
            mark.setWidth(3)
            painter.fillRect(mark, QColor(theme.accent))
        inside = option.rect.adjusted(3 * GRID_PX, 0, -3 * GRID_PX, 0)
        painter.setPen(QColor(theme.quiet))
        painter.setFont(option.font)
        right = found.item.shortcut or found.item.kind
        painter.drawText(inside, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, right)
        taken = option.fontMetrics.horizontalAdvance(right) + 4 * GRID_PX
        self._paint_name(painter, inside.adjusted(0, 0, -taken, 0), found, option.font)
        painter.restore()

    def _paint_name(self, painter: QPainter, inside: QRect, found: SearchMatch, font: QFont) -> None:
        heavy = QFont(font)
        heavy.setWeight(QFont.Weight.Bold)
        x, places = float(inside.left()), set(found.places)
        painter.setClipRect(inside)
        for letters, meant in _pieces(found.item.name, places):
            painter.setFont(heavy if meant else font)
            ink = self.theme.faint if not found.item.enabled else self.theme.accent if meant else self.theme.ink
            painter.setPen(QColor(ink))
            width = QFontMetricsF(painter.font()).horizontalAdvance(letters)
            piece = QRect(round(x), inside.top(), round(width) + 2, inside.height())
            painter.drawText(piece, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, letters)
            x += width


def _pieces(text: str, places: set[int]) -> Iterator[tuple[str, bool]]:
    start = 0
    for at in range(1, len(text) + 1):
        if at == len(text) or (at in places) != (start in places):
            yield text[start:at], start in places
            start = at
