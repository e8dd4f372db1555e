"""The lanes as a Qt model: follows the document and what is computed, filters and sorts; decides nothing."""

from time import monotonic
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QObject, QPersistentModelIndex, Qt, QTimer, Signal

from workbench.board.model import Board
from workbench.desk.lanes.rows import LaneColumn, LaneTableRow, Needs, heading_of, needs, row_of
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.engine.assessment import LaneAssessment

GATHER_MS = 30
LATE_S = 0.15
"""What is recomputed within this is not shown as out of date: nothing shall flicker."""

Index = QModelIndex | QPersistentModelIndex
_NONE = QModelIndex()
_ROLE = Qt.ItemDataRole


class LaneModel(QAbstractTableModel):
    """A row a lane of the shown board, in the board's order or sorted by a column, without what the filter hides.

    Signals:
        rename_wanted: a name was typed: (old, new).
        sorted_changed: it is sorted by another column, or in the other direction.
    """

    rename_wanted = Signal(str, str)
    sorted_changed = Signal()

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._document, self._state, self._computing = document, state, computing
        self._rows: dict[str, LaneTableRow] = {}
        self._shown: list[str] = []
        self._numbers: dict[str, int] = {}
        self._known: dict[str, Needs] = {}
        self._since: dict[str, float] = {}
        self._changed: set[str] = set()
        self._words: tuple[str, ...] = ()
        self.sorted_by: LaneColumn | None = None
        self.descending = False
        self.held = False
        self._gather = QTimer(self, singleShot=True, interval=GATHER_MS)
        self._gather.timeout.connect(self._settle)
        self._late = QTimer(self, singleShot=True, interval=round(LATE_S * 1e3))
        self._late.timeout.connect(self._tell_late)
        self._known = {lane.name: needs(document.shown, lane) for lane in document.shown.lanes}
        document.changed.connect(self._follow)
        document.changing.connect(self._follow)
        computing.lane_ready.connect(self._take)
        computing.lane_lost.connect(self._lose)
        self._follow(document.shown)

    # --- what it holds

    def row(self, number: int) -> LaneTableRow:
        """A row by its number on screen."""
        return self._rows[self._shown[number]]

    def names(self) -> tuple[str, ...]:
        """The lanes on screen, from above."""
        return tuple(self._shown)

    def number_of(self, name: str) -> int | None:
        """Where a lane is on screen; None if it is not."""
        return self._numbers.get(name)

    @property
    def total(self) -> int:
        """How many lanes the board has."""
        return len(self._rows)

    def assessed(self) -> tuple[LaneAssessment, ...]:
        """What is known of the lanes, in the board's order."""
        return tuple(row.found for row in self._rows.values() if row.found is not None)

    # --- what is asked of it

    def set_filter(self, text: str) -> None:
        """Show only lanes whose name, profile or verdict has every word."""
        words = tuple(text.casefold().split())
        if words != self._words:
            self._words = words
            self._arrange()

    def sort_by(self, column: LaneColumn | None, *, descending: bool = False) -> None:
        """Sort by a column; None: the board's own order."""
        self.sorted_by, self.descending = column, descending and column is not None
        self._arrange()
        self.sorted_changed.emit()

    def turn(self, column: LaneColumn) -> None:
        """Sort by a column; if it is sorted by it, the other way round; then in the board's order again."""
        if self.sorted_by is not column:
            self.sort_by(column)
        elif not self.descending:
            self.sort_by(column, descending=True)
        else:
            self.sort_by(None)

    def hold(self, held: bool) -> None:
        """Let no row move while its name is typed."""
        self.held = held
        if not held:
            self._settle()

    # --- Qt's own

    def rowCount(self, parent: Index = _NONE) -> int:  # noqa: N802 - Qt's name
        """How many lanes are on screen."""
        return 0 if parent.isValid() else len(self._shown)

    def columnCount(self, parent: Index = _NONE) -> int:  # noqa: N802 - Qt's name
        """How many columns there are."""
        return 0 if parent.isValid() else len(LaneColumn)

    def data(self, index: Index, role: int = _ROLE.DisplayRole) -> Any:  # noqa: ANN401 - whatever the role is of
        """What a cell shows."""
        if not index.isValid():
            return None
        row, column = self.row(index.row()), LaneColumn(index.column())
        if role == _ROLE.DisplayRole:
            return row.texts[column]
        match role:
            case _ROLE.EditRole:
                value: object = row.name if column is LaneColumn.NAME else row.keys[column]
            case _ROLE.ToolTipRole:
                value = row.tip(column)
            case _ROLE.AccessibleTextRole:
                heading = heading_of(column)
                value = f"{heading.title} {row.texts[column]} {heading.unit}".rstrip()
            case _:
                value = None
        return value

    def headerData(  # noqa: N802 - Qt's name
        self, section: int, orientation: Qt.Orientation, role: int = _ROLE.DisplayRole
    ) -> Any:  # noqa: ANN401 - whatever the role is of
        """A column's title with its unit, or its tip."""
        if orientation is not Qt.Orientation.Horizontal or not 0 <= section < len(LaneColumn):
            return None
        heading = heading_of(LaneColumn(section))
        if role == _ROLE.DisplayRole:
            return f"{heading.title}, {heading.unit}" if heading.unit else heading.title
        return heading.tip if role == _ROLE.ToolTipRole else None

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Only names can be typed over."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return flags | Qt.ItemFlag.ItemIsEditable if index.column() == LaneColumn.NAME else flags

    def setData(self, index: Index, value: object, role: int = _ROLE.EditRole) -> bool:  # noqa: N802 - Qt's name
        """Ask for a lane to be renamed."""
        if not index.isValid() or role != _ROLE.EditRole or index.column() != LaneColumn.NAME:
            return False
        old, new = self.row(index.row()).name, str(value).strip()
        if new != old:
            # Once the editor is gone: the rows may be others then.
            QTimer.singleShot(0, self, lambda: self.rename_wanted.emit(old, new))
        return True

    def retell(self) -> None:
        """Tell every row anew: figures are shown in other units."""
        self._rows = {}
        self._follow(self._document.shown)

    # --- following

    def _follow(self, board: Board) -> None:
        before, self._rows = self._rows, {}
        for lane in board.lanes:
            old = before.get(lane.name)
            found = self._computing.assessments.get(lane.name)
            stale = found is not None and self._known.get(lane.name) != needs(board, lane)
            profile = lane.profile or board.profile
            same = old is not None and old.lane is lane and old.stale == stale and old.found is found
            if old is not None and same and profile == old.texts[LaneColumn.PROFILE]:
                self._rows[lane.name] = old
            else:
                self._put(row_of(lane, profile, found, stale=stale))
        self._since = {name: since for name, since in self._since.items() if name in self._rows}
        if list(before) == list(self._rows):
            self._gather_soon()
        else:
            self._arrange()

    def _take(self, name: str, found: LaneAssessment) -> None:
        old = self._rows.get(name)
        if old is None:
            return
        # While something is tried out, only the current lane is computed as it would be.
        document = self._document
        board = document.shown if name == self._state.lane else document.board
        lane = next((lane for lane in board.lanes if lane.name == name), None)
        if lane is None:
            return
        self._known[name] = needs(board, lane)
        stale = board is not document.shown and self._known[name] != needs(document.shown, old.lane)
        self._put(row_of(old.lane, old.texts[LaneColumn.PROFILE], found, stale=stale))
        self._gather_soon()

    def _lose(self, name: str) -> None:
        """Nothing is known of a lane any more."""
        old = self._rows.get(name)
        if old is not None:
            self._put(row_of(old.lane, old.texts[LaneColumn.PROFILE], None, stale=False))
            self._gather_soon()

    def _put(self, row: LaneTableRow) -> None:
        """Put a row in its place; one that has been out of date for long looks so at once."""
        name = row.name
        if not row.stale:
            self._since.pop(name, None)
        else:
            since = self._since.setdefault(name, monotonic())
            row = row._replace(late=monotonic() - since >= LATE_S)
            if not row.late and not self._late.isActive():
                self._late.start()
        self._rows[name] = row
        self._changed.add(name)

    def _tell_late(self) -> None:
        for name in list(self._since):
            row = self._rows.get(name)
            if row is not None and not row.late:
                self._put(row)
        self._gather_soon()

    def _gather_soon(self) -> None:
        if self._changed and not self._gather.isActive():
            self._gather.start()

    def _settle(self) -> None:
        if self.held or not self._changed:
            return
        trying_out = self._document.shown is not self._document.board
        by_what_changes = self._words or self.sorted_by not in (None, LaneColumn.NAME)
        # Rows that move under the pointer that drags would be no help.
        if by_what_changes and not trying_out:
            self._arrange()
        else:
            self._repaint()

    def _arrange(self) -> None:
        """Bring the rows on screen into the order and choice that is asked for."""
        wanted = self._wanted()
        if wanted == self._shown:
            self._repaint()
            return
        self.beginResetModel()
        self._shown = wanted
        self._numbers = {name: number for number, name in enumerate(wanted)}
        self._changed.clear()
        self.endResetModel()

    def _wanted(self) -> list[str]:
        rows = [row for row in self._rows.values() if row.matches(self._words)]
        column = self.sorted_by
        if column is not None:
            known = [row for row in rows if row.keys[column] is not None]
            unknown = [row for row in rows if row.keys[column] is None]
            known.sort(key=lambda row: row.keys[column], reverse=self.descending)  # type: ignore[arg-type,return-value]
            rows = known + unknown
        return [row.name for row in rows]

    def _repaint(self) -> None:
        numbers = sorted(self._numbers[name] for name in self._changed if name in self._numbers)
        self._changed.clear()
        if numbers:
            self.dataChanged.emit(self.index(numbers[0], 0), self.index(numbers[-1], len(LaneColumn) - 1))
