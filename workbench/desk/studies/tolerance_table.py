"""Tolerances as a small table: what varies, and how far, a row each; as text they are what is typed elsewhere."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from workbench.desk.widgets.theme import GRID_PX, set_letters

_ROW_PX, _ROWS_SHOWN = 5 * GRID_PX, 3
_HEADS = ("What varies", "How far")
_TIPS = (
    "impedance, loss, copper loss, permittivity, length, boost, swing, gain, emphasis, noise, random jitter, "
    "deterministic jitter, each also of one entry or device (boost:U1), or a number of the catalogue as "
    "SECTION/NAME/FIELD",
    "such as ±10%, ±1 dB, -1%..+2% uniform per lane",
)


class ToleranceTable(QTableWidget):
    """Rows that are typed into; an empty last one takes the next tolerance, Delete takes one away.

    Signals:
        edited: the tolerances as text, "impedance=±10%; loss=±10%".
    """

    edited = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(0, len(_HEADS), parent)
        self.setAccessibleName("Tolerances")
        self.setHorizontalHeaderLabels(list(_HEADS))
        set_letters(self, 8.5)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(_ROW_PX)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.horizontalHeader().setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        self.setEditTriggers(QAbstractItemView.EditTrigger.AllEditTriggers)
        self.setTabKeyNavigation(True)
        self.setFixedHeight((_ROWS_SHOWN + 1) * _ROW_PX + 2 * GRID_PX)
        self.itemChanged.connect(self._changed)
        self.show_text("")

    def show_text(self, typed: str) -> None:
        """Show tolerances that are given as text."""
        if typed == self.text() and self.rowCount():
            return
        self.blockSignals(True)
        parts = [part.strip() for part in typed.split(";") if part.strip()]
        self.setRowCount(0)
        for what, _, far in (part.partition("=") for part in [*parts, ""]):
            self._add_row(what.strip(), far.strip())
        self.blockSignals(False)

    def text(self) -> str:
        """What stands in the table, as text."""
        rows = (self._cells(row) for row in range(self.rowCount()))
        return "; ".join(f"{what}={far}" if far else what for what, far in rows if what or far)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Delete takes the row away."""
        if event.key() == Qt.Key.Key_Delete and 0 <= self.currentRow() < self.rowCount() - 1:
            self.removeRow(self.currentRow())
            self.edited.emit(self.text())
        else:
            super().keyPressEvent(event)

    def _changed(self, item: QTableWidgetItem) -> None:
        if item.row() == self.rowCount() - 1 and item.text().strip():
            self.blockSignals(True)
            self._add_row("", "")
            self.blockSignals(False)
        self.edited.emit(self.text())

    def _cells(self, row: int) -> tuple[str, str]:
        items = (self.item(row, 0), self.item(row, 1))
        first, second = (one.text().strip() if one is not None else "" for one in items)
        return first, second

    def _add_row(self, what: str, far: str) -> None:
        row = self.rowCount()
        self.insertRow(row)
        for column, (words, tip) in enumerate(zip((what, far), _TIPS, strict=True)):
            item = QTableWidgetItem(words)
            item.setToolTip(tip)
            self.setItem(row, column, item)
