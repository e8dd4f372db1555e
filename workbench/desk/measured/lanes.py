"""A lane list from pasted cells or a CSV file: columns matched to a template lane's runs, a preview, one edit."""

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QComboBox, QFormLayout, QHBoxLayout, QPlainTextEdit, QScrollArea, QVBoxLayout, QWidget

from workbench.board.model import Board, Run
from workbench.desk.background.threads import ThreadChannels
from workbench.desk.measured.page import MeasuredPage, choices, figure_in, figures_table, put_row, ticked, typed
from workbench.desk.measured.reading import Given
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import AskedFigure, ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import NotStatedError, WorkbenchError
from workbench.measured.tables.decoding import Text, text_of_bytes, text_of_paste
from workbench.measured.tables.lane_columns import LanePattern
from workbench.measured.tables.lane_lists import ImportedLanes, LaneListReport, lane_list_edit, take_lane_list
from workbench.measured.tables.reading import TextTable, read_table
from workbench.quantity import show

_CHANNEL = "lane list"
_REST_MS = 250
_BY_TITLE = "by its title"
_TITLES = ("Lane", "Place", "Before", "After")
_DIGITS = 5
_FORM_PX = 56 * GRID_PX
"""Room for the names of usual lines, a field and the scroll bar."""


class LanesPage(MeasuredPage):
    """Takes routed lengths, and where wanted new lanes, as one undo step.

    Signals:
        file_wanted: a list is to be chosen.
    """

    file_wanted = Signal()

    def __init__(
        self, document: Document, state: ViewState, work: ThreadChannels, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__("Lane list", theme, parent)
        self._document, self._state, self._work = document, state, work
        self._file: Given | None = None
        self._table: TextTable | None = None
        self._pattern: LanePattern | None = None
        self._report: LaneListReport | None = None
        self.runs: dict[int, QComboBox] = {}
        self._make()
        self._lay_out()
        self._connect()

    # --- what others use

    def begin(self, taken: Given | None = None) -> None:
        """Begin with a file, or with whatever is pasted."""
        self._file, self._table, self._pattern = taken, None, None
        self.cells.setPlainText("")
        self.cells.setPlaceholderText("Paste cells from a spreadsheet here, their header line among them (Ctrl+V)")
        self.cells.setEnabled(taken is None)
        if taken is not None:
            self.cells.setPlaceholderText(f"{taken.name} is read")
        self.like.clear()
        self.like.addItems([lane.name for lane in self._document.board.lanes])
        self.like.setCurrentText(self._state.lane)
        for box in (self.names, self.decimal, self.encoding):
            box.setCurrentIndex(0)
        self.unit.setEditText("")
        self.add_lanes.setChecked(False)
        self.pair_ends.clear()
        self.changes.setRowCount(0)
        self.unmatched.setPlainText("")
        self._make_runs()
        self.take_button.setEnabled(False)
        self.tell("Choose the lane whose path is the pattern; nothing changes before you apply the list.")
        (self.like if taken is not None else self.cells).setFocus(Qt.FocusReason.ShortcutFocusReason)
        if taken is not None:
            self.read()

    def paste(self) -> None:
        """Put what the clipboard holds in place of the cells."""
        self.cells.setPlainText(QGuiApplication.clipboard().text())

    def read(self) -> None:
        """Try the list on the board as it is, without changing it."""
        words, taken = self.cells.toPlainText(), self._file
        self._pattern = None
        self.take_button.setEnabled(False)
        if taken is None and not words.strip():
            return
        pattern, board = self._stated(), self._document.board
        decimal, encoding = self.decimal.currentData(), self.encoding.currentData()

        def work(_: object) -> "tuple[TextTable, LanePattern, ImportedLanes | WorkbenchError]":
            table = read_table(_text(taken, words, encoding), decimal=decimal)
            return table, pattern, _tried(board, table, pattern)

        self._work.ask(_CHANNEL, work, self._show)

    def take(self) -> None:
        """Take the list, as one undo step."""
        if self._table is None or self._pattern is None:
            return
        name = f"import lane list {self._table.source.name}"
        if self._document.apply(name, lane_list_edit(self._table, self._pattern)):
            self.said.emit("The lane list is imported; Undo takes all of it back.")
            self.left.emit()

    def asked_figure(self) -> AskedFigure | None:
        """The length in the cell of the changes that was chosen; None where there is none."""
        if self._report is None:
            return None
        from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

        whole = ExplainedAnswer(f"Lane list {self._report.source}", self._report, self._document.board)
        return figure_in(self.changes, whole, self._state.lane)

    def give_up(self) -> None:
        """Leave without a change."""
        self._work.cancel(_CHANNEL)
        super().give_up()

    # --- making

    def _make(self) -> None:
        self.cells = QPlainTextEdit()
        self.cells.setAccessibleName("Cells of the list")
        self.cells.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.cells.setTabChangesFocus(True)
        self.like = choices("Pattern lane")
        self.names = choices("Column with the lanes' names", [(_BY_TITLE, None)])
        self.unit = choices("Unit of bare lengths", [(one, one) for one in ("", "mm", "in", "mil", "m")], editable=True)
        self.decimal = choices("Decimal sign", [("as the list says", None), ("point", "."), ("comma", ",")])
        self.encoding = choices("Encoding", [("as the list says", None), ("cp1252", "cp1252"), ("utf-16", "utf-16")])
        self.add_lanes = ticked("Make new lanes", "Lanes that the board does not have, each like the pattern lane")
        self.pair_ends = typed("Endings of a pair's halves", hint="where each has a row, such as _P _N")
        self.changes = figures_table("Lengths that would change", _TITLES, stretch=0)
        self.unmatched = QPlainTextEdit()
        self.unmatched.setReadOnly(True)
        self.unmatched.setTabChangesFocus(True)
        self.unmatched.setAccessibleName("What did not match")
        self.unmatched.setPlaceholderText("What did not match")
        self.take_button = self.add_button("Apply list", self.take, "All of it, as one undo step")
        self.add_button("Open CSV…", self.file_wanted.emit, "A list in a file")
        self.add_button("Cancel", self.give_up, "Change nothing (Escape)")
        self._rest = QTimer(self, singleShot=True, interval=_REST_MS)

    def _lay_out(self) -> None:
        form_side = QWidget()
        form_side.setObjectName("pageBody")
        self._form = QFormLayout(form_side)
        self._form.setContentsMargins(0, 0, 0, 0)
        self._form.setVerticalSpacing(GRID_PX)
        self._form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
        for words, field in (
            ("Pattern lane", self.like), ("Names", self.names), ("Bare lengths in", self.unit),
            ("Decimal sign", self.decimal), ("Encoding", self.encoding), ("Pair's ends", self.pair_ends),
        ):  # fmt: skip
            self._form.addRow(words, field)
        self._form.addRow(self.add_lanes)
        area = QScrollArea()
        area.setMinimumWidth(_FORM_PX)
        area.setWidgetResizable(True)
        area.setWidget(form_side)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        found = QVBoxLayout()
        found.addWidget(self.changes, 1)
        found.addWidget(self.unmatched, 1)
        row = QHBoxLayout()
        row.setSpacing(3 * GRID_PX)
        row.addWidget(self.cells, 2)
        row.addWidget(area, 3)
        row.addLayout(found, 3)
        self.body.addLayout(row, 1)

    def _connect(self) -> None:
        self._rest.timeout.connect(self.read)
        self.cells.textChanged.connect(self._rest.start)
        self.like.activated.connect(lambda _: self._change_pattern())
        for box in (self.names, self.unit, self.decimal, self.encoding):
            box.activated.connect(lambda _: self.read())
        line = self.unit.lineEdit()
        assert line is not None  # an editable field of choices has one
        line.editingFinished.connect(self.read)
        self.add_lanes.clicked.connect(lambda _: self.read())
        self.pair_ends.editingFinished.connect(self.read)
        self._document.changed.connect(lambda _: self.read() if self.isVisible() else None)

    def _change_pattern(self) -> None:
        self._make_runs()
        self.read()

    def _make_runs(self) -> None:
        """A row for the column of each run of the pattern."""
        for box in self.runs.values():
            self._form.removeRow(box)
        self.runs = {}
        lane = next((lane for lane in self._document.board.lanes if lane.name == self.like.currentText()), None)
        for place, item in enumerate(lane.path if lane is not None else (), 1):
            if isinstance(item, Run):
                box = choices(f"Column of element {place}, {item.line}", [(_BY_TITLE, None)])
                box.activated.connect(lambda _: self.read())
                self.runs[place] = box
                self._form.insertRow(1 + len(self.runs), f"{place}: {item.line}", box)
        self._fill_columns(self._table)

    # --- following

    def _stated(self) -> LanePattern:
        ends = self.pair_ends.text().split()
        return LanePattern(
            lane=self.like.currentText(),
            names=self.names.currentData(),
            runs=tuple((place, box.currentData()) for place, box in self.runs.items() if box.currentData()),
            unit=self.unit.currentText().strip() or None,
            add=self.add_lanes.isChecked(),
            pair_ends=(ends[0], ends[1]) if len(ends) == 2 else None,
        )

    def _show(self, answer: "tuple[TextTable, LanePattern, ImportedLanes | WorkbenchError] | WorkbenchError") -> None:
        if isinstance(answer, WorkbenchError):
            self._refuse(answer)
            return
        table, pattern, tried = answer
        self._table = table
        self._fill_columns(table)
        if isinstance(tried, WorkbenchError):
            self._refuse(tried)
            return
        report = tried.report
        self._fill_changes(report)
        self.unmatched.setPlainText("\n".join(_unmatched(report)))
        counts = ((report.changed, "length"), (report.added, "new lane"), (report.left_out, "row left out"))
        said = [f"{len(ones)} {words if len(ones) == 1 else _more(words)}" for ones, words in counts if ones]
        self.tell(f"Taken as it stands: {', '.join(said)}." if said else "Every length in the list is as it was.")
        if report.changed or report.added:
            self._pattern = pattern
            self.take_button.setEnabled(True)

    def _refuse(self, error: WorkbenchError) -> None:
        self._report = None
        self.changes.setRowCount(0)
        self.unmatched.setPlainText("")
        self.tell(str(error), refused=True)
        if not isinstance(error, NotStatedError):
            return
        asked: dict[str, QWidget] = {
            "names": self.names, "unit": self.unit, "decimal": self.decimal, "encoding": self.encoding,
            "runs": next(iter(self.runs.values()), self.like),
        }  # fmt: skip
        field = asked.get(error.wanted)
        if field is not None and not self.cells.hasFocus():
            field.setFocus()

    def _fill_columns(self, table: TextTable | None) -> None:
        titles = [column.title for column in table.columns] if table is not None else []
        for box in (self.names, *self.runs.values()):
            if [box.itemText(n) for n in range(1, box.count())] == titles:
                continue
            before = box.currentText()
            box.clear()
            box.addItem(_BY_TITLE, None)
            for title in titles:
                box.addItem(title, title)
            box.setCurrentIndex(max(box.findText(before), 0))

    def _fill_changes(self, report: LaneListReport) -> None:
        self._report = report
        self.changes.setRowCount(len(report.changed) + len(report.added))
        for row, change in enumerate(report.changed):
            lengths = (show(value, "m", digits=_DIGITS) for value in (change.before_m, change.after_m))
            tip = f"line {change.line} of the list"
            figures = ((), *((f"changed[{row}].{field}",) for field in ("place", "before_m", "after_m")))
            put_row(self.changes, row, (change.lane, str(change.place), *lengths), tip=tip, figures=figures)
        for row, name in enumerate(report.added, len(report.changed)):
            put_row(self.changes, row, (name, "", "", "new lane"), ink=self.theme.accent)


def _more(words: str) -> str:
    first, space, rest = words.partition(" ")
    return f"{words}s" if words.startswith("new") else f"{first}s{space}{rest}"


def _text(taken: Given | None, words: str, encoding: str | None) -> Text:
    return text_of_paste(words) if taken is None else text_of_bytes(taken.data, taken.name, encoding=encoding)


def _tried(board: Board, table: TextTable, pattern: LanePattern) -> ImportedLanes | WorkbenchError:
    try:
        return take_lane_list(board, table, pattern)
    except WorkbenchError as error:
        return error


def _unmatched(report: LaneListReport) -> list[str]:
    """What the list and the board don't share, a line each."""
    lines = [f"line {out.line}, {out.name}: {out.why}" for out in report.left_out]
    said = (
        ("not in the list", report.not_listed), ("as long already", report.unchanged),
        ("columns not used", report.unused_columns), ("devices to be fitted", report.devices),
        ("empty cells", tuple(f"line {cell.line} ({cell.title})" for cell in report.blanks)),
        ("skew", tuple(f"{skew.lane} {show(skew.skew_m, 'm', digits=3)}" for skew in report.skews)),
    )  # fmt: skip
    return [*lines, *(f"{head}: {', '.join(names)}" for head, names in said if names)]
