"""The table below the panes while several traces are shown: what each measures, and how it differs from the first."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QBrush, QColor, QKeyEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QVBoxLayout, QWidget

from workbench.desk.compare.snapshots import Comparison, TraceVerdicts
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import AskedFigure, ShownTrace, ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters
from workbench.engine.views import LaneView
from workbench.reports.wording import VERDICTS

ROW_PX = 5 * GRID_PX
_GATHER_MS = 20


class Measure(NamedTuple):
    """One column of figures: its title, unit, tip, how it is read from a trace's curves, and which figure that is."""

    title: str
    unit: str
    tip: str
    read: Callable[[LaneView], float]
    figure: str
    scale: float = 1.0
    decimals: int = 1

    @property
    def heading(self) -> str:
        """The title on two lines, the unit at its end: no wider than its figures ask."""
        first, _, rest = self.title.partition(" ")
        return f"{first}\n{rest} {self.unit}" if rest else f"{first}\n{self.unit}"

    def words(self, value: float, *, signed: bool = False) -> str:
        """A value as it stands in the column, whose heading has the unit."""
        shown = value * self.scale
        text = f"{shown:+z.{self.decimals}f}" if signed else f"{shown:.{self.decimals}f}"
        return text.replace("-", MINUS)


def _loss_db(view: LaneView) -> float:
    return -float(np.interp(view.nyquist_hz, view.response.f_hz, view.response.gain_db))


MEASURES = (
    Measure("End-to-end loss", "dB", "At Nyquist from transmitter to probe point, conditioners included; "
            "starts again after a limiting one", _loss_db, "nyquist_gain_db"),
    Measure("Cursor", "mV", "The pulse response at the sampling instant", lambda view: float(view.pulse.cursor_v[1]),
            "pulse.cursors_v[1]", 1e3),
    Measure("Eye height", "mV", "At the profile's BER", lambda view: float(view.eye.height_v), "eye.height_v", 1e3),
    Measure("Eye width", "UI", "At the profile's BER", lambda view: float(view.eye.width_ui), "eye.width_ui", 1.0,
            3),
)  # fmt: skip
MINUS = "\u2212"
TITLES = ("Comparison", *(measure.heading for measure in MEASURES), "Verdict")


