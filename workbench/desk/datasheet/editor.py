"""From a data sheet: two pages in the order in which data sheets print, and what they leave open, told as it is typed.

What comes of it is one entry of the catalogue in one undo step; until then the board is not touched.
"""

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPlainTextEdit,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from workbench.board.edits.catalogue import add_entry
from workbench.desk.datasheet.curves import GainCurves
from workbench.desk.datasheet.others import OtherSettings
from workbench.desk.datasheet.stated import StatedInput
from workbench.desk.session.document import Document
from workbench.desk.widgets.choices import ChoiceItem, TicksInput
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.form_window import FormWindow
from workbench.desk.widgets.stylesheet import set_state
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import ModelError, NotStatedError, TableError, WorkbenchError
from workbench.facts import fact_of, facts_of
from workbench.makers.gain_table import GainTable
from workbench.measured.tables.data_sheets import DataSheet, StatedFigures, conditioner_of, left_open
from workbench.measured.tables.decoding import text_of_paste
from workbench.measured.tables.gain_tables import Units, read_gain_table, table_of_gains
from workbench.parts.conditioners.table import TableConditioner

_SIZE = (820, 440)
_FIRST = ("rate_bps", "dc_gain_db", "bandwidth_hz")
_ASK, _UNITS = "as the table says", ("Hz", "kHz", "MHz", "GHz")
_EXAMPLE = "frequency (GHz)\tEQ 1 (dB)\tEQ 2 (dB)\n0.1\t0\t0\n2.5\t3.1\t6.0\n5\t5.2\t9.4"


