"""The list part of the lane table: a row a lane, drawn by the delegate, walked by keys."""

from collections.abc import Collection, Sequence

from PySide6.QtCore import (
    QEvent,
    QItemSelection,
    QItemSelectionModel,
    QModelIndex,
    QPersistentModelIndex,
    QRect,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QColor,
    QContextMenuEvent,
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractItemDelegate, QAbstractItemView, QHeaderView, QLineEdit, QTableView, QWidget

from workbench.desk.lanes.drag import LaneDrag
from workbench.desk.lanes.model import LaneModel
from workbench.desk.lanes.paint import LaneDelegate, LaneHeader
from workbench.desk.lanes.rows import ALWAYS, ON_DEMAND, LaneColumn
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme

_Flag = QItemSelectionModel.SelectionFlag
_Cursor = QAbstractItemView.CursorAction


class LaneRowsView(QTableView):
    """Shows a lane model; selects by names.

    Signals:
        menu_wanted: the menu of the selected lanes is asked for, at a place on the screen.
        chosen: Ctrl+Enter was pressed on a lane.
        dropped: lanes were dragged to another place: their names, and before which row they are to stand.
    """

    menu_wanted = Signal(object)
    chosen = Signal()
    dropped = Signal(object, int)

    def __init__(self, model: LaneModel, state: ViewState, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._lanes, self.empty_text, self._anchor = model, "", ""
        self._kept = False
        self.setAccessibleName("Lanes")
        self.setModel(model)
        self.delegate = LaneDelegate(model, state, theme, self)
        self.setItemDelegate(self.delegate)
        self.header = LaneHeader(model, theme, self)
        self.setHorizontalHeader(self.header)
        self.header.sectionClicked.connect(lambda section: model.turn(LaneColumn(section)))
        model.sorted_changed.connect(self.header.viewport().update)
        self.drag = LaneDrag(self)
        self._set_up()
        model.modelReset.connect(self.drag.cancel)
        model.modelReset.connect(self.fit_columns)
        self.set_theme(theme)
        self.show_columns(frozenset(LaneColumn) - ON_DEMAND)

    def selected(self) -> tuple[str, ...]:
        """The names of the selected lanes, from above."""
        numbers = sorted({index.row() for index in self.selectionModel().selectedRows()})
        return tuple(self._lanes.row(number).name for number in numbers)

    def current(self) -> str:
        """The name of the lane that the keyboard is on; "" if none."""
        index = self.currentIndex()
        return self._lanes.row(index.row()).name if index.isValid() else ""

    def select(self, current: str, names: tuple[str, ...]) -> None:
        """Select lanes that are on screen, and scroll to the current one."""
        self._anchor = current
        model, chosen = self.selectionModel(), QItemSelection()
        for row in sorted(n for name in names if (n := self._lanes.number_of(name)) is not None):
            chosen.select(self._lanes.index(row, 0), self._lanes.index(row, len(LaneColumn) - 1))
        model.select(chosen, _Flag.ClearAndSelect)
        number = self._lanes.number_of(current)
        if number is None:
            model.setCurrentIndex(QModelIndex(), _Flag.NoUpdate)
            return
        index = self._lanes.index(number, LaneColumn.NAME)
        model.setCurrentIndex(index, _Flag.NoUpdate)
        self.scrollTo(index)
        self.horizontalScrollBar().setValue(0)  # the verdict stays in sight

    def edit_name(self, name: str) -> None:
        """Type a lane's name over it."""
        number = self._lanes.number_of(name)
        if number is not None:
            index = self._lanes.index(number, LaneColumn.NAME)
            self.scrollTo(index)
            self.edit(index)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._quiet, self._landing = QColor(theme.quiet), QColor(theme.accent)
        self.delegate.set_theme(theme)
        self.header.set_theme(theme)
        self.verticalHeader().setDefaultSectionSize(self.delegate.row_px)
        self.fit_columns()
        self.updateGeometries()
        self.viewport().update()

    @property
    def columns(self) -> tuple[LaneColumn, ...]:
        """The columns that are shown, from the left."""
        return tuple(column for column in LaneColumn if not self.isColumnHidden(column))

    def show_columns(self, columns: Collection[LaneColumn]) -> None:
        """Show these columns, and those that are always there."""
        for column in LaneColumn:
            self.setColumnHidden(column, column not in columns and column not in ALWAYS)
        self.fit_columns()

    def fit_columns(self) -> None:
        """Give every column what it needs, and the names what is left."""
        shown = [column for column in self.columns if column is not LaneColumn.NAME]
        for column in shown:
            self.header.resizeSection(column, self.delegate.width_of(column))
        others = sum(self.header.sectionSize(column) for column in shown)
        least = self.delegate.width_of(LaneColumn.NAME)
        self.header.resizeSection(LaneColumn.NAME, max(least, self.viewport().width() - others))

    # --- Qt's own

    def dataChanged(  # noqa: N802 - Qt's name
        self, topLeft: QModelIndex | QPersistentModelIndex, bottomRight: QModelIndex | QPersistentModelIndex,
        roles: Sequence[int] = (),
    ) -> None:  # fmt: skip
        """Draw the rows that changed; Qt would draw all of them, at every move of a pointer that drags."""
        if self.state() is QAbstractItemView.State.EditingState:
            super().dataChanged(topLeft, bottomRight, list(roles))
        else:
            self.viewport().update(self.visualRect(topLeft).united(self.visualRect(bottomRight)))
            rows = range(topLeft.row(), bottomRight.row() + 1)
            cramped = any(self.delegate.is_cramped(c, rows, self.columnWidth(c)) for c in self.columns)
            if cramped:
                self.fit_columns()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Fit the columns anew."""
        super().resizeEvent(event)
        self.fit_columns()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the rows, or the sentence that stands for them."""
        super().paintEvent(event)
        if self.drag.names:
            painter = QPainter(self.viewport())
            self.drag.paint(painter, self._landing)
            painter.end()
        if self._lanes.rowCount() == 0 and self.empty_text:
            painter = QPainter(self.viewport())
            painter.setFont(self.delegate.font)
            painter.setPen(self._quiet)
            inside = self.viewport().rect().adjusted(4 * GRID_PX, 6 * GRID_PX, -4 * GRID_PX, 0)
            flags = Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignHCenter
            painter.drawText(inside, int(flags) | int(Qt.TextFlag.TextWordWrap), self.empty_text)
            painter.end()

    def moveCursor(  # noqa: N802 - Qt's name
        self, cursorAction: QAbstractItemView.CursorAction, modifiers: Qt.KeyboardModifier
    ) -> QModelIndex:
        """Home and End go to the first and last lane; left and right stay in the lane."""
        rows, now = self._lanes.rowCount(), self.currentIndex()
        if rows and cursorAction in (_Cursor.MoveHome, _Cursor.MoveEnd):
            return self._lanes.index(0 if cursorAction is _Cursor.MoveHome else rows - 1, LaneColumn.NAME)
        if now.isValid() and cursorAction in (_Cursor.MoveLeft, _Cursor.MoveRight):
            return now
        if rows and not now.isValid():
            return self._lanes.index(0, LaneColumn.NAME)
        return super().moveCursor(cursorAction, modifiers)

    def setSelection(self, rect: QRect, command: QItemSelectionModel.SelectionFlag) -> None:  # noqa: N802 - Qt's name
        """Shift extends from the lane chosen last, whoever chose it; Qt would take where the last click was."""
        anchor, now = self._lanes.number_of(self._anchor), self.currentIndex()
        dragging = self.state() is QAbstractItemView.State.DragSelectingState
        if dragging or anchor is None or not now.isValid() or not command & _Flag.Current:
            super().setSelection(rect, command)
            return
        first, last = sorted((anchor, now.row()))
        chosen = QItemSelection(self._lanes.index(first, 0), self._lanes.index(last, len(LaneColumn) - 1))
        self.selectionModel().select(chosen, command)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Remember where a selection begins; without Ctrl or Shift what is pressed on can be dragged."""
        index, before = self.indexAt(event.position().toPoint()), self.selected()
        name = self._lanes.row(index.row()).name if index.isValid() else ""
        plain = bool(name) and event.button() is Qt.MouseButton.LeftButton and not event.modifiers()
        held = before if name in before else (name,)
        self._kept = plain and len(held) > 1  # they stay selected until it is clear that this was no drag
        super().mousePressEvent(event)
        self._kept = False
        self._begin_selection(event.modifiers())
        if plain:
            self.drag.press(event.position().toPoint(), held)

    def selectionCommand(  # noqa: N802 - Qt's name
        self, index: QModelIndex | QPersistentModelIndex, event: QEvent | None = None
    ) -> QItemSelectionModel.SelectionFlag:
        """What a press selects: nothing else where several selected lanes may be about to be dragged."""
        return _Flag.NoUpdate if self._kept else super().selectionCommand(index, event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Carry the lanes being dragged."""
        if not self.drag.pressed:
            super().mouseMoveEvent(event)
        elif self.drag.move(event.position().toPoint()):
            self.setCursor(Qt.CursorShape.ClosedHandCursor)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Let the lanes go; a click on one of several selected makes it the only one."""
        pressed, (names, gap) = self.drag.pressed, self.drag.drop()
        self.unsetCursor()
        index = self.indexAt(event.position().toPoint())
        if names and gap is not None:
            self.dropped.emit(names, gap)
        elif pressed and not names and index.isValid() and len(self.selected()) > 1:
            self.select(self._lanes.row(index.row()).name, (self._lanes.row(index.row()).name,))
        super().mouseReleaseEvent(event)

    def closeEditor(self, editor: QWidget, hint: QAbstractItemDelegate.EndEditHint) -> None:  # noqa: N802 - Qt's name
        """Once Enter took a name, the lane below is next: names are typed one after the other."""
        entered = hint is QAbstractItemDelegate.EndEditHint.SubmitModelCache
        typed = editor.text() if isinstance(editor, QLineEdit) else ""
        super().closeEditor(editor, hint)
        number = self._lanes.number_of(typed)
        if entered and number is not None and typed == self.current():
            self._step(1)

    def _step(self, rows: int) -> None:
        """Make the lane so many rows further down the only selected one; at the end stay."""
        row = self.currentIndex().row() + rows
        if self.currentIndex().isValid() and 0 <= row < self._lanes.rowCount():
            name = self._lanes.row(row).name
            self.select(name, (name,))

    def put_back(self) -> bool:
        """Give up a drag; says whether there was one."""
        self.unsetCursor()
        return self.drag.cancel()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """A drag ends with the keyboard's leaving: nothing is moved out of sight."""
        self.put_back()
        super().focusOutEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Enter goes to the lane below (Shift: above), Ctrl+Enter takes the lane; Escape puts back what is dragged."""
        if event.key() == Qt.Key.Key_Escape and self.put_back():
            return
        editing = self.state() is QAbstractItemView.State.EditingState  # the line that is typed in lets Enter through
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not editing:
            if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                self.chosen.emit()
            else:
                self._step(-1 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1)
            return
        super().keyPressEvent(event)
        self._begin_selection(event.modifiers())

    def _begin_selection(self, modifiers: Qt.KeyboardModifier) -> None:
        if not modifiers & Qt.KeyboardModifier.ShiftModifier:
            self._anchor = self.current()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:  # noqa: N802 - Qt's name
        """Ask for the menu, from the keyboard under the current lane."""
        place = event.globalPos()
        if event.reason() is QContextMenuEvent.Reason.Keyboard and self.currentIndex().isValid():
            rect: QRect = self.visualRect(self.currentIndex())
            place = self.viewport().mapToGlobal(rect.bottomLeft())
        self.menu_wanted.emit(place)

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """A style sheet of the window must not set the rows' height."""
        super().changeEvent(event)
        if event.type() in (QEvent.Type.StyleChange, QEvent.Type.FontChange):
            self.verticalHeader().setDefaultSectionSize(self.delegate.row_px)

    def _set_up(self) -> None:
        rows = self.verticalHeader()
        rows.hide()
        rows.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        rows.setMinimumSectionSize(1)
        rows.setDefaultSectionSize(self.delegate.row_px)
        self.header.setMinimumSectionSize(1)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.DoubleClicked)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
