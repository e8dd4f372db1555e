"""A list of records as a small table: a row a record, a column a field; numbers are stepped in the open cell."""

from typing import Any

import msgspec
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtGui import QFocusEvent, QWheelEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from workbench.desk.details.cell import CellDelegate
from workbench.desk.details.style import sign_button
from workbench.desk.widgets.inputs import LineInput, ValueInput
from workbench.desk.widgets.values import (
    arms_of,
    fresh,
    in_unit_shown,
    read_number,
    shown_text,
    stepped,
    stepped_text,
    text_of,
    unit_of,
    words_of,
)
from workbench.errors import QuantityError
from workbench.facts import Fact, facts_of
from workbench.wording import any_of

_ROW_PX = 22
_HEAD_PX = 22


class TableInput(ValueInput):
    """The table. A cell is one edit; rows are added below the current one as its copy, and taken out."""

    wide = True

    def __init__(self, fact: Fact, kind: type[msgspec.Struct], locked: bool, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._fact, self._kind = fact, kind
        self._columns = tuple(one for one in facts_of(kind) if _says_something(one))
        self._good: tuple[msgspec.Struct, ...] = ()
        self._tried: tuple[str, Any] | None = None
        self.table = _Table(0, len(self._columns))
        self.cells = CellDelegate(frozenset(n for n, one in enumerate(self._columns) if _is_number(one)), self)
        self.table.setItemDelegate(self.cells)
        self._dress(locked)
        body = QVBoxLayout()
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(2)
        body.addWidget(self.table)
        self.add = sign_button("+", f"Add a row to {fact.label}")
        self.take = sign_button("\u2212", f"Take the row out of {fact.label}")
        self.add.clicked.connect(self._add)
        self.take.clicked.connect(self._take)
        if not locked:
            tools = QHBoxLayout()
            tools.addStretch(1)
            tools.addWidget(self.add)
            tools.addWidget(self.take)
            body.addLayout(tools)
        self.row.addLayout(body)
        self.setFocusProxy(self.table)
        self.table.itemChanged.connect(self._changed)
        self.table.currentCellChanged.connect(self._tell)
        self.cells.stepped.connect(self._step)
        self.cells.ended.connect(self._end)
        self._fill()  # no rows yet: a head alone

    def show_value(self, value: tuple[msgspec.Struct, ...]) -> None:
        """Show the board's rows."""
        if value == self._good and self.table.rowCount() == len(value):
            return
        self._good = value
        self._fill()

    def refuse(self, sentence: str) -> bool:
        """Show the last good rows again."""
        self._fill()
        return super().refuse(sentence)

    def _fill(self) -> None:
        self.table.blockSignals(True)
        self.table.setRowCount(len(self._good))
        for row, record in enumerate(self._good):
            for column, fact in enumerate(self._columns):
                item = QTableWidgetItem(self._text(fact, getattr(record, fact.name)))
                item.setToolTip(item.text())
                if _is_number(fact):
                    item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
                self.table.setItem(row, column, item)
        self.table.blockSignals(False)
        self.table.setFixedHeight(_HEAD_PX + len(self._good) * _ROW_PX + 2)
        self.take.setEnabled(bool(self._good))

    def _text(self, fact: Fact, value: Any) -> str:  # noqa: ANN401 - of the column's type
        unit = unit_of(fact, self._fact.name)
        return text_of(value, unit) if _is_number(fact) else shown_text(value, unit)

    def _read(self, fact: Fact, text: str) -> Any:  # noqa: ANN401 - as above
        words = words_of(arms_of(fact.type)[0][0])
        if _is_number(fact):
            return read_number(text, fact, unit_of(fact, self._fact.name))
        if words and text.strip() not in words:
            raise QuantityError(f"{text.strip()!r} can't stand there; write {any_of(words)}")
        return text.strip()

    def _changed(self, item: QTableWidgetItem) -> None:
        fact, row = self._columns[item.column()], item.row()
        if item.text() == self._text(fact, getattr(self._good[row], fact.name)):
            return
        tried, self._tried = self._tried, None
        try:
            typed = item.text()
            if _is_number(fact):
                typed = in_unit_shown(typed, self._text(fact, getattr(self._good[row], fact.name)))
            value = tried[1] if tried is not None and tried[0] == item.text() else self._read(fact, typed)
        except QuantityError as error:
            kept = self._text(fact, getattr(self._good[row], fact.name))
            self._fill()
            if tried is not None:
                self.dropped.emit()
            self.faulted.emit(f"{str(error)[:1].upper()}{str(error)[1:]}. {kept} is kept.")
            return
        self.faulted.emit("")
        self.settled.emit(self._with(row, fact, value))

    def _step(self, line: LineInput, row: int, column: int, by: int) -> None:
        """Step the open cell; the board shows what comes of it."""
        fact = self._columns[column]
        unit, text, good = unit_of(fact, self._fact.name), line.text(), getattr(self._good[row], fact.name)
        tried = self._tried[1] if self._tried is not None and text == self._tried[0] else None
        value = tried if tried is not None else good if text == self._text(fact, good) else None
        try:
            if value is not None and text == self._text(fact, value):
                moved = stepped(value, by, fact, unit)
                self._tried = (self._text(fact, moved), moved)
            else:
                text = stepped_text(in_unit_shown(text, self._text(fact, good)), by, fact, unit)
                self._tried = (text, read_number(text, fact, unit))
        except QuantityError as error:
            self.faulted.emit(f"{str(error)[:1].upper()}{str(error)[1:]}.")
            return
        self.faulted.emit("")
        line.pending = True
        line.setText(self._tried[0])
        line.selectAll()
        self.tried.emit(self._with(row, fact, self._tried[1]))

    def _end(self) -> None:
        if self._tried is not None:
            self._tried = None
            self.dropped.emit()

    def _with(self, row: int, fact: Fact, value: Any) -> tuple[msgspec.Struct, ...]:  # noqa: ANN401 - of the column
        changed = replace(self._good[row], **{fact.name: value})
        return (*self._good[:row], changed, *self._good[row + 1 :])

    def _add(self) -> None:
        row = self.table.currentRow() if self.table.currentRow() >= 0 else len(self._good) - 1
        more = self._named_anew(self._good[row]) if self._good else fresh(self._kind)
        self.faulted.emit("")
        self.settled.emit((*self._good[: row + 1], more, *self._good[row + 1 :]))
        self.table.setCurrentCell(row + 1, 0)

    def _named_anew(self, record: msgspec.Struct) -> msgspec.Struct:
        """A copy under the next free number, where its first field is a name that others may not have."""
        first = self._columns[0]
        if _is_number(first) or words_of(arms_of(first.type)[0][0]):
            return record
        taken = {getattr(one, first.name) for one in self._good}
        plain = getattr(record, first.name)
        free = (str(n) for n in range(len(taken) + 2)) if plain.isdigit() else (
            f"{plain} {n}" for n in range(2, len(taken) + 3)
        )  # fmt: skip
        return replace(record, **{first.name: next(name for name in free if name not in taken)})

    def _take(self) -> None:
        row = self.table.currentRow() if self.table.currentRow() >= 0 else len(self._good) - 1
        self.faulted.emit("")
        self.settled.emit((*self._good[:row], *self._good[row + 1 :]))

    def _tell(self, _row: int, column: int) -> None:
        if column >= 0:
            self.entered.emit(self._columns[column])

    def _dress(self, locked: bool) -> None:
        table = self.table
        table.setAccessibleName(self._fact.label)
        table.setAccessibleDescription(self._fact.help)
        for column, fact in enumerate(self._columns):
            table.setHorizontalHeaderItem(column, _head(fact))
        table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        table.horizontalHeader().setFixedHeight(_HEAD_PX)
        table.horizontalHeader().setHighlightSections(False)
        table.verticalHeader().hide()
        table.verticalHeader().setDefaultSectionSize(_ROW_PX)
        table.setTabKeyNavigation(False)
        table.setShowGrid(False)
        table.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        if locked:
            table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)


