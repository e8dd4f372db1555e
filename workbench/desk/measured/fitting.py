"""Values fitted to a measurement: which, between which bounds, what came of it; applied as one edit."""

from typing import NamedTuple

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QTableWidgetItem, QWidget

from workbench.board.measurement import MeasuredResponse
from workbench.board.model import Board
from workbench.desk.background.talk import Talk
from workbench.desk.background.threads import ThreadChannels
from workbench.desk.measured.free import companions, fixture_names, free_values
from workbench.desk.measured.page import MeasuredPage, choices, figure_in, figures_table, put_row, ticked, words_label
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import AskedFigure
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import FitError, WorkbenchError
from workbench.measured.fit.fields import Field, Free
from workbench.measured.fit.fitting import FitReport, FitResult, FittedValue, fit
from workbench.measured.fit.problem import Fixtures
from workbench.quantity import parse, show

TITLES = ("Value", "Now", "Min", "Max", "Fitted", "±")
VALUE, NOW, LOWER, UPPER, FITTED, SPREAD = range(len(TITLES))
_SHOWN = ("before", "lower", "upper", "after", "uncertainty")
"""What stands under `TITLES` after the first, by the fields of a fitted value."""
_CHANNEL = "fit"
_DIGITS = 5
_NONE = "none"


class _Asked(NamedTuple):
    board: Board
    responses: tuple[MeasuredResponse, ...]
    free: tuple[Free, ...]
    fixtures: Fixtures


