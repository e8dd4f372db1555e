"""The Parts list: groups and their rows, and the pointer that pulls a row out."""

from collections.abc import Sequence

from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtGui import QBrush, QColor, QFocusEvent, QKeyEvent, QMouseEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QApplication,
    QFrame,
    QHeaderView,
    QLabel,
    QToolButton,
    QTreeWidget,
    QTreeWidgetItem,
    QWidget,
)

from workbench.board.edits.part_items import PartGroup, PartItem
from workbench.desk.session.part_drag import DragSession
from workbench.desk.widgets.theme import GRID_PX, Theme, figures_font

_ITEM = Qt.ItemDataRole.UserRole
_SECTION = Qt.ItemDataRole.UserRole + 1
_SHIFT = Qt.KeyboardModifier.ShiftModifier


class PartsList(QTreeWidget):
    """The groups and their rows; a press and a pull takes a row out.

    Signals:
        new_wanted: an entry is to be made under a heading; carries its section.
    """

    new_wanted = Signal(str)

    def __init__(self, drag: DragSession, parent: QWidget) -> None:
        super().__init__(parent)
        self._drag = drag
        self._pressed: tuple[QPoint, PartItem] | None = None
        self._ghost: QLabel | None = None
        self._heads: list[QTreeWidgetItem] = []
        self._open: dict[str, bool] = {}
        self._filtered = False
        self.setColumnCount(2)
        self.setHeaderHidden(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setIndentation(3 * GRID_PX)
        self.setUniformRowHeights(True)
        self.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setExpandsOnDoubleClick(False)
        self.setAccessibleName("Parts")
        header = self.header()
        header.setStretchLastSection(False)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.ResizeToContents)
        self.itemExpanded.connect(self._remember)
        self.itemCollapsed.connect(self._remember)

    def fill(self, groups: Sequence[PartGroup], theme: Theme) -> None:
        """Show groups; what is marked and in sight stays so."""
        marked, top = self.current(), self.verticalScrollBar().value()
        self.blockSignals(True)
        self.clear()
        self._heads = [self._make_group(group) for group in groups]
        self.blockSignals(False)
        self.set_theme(theme)
        self.narrow("")
        if marked is not None:
            # It was told when it was marked; told again, it would take the details away from what is typed there.
            self.blockSignals(True)
            self.mark(marked)
            self.blockSignals(False)
        self.verticalScrollBar().setValue(top)

    def mark(self, item: PartItem) -> None:
        """Mark an item, if it is there."""
        for row in self.rows():
            if row.data(0, _ITEM) == item:
                self.setCurrentItem(row)

    def mark_section(self, section: str) -> None:
        """Mark the heading of a section."""
        for head in self._heads:
            if head.data(0, _SECTION) == section:
                self.setCurrentItem(head)

    @property
    def section(self) -> str:
        """The section of the board's catalogue that the marked row or heading belongs to; "" for none."""
        row = self.currentItem()
        head = row.parent() if row is not None and row.parent() is not None else row
        return str(head.data(0, _SECTION) or "") if head is not None else ""

    def narrow(self, text: str) -> bool:
        """Show the rows that have every typed word in their name, note or group; whether there are any."""
        words = text.casefold().split()
        self._filtered = bool(words)
        self.blockSignals(True)
        for head in self._heads:
            rows = _children(head)
            for row in rows:
                known = f"{row.text(0)} {row.text(1)} {head.text(0)}".casefold()
                row.setHidden(not all(word in known for word in words))
            made_here = bool(head.data(0, _SECTION)) and not words
            head.setHidden(all(row.isHidden() for row in rows) and not made_here)
            # A board's own entries are in sight at first, those of the starters on demand.
            usual = bool(rows) and rows[0].data(0, _ITEM).kind != "starter"
            head.setExpanded(bool(words) or self._open.get(head.text(0), usual))
        self.blockSignals(False)
        self.viewport().update()
        return not all(head.isHidden() for head in self._heads)

    def rows(self) -> list[QTreeWidgetItem]:
        """Every row of every group."""
        return [row for head in self._heads for row in _children(head)]

    def current(self) -> PartItem | None:
        """The item that is marked; None on a caption."""
        row = self.currentItem()
        return row.data(0, _ITEM) if row is not None else None

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Be ready to take what is under the pointer."""
        super().mousePressEvent(event)
        row = self.itemAt(event.position().toPoint())
        item: PartItem | None = row.data(0, _ITEM) if row is not None else None
        takes = event.button() == Qt.MouseButton.LeftButton and item is not None and item.placeable
        self._pressed = (event.position().toPoint(), item) if takes and item is not None else None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Carry what is dragged."""
        if self._pressed is None or not event.buttons() & Qt.MouseButton.LeftButton:
            super().mouseMoveEvent(event)
            return
        origin, item = self._pressed
        pulled = (event.position().toPoint() - origin).manhattanLength() >= QApplication.startDragDistance()
        if self._drag.item is not None or pulled:
            place = event.globalPosition().toPoint()
            self._drag.move(item, place, fresh=bool(event.modifiers() & _SHIFT))
            self._carry(item, place)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Let go of what is dragged."""
        self._pressed = None
        if self._drag.item is not None:
            self._lay_down()
            self._drag.drop(event.globalPosition().toPoint(), fresh=bool(event.modifiers() & _SHIFT))
        else:
            super().mouseReleaseEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape puts back what is dragged; Shift asks for a device of its own."""
        if self._drag.item is None:
            super().keyPressEvent(event)
        elif event.key() == Qt.Key.Key_Escape:
            self.put_back()
        else:
            event.accept()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Nothing stays dragged once the keyboard is elsewhere."""
        super().focusOutEvent(event)
        if event.reason() == Qt.FocusReason.ActiveWindowFocusReason:
            self.put_back()

    def put_back(self) -> None:
        """Put back what is dragged."""
        self._pressed = None
        self._lay_down()
        self._drag.cancel()

    def _carry(self, item: PartItem, place: QPoint) -> None:
        """Show the item's name beside the pointer."""
        window = self.window()
        if self._ghost is None:
            self._ghost = QLabel(window)
            self._ghost.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
            self._ghost.setObjectName("dragged")
        self._ghost.setText(item.name)
        self._ghost.adjustSize()
        self._ghost.move(window.mapFromGlobal(place) + QPoint(4 * GRID_PX, 3 * GRID_PX))
        self._ghost.raise_()
        self._ghost.show()

    def _lay_down(self) -> None:
        if self._ghost is not None:
            self._ghost.hide()
            self._ghost.deleteLater()
            self._ghost = None

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        ink, quiet, faint = (QBrush(QColor(colour)) for colour in (theme.ink, theme.quiet, theme.faint))
        small = figures_font(8.0)
        for head in self._heads:
            head.setForeground(0, quiet)
            head.setFont(0, small)
        for row in self.rows():
            item: PartItem = row.data(0, _ITEM)
            row.setForeground(0, ink if item.placeable else faint)
            row.setForeground(1, quiet)
            row.setFont(1, small)

    def _make_group(self, group: PartGroup) -> QTreeWidgetItem:
        head = QTreeWidgetItem(self, [group.title])
        head.setFlags(Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable)
        head.setData(0, _SECTION, group.section)
        if group.section:
            self._add_new_button(head, group)
        else:
            head.setFirstColumnSpanned(True)
        for item, note in group.rows:
            row = QTreeWidgetItem(head, [item.name, note])
            row.setData(0, _ITEM, item)
            row.setTextAlignment(1, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            row.setToolTip(0, _tip(item))
        return head

    def _add_new_button(self, head: QTreeWidgetItem, group: PartGroup) -> None:
        button = QToolButton(autoRaise=True)
        button.setObjectName("newEntry")
        button.setText("New…")
        button.setToolTip(f"Make an entry of {group.title.lower()}")
        button.setAccessibleName(f"New entry of {group.title.lower()}")
        button.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # the arrows walk the list; Insert makes one under any heading
        button.clicked.connect(lambda _=False, section=group.section: self.new_wanted.emit(section))
        self.setItemWidget(head, 1, button)

    def _remember(self, head: QTreeWidgetItem) -> None:
        if not self._filtered:
            self._open[head.text(0)] = head.isExpanded()


def _children(head: QTreeWidgetItem) -> list[QTreeWidgetItem]:
    return [row for number in range(head.childCount()) if (row := head.child(number)) is not None]


def _tip(item: PartItem) -> str:
    if not item.placeable:
        return f"{item.name}: lines and vias are made with it"
    own = ", Shift for a new device" if item.section == "conditioners" else ""
    first = " It comes into the catalogue with it." if item.kind == "starter" else ""
    return f"{item.name}: drag it into the path, or press Enter{own}.{first}"