class DataSheetEditor(FormWindow):
    """A window of its own that makes a conditioner of what is typed.

    Signals:
        said: a sentence for the status line.
        added: an entry was added: (section, name).
    """

    said = Signal(str)
    added = Signal(str, str)

    def __init__(self, document: Document, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__("dataSheet", "From a data sheet", _SIZE, parent)
        self._document = document
        self._gains: GainTable | None = None
        self._gains_fault = ""
        self.name, self.channels, self.control = QLineEdit("New conditioner"), QSpinBox(), QLineEdit("EQ")
        self.frequency_unit, self.gain_unit = FlatCombo(), FlatCombo()
        self.gains, self.curves, self.others = QPlainTextEdit(), GainCurves(theme), OtherSettings()
        self.figures = {fact.name: StatedInput(fact) for fact in facts_of(StatedFigures)}
        self.own = TicksInput(fact_of(TableConditioner, "per_channel"), (), across=True)
        self.open, self.fault = QLabel(wordWrap=True), QLabel(wordWrap=True)
        self.pages, self.turn = QStackedWidget(), QPushButton("Next")
        self.add, self.cancel = QPushButton("Add to the catalogue"), QPushButton("Cancel")
        self._name_things()
        self._lay_out()
        self._connect()
        self.read_gains()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self.curves.set_theme(theme)

    def show_now(self) -> None:
        """Show the first page, as it was left."""
        self.pages.setCurrentIndex(0)
        self._turned()
        self.come_forward()
        self.name.setFocus()
        self.name.selectAll()

    def sheet(self) -> DataSheet:
        """What is typed."""
        figures = StatedFigures(**{name: field.value for name, field in self.figures.items()})
        return DataSheet(
            self.name.text(), self.channels.value(), self.control.text().strip(), self._gains, self.others.settings(),
            figures, self.own.ticked(),
        )  # fmt: skip

    def finish(self) -> None:
        """Add what is typed to the catalogue, in one undo step, and close."""
        self.say()
        if not self.add.isEnabled():
            return
        part = conditioner_of(self.sheet())
        try:
            add_entry(self._document.board, "conditioners", part)
        except WorkbenchError as error:
            self._show_fault(str(error))  # beside what is to be mended, not in the window behind
            return
        self._document.apply(
            f"add {part.name} from its data sheet", lambda board: add_entry(board, "conditioners", part)
        )
        self.said.emit(f"{part.name} is in the catalogue; it can be put on a path")
        self.added.emit("conditioners", part.name)
        self.close()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Nothing is kept but what is typed."""
        super().closeEvent(event)

    # --- what is typed

    def read_gains(self) -> None:
        """Read the table, and draw it."""
        self._gains, self._gains_fault = None, ""
        text = self.gains.toPlainText()
        if text.strip():
            asked = Units(
                self.frequency_unit.currentText() if self.frequency_unit.currentIndex() else "",
                self.gain_unit.currentText() if self.gain_unit.currentIndex() else "",
            )
            try:
                self._gains = read_gain_table(table_of_gains(text_of_paste(text)), asked)
            except NotStatedError as error:
                unit = "Frequencies in" if "freq" in error.wanted else "Gains in"
                self._gains_fault = f"{error.problem}; choose it beside “{unit}”"
            except TableError as error:
                self._gains_fault = str(error)
        self.say()

    def say(self) -> None:
        """Say what is wrong, missing and assumed, and draw the curves."""
        sheet = self.sheet()
        faults = [self._gains_fault, self.others.fault]
        faults += [f"{field.fact.label}: {field.fault}" for field in self.figures.values() if field.fault]
        fault = next((one for one in faults if one), "")
        self.own.offer(tuple(ChoiceItem(name, name) for name in sheet.controls))
        told = left_open(sheet)
        part = None if told.missing or fault else _part(sheet)
        self.curves.show_part(part, sheet.control)
        self.add.setEnabled(part is not None)
        self._show_fault(fault)
        missing = [f"<b>Missing.</b> {' '.join(told.missing)}"] if told.missing else []
        self.open.setText("<br>".join([*missing, f"<b>Assumed.</b> {' '.join(told.assumed)}"]))

    def _show_fault(self, fault: str) -> None:
        self.fault.setText(f"{fault[:1].upper()}{fault[1:]}." if fault else "")
        self.fault.setVisible(bool(fault))

    def _turned(self) -> None:
        self.turn.setText("Back" if self.pages.currentIndex() else "Next")

    def _turn(self) -> None:
        self.pages.setCurrentIndex(1 - self.pages.currentIndex())
        self._turned()

    # --- making

    def _name_things(self) -> None:
        self.channels.setRange(1, int(fact_of(TableConditioner, "channels").upper or 64))
        self.frequency_unit.addItems([_ASK, *_UNITS])
        self.gain_unit.addItems([_ASK, "dB"])
        self.gains.setPlaceholderText(_EXAMPLE)
        self.gains.setTabChangesFocus(True)
        self.gains.setTabStopDistance(self.gains.fontMetrics().horizontalAdvance("frequency (GHz)  "))
        self.open.setTextFormat(Qt.TextFormat.RichText)
        self.fault.setTextFormat(Qt.TextFormat.PlainText)
        self.fault.setObjectName("fault")
        set_state(self.fault, "faulty", True)
        names = {
            self.name: "Name", self.channels: "Channels", self.control: "Control of the gains",
            self.frequency_unit: "Frequencies in", self.gain_unit: "Gains in", self.gains: "Table of gains",
            self.open: "Missing and assumed", self.fault: "What is wrong",
        }  # fmt: skip
        for part, words in names.items():
            part.setAccessibleName(words)

    def _lay_out(self) -> None:
        self.pages.addWidget(self._first_page())
        self.pages.addWidget(self._second_page())
        told = QScrollArea(widgetResizable=True)
        told.setWidget(self.open)
        told.setFixedHeight(18 * GRID_PX)
        told.setFrameShape(QScrollArea.Shape.NoFrame)
        self.open.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.stack(((self.pages, 1), (told, 0)), (self.turn, self.cancel, self.add), beside=self.fault)

    def _first_page(self) -> QWidget:
        page, grid = QWidget(), QGridLayout()
        grid.setSpacing(GRID_PX)
        rows: list[tuple[str, QWidget]] = [("Name", self.name), ("Channels", self.channels)]
        rows += [(self.figures[name].fact.label, self.figures[name]) for name in _FIRST]
        rows += [
            ("Control of the gains", self.control), ("Frequencies in", self.frequency_unit),
            ("Gains in", self.gain_unit),
        ]  # fmt: skip
        for number, (words, field) in enumerate(rows):
            grid.addWidget(QLabel(words), number // 2, 2 * (number % 2))
            grid.addWidget(field, number // 2, 2 * (number % 2) + 1)
        left = QVBoxLayout()
        left.addLayout(grid)
        left.addWidget(QLabel("Gain against frequency: a column per setting, or a row; type it, or paste it"))
        left.addWidget(self.gains, 1)
        both = QHBoxLayout(page)
        both.setContentsMargins(0, 0, 0, 0)
        both.addLayout(left, 1)
        both.addWidget(self.curves, 1)
        return page

    def _second_page(self) -> QWidget:
        page, grid = QWidget(), QGridLayout()
        grid.setSpacing(GRID_PX)
        for number, name in enumerate(name for name in self.figures if name not in _FIRST):
            field = self.figures[name]
            grid.addWidget(QLabel(field.fact.label), number // 3, 2 * (number % 3))
            grid.addWidget(field, number // 3, 2 * (number % 3) + 1)
        body = QVBoxLayout(page)
        body.setContentsMargins(0, 0, 0, 0)
        body.addWidget(QLabel("Swing, emphasis and every other control: a row per setting, with what it does"))
        body.addWidget(self.others, 1)
        own = QHBoxLayout()
        own.addWidget(QLabel("Each channel has its own"))
        own.addWidget(self.own, 1)
        body.addLayout(own)
        body.addLayout(grid)
        return page

    def _connect(self) -> None:
        self.gains.textChanged.connect(self.read_gains)
        for unit in (self.frequency_unit, self.gain_unit):
            unit.currentIndexChanged.connect(lambda _: self.read_gains())
        for text in (self.name, self.control):
            text.textChanged.connect(lambda _: self.say())
        self.channels.valueChanged.connect(lambda _: self.say())
        self.others.stated.connect(self._read_others)
        self.own.settled.connect(lambda _: self.say())
        for field in self.figures.values():
            field.stated.connect(self.say)
        self.turn.clicked.connect(lambda _=False: self._turn())
        self.add.clicked.connect(lambda _=False: self.finish())
        self.cancel.clicked.connect(lambda _=False: self.close())

    def _read_others(self) -> None:
        with QSignalBlocker(self.others):
            self.say()


def _part(sheet: DataSheet) -> TableConditioner | None:
    """The part, if what is typed makes a sound one."""
    try:
        part = conditioner_of(sheet)
    except ModelError:
        return None
    return None if part.problems() else part
