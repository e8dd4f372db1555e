"""A model's parameters as a form: a row each, made from its tree; what the host gives can be set, the rest is read."""

from collections.abc import Mapping

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QLineEdit, QWidget

from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.stylesheet import set_state
from workbench.desk.widgets.theme import GRID_PX
from workbench.makers.ami import AmiFile
from workbench.makers.parameter_string import HOST_VALUES, objection
from workbench.makers.parameters import Parameter
from workbench.makers.values import Value, value_of
from workbench.wording import with_article

_HOST = (*HOST_VALUES, "Model_Name")


class ParameterInput(QWidget):
    """One parameter that the host gives: a list to choose from, or a line to type into.

    Signals:
        changed: what stands in it is another value now.
    """

    changed = Signal()

    def __init__(self, known: Parameter, text: str) -> None:
        super().__init__()
        self.known, self.fault = known, ""
        self.line, self.list = QLineEdit(self), FlatCombo(self)
        form = known.format
        choices = form.choices() if form is not None and form.name in ("List", "Corner") else ()
        if known.type == "Boolean":
            choices = (True, False)
        self._choices = tuple(choices)
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.addWidget(self.list if choices else self.line)
        (self.line if choices else self.list).hide()
        for editor in (self.line, self.list):
            editor.setAccessibleName(known.shown)
            editor.setToolTip(known.description)
        tips = form.tips if form is not None else ()
        for at, choice in enumerate(choices):
            self.list.addItem(f"{choice}  {tips[at]}" if at < len(tips) and tips[at] else str(choice))
        self.put(text)
        self.line.textChanged.connect(self._read)
        self.list.currentIndexChanged.connect(lambda _: self.changed.emit())

    def put(self, text: str) -> None:
        """Show a value as the file would write it."""
        names = [str(choice) for choice in self._choices]
        if text in names:
            self.list.setCurrentIndex(names.index(text))
        self.line.setText(text)
        self._read()

    @property
    def text(self) -> str:
        """The value as the file would write it."""
        return str(self._choices[self.list.currentIndex()]) if self._choices else self.line.text().strip()

    def _read(self) -> None:
        if self._choices:
            return
        found = value_of(self.line.text().strip(), self.known.type, in_quotes=True)
        kind = with_article(self.known.type)
        self.fault = f"it is not {kind}" if found is None else objection(self.known, found.value)
        set_state(self.line, "faulty", bool(self.fault))
        self.changed.emit()


class ParameterForm(QWidget):
    """All parameters of a model's file.

    Signals:
        changed: a value is another one now.

    Attributes:
        inputs: the rows that can be set, by the parameter's path.
        file: whose parameters are shown.
    """

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.inputs: dict[str, ParameterInput] = {}
        self.file: AmiFile | None = None
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(GRID_PX)
        self._grid.setColumnStretch(3, 1)
        self._initial: dict[str, str] = {}

    def show_file(self, file: AmiFile | None, texts: Mapping[str, str]) -> None:
        """Show the parameters of a file, with what is set otherwise than it has them."""
        while (item := self._grid.takeAt(0)) is not None:
            gone = item.widget()
            if gone is not None:
                gone.hide()
                gone.deleteLater()
        self.inputs, self.file, self._initial = {}, file, {}
        if file is None:
            return
        for column, words in enumerate(("Parameter", "Value", "Allowed", "What it is")):
            label = QLabel(words)
            label.setObjectName("caption")
            self._grid.addWidget(label, 0, column)
        shown = sorted(file.parameters, key=lambda known: known.reserved)
        for row, known in enumerate(shown, 1):
            self._add(row, known, texts)
        self._grid.setRowStretch(len(shown) + 1, 1)

    @property
    def fault(self) -> str:
        """What is wrong with the first value that can't be; "" where nothing is."""
        faulty = next((one for one in self.inputs.values() if one.fault), None)
        return f"{faulty.known.shown}: {faulty.fault}" if faulty is not None else ""

    def texts(self) -> dict[str, str]:
        """What is set otherwise than the file has it, by path."""
        return {name: one.text for name, one in self.inputs.items() if one.text != self._initial[name]}

    def _add(self, row: int, known: Parameter, texts: Mapping[str, str]) -> None:
        initial = known.initial()
        own = "" if initial is None else value_words(initial)
        value: QWidget = QLabel(own)
        if known.given and not (known.reserved and known.name in _HOST):
            made = ParameterInput(known, texts.get(known.shown, own))
            self.inputs[known.shown], self._initial[known.shown] = made, own
            made.changed.connect(self.changed)
            value = made
        about = f"{known.description}  ({known.usage}, {' '.join(known.types)})"
        cells = (QLabel(known.shown), value, QLabel(allowed_words(known)), QLabel(about, wordWrap=True))
        for column, cell in enumerate(cells):
            if isinstance(cell, QLabel):
                cell.setTextFormat(Qt.TextFormat.PlainText)
            self._grid.addWidget(cell, row, column, Qt.AlignmentFlag.AlignTop)


def value_words(value: Value) -> str:
    """A value as short as it can be written without a loss."""
    return f"{value:.12g}" if isinstance(value, float) else str(value)


def allowed_words(known: Parameter) -> str:
    """Which values a parameter may have, in a few words."""
    form = known.format
    if form is None:
        return ""
    if form.name in ("Range", "Increment", "Steps"):
        numbers: tuple[Value, ...] = form.values
        return f"{value_words(numbers[1])} to {value_words(numbers[2])}"
    if form.name == "Table":
        return f"a table of {len(form.rows)} rows"
    return {"Value": "", "List": "one of the list", "Corner": "by corner"}.get(form.name, form.name)
