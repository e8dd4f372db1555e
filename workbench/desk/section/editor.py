"""The cross-section editor: a line's section to scale, its dimensions as handles and fields, its figures live.

Edits go through the document like any other: what is dragged or stepped is previewed, what is kept is one undo step.
Figures come from the engine's thread, the latest request first; the window never waits for them.
"""

from typing import NamedTuple, cast

import msgspec
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QCheckBox, QGridLayout, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from workbench.board.edits.catalogue import replace_entry
from workbench.board.index import index_of
from workbench.board.library import profile_of
from workbench.board.model import Board
from workbench.desk.background.runner import FIRST, Runner
from workbench.desk.section import work
from workbench.desk.section.form import DimensionForm
from workbench.desk.section.plan import Picture, picture_of
from workbench.desk.section.told import as_links, figures_told
from workbench.desk.section.view import Potential, SectionView
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import AskedFigure
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.form_window import FormWindow
from workbench.desk.widgets.inputs import QuantityInput
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import WorkbenchError
from workbench.facts import Fact
from workbench.parts.record import RunRecord
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.search import Dimension
from workbench.reports.section.figures import SectionFigures, cross_section_of

_SIZE = (880, 480)
_NEIGHBOUR = Fact(
    name="gap_m", unit="m", label="Neighbour at", help="Distance to the next pair, foot to foot.", lower=1e-6,
    upper=1e-2,
)  # fmt: skip
_TARGET = Fact(
    name="impedance_ohm", unit="ohm", label="Solve for", help="Differential impedance to be reached.", lower=1.0,
    upper=1000.0,
)  # fmt: skip
_FIGURES, _POTENTIAL, _SOLVING = "section figures", "section potential", "section solving"
_NONE = "No line of this board has a cross-section; add a stripline pair or a microstrip pair to the parts."


class _FoundFigures(NamedTuple):
    """What was asked, and the figures of the pair alone and beside its neighbour."""

    asked: work.SectionQuestion
    alone: SectionFigures
    beside: SectionFigures | None


