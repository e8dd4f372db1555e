"""A figure that a data sheet may state or not: a field that may stay empty."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLineEdit, QWidget

from workbench.desk.widgets.stylesheet import set_state
from workbench.errors import QuantityError
from workbench.facts import Fact
from workbench.quantity import parse, show


class StatedInput(QLineEdit):
    """A quantity in the unit of its fact; empty where it is not stated.

    Signals:
        stated: what is typed is a value, or nothing.
        faulted: what is wrong with what is typed; "" once it is mended.
    """

    stated = Signal()
    faulted = Signal(str)

    def __init__(self, fact: Fact, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.fact = fact
        self.value: float | None = None
        """In the fact's unit; None where nothing is stated."""
        self.fault = ""
        self.setPlaceholderText("not stated")
        self.setAccessibleName(fact.label)
        self.setToolTip(fact.help)
        self.textChanged.connect(self._read)
        self.editingFinished.connect(self._tidy)

    def _read(self, text: str) -> None:
        try:
            value = parse(text, unit=self.fact.unit) if text.strip() else None
            self.fault = "" if value is None or self.fact.allows(value) else f"write {self.fact.range_text()}"
        except QuantityError as error:
            value, self.fault = None, str(error)
        self.value = None if self.fault else value
        set_state(self, "faulty", bool(self.fault))
        self.faulted.emit(f"{self.fact.label}: {self.fault}" if self.fault else "")
        self.stated.emit()

    def _tidy(self) -> None:
        if self.value is not None:
            self.setText(show(self.value, self.fact.unit))
