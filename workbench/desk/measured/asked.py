"""What a file of numbers does not say itself: a row for each thing that a reader may ask for, shown once it asks."""

from typing import NamedTuple

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QFormLayout, QLineEdit, QToolButton, QVBoxLayout, QWidget

from workbench.desk.measured.page import choices, typed
from workbench.desk.widgets.theme import GRID_PX
from workbench.errors import NotStatedError, QuantityError
from workbench.measured.tables.trace_columns import StatedByUser
from workbench.quantity import parse

_FOLLOWS = "as the file says"
_UNITS = ("s", "ms", "us", "ns", "ps", "Hz", "kHz", "MHz", "GHz")
_LEVELS = ("V", "mV", "uV", "ohm", "dB", "")
_WORDS = {
    "x": "Time or frequency",
    "y": "Curve",
    "minus": "Subtracted column",
    "x_unit": "Its unit",
    "y_unit": "Curve's unit",
    "sample_rate_hz": "Sample rate",
    "parameter": "Parameter",
    "quantity": "It shows",
    "round_trip": "Time is",
    "loss_positive": "A loss is",
    "decimal": "Decimal sign",
    "encoding": "Encoding",
    "ports": "Ports",
    "trusted": "Option line",
}
_ASKED_ONLY = ("decimal", "encoding", "ports", "trusted", "loss_positive", "parameter", "quantity", "round_trip")


class Answers(NamedTuple):
    """What the user answered so far; "" for what was not."""

    stated: StatedByUser
    decimal: str
    encoding: str
    ports: str
    trusted: bool


class AskedForm(QWidget):
    """The rows, each hidden until it is asked for or all are wanted.

    Signals:
        answered: something was answered; the file may be read again.
    """

    answered = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.fields: dict[str, QComboBox | QLineEdit] = _fields()
        self._asked: set[str] = set()
        self.more = QToolButton()
        self.more.setText("State more about the file")
        self.more.setCheckable(True)
        self.more.setAccessibleDescription("Columns, units and sample rate, where the file does not say them")
        self._form = QFormLayout()
        self._form.setContentsMargins(0, 0, 0, 0)
        self._form.setVerticalSpacing(GRID_PX)
        self._form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for name, field in self.fields.items():
            self._form.addRow(_WORDS[name], field)
            if isinstance(field, QComboBox):
                field.activated.connect(lambda _: self.answered.emit())
            if isinstance(field, QLineEdit) or field.isEditable():
                line = field if isinstance(field, QLineEdit) else field.lineEdit()
                assert line is not None  # an editable field of choices has one
                line.editingFinished.connect(self.answered)
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.addWidget(self.more)
        body.addLayout(self._form)
        body.addStretch(1)
        self.more.toggled.connect(lambda _: self._show_rows())
        self._show_rows()

    def ask(self, error: NotStatedError) -> None:
        """Show the row that a reader asks for, and give it the keyboard."""
        field = self.fields.get(error.wanted)
        if field is None:
            return
        self._asked.add(error.wanted)
        self._show_rows()
        field.setToolTip(f"{error.problem}; {error.remedy}")
        field.setAccessibleDescription(error.problem)
        field.setFocus()

    def forget(self) -> None:
        """Forget every answer."""
        self._asked.clear()
        self.more.setChecked(False)
        for field in self.fields.values():
            if isinstance(field, QComboBox) and not field.isEditable():
                field.setCurrentIndex(0)
            elif isinstance(field, QComboBox):
                field.setEditText("")
            else:
                field.clear()
        self.set_columns(())
        self._show_rows()

    def set_columns(self, titles: tuple[str, ...]) -> None:
        """Say which columns there are."""
        for name in ("x", "y", "minus"):
            box = self.fields[name]
            assert isinstance(box, QComboBox)
            if [box.itemText(n) for n in range(1, box.count())] == list(titles):
                continue
            before = box.currentText()
            box.clear()
            box.addItem("none" if name == "minus" else _FOLLOWS, None)
            for title in titles:
                box.addItem(title, title)
            box.setCurrentIndex(max(box.findText(before), 0))

    def answers(self) -> Answers:
        """What was answered.

        Raises:
            QuantityError: the sample rate is no frequency above 0.
        """
        words = self._text("sample_rate_hz")
        rate_hz = parse(words, unit="Hz") if words else None
        if rate_hz is not None and not rate_hz > 0.0:
            raise QuantityError(f"a sample rate of “{words}” samples nothing; write one such as 100 GHz")
        stated = StatedByUser(
            x=self._word("x"),
            y=self._word("y"),
            minus=self._word("minus"),
            x_unit=self._text("x_unit") or None,
            y_unit=self._text("y_unit") or None,
            sample_rate_hz=rate_hz,
            parameter=self._word("parameter"),
            quantity=self._word("quantity"),
            round_trip=self._flag("round_trip"),
            loss_positive=self._flag("loss_positive"),
        )
        decimal, trusted = self._word("decimal") or "", bool(self._flag("trusted"))
        return Answers(stated, decimal, self._text("encoding"), self._text("ports"), trusted)

    def _word(self, name: str) -> str | None:
        chosen = self._chosen(name)
        return chosen if isinstance(chosen, str) else None

    def _flag(self, name: str) -> bool | None:
        chosen = self._chosen(name)
        return chosen if isinstance(chosen, bool) else None

    def _chosen(self, name: str) -> object:
        box = self.fields[name]
        assert isinstance(box, QComboBox)
        return box.currentData()

    def _text(self, name: str) -> str:
        field = self.fields[name]
        return (field.text() if isinstance(field, QLineEdit) else field.currentText()).strip()

    def _show_rows(self) -> None:
        for name, field in self.fields.items():
            wanted = name in self._asked or (self.more.isChecked() and name not in _ASKED_ONLY)
            self._form.setRowVisible(field, wanted)


