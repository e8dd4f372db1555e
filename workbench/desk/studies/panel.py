"""The studies panel: choose, run, look at points of the answer in the panes, apply."""

import hashlib
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from workbench.board.model import Board
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.studies.answer_table import AnswerTable
from workbench.desk.studies.bar_view import BarView
from workbench.desk.studies.curve_view import CurveView
from workbench.desk.studies.map_view import MapView
from workbench.desk.studies.ordered import OrderedChoice
from workbench.desk.studies.work import StudyWork
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import WorkbenchError
from workbench.studies.kinds.fields import ALL
from workbench.studies.kinds.remedy import RemedyStudy
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Advance
from workbench.studies.presentation import BarPicture, CurvePicture, MapPicture, Point, Presentation
from workbench.studies.registry import STUDIES
from workbench.studies.study import Study
from workbench.wording import any_of

HEIGHT_PX = 70 * GRID_PX
_IDLE = (
    "Choose a study and what it is about, then run it. A click on a point of the answer, or the pointer over a line of "
    "its table, shows that variant in the panes; nothing is changed before you apply it."
)
_STALE = "The board has changed since this was answered."


class StudiesPanel(QWidget):
    """Studies of the open board. Hidden until it is asked for.

    Signals:
        said: a sentence for the status line.
        opened: the panel is shown and wants room.
    """

    said = Signal(str)
    opened = Signal()

    def __init__(
        self, document: Document, state: ViewState, theme: Theme, parent: QWidget | None = None,
        *, work: StudyWork | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("studies")
        self.document, self._state, self._theme = document, state, theme
        self.work = work if work is not None else StudyWork(self)
        self._asked_of: Board | None = None
        self._study: Study = STUDIES[0]
        self._shown: Presentation | None = None
        self._point: Point | None = None
        self._make()
        self._lay_out()
        self._connect()
        self.set_theme(theme)
        self._show_typed()
        self._fill_subjects()
        self._show_state()
        self.hide()

    # --- what others use

    @property
    def sentence(self) -> str:
        """What is said about the study."""
        return self._sentence.text()

    @property
    def picture(self) -> QWidget | None:
        """The picture in sight; an empty page while there is none."""
        return self._pictures.currentWidget()

    @property
    def shown(self) -> Presentation | None:
        """The answer as it is on screen; None while there is none."""
        return self._shown

    def actions(self) -> list[QAction]:
        """One action per study, for menus and the palette."""
        return list(self._actions)

    def open(self, word: str) -> None:
        """Show the panel with a study chosen."""
        self.study.setCurrentIndex(next(n for n, one in enumerate(STUDIES) if one.word == word))
        self.show()
        self.opened.emit()
        self.subject.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def make_it_pass(self, lane: str = "") -> None:
        """Look for what would make a lane pass, or ("") every lane that does not; what may be changed is as chosen."""
        self.open(RemedyStudy.word)
        if self.work.busy:
            self.work.drop()
        self.subject.setCurrentText(lane or ALL)
        self.run()

    def close_panel(self) -> None:
        """Put the panel away; a variant that is shown is taken back, a study that runs is ended."""
        self.work.cancel()
        self._drop_variant()
        self.hide()

    def height_wanted(self) -> int:
        """How high the panel would like to be."""
        return HEIGHT_PX

    def run(self) -> None:
        """Begin the chosen study, or end the one that runs."""
        if self.work.busy:
            self.work.cancel()
            return
        subject = self.subject.currentText()
        if not subject:
            self._sentence.setText(f"The board has no {self._study.about} to study: add one first.")
            return
        typed = self._study.typed
        if typed is not None and typed.choices and not self.allowed.chosen:
            self._sentence.setText(f"Nothing may be changed: allow at least one of {any_of(typed.choices)}.")
            return
        self._drop_variant()
        board = self._asked_of = self.document.board
        digest = hashlib.sha256(self.document.text()).hexdigest()
        self._shown = None
        self.map.held = self.curves.held = False
        try:
            values = self._study.values(subject, self._typed_text())
        except WorkbenchError as error:
            self._fail(str(error))
            return
        self.progress.setRange(0, 0)
        self._sentence.setText(f"{self._study.title} of {subject}: nothing is known yet.")
        study, basis = self._study, Basis(board=board, sha256=digest, symbols=self._state.symbols)
        self.work.start(lambda effort: study.answer(basis, values, effort=effort))
        self._show_state()

    def apply(self) -> None:
        """Apply the answer as one undo step."""
        shown, point = self._shown, self._point
        if shown is None or not shown.edit_name:
            return
        edit, name = shown.edit, shown.edit_name
        if point is not None and point.edit is not None:
            edit, name = point.edit, f"{shown.edit_name}: {point.words.split(':')[0]}"
        if edit is None:
            return
        self._point = None
        if self.document.apply(name, edit):
            self.said.emit(f"Applied: {name}")
        self._show_state()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.map.set_theme(theme)
        self.curves.set_theme(theme)
        self.bars.set_theme(theme)
        self.table.set_theme(theme)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape takes a shown variant back, then ends a study, then puts the panel away."""
        if event.key() != Qt.Key.Key_Escape:
            super().keyPressEvent(event)
        elif self._point is not None:
            self._drop_variant()
            self._show_state()
        elif self.work.busy:
            self.work.cancel()
        else:
            self.close_panel()

    # --- making

    def _make(self) -> None:
        self.study, self.subject = QComboBox(), QComboBox()
        self.study.setAccessibleName("Study")
        self.subject.setAccessibleName("What it is about")
        for one in STUDIES:
            self.study.addItem(one.title)
        self.run_button, self.apply_button = QPushButton("Run"), QPushButton("Apply")
        self.close_button = QPushButton("Close")
        self.progress = QProgressBar(textVisible=True)
        self.progress.setAccessibleName("Progress of the study")
        self.progress.setMaximumHeight(4 * GRID_PX)
        self._sentence = QLabel(_IDLE, wordWrap=True)
        self._sentence.setObjectName("sentence")
        self._sentence.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.typed, self.allowed = QLineEdit(), OrderedChoice()
        self.map, self.curves, self.bars = MapView(self._theme), CurveView(self._theme), BarView(self._theme)
        self._pictures = QStackedWidget()
        self._nothing = QWidget()
        for page in (self._nothing, self.map, self.curves, self.bars):
            self._pictures.addWidget(page)
        self.table = AnswerTable(self._theme)
        self._actions = [self._action(one) for one in STUDIES]

    def _action(self, study: Study) -> QAction:
        action = QAction(f"{study.title}…" if study.word == RemedyStudy.word else f"{study.title} study…", self)
        action.setObjectName(f"study.{study.word}")
        action.triggered.connect(lambda _=False, word=study.word: self.open(word))
        if study.word == STUDIES[0].word:
            action.setShortcut(QKeySequence("Ctrl+T"))
        return action

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        caption = QLabel("Study")
        caption.setObjectName("caption")
        for part, stretch in (
            (caption, 0), (self.study, 0), (self.subject, 1), (self.typed, 2), (self.run_button, 0),
            (self.progress, 2), (self.apply_button, 0), (self.close_button, 0),
        ):  # fmt: skip
            head.addWidget(part, stretch)
        both = QSplitter(Qt.Orientation.Horizontal)
        both.addWidget(self._pictures)
        both.addWidget(self.table)
        both.setChildrenCollapsible(False)
        both.setSizes([400, 600])
        both.setStretchFactor(1, 1)
        body = QVBoxLayout(self)
        body.setContentsMargins(3 * GRID_PX, 2 * GRID_PX, 3 * GRID_PX, 2 * GRID_PX)
        body.setSpacing(GRID_PX)
        body.addLayout(head)
        body.addWidget(self.allowed)
        body.addWidget(self._sentence)
        body.addWidget(both, 1)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setMinimumHeight(48 * GRID_PX)

    def _connect(self) -> None:
        self.study.currentIndexChanged.connect(self._choose)
        self.run_button.clicked.connect(self.run)
        self.typed.returnPressed.connect(self.run)
        self.apply_button.clicked.connect(self.apply)
        self.close_button.clicked.connect(self.close_panel)
        for view in (self.map, self.curves):
            view.pointed.connect(self._try)
            view.chosen.connect(self._take)
        self.table.pointed.connect(self._try)
        self.table.hovered.connect(self._glance)
        self.table.taken.connect(self.apply)
        self.work.advanced.connect(self._advance)
        self.work.grown.connect(self._grow)
        self.work.answered.connect(self._answer)
        self.work.failed.connect(self._fail)
        self.document.changed.connect(self._follow_board)
        self._state.lane_changed.connect(lambda _: self._fill_subjects())

    # --- following

    def _choose(self, number: int) -> None:
        self._drop_variant()
        self.work.drop()
        self._study, self._shown = STUDIES[number], None
        self._sentence.setText(_IDLE)
        self._show_typed()
        self._fill_subjects()
        self._show_state()

    def _show_typed(self) -> None:
        typed = self._study.typed
        ordered = typed is not None and bool(typed.choices)
        self.allowed.setVisible(ordered)
        if typed is not None and ordered:
            self.allowed.offer(typed.choices, typed.about)
        self.typed.setVisible(typed is not None and not ordered)
        self.typed.setText(typed.first if typed is not None else "")
        self.typed.setCursorPosition(0)  # its beginning says what it is
        self.typed.setToolTip(typed.about if typed is not None else "")
        self.typed.setAccessibleName(typed.about if typed is not None else "Not used")

    def _typed_text(self) -> str:
        """What is asked for besides the subject, in words."""
        typed = self._study.typed
        return ", ".join(self.allowed.chosen) if typed is not None and typed.choices else self.typed.text()

    def _fill_subjects(self) -> None:
        board, before = self.document.board, self.subject.currentText()
        names = list(self._study.subjects(board, self._state.lane))
        if [self.subject.itemText(n) for n in range(self.subject.count())] != names:
            self.subject.clear()
            self.subject.addItems(names)
            self.subject.setCurrentText(before if before in names else self._own_subject(names))

    def _own_subject(self, names: list[str]) -> str:
        """What belongs to the lane on the path strip."""
        return next((name for name in self._study.own(self.document.board, self._state.lane) if name in names), "")

    def _follow_board(self, board: Board) -> None:
        self._point = None
        self._fill_subjects()
        if self._shown is not None and board is not self._asked_of and board != self._asked_of:
            self._sentence.setText(f"{_STALE} {self._shown.sentence}")
        self._show_state()

    def _advance(self, advance: Advance) -> None:
        self.progress.setRange(0, advance.total)
        self.progress.setValue(advance.done)
        left = "" if advance.left_s is None else f", {_time_words(advance.left_s)} left"
        self.progress.setFormat(f"{advance.done} of {advance.total}{left}")

    def _grow(self, answer: Any) -> None:  # noqa: ANN401 - every study has its own answer
        """The answer as far as it is: its picture; a ranking would not stand still long enough to be read."""
        shown = self._study.present_growing(answer)
        if not self._study.rows_stand:
            shown = shown._replace(rows=())
        self._shown = shown
        stale = "" if self.document.board is self._asked_of else f"{_STALE} "
        self._sentence.setText(f"{stale}So far, {answer.made.stopped.removesuffix(' so far')}: {shown.sentence}")
        # The picture below must not jump with every line that the sentence gains or loses.
        lines = self._sentence.heightForWidth(self._sentence.width())
        self._sentence.setMinimumHeight(max(self._sentence.minimumHeight(), lines))
        self.table.show_answer(shown)
        self._show_picture(shown)
        self._show_state()

    def _answer(self, answer: Any) -> None:  # noqa: ANN401 - every study has its own answer
        # One that was cut short keeps the picture it had grown to: another view of it could show less than that.
        stopped = answer.made.stopped
        shown = self._shown = self._study.present_growing(answer) if stopped else self._study.present(answer)
        self._sentence.setText(f"{shown.sentence} {f'Not complete: {stopped}.' if stopped else ''}".strip())
        self.table.show_answer(shown)
        self._show_picture(shown)
        self._show_state()
        self.said.emit(shown.sentence)

    def _fail(self, sentence: str) -> None:
        self._sentence.setText(sentence[:1].upper() + sentence[1:])
        self._show_state()

    def _show_picture(self, shown: Presentation) -> None:
        match shown.picture:
            case MapPicture():
                self.map.show_picture(shown.picture)
                self._pictures.setCurrentWidget(self.map)
            case CurvePicture():
                self.curves.show_picture(shown.picture)
                self._pictures.setCurrentWidget(self.curves)
            case BarPicture():
                self.bars.show_picture(shown.picture)
                self._pictures.setCurrentWidget(self.bars)
            case _:
                self._pictures.setCurrentWidget(self._nothing)
        self._pictures.setVisible(shown.picture is not None)

    # --- variants

    def _glance(self, point: Point | None) -> None:
        """Show a variant as long as the pointer is over its line; then again what was chosen, or the board."""
        shown = point if point is not None else self._point
        if shown is None or shown.edit is None:
            self.document.cancel_preview()
        elif self.document.preview(shown.edit):
            self.said.emit(f"Shown, not applied: {shown.words}")

    def _try(self, point: Point) -> None:
        """Show a variant in the panes without committing it."""
        if point.edit is None:
            return
        if self.document.preview(point.edit):
            self._point = point
            self.said.emit(f"Shown, not applied: {point.words}")
        self._show_state()

    def _take(self, point: Point) -> None:
        self._try(point)
        self.apply()

    def _drop_variant(self) -> None:
        if self._point is not None:
            self._point = None
            self.document.cancel_preview()

    def _show_state(self) -> None:
        busy = self.work.busy
        self.run_button.setText("Cancel" if busy else "Run")
        self.progress.setVisible(busy)
        if not busy:
            self._sentence.setMinimumHeight(0)
        shown = self._shown
        self.table.setVisible(shown is not None)
        if shown is None:
            self._pictures.setCurrentWidget(self._nothing)
            self._pictures.show()
        one = self._point is not None
        whole = shown is not None and shown.edit is not None and not busy
        can = (one and shown is not None and bool(shown.edit_name)) or whole
        self.apply_button.setEnabled(can)
        self.apply_button.setText("Apply this one" if one else "Apply the best" if can else "Apply")


def _time_words(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90.0 else f"{seconds / 60.0:.0f} min"
