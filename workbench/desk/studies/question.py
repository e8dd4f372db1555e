"""What is asked of a study: which one, what it is about, and what it has typed in besides."""

import hashlib
from collections.abc import Callable

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QWidget

from workbench.board.model import Board
from workbench.board.writing import dump_board
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.studies.asked import AskedStudy
from workbench.desk.studies.remedy_terms import RemedyTerms
from workbench.desk.studies.tolerance_table import ToleranceTable
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.theme import GRID_PX
from workbench.engine.symbols import Symbols
from workbench.errors import StudyError, WorkbenchError
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.studies.forms import GAPS
from workbench.studies.kinds.fields import at_gap
from workbench.studies.kinds.remedy import RemedyStudy
from workbench.studies.pool.jobs import Basis
from workbench.studies.registry import STUDIES
from workbench.studies.study import Study, Values
from workbench.wording import any_of

_LEAST_PX = 18 * GRID_PX
"""How narrow the choices may get where the window is: what is long is elided then."""
_GAP_PX = 60 * GRID_PX
_GAP, _AS_THEY_ARE = "Gap between neighbours", "as they are"


class StudyQuestion(QObject):
    """The fields of the question, for the panel to lay out; the subject follows the lane on the path strip.

    Signals:
        chosen: another study is asked for.
        changed: something in the question is another.
        entered: Enter was pressed in it.
    """

    chosen = Signal()
    changed = Signal()
    entered = Signal()

    def __init__(self, document: Document, state: ViewState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document, self._state = document, state
        self.study, self.subject = FlatCombo(), FlatCombo()
        self.study.setAccessibleName("Study")
        self.subject.setAccessibleName("What it is about")
        self.study.addItems([one.title for one in STUDIES])
        for chosen in (self.study, self.subject):
            chosen.setMinimumWidth(_LEAST_PX)
        self.typed, self.allowed, self.tolerances = QLineEdit(), RemedyTerms(), ToleranceTable()
        self.gap = GapRow()
        self.study.currentIndexChanged.connect(self._choose)
        self.subject.currentIndexChanged.connect(lambda _: self.changed.emit())
        self.typed.textChanged.connect(lambda _: self.changed.emit())
        self.typed.textChanged.connect(self.tolerances.show_text)
        self.gap.field.textChanged.connect(lambda _: self.changed.emit())
        for line in (self.typed, self.gap.field):
            line.returnPressed.connect(self.entered)
        self.allowed.changed.connect(self.changed)
        self.tolerances.edited.connect(self.typed.setText)
        state.lane_changed.connect(lambda _: self.follow_lane())

    @property
    def head(self) -> tuple[tuple[QWidget, int], ...]:
        """What stands in one line, with its share of the room."""
        return (self.study, 0), (self.subject, 1), (self.typed, 2)

    @property
    def below(self) -> tuple[QWidget, ...]:
        """What needs lines of its own."""
        return self.gap, self.tolerances, self.allowed

    @property
    def of(self) -> Study:
        """The study that is asked for."""
        return STUDIES[max(0, self.study.currentIndex())]

    @property
    def about(self) -> str:
        """What it is about; empty where the board has nothing of that kind."""
        return self.subject.currentText()

    @property
    def words(self) -> str:
        """What is asked for besides the subject, in words."""
        typed = self.of.typed
        return self.allowed.text if typed is not None and typed.choices else self.typed.text()

    def choose(self, word: str) -> None:
        """Ask for another study, by its word."""
        self.study.setCurrentIndex(next(number for number, one in enumerate(STUDIES) if one.word == word))

    def is_of(self, asked: AskedStudy) -> bool:
        """Whether a study that was asked for is the one that the fields ask for."""
        try:
            gaps_m = self.gap.gaps_m(self._document.board) or (None,)
        except StudyError:
            return False
        return asked.is_about(self.of, self.about, self.words) and asked.gap_m in gaps_m

    def asked(self, symbols: Symbols) -> list[AskedStudy]:
        """What the fields ask for: one study, or at several gaps one each.

        Raises:
            StudyError: as for `values`, or a gap is none that neighbours have.
        """
        values, board = self.values(), self._document.board
        found = []
        for gap_m in self.gap.gaps_m(board) or (None,):
            there = board if gap_m is None else at_gap(board, gap_m)
            text = self._document.text() if gap_m is None else dump_board(there)
            basis = Basis(board=there, sha256=hashlib.sha256(text).hexdigest(), symbols=symbols)
            found.append(AskedStudy(self.of, self.about, self.words, values, basis, gap_m, of=board))
        return found

    def values(self) -> Values:
        """The values asked for, as the study takes them.

        Raises:
            StudyError: one sentence about what is missing or can't be read.
        """
        typed = self.of.typed
        if not self.about:
            raise StudyError(f"The board has no {self.of.about} to study: add one first.")
        if typed is not None and typed.choices and not self.allowed.chosen:
            raise StudyError(f"Nothing may be changed: allow at least one of {any_of(typed.choices)}.")
        return self.of.values(self.about, self.words)

    def fill(self) -> None:
        """Offer what the board has; what was chosen stays while it is there."""
        self.gap.offer(self._document.board)
        before, names = self.about, list(self.of.subjects(self._document.board, self._state.lane))
        if self._offered() != names:
            self.subject.clear()
            self.subject.addItems(names)
            self.subject.setCurrentText(before if before in names else self._own(names))

    def follow_lane(self) -> None:
        """The subject is what belongs to the lane on the path strip."""
        self.fill()
        own = self._own(self._offered())
        if own:
            self.subject.setCurrentText(own)

    def show_fields(self) -> None:
        """Show the fields that the study has, with what it begins with."""
        typed = self.of.typed
        in_table = typed is not None and typed.tolerances
        ordered = typed is not None and bool(typed.choices)
        self.allowed.setVisible(ordered)
        if typed is not None and ordered:
            self.allowed.offer(typed.choices, typed.about)
        self.typed.setVisible(typed is not None and not in_table and not ordered)
        self.tolerances.setVisible(in_table)
        self.typed.setText(typed.first if typed is not None else "")
        self.typed.setCursorPosition(0)  # its beginning says what it is
        self.typed.setToolTip(typed.about if typed is not None else "")
        self.typed.setAccessibleName(typed.about if typed is not None else "Not used")

    def _choose(self, _: int) -> None:
        self.show_fields()
        self.fill()
        self.chosen.emit()

    def _offered(self) -> list[str]:
        return [self.subject.itemText(number) for number in range(self.subject.count())]

    def _own(self, names: list[str]) -> str:
        return next((name for name in self.of.own(self._document.board, self._state.lane) if name in names), "")


class GapRow(QWidget):
    """One gap or several with semicolons between, such as ``0.4 mm; 0.6 mm``; empty: as they are.

    In sight only where lanes of the board lie beside one another at a gap.
    """

    def __init__(self) -> None:
        super().__init__()
        self.field = QLineEdit()
        self.field.setPlaceholderText(_AS_THEY_ARE)
        self.field.setAccessibleName(_GAP)
        self.field.setToolTip(f"{GAPS.help[:1].upper()}{GAPS.help[1:]}; write several with semicolons between")
        self.field.setMaximumWidth(_GAP_PX)
        words = QLabel(_GAP)
        words.setBuddy(self.field)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(words)
        row.addWidget(self.field, 3)
        row.addStretch(1)

    def offer(self, board: Board) -> None:
        """Show the field where the board has a gap to be asked about; else nothing stays in it."""
        there = any(isinstance(one, SpacingCoupling) for one in board.catalogue.couplings)
        self.setVisible(there)
        if not there:
            self.field.clear()

    def gaps_m(self, board: Board) -> tuple[float, ...]:
        """The gaps asked for, m; none: as they are.

        Raises:
            StudyError: one does not read, or neighbours have no such gap.
        """
        typed = [part.strip() for part in self.field.text().split(";") if part.strip()]
        try:
            found: tuple[float, ...] = tuple(map(GAPS.read, typed))
        except WorkbenchError as error:
            raise StudyError(f"The gap between neighbours does not read: {error}") from error
        for gap_m in found:
            at_gap(board, gap_m)
        return found


def study_action(study: Study, show: Callable[[str], None], parent: QObject) -> QAction:
    """The command that opens a study, for menus and the palette; `show` is given its word."""
    action = QAction(f"{study.title}…" if study.word == RemedyStudy.word else f"{study.title} study…", parent)
    action.setObjectName(f"study.{study.word}")
    action.triggered.connect(lambda _=False: show(study.word))
    if study.word == STUDIES[0].word:
        action.setShortcut(QKeySequence("Ctrl+T"))
    return action
