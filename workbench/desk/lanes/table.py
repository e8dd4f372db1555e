"""The lane table: every lane with its verdict and margins; filter, sort, select, change one or many."""

from PySide6.QtCore import QEvent, QObject, QPoint, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QGuiApplication, QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QMenu, QToolButton, QVBoxLayout, QWidget

from workbench.board.model import Board
from workbench.desk.lanes.batch import LaneBatch
from workbench.desk.lanes.commands import LaneCommand, LaneCommands, make_actions, sorting
from workbench.desk.lanes.model import LaneModel
from workbench.desk.lanes.rows import ALWAYS, HEADINGS, MINUS, WORKING, LaneColumn, heading_of
from workbench.desk.lanes.view import LaneRowsView
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters

NO_LANES = "This board has no lanes yet. “Add” (or the Insert key here) makes the first one from the catalogue."
NO_MATCH = "No lane has “{}” in its name, profile or verdict. Escape in the filter shows all again."


class LaneTable(QWidget):
    """The table with its filter; its `actions()` are those of the lane menu.

    Signals:
        lane_chosen: Ctrl+Enter was pressed on a lane; carries its name.
        paste_wanted: cells on the clipboard are to be taken as a lane list.
        working_wanted: how the figure in a cell was computed is asked for.
        remedy_wanted: what would make a lane pass is asked for; carries its name.

    Attributes:
        model, view, filter, batch: its parts.
    """

    lane_chosen = Signal(str)
    paste_wanted = Signal()
    remedy_wanted = Signal(str)
    working_wanted = Signal()

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setObjectName("lanes")
        self._document, self._state = document, state
        self._following = False
        self.model = LaneModel(document, state, computing, self)
        self.commands = LaneCommands(document, state, self.model, self)
        self.view = LaneRowsView(self.model, state, theme, self)
        self.batch = LaneBatch(document, state, self)
        self.filter, self._caption, self._count = QLineEdit(), QLabel("LANES"), QLabel()
        commands = self._commands()
        self._named = make_actions(commands, self, self.view)
        self._on_lanes = [self._named[command.name] for group in commands for command in group if command.needs_lane]
        self._buttons = [self._button("lane.add", "Add"), self._button("lane.set", "Set…")]
        self._lay_out()
        self._settle = QTimer(self, singleShot=True, interval=0)
        self._settle.timeout.connect(self._tell_selection)
        self._connect()
        self.set_theme(theme)
        self._follow_board(document.shown)
        self._follow_state()

    def action(self, name: str) -> QAction:
        """One of its actions by object name, "lane.add"."""
        return self._named[name]

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self.view.set_theme(theme)

    def go_to_worst(self) -> None:
        """Make the worst lane current, on screen whatever the filter hides."""
        name = self.commands.go_to_worst()
        if name and self.model.number_of(name) is None:
            self.filter.clear()

    @property
    def figure(self) -> str:
        """The figure in the cell that was clicked or walked to last; of a column without one, the lane's height."""
        index = self.view.currentIndex()
        return WORKING.get(LaneColumn(index.column()), "eye.height_v") if index.isValid() else "eye.height_v"

    def rename(self) -> None:
        """Type the current lane's name over it."""
        self.view.setFocus()
        self.view.edit_name(self._state.lane)

    @property
    def columns_state(self) -> str:
        """The columns that are shown, as text for `restore_columns`."""
        return " ".join(column.name for column in self.view.columns)

    def restore_columns(self, text: str) -> None:
        """Show the columns that a text of `columns_state` names; "" leaves them as they are."""
        chosen = [LaneColumn[word] for word in text.split() if word in LaneColumn.__members__]
        if chosen:
            self.view.show_columns(chosen)

    def copy_figures(self) -> None:
        """Put the selected lanes, a line each below the headings, on the clipboard for a spreadsheet."""
        columns = [column for column in self.view.columns if column is not LaneColumn.PULSE]
        heads = [f"{heading_of(one).title} {heading_of(one).unit}".strip() for one in columns]
        selected = set(self.view.selected())
        rows = [row for n in range(self.model.rowCount()) if (row := self.model.row(n)).name in selected]
        lines = ["\t".join(heads), *("\t".join(row.texts[column] for column in columns) for row in rows)]
        QGuiApplication.clipboard().setText("\n".join(lines).replace(MINUS, "-"))

    # --- making

    def _commands(self) -> tuple[tuple[LaneCommand, ...], ...]:
        do = self.commands
        return (
            (
                LaneCommand("lane.add", "&Add a lane", ("Ins",), self._add, needs_lane=False),
                LaneCommand("lane.duplicate", "&Duplicate lanes", ("Ctrl+D",), do.duplicate),
                LaneCommand("lane.rename", "&Rename lane", ("F2",), self.rename),
                LaneCommand("lane.set", "&Set a value in all selected lanes…", ("Ctrl+E",), self.batch.open_form),
                LaneCommand("lane.up", "Move lanes &up", ("Alt+Up",), lambda: do.move(-1)),
                LaneCommand("lane.down", "Move lanes do&wn", ("Alt+Down",), lambda: do.move(1)),
                LaneCommand("lane.delete", "D&elete lanes", ("Del",), do.remove),
                LaneCommand("lane.copy", "&Copy figures", ("Ctrl+C",), self.copy_figures),
                LaneCommand("lane.paste", "&Paste a lane list…", ("Ctrl+V",), self.paste_wanted.emit, needs_lane=False),
            ),
            (
                LaneCommand("lane.working", "&How was this computed?", (), self.working_wanted.emit),
                LaneCommand("lane.remedy", "Ma&ke it pass…", ("P",), lambda: self.remedy_wanted.emit(self._state.lane)),
                LaneCommand("lane.worst", "&Worst lane", ("W",), self.go_to_worst),
                LaneCommand("lane.filter", "&Filter lanes", ("Ctrl+F", "/"), self._focus_filter, needs_lane=False),
                LaneCommand("lane.all", "Select a&ll lanes", ("Ctrl+A",), self._select_all),
                LaneCommand("lane.columns", "Colu&mns…", ("Ctrl+Shift+C",), self._open_columns, needs_lane=False),
            ),
            sorting(self.model),
        )

    def _button(self, name: str, text: str) -> QToolButton:
        button, action = QToolButton(self), self._named[name]
        button.setText(text)
        button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        words = action.text().replace("&", "")
        button.setToolTip(f"{words} ({action.shortcut().toString()})")
        button.setAccessibleName(words)
        button.clicked.connect(action.trigger)
        action.enabledChanged.connect(button.setEnabled)
        return button

    def _lay_out(self) -> None:
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        set_letters(self._caption, 8.0, spacing_px=1.2)
        for part in (self._count, self.filter, *self._buttons):
            set_letters(part, 9.0)
        self.filter.setPlaceholderText("Filter")
        self.filter.setToolTip("Words of a lane's name, profile or verdict")
        self.filter.setAccessibleName("Filter of the lanes")
        self.filter.setClearButtonEnabled(True)
        row, body = QHBoxLayout(), QVBoxLayout(self)
        for part in (self._caption, self._count):
            row.addWidget(part)
        row.addWidget(self.filter, 1)
        for button in self._buttons:
            row.addWidget(button)
        row.setSpacing(2 * GRID_PX)
        row.setContentsMargins(2 * GRID_PX, 0, 0, 0)
        body.setContentsMargins(GRID_PX, GRID_PX, 0, 0)
        body.setSpacing(GRID_PX)
        body.addLayout(row)
        body.addWidget(self.batch)
        body.addWidget(self.view, 1)
        self.setFocusProxy(self.view)

    def _connect(self) -> None:
        chosen = self.view.selectionModel()
        chosen.selectionChanged.connect(self._selection_moved)
        chosen.currentChanged.connect(self._selection_moved)
        self.model.modelReset.connect(self._follow_state)
        self.model.modelReset.connect(self._count_lanes)
        self.model.rename_wanted.connect(self.commands.rename)
        self._document.changed.connect(self._follow_board)
        self._document.changing.connect(self._follow_board)
        self._state.lane_changed.connect(self._follow_state)
        self._state.selection_changed.connect(self._follow_state)
        self.filter.textChanged.connect(self.model.set_filter)
        self.filter.textChanged.connect(self._count_lanes)
        self.filter.installEventFilter(self)
        self.view.menu_wanted.connect(self._open_menu)
        self.view.dropped.connect(self._place)
        self.view.header.columns_wanted.connect(self._open_columns)
        self.view.chosen.connect(lambda: self.lane_chosen.emit(self._state.lane))
        self.batch.closed.connect(self.view.setFocus)

    # --- doing

    def _add(self) -> None:
        if self.commands.add():
            if self.model.number_of(self._state.lane) is None:
                self.filter.clear()
            self.rename()

    def _place(self, names: tuple[str, ...], gap: int) -> None:
        self._settle.stop()
        self._tell_selection()  # of the press, which a new order of the rows would forget
        self.commands.place(names, gap)

    def _focus_filter(self) -> None:
        self.filter.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.filter.selectAll()

    def _select_all(self) -> None:
        self.view.setFocus()
        self.view.selectAll()

    def _open_menu(self, place: QPoint) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.addActions(self.actions())
        menu.popup(place)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """In the filter Enter and Down go to the lanes, Escape shows all again."""
        if watched is not self.filter or event.type() is not QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return super().eventFilter(watched, event)
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Down):
            self._enter_list()
            return True
        if event.key() == Qt.Key.Key_Escape:
            self.filter.clear()
            self.view.setFocus()
            return True
        return False

    def _enter_list(self) -> None:
        self.view.setFocus()
        if self.model.rowCount() and self.model.number_of(self._state.lane) is None:
            self._state.set_lane(self.model.row(0).name)

    def _open_columns(self, place: QPoint | None = None) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        shown = self.view.columns
        for column in LaneColumn:
            if column not in ALWAYS:
                action = menu.addAction(HEADINGS[column].title)
                action.setToolTip(HEADINGS[column].tip)
                action.setCheckable(True)
                action.setChecked(column in shown)
                action.toggled.connect(lambda on, column=column: self.show_column(column, on))
        menu.setToolTipsVisible(True)
        menu.popup(place if place is not None else self.view.mapToGlobal(self.view.rect().topLeft()))

    def show_column(self, column: LaneColumn, shown: bool = True) -> None:
        """Show a column, or hide it."""
        now = set(self.view.columns)
        self.view.show_columns(now | {column} if shown else now - {column})

    # --- following

    def _selection_moved(self) -> None:
        if not self._following:
            self._settle.start()

    def _tell_selection(self) -> None:
        """Selection and current lane move one after the other: what they are once both have is told."""
        names, current = self.view.selected(), self.view.current()
        if names:
            self._state.set_lane(current if current in names else names[0], names)

    def _follow_state(self, _: object = None) -> None:
        lane, lanes = self._state.lane, set(self._state.lanes)
        shown = tuple(name for name in self.model.names() if name in lanes)
        if (self.view.current(), self.view.selected()) != (lane, shown):
            self._following = True
            self.view.select(lane, shown)
            self._following = False
        self.view.viewport().update()
        self._enable()

    def _follow_board(self, _: Board) -> None:
        self._count_lanes()
        self._enable()

    def _enable(self) -> None:
        selected = set(self._state.lanes)
        enabled = any(lane.name in selected for lane in self._document.board.lanes)
        for action in self._on_lanes:
            action.setEnabled(enabled)

    def _count_lanes(self) -> None:
        shown, total = self.model.rowCount(), self.model.total
        self._count.setText(f"{total}" if shown == total else f"{shown} of {total}")
        typed = self.filter.text().strip()
        sentence = NO_MATCH.format(typed) if typed and total else "" if total else NO_LANES
        if sentence != self.view.empty_text:
            self.view.empty_text = sentence
            self.view.viewport().update()