def _says_something(fact: Fact) -> bool:
    """Whether a field is one to read: packed data and hashes are not."""
    return fact.type is not bytes and not fact.name.endswith("_sha256")


class _Table(QTableWidget):
    """All its rows are in sight: the wheel is the form's, unless the keyboard is in a cell that can be stepped."""

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Open the current cell and step it where the keyboard is here; else leave the wheel to the form."""
        delegate, item = self.itemDelegate(), self.currentItem()
        locked = self.editTriggers() == QAbstractItemView.EditTrigger.NoEditTriggers
        able = isinstance(delegate, CellDelegate) and item is not None and delegate.can_step(item.column())
        if locked or not able or not self.hasFocus() or not event.angleDelta().y():
            event.ignore()
            return
        self.editItem(item)
        line = next((one for one in self.viewport().findChildren(LineInput) if one.isVisible()), None)
        if line is not None:
            line.setFocus()
            line.wheelEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Begin at the first cell."""
        super().focusInEvent(event)
        if self.currentRow() < 0 and self.rowCount():
            self.setCurrentCell(0, 0)


def _head(fact: Fact) -> QTableWidgetItem:
    head = QTableWidgetItem(fact.label)
    head.setToolTip(fact.help)
    return head


def _is_number(fact: Fact) -> bool:
    return arms_of(fact.type)[0][0] in (int, float)
