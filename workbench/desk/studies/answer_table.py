"""The table of an answer: a row is looked at by hovering over it, chosen by clicking or walking, taken by Enter."""

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QColor, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters
from workbench.studies.presentation import Point, Presentation, TableRow


class AnswerTable(QTableWidget):
    """Answers, the best first.

    Signals:
        hovered: the pointer came over a row with a variant (its `Point`), or left (None).
        pointed: a row with a variant was clicked or walked to; its `Point`.
        taken: a row was double-clicked, or Enter pressed on it.
    """

    hovered = Signal(object)
    pointed = Signal(object)
    taken = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._rows, self._hovered = theme, tuple[TableRow, ...](), -1
        self.setAccessibleName("Answers, the best first")
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.verticalHeader().hide()
        self.setShowGrid(False)
        set_letters(self, 8.5)
        self.setMouseTracking(True)
        self.cellEntered.connect(lambda row, _: self._enter(row))
        self.viewportEntered.connect(self._leave)
        self.itemSelectionChanged.connect(self._point)
        self.itemActivated.connect(lambda _: self.taken.emit())

    @property
    def chosen(self) -> tuple[TableRow, int] | None:
        """The row and the column's number that were clicked or walked to last; None for none."""
        row = self.currentRow()
        return (self._rows[row], self.currentColumn()) if 0 <= row < len(self._rows) else None

    def show_answer(self, shown: Presentation) -> None:
        """Show an answer; while it only grows at its end, what is chosen stays chosen."""
        if shown.rows[: len(self._rows)] != self._rows or self.columnCount() != len(shown.heads) or not self._rows:
            self._begin(shown)
        for r in range(self.rowCount(), len(shown.rows)):
            self._add(r, shown.rows[r])
        self._rows = shown.rows
        self._fit()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Fit the columns anew."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        """Every column gets what it needs; where that is too much the longest is cut, and its tip has it whole."""
        head, count = self.horizontalHeader(), self.columnCount()
        head.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        if count and head.length() > self.viewport().width():
            longest = max(range(count), key=head.sectionSize)
            head.setSectionResizeMode(longest, QHeaderView.ResizeMode.Stretch)

    def viewportEvent(self, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """The pointer leaves."""
        if event.type() is QEvent.Type.Leave:
            self._leave()
        return super().viewportEvent(event)

    def _begin(self, shown: Presentation) -> None:
        self.blockSignals(True)
        self.clear()
        self._rows, self._hovered = (), -1
        self.setRowCount(0)
        self.setColumnCount(len(shown.heads))
        self.setHorizontalHeaderLabels(list(shown.heads))
        self.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        set_letters(self.horizontalHeader(), 8.0)
        self.verticalHeader().setDefaultSectionSize(5 * GRID_PX)
        self.blockSignals(False)

    def _add(self, r: int, row: TableRow) -> None:
        self.insertRow(r)
        for c, cell in enumerate(row.cells):
            item = QTableWidgetItem(cell)
            item.setToolTip(row.point.marked if row.point is not None and row.point.marked else cell)
            if row.point is not None and row.point.marked:
                item.setForeground(QColor(self._theme.accent))
            self.setItem(r, c, item)

    def _enter(self, row: int) -> None:
        point = self._variant(row)
        if row != self._hovered and point is not None:
            self._hovered = row
            self.hovered.emit(point)

    def _leave(self) -> None:
        if self._hovered >= 0:
            self._hovered = -1
            self.hovered.emit(None)

    def _point(self) -> None:
        chosen = self.selectionModel().selectedRows()
        point = self._variant(chosen[0].row()) if chosen else None
        if point is not None:
            self.pointed.emit(point)

    def _variant(self, row: int) -> Point | None:
        """The variant that a row stands for; None where it stands for none that can be made."""
        point = self._rows[row].point if 0 <= row < len(self._rows) else None
        return point if point is not None and point.edit is not None else None