class FitPage(MeasuredPage):
    """Fits catalogue values to responses between places, away from the GUI thread, and can be stopped."""

    def __init__(self, document: Document, work: ThreadChannels, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__("Fit", theme, parent)
        self._document, self._work = document, work
        self._measured: MeasuredResponse | None = None
        self.fields: tuple[Field, ...] = ()
        self._found: FitResult | None = None
        self._running = False
        self.table = figures_table("Values that can be fitted", TITLES, stretch=VALUE)
        self.table.setEditTriggers(
            self.table.EditTrigger.DoubleClicked | self.table.EditTrigger.EditKeyPressed
            | self.table.EditTrigger.AnyKeyPressed
        )  # fmt: skip
        self.along = choices("Fitted to at the same time", [(_NONE, None)])
        self.before, self.after = choices("Left fixture"), choices("Right fixture")
        self.shown = ticked("Show in the panes", "What the fitted values make of the lane, before they are applied")
        self.progress = QProgressBar()
        self.progress.setAccessibleName("A fit is under way")
        self.progress.setRange(0, 0)
        self.progress.setMaximumHeight(3 * GRID_PX)
        self.notes = words_label()
        self.run_button = self.add_button("Fit", self.run, "Fit the ticked values; once more stops it")
        self.apply_button = self.add_button("Apply", self.apply, "Put the fitted values in, as one undo step")
        self.add_button("Cancel", self.give_up, "Change nothing (Escape)")
        row = QHBoxLayout()
        row.setSpacing(2 * GRID_PX)
        for words, field in (("And", self.along), ("left fixture", self.before), ("right", self.after)):
            row.addWidget(QLabel(words))
            row.addWidget(field, 1)
        row.addWidget(self.shown)
        self.body.addLayout(row)
        self.body.addWidget(self.table, 1)
        self.body.addWidget(self.progress)
        self.body.addWidget(self.notes)
        self.shown.clicked.connect(self._preview)
        document.changed.connect(lambda _: self._outdate())
        self._show_state()

    # --- what others use

    def begin(self, measured: MeasuredResponse) -> None:
        """Begin with a measurement."""
        self._measured, board = measured, self._document.board
        self._found = None
        self.notes.setText("")
        self.along.clear()
        self.along.addItem(_NONE, None)
        for one in companions(board, measured):
            self.along.addItem(one.name, one.name)
        for box in (self.before, self.after):
            box.clear()
            box.addItem(_NONE, None)
            for name in fixture_names(board):
                box.addItem(name, name)
        try:
            self.fields = free_values(board, measured)
        except WorkbenchError as error:
            self.fields = ()
            self.tell(str(error), refused=True)
        else:
            self.tell(f"Choose values to adjust so that the model matches {measured.name}; bounds can be narrowed.")
        self._fill(())
        self._show_state()
        self.table.setFocus(Qt.FocusReason.ShortcutFocusReason)
        if self.fields:
            self.table.setCurrentCell(0, VALUE)

    def tick(self, path: str, ticked_: bool = True) -> None:
        """Choose a value by its path."""
        row = next(n for n, field in enumerate(self.fields) if field.path == path)
        self._item(row, VALUE).setCheckState(Qt.CheckState.Checked if ticked_ else Qt.CheckState.Unchecked)

    @property
    def running(self) -> bool:
        """Whether a fit is under way."""
        return self._running

    def run(self) -> None:
        """Begin the fit, or stop the one that is under way."""
        if self._running:
            self._stop("The fit was stopped; nothing is changed.")
            return
        self._drop_preview()
        self._found = None
        try:
            asked = self._asked()
        except WorkbenchError as error:
            self.tell(str(error), refused=True)
            self._show_state()
            return

        def work(talk: Talk) -> FitResult:
            return fit(asked.board, asked.responses, asked.free, asked.fixtures, watch=talk.check)

        self._running = True
        self.tell(f"Fitting {len(asked.free)} values…" if len(asked.free) > 1 else "Fitting one value…")
        self._work.ask(_CHANNEL, work, self._show_fit)
        self._show_state()

    def apply(self) -> None:
        """Apply the fitted values, as one undo step."""
        found, measured = self._found, self._measured
        if found is None or measured is None:
            return
        self._found = None  # what the edit announces must not take it for a change of somebody else's
        if self._document.apply(f"fit to {measured.name}", lambda _: found.board):
            self.said.emit(f"{len(found.report.values)} values are fitted to {measured.name}.")
            self.left.emit()

    def asked_figure(self) -> AskedFigure | None:
        """The fitted figure in the cell that was chosen, else what is left over; None before there is a fit."""
        if self._found is None or self._measured is None:
            return None
        from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

        whole = ExplainedAnswer(f"Fit to {self._measured.name}", self._found.report, self._found.board)
        left = ("residual_after", "residual_before")
        lane = self._measured.lane
        return figure_in(self.table, whole, lane) or AskedFigure(left[0], lane, answered=whole, others=left)

    def give_up(self) -> None:
        """Leave without a change."""
        self._stop("")
        self._drop_preview()
        super().give_up()

    # --- following

    def _asked(self) -> _Asked:
        """What the form says; raises WorkbenchError where it says too little."""
        measured, board = self._measured, self._document.board
        free = [
            Free(field.path, self._bound(row, LOWER, field.lower), self._bound(row, UPPER, field.upper))
            for row, field in enumerate(self.fields)
            if self._item(row, VALUE).checkState() is Qt.CheckState.Checked
        ]
        if measured is None or not free:
            raise FitError("no value is ticked; tick at least one that may change (Space)")
        also = tuple(one for one in companions(board, measured) if one.name == self.along.currentData())
        fixtures = Fixtures(*(tuple(filter(None, (box.currentData(),))) for box in (self.before, self.after)))
        return _Asked(board, (measured, *also), tuple(free), fixtures)

    def _bound(self, row: int, column: int, usual: float) -> float | None:
        """A bound as it was typed; None where it was left as it stood."""
        field, words = self.fields[row], self._item(row, column).text().strip()
        if not words or words == _bound_words(usual, field.fact.unit):
            return None
        return parse(words, unit=field.fact.unit)

    def _show_fit(self, answer: FitResult | WorkbenchError) -> None:
        self._running = False
        if isinstance(answer, WorkbenchError):
            self.tell(str(answer), refused=True)
        else:
            self._found = answer
            report = answer.report
            self._fill(report.values)
            self.notes.setText("\n".join(report.notes))
            self.tell(_residual_words(report))
        self._show_state()
        if self._found is not None:
            self.apply_button.setFocus()

    def _outdate(self) -> None:
        """The board is another one: what was fitted on the old one is void."""
        if not self.isVisible() or (self._found is None and not self._running):
            return
        self._stop("")
        self._found = None
        self._fill(())
        self.tell("The board has changed; fit again.")
        self._show_state()

    def _stop(self, sentence: str) -> None:
        if self._running:
            self._work.cancel(_CHANNEL)
            self._running = False
            self.tell(sentence)
        self._show_state()

    def _preview(self, wanted: bool) -> None:
        found = self._found
        if wanted and found is not None:
            self._document.preview(lambda _: found.board)
        else:
            self._document.cancel_preview()

    def _drop_preview(self) -> None:
        if self.shown.isChecked():
            self.shown.setChecked(False)
            self._document.cancel_preview()

    def _show_state(self) -> None:
        self.run_button.setText("Stop" if self._running else "Fit")
        self.run_button.setEnabled(self._running or bool(self.fields))
        self.progress.setVisible(self._running)
        self.apply_button.setEnabled(self._found is not None)
        self.shown.setEnabled(self._found is not None)

    def _fill(self, values: tuple[FittedValue, ...]) -> None:
        """A row a value; ticks and typed bounds stay where only the answers are new."""
        fitted = {value.path: value for value in values}
        kept = {field.path: self._row_state(row) for row, field in enumerate(self.fields)} if values else {}
        self.table.setRowCount(len(self.fields))
        for row, field in enumerate(self.fields):
            checked, lower, upper = kept.get(field.path, (False, "", ""))
            unit, value = field.fact.unit, fitted.get(field.path)
            answer = ("", "") if value is None else (
                show(value.after, unit, digits=_DIGITS),
                "not known" if value.uncertainty is None else show(value.uncertainty, unit, digits=2),
            )  # fmt: skip
            cells = (
                f"{field.entry}: {field.fact.label.lower()}",
                show(field.value, unit, digits=_DIGITS),
                lower or _bound_words(field.lower, unit),
                upper or _bound_words(field.upper, unit),
                *answer,
            )
            at = next((f"values[{n}]" for n, one in enumerate(values) if one is value), "")
            figures = tuple((f"{at}.{key}",) for key in _SHOWN) if at else ()
            put_row(self.table, row, cells, tip=f"{field.path}: {field.fact.help}", figures=((), *figures))
            for column in range(len(TITLES)):
                item = self._item(row, column)
                editable = Qt.ItemFlag.ItemIsEditable if column in (LOWER, UPPER) else Qt.ItemFlag.NoItemFlags
                item.setFlags((item.flags() & ~Qt.ItemFlag.ItemIsEditable) | editable)
            tick = self._item(row, VALUE)
            tick.setFlags(tick.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            tick.setCheckState(Qt.CheckState.Checked if checked else Qt.CheckState.Unchecked)

    def _row_state(self, row: int) -> tuple[bool, str, str]:
        checked = self._item(row, VALUE).checkState() is Qt.CheckState.Checked
        return checked, self._item(row, LOWER).text(), self._item(row, UPPER).text()

    def _item(self, row: int, column: int) -> QTableWidgetItem:
        item = self.table.item(row, column)
        assert item is not None  # every cell is filled with its row
        return item


def _bound_words(value: float, unit: str) -> str:
    return show(value, unit, digits=_DIGITS)


def _residual_words(report: FitReport) -> str:
    return (
        f"Residual, rms of model − measured over {report.points:,} numbers: {report.residual_before:.3g} before, "
        f"{report.residual_after:.3g} after. ± holds for all values together with 95 % probability."
    )
