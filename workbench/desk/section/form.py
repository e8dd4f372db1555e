"""The dimensions of a cross-section as typed fields, from the record's facts."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QWidget

from workbench.desk.widgets.inputs import QuantityInput
from workbench.desk.widgets.theme import GRID_PX
from workbench.facts import Fact, facts_of
from workbench.parts.record import RunRecord


class DimensionForm(QWidget):
    """One field for each length of a record; made anew where the kind of line changes.

    Signals:
        tried, settled: a field's name and its value, m.
        dropped: what was tried is to be forgotten.
        faulted: why what is typed can't be taken; "" once it is mended.
    """

    tried = Signal(str, float)
    settled = Signal(str, float)
    dropped = Signal()
    faulted = Signal(str)

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._kind: type[RunRecord] | None = None
        self.inputs: dict[str, QuantityInput] = {}
        self._rows = QGridLayout(self)
        self._rows.setContentsMargins(0, 0, 0, 0)
        self._rows.setSpacing(GRID_PX)

    def show_record(self, record: RunRecord) -> None:
        """Show a record's lengths."""
        if type(record) is not self._kind:
            self._make(type(record))
        for field, made in self.inputs.items():
            made.show_value(getattr(record, field))

    def retell(self) -> None:
        """Tell every length anew: in another unit."""
        for made in self.inputs.values():
            made.retell()

    def finish(self) -> None:
        """Keep what is pending."""
        for made in self.inputs.values():
            made.finish()

    def _make(self, kind: type[RunRecord]) -> None:
        while self._rows.count():
            item = self._rows.takeAt(0)
            widget = item.widget() if item is not None else None
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self._kind, self.inputs = kind, {}
        for row, fact in enumerate(fact for fact in facts_of(kind) if fact.unit == "m"):
            self._add(row, fact)

    def _add(self, row: int, fact: Fact) -> None:
        made = QuantityInput(fact, "m")
        label = QLabel(fact.label)
        label.setToolTip(fact.help)
        made.tried.connect(lambda value, field=fact.name: self.tried.emit(field, value))
        made.settled.connect(lambda value, field=fact.name: self.settled.emit(field, value))
        made.dropped.connect(self.dropped)
        made.faulted.connect(self.faulted)
        self._rows.addWidget(label, row, 0)
        self._rows.addWidget(made, row, 1)
        self.inputs[fact.name] = made
