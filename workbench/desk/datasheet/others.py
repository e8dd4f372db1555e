"""The settings of a part's other controls, a row each: swing, emphasis, gain, and what each does."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from workbench.errors import QuantityError
from workbench.facts import Fact, fact_of
from workbench.parts.conditioners.table import TableSetting
from workbench.quantity import parse

_FIELDS = ("control", "setting", "gain_db", "compression_v", "deemphasis_db", "duration_s", "output_noise_v")
_ROWS = 8


class OtherSettings(QTableWidget):
    """A table to type into; empty rows count for nothing.

    Signals:
        stated: a cell was changed.
    """

    stated = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(_ROWS, len(_FIELDS), parent)
        self.facts = tuple(fact_of(TableSetting, name) for name in _FIELDS)
        self.fault = ""
        """What is wrong with what is typed; "" where nothing is."""
        self.setAccessibleName("Swing, emphasis and other settings")
        self.setHorizontalHeaderLabels([_title(fact) for fact in self.facts])
        for column, fact in enumerate(self.facts):
            head = self.horizontalHeaderItem(column)
            if head is not None:
                head.setToolTip(fact.help)
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        for column in (0, 1):  # the words; the figures' heads are as wide as they need
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.Stretch)
        self.verticalHeader().setDefaultSectionSize(22)
        self.itemChanged.connect(self._changed)

    def type(self, row: int, field: str, text: str) -> None:
        """Put words into a cell, as the keyboard does."""
        self.setItem(row, _FIELDS.index(field), QTableWidgetItem(text))

    def settings(self) -> tuple[TableSetting, ...]:
        """The settings that are typed; `fault` says what can't be taken."""
        found, faults = [], []
        for row in range(self.rowCount()):
            cells = {fact.name: self._text(row, column) for column, fact in enumerate(self.facts)}
            if not any(cells.values()):
                continue
            made: dict[str, str | float] = {}
            for fact in self.facts:
                text = cells[fact.name]
                try:
                    made |= _value(fact, text)
                except QuantityError as error:
                    faults.append(f"row {row + 1}, {fact.label}: {error}")
            if not {"control", "setting"} <= set(made):
                faults.append(f"row {row + 1}: it needs a control and a setting")
            else:
                found.append(TableSetting(**made))  # type: ignore[arg-type]  # by the names of its own fields
        self.fault = faults[0] if faults else ""
        return tuple(found)

    def _text(self, row: int, column: int) -> str:
        item = self.item(row, column)
        return "" if item is None else item.text().strip()

    def _changed(self, item: QTableWidgetItem) -> None:
        item.setTextAlignment(Qt.AlignmentFlag.AlignVCenter)
        if item.row() == self.rowCount() - 1 and item.text().strip():
            self.insertRow(self.rowCount())
        self.stated.emit()


def _title(fact: Fact) -> str:
    return f"{fact.label}, {fact.unit}" if fact.unit else fact.label


def _value(fact: Fact, text: str) -> dict[str, str | float]:
    """A cell's value by its field; nothing of an empty one. Raises QuantityError."""
    if not text:
        return {}
    if fact.type is str:
        return {fact.name: text}
    value = parse(text, unit=fact.unit)
    if not fact.allows(value):
        raise QuantityError(f"write {fact.range_text()}")
    return {fact.name: value}