class SectionEditor(FormWindow):
    """Shows and edits the cross-section of one line of the board at a time.

    Signals:
        said: a sentence for the status line.
        working_wanted: how a figure was computed is asked for; carries an `AskedFigure`.
    """

    said = Signal(str)
    working_wanted = Signal(object)

    def __init__(self, document: Document, runner: Runner, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__("sectionEditor", "Cross-section", _SIZE, parent)
        self._document, self._runner = document, runner
        self._picture: Picture | None = None
        self._neighbour_m, self._target_ohm = 4e-4, 100.0
        self.line = FlatCombo()
        self.line.setAccessibleName("Line")
        self.view = SectionView(theme)
        self.form = DimensionForm()
        self.figures = QLabel(wordWrap=True, textFormat=Qt.TextFormat.RichText)
        self.figures.setAccessibleName("Figures")
        self.figures.setToolTip("Click on a figure, or F9: how was this computed?")
        self.figures.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.LinksAccessibleByMouse
            | Qt.TextInteractionFlag.LinksAccessibleByKeyboard
        )  # fmt: skip
        self._found: _FoundFigures | None = None
        self._ink = theme.accent
        self.neighbour = QuantityInput(_NEIGHBOUR, "m")
        self.target = QuantityInput(_TARGET, "ohm")
        self.for_width, self.for_gap = QPushButton("Width"), QPushButton("Gap")
        self.potential = QCheckBox("Potential")
        self._lay_out()
        self._connect()
        self.neighbour.show_value(self._neighbour_m)
        self.target.show_value(self._target_ohm)
        self.set_theme(theme)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self.view.set_theme(theme)
        self._ink = theme.accent
        if self._found is not None:
            self._take_figures(self._found)

    def retell(self) -> None:
        """Tell every length anew: in another unit."""
        for part in (self.neighbour, self.target, self.form):
            part.retell()
        if self._found is not None:
            self._take_figures(self._found)
        self.view.update()

    def show_now(self, name: str = "") -> None:
        """Show a line by name, or the one shown last."""
        self.show()
        self._offer(name)
        self.raise_()
        self.activateWindow()

    @property
    def record(self) -> RunRecord | None:
        """The line as it is on screen."""
        name = self.line.currentText()
        return next((line for line in self._document.shown.catalogue.lines if line.name == name), None)

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """What waits to be computed is not wanted any more."""
        self.form.finish()
        for channel in (_FIGURES, _POTENTIAL, _SOLVING):
            self._runner.cancel(channel)
        super().closeEvent(event)

    # --- making

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        head.addWidget(self.line, 1)
        head.addWidget(self.potential)
        rows = QGridLayout()
        rows.setSpacing(GRID_PX)
        rows.addWidget(QLabel("Neighbour at"), 0, 0)
        rows.addWidget(self.neighbour, 0, 1, 1, 2)
        rows.addWidget(QLabel("Solve for"), 1, 0)
        rows.addWidget(self.target, 1, 1, 1, 2)
        rows.addWidget(QLabel("by the"), 2, 0)
        rows.addWidget(self.for_width, 2, 1)
        rows.addWidget(self.for_gap, 2, 2)
        right = QVBoxLayout()
        right.setSpacing(2 * GRID_PX)
        for part in (self.form, self.figures):
            right.addWidget(part)
        right.addLayout(rows)
        right.addStretch(1)
        left = QVBoxLayout()
        left.addLayout(head)
        left.addWidget(self.view, 1)
        body = QHBoxLayout(self)
        body.setContentsMargins(3 * GRID_PX, 3 * GRID_PX, 3 * GRID_PX, 3 * GRID_PX)
        body.addLayout(left, 1)
        body.addLayout(right)
        QShortcut(QKeySequence(Qt.Key.Key_F9), self, self._explain)

    def _connect(self) -> None:
        self.figures.linkActivated.connect(self._explain)
        self._document.changed.connect(self._follow)
        self._document.changing.connect(self._show)
        self.line.currentTextChanged.connect(lambda _: self._show())
        self.view.tried.connect(self._try)
        self.view.settled.connect(self._settle)
        self.view.dropped.connect(self._document.cancel_preview)
        self.form.tried.connect(self._try)
        self.form.settled.connect(self._settle)
        self.form.dropped.connect(self._document.cancel_preview)
        self.form.faulted.connect(self._tell)
        self.neighbour.settled.connect(self._set_neighbour)
        self.neighbour.tried.connect(self._set_neighbour)
        self.target.settled.connect(self._set_target)
        for field in (self.neighbour, self.target):
            field.faulted.connect(self._tell)
        self.for_width.clicked.connect(lambda _=False: self.solve("width_m"))
        self.for_gap.clicked.connect(lambda _=False: self.solve("gap_m"))
        self.potential.toggled.connect(lambda _: self._show())

    # --- following

    def _follow(self, _: Board) -> None:
        if self.isVisible():
            self._offer(self.line.currentText())

    def _offer(self, name: str) -> None:
        index = index_of(self._document.shown)
        lines = self._document.shown.catalogue.lines
        names = [line.name for line in lines if line.cross_section(index.parts_of(line)) is not None]
        if [self.line.itemText(n) for n in range(self.line.count())] != names:
            self.line.blockSignals(True)
            self.line.clear()
            self.line.addItems(names)
            self.line.blockSignals(False)
        if name in names:
            self.line.setCurrentIndex(names.index(name))
        self._show()

    def _show(self, _: object = None) -> None:
        """Show the line of the board on screen, and ask for its figures."""
        record = self.record
        if record is None or not self.isVisible():
            self._picture = None
            self.view.show_picture(None, None)
            self.figures.setText(_NONE if record is None else "")
            return
        asked = self._asked(record)
        try:
            section = cross_section_of(record, asked.parts)
        except WorkbenchError as error:
            self.figures.setText(str(error))
            return
        self._picture = picture_of(record, section)
        self.view.show_picture(record, self._picture)
        self.form.show_record(record)
        self._runner.submit(
            _FIGURES, lambda _token: _FoundFigures(asked, *work.figures(asked)), self._take_figures, priority=FIRST,
            steady=True,
        )  # fmt: skip
        self._ask_potential(section, self._picture.bounds)

    def _ask_potential(self, section: CrossSection, bounds: tuple[float, float, float, float]) -> None:
        if not self.potential.isChecked():
            self.view.show_potential(None)
            return
        seen = bounds[0], max(bounds[1], 0.0), bounds[2], bounds[3]
        self._runner.submit(
            _POTENTIAL,
            lambda _token: work.potential_of(section, seen),
            lambda volts: self.view.show_potential(Potential(volts, seen)),
            steady=True,
        )

    def _asked(self, record: RunRecord) -> work.SectionQuestion:
        board = self._document.shown
        frequency_hz = profile_of(board, board.profile).nyquist_hz
        parts = index_of(board).parts_of(record)
        return work.SectionQuestion(board.title, record, parts, frequency_hz, self._neighbour_m)

    def _take_figures(self, found: "_FoundFigures") -> None:
        self._found = found
        self.figures.setText(as_links(figures_told(found.alone, found.beside), self._ink))

    def asked_figure(self, link: str = "alone:differential_impedance_ohm") -> AskedFigure | None:
        """One of the figures that are shown, as what is asked about; None while there are none."""
        which, _, name = link.partition(":")
        found = self._found
        answer = None if found is None else found.beside if which == "beside" else found.alone
        if found is None or answer is None:
            return None
        from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

        line, parts = found.asked.line, found.asked.parts
        whole = ExplainedAnswer(f"Cross-section of {line.name}", answer, self._document.shown, given=(line, parts))
        return AskedFigure(name, "", answered=whole)

    def _explain(self, *link: str) -> None:
        """Explain the figure that was clicked, or (F9) the impedance."""
        asked = self.asked_figure(*link)
        if asked is not None:
            self.working_wanted.emit(asked)

    # --- editing

    def _try(self, field: str, value_m: float) -> None:
        record = self.record
        if record is not None:
            changed = _with(record, field, value_m)
            self._document.preview(lambda board: replace_entry(board, "lines", record.name, changed))

    def _settle(self, field: str, value_m: float) -> None:
        record = self.record
        if record is not None:
            changed = _with(record, field, value_m)
            what = field.removesuffix("_m").replace("_", " ")
            self._document.apply(
                f"set {what} of {record.name}", lambda board: replace_entry(board, "lines", record.name, changed)
            )

    def solve(self, dimension: Dimension) -> None:
        """Find the width or gap that gives the impedance asked for, and set it."""
        self.target.finish()
        record = self.record
        if record is None:
            return
        asked, target_ohm = self._asked(record), self._target_ohm
        self._runner.submit(
            _SOLVING,
            lambda _token: work.dimension_for(asked, dimension, target_ohm),
            lambda value_m: self._settle(dimension, value_m),
            priority=FIRST,
        )

    def _set_neighbour(self, value_m: object) -> None:
        self._neighbour_m = cast("float", value_m)
        self._show()

    def _set_target(self, value_ohm: object) -> None:
        self._target_ohm = cast("float", value_ohm)

    def _tell(self, sentence: str) -> None:
        if sentence:
            self.said.emit(sentence)


def _with(record: RunRecord, field: str, value_m: float) -> RunRecord:
    return msgspec.structs.replace(record, **{field: value_m})