class CompareTable(QWidget):
    """A row a trace in the traces' colours, then a row for each further one's difference from the first."""

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, theme: Theme, *, beside: Comparison,
        judged: TraceVerdicts, parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("compare")
        self._state, self._computing, self._theme = state, computing, theme
        self._beside, self._judged = beside, judged
        self._table = _Table(self._delete_row)
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.addWidget(self._table)
        self._gather = QTimer(self, singleShot=True, interval=_GATHER_MS)
        self._gather.timeout.connect(self._fill)
        for signal in (
            state.traces_changed, computing.view_ready, computing.lane_ready, judged.ready, beside.changed,
            document.changed,
        ):  # fmt: skip
            signal.connect(self._soon)
        self.set_theme(theme)

    @property
    def table(self) -> QTableWidget:
        """The table itself."""
        return self._table

    def asked_figure(self) -> AskedFigure | None:
        """The figure of the cell that was clicked or walked to: a trace's own, or what it has beyond another."""
        traces, row = self._state.traces, self._table.currentRow()
        measure = dict(enumerate(MEASURES, 1)).get(self._table.currentColumn())
        if not 0 <= row < 2 * len(traces) - 1:
            return None
        trace = traces[row if row < len(traces) else 0]
        if row < len(traces) or measure is None:
            figure = "normalized_margin" if measure is None else measure.figure
            return AskedFigure(figure, trace.lane, trace.probe, trace.snapshot)
        other = traces[row - len(traces) + 1]
        views = [self._computing.views.get(one) for one in (trace, other)]
        if any(view is None for view in views):
            return None
        from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

        values = (measure.read(view) for view in views if view is not None)
        from workbench.studies.comparison.comparing import TraceGain  # noqa: PLC0415 - as above

        gain = TraceGain(measure.title, "V" if measure.unit == "mV" else measure.unit, *values)
        whole = ExplainedAnswer(_difference_title(trace, other), gain)
        return AskedFigure("gained", trace.lane, trace.probe, trace.snapshot, answered=whole)

    def height_wanted(self) -> int:
        """How high the table is with all its rows."""
        rows = 2 * len(self._state.traces) - 1
        return rows * ROW_PX + self._table.horizontalHeader().sizeHint().height() + 3 * GRID_PX

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours."""
        self._theme = theme
        self._fill()

    def _soon(self) -> None:
        if not self._gather.isActive():
            self._gather.start()

    def _fill(self) -> None:
        traces = self._state.traces
        self.setVisible(len(traces) > 1)
        if len(traces) < 2:
            self._table.setRowCount(0)
            return
        views = [self._computing.views.get(trace) for trace in traces]
        verdicts = [self._verdict(trace) for trace in traces]
        self._table.setRowCount(2 * len(traces) - 1)
        for row, (trace, view, verdict) in enumerate(zip(traces, views, verdicts, strict=True)):
            cells = [_figure(measure, view) for measure in MEASURES]
            self._row(row, trace.label, [*cells, verdict], QColor(self._theme.traces[row]), verdict)
        for number in range(1, len(traces)):
            cells = [_difference(measure, views[number], views[0]) for measure in MEASURES]
            change = _change(verdicts[0], verdicts[number])
            title = _difference_title(traces[0], traces[number])
            self._row(len(traces) + number - 1, title, [*cells, change], QColor(self._theme.quiet), "")

    def _verdict(self, trace: ShownTrace) -> str:
        found = self._judged.assessment(trace)
        return "…" if found is None else found.margin.verdict

    def _row(self, row: int, title: str, cells: list[str], ink: QColor, verdict: str) -> None:
        inks = self._theme.verdicts
        quiet = QColor(self._theme.ink if verdict else self._theme.quiet)
        for column, text in enumerate((title, *cells)):
            item = QTableWidgetItem(text)
            item.setForeground(QBrush(ink if column == 0 else quiet))
            if 0 < column < len(TITLES) - 1:
                item.setTextAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            elif column and verdict in inks:
                item.setForeground(QBrush(QColor(inks[verdict])))
            item.setToolTip(title if column == 0 else "")
            self._table.setItem(row, column, item)

    def _delete_row(self, row: int) -> None:
        traces = self._state.traces
        number = row if row < len(traces) else row - len(traces) + 1
        if 0 <= number < len(traces):
            self._beside.remove(traces[number])


class _Table(QTableWidget):
    """Delete takes the current row's trace away."""

    def __init__(self, delete_row: Callable[[int], None]) -> None:
        super().__init__(0, len(TITLES))
        self._delete_row = delete_row
        self.setAccessibleName("Comparison")
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        set_letters(self, 9.0)
        self.verticalHeader().hide()
        self.verticalHeader().setDefaultSectionSize(ROW_PX)
        self.verticalHeader().setMinimumSectionSize(ROW_PX)
        head = self.horizontalHeader()
        head.setHighlightSections(False)
        head.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        head.setStretchLastSection(False)
        head.setDefaultAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self._title_columns()
        # The names give way, so that figures and verdicts stay in view however narrow the window is.
        head.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)

    def _title_columns(self) -> None:
        tips = ("", *(measure.tip for measure in MEASURES), "At the receiver, by the profile's limits")
        for column, (title, tip) in enumerate(zip(TITLES, tips, strict=True)):
            item = QTableWidgetItem(title)
            item.setToolTip(tip)
            if not 0 < column < len(TITLES) - 1:
                item.setTextAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
            self.setHorizontalHeaderItem(column, item)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Delete and Backspace take a trace away."""
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and self.currentRow() >= 0:
            self._delete_row(self.currentRow())
        else:
            super().keyPressEvent(event)


def _figure(measure: Measure, view: LaneView | None) -> str:
    return "…" if view is None else measure.words(measure.read(view))


def _difference(measure: Measure, view: LaneView | None, first: LaneView | None) -> str:
    """What the current lane has beyond the other: now − before."""
    if view is None or first is None:
        return "…"
    return measure.words(measure.read(first) - measure.read(view), signed=True)


def _difference_title(first: ShownTrace, other: ShownTrace) -> str:
    return f"{'now' if other.snapshot else _short(first, other)} {MINUS} {_short(other, first)}"


def _change(first: str, other: str) -> str:
    """How the current lane's verdict stands to the other's: as the differences, now against before."""
    known = [str(verdict) for verdict in VERDICTS]
    if first not in known or other not in known:
        return "…"
    step = known.index(other) - known.index(first)
    return "the same" if step == 0 else "better" if step > 0 else "worse"


def _short(trace: ShownTrace, first: ShownTrace) -> str:
    """What tells a trace from the first one."""
    return trace.snapshot or (trace.lane if trace.lane != first.lane else trace.probe)