def _fields() -> dict[str, QComboBox | QLineEdit]:
    follows = (_FOLLOWS, None)
    units = [(unit, unit) for unit in ("", *_UNITS)]
    levels = [(unit, unit) for unit in ("", *_LEVELS[:-1])]
    found: dict[str, QComboBox | QLineEdit] = {
        "x": choices(_WORDS["x"], [follows]),
        "x_unit": choices("Unit of time or frequency", units, editable=True),
        "y": choices(_WORDS["y"], [follows]),
        "y_unit": choices(_WORDS["y_unit"], levels, editable=True),
        "minus": choices("Column to subtract: the pair's other half", [("none", None)]),
        "sample_rate_hz": typed(_WORDS["sample_rate_hz"], hint="such as 100 GHz"),
        "parameter": choices(
            _WORDS["parameter"], [follows, ("transmission", "transmission"), ("reflection", "reflection")]
        ),
        "quantity": choices(
            _WORDS["quantity"],
            [follows, ("impedance", "impedance"), ("reflection", "reflection"), ("transmitted step", "transmitted")],
        ),
        "round_trip": choices(_WORDS["round_trip"], [follows, ("round trip", True), ("one way", False)]),
        "loss_positive": choices(
            _WORDS["loss_positive"], [follows, ("a positive number of dB", True), ("a negative number of dB", False)]
        ),
        "decimal": choices(_WORDS["decimal"], [follows, ("point", "."), ("comma", ",")]),
        "encoding": choices(
            _WORDS["encoding"], [(one, one) for one in ("", "utf-8", "cp1252", "latin-1", "utf-16")], editable=True
        ),
        "ports": typed(_WORDS["ports"], hint="left +, left - : right +, right -, such as 1,2:3,4; or how many"),
        "trusted": choices(_WORDS["trusted"], [("is to be doubted", None), ("is right as it stands", True)]),
    }
    return found
