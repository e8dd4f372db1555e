"""The studies panel: choose, run, look at points of the answer in the panes, apply."""

from pathlib import Path
from typing import Any

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QAction, QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from workbench.board.edits.answers import keep_answer
from workbench.board.model import Board
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import AskedFigure, ViewState
from workbench.desk.studies.answer_files import KINDS, write_answer
from workbench.desk.studies.answer_page import AnswerPage
from workbench.desk.studies.answer_working import figure_asked_for
from workbench.desk.studies.asked import AskedStudies, AskedStudy, gap_words
from workbench.desk.studies.foot import AnswersFoot
from workbench.desk.studies.progress import StudyProgress
from workbench.desk.studies.question import StudyQuestion, study_action
from workbench.desk.studies.variant import ShownVariant
from workbench.desk.studies.work import Ask, StudyWork
from workbench.desk.widgets.target_choice import PlatformTargets, TargetChooser
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import WorkbenchError
from workbench.studies.kinds.fields import ALL
from workbench.studies.kinds.remedy import RemedyStudy
from workbench.studies.presentation import Point, Presentation
from workbench.studies.registry import STUDIES

HEIGHT_PX = 76 * GRID_PX
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
        working_wanted: how a figure of the answer was computed is asked for; carries an `AskedFigure`.
    """

    said = Signal(str)
    opened = Signal()
    working_wanted = Signal(object)

    def __init__(
        self, document: Document, state: ViewState, theme: Theme, parent: QWidget | None = None,
        *, work: StudyWork | None = None, targets: TargetChooser | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("studies")
        self.document, self._state, self._theme = document, state, theme
        self.work = work if work is not None else StudyWork(self)
        self.targets: TargetChooser = targets if targets is not None else PlatformTargets(self)
        self.question = StudyQuestion(document, state, self)
        self.asked = AskedStudies()
        self._looked_at: AskedStudy | None = None
        self._applying = False
        self.variant = ShownVariant(document, self)
        self._make()
        self._lay_out()
        self._connect()
        self.set_theme(theme)
        self.question.show_fields()
        self.question.fill()
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
        return self.answer.picture

    @property
    def shown(self) -> Presentation | None:
        """The answer as it is on screen; None while there is none."""
        return self._looked_at.shown if self._looked_at is not None else None

    def asked_figure(self) -> AskedFigure:
        """What is asked about: the figure chosen in the picture or the table, else the shown variant's margin."""
        return figure_asked_for(self.answer, self._looked_at, lane=self._state.lane, shown=self.variant.point)

    def actions(self) -> list[QAction]:
        """One action per study, for menus and the palette."""
        return list(self._actions)

    def open(self, word: str) -> None:
        """Show the panel with a study chosen."""
        self.question.choose(word)
        self.show()
        self.opened.emit()
        self.question.subject.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def make_it_pass(self, lane: str = "") -> None:
        """Look for what would make a lane pass, or ("") every lane that does not; what may be changed is as chosen."""
        self.open(RemedyStudy.word)
        self.question.subject.setCurrentText(lane or ALL)
        self.run()

    def close_panel(self) -> None:
        """Put the panel away; a variant that is shown is taken back, studies that run or wait are ended."""
        self.asked.give_up_waiting()
        self.work.cancel()
        self.variant.drop()
        self.hide()

    def height_wanted(self) -> int:
        """How high the panel would like to be."""
        return HEIGHT_PX

    def run(self) -> None:
        """Begin the chosen study, or have it wait for the one that runs; the one that runs itself is ended."""
        running = self.asked.running
        if running is not None and self.question.is_of(running):
            self.work.cancel()
            return
        self.variant.drop()
        try:
            wanted = self.question.asked(self._state.symbols)
        except WorkbenchError as error:
            self._say(str(error))
            return
        self.asked.add(*wanted)
        if running is None:
            self.begin(wanted[0])
        else:
            self.said.emit(f"{wanted[0].name} runs after {running.name}.")
        self.foot.offer(self.asked.all, self._looked_at)
        self._show_state()

    def begin(self, asked: AskedStudy, ask: Ask | None = None) -> None:
        """Begin a study that was asked for; `ask` carries it out, None: the study itself."""
        asked.state = "running"
        asked.sentence = f"{asked.study.title} of {asked.subject}: nothing is known yet."
        self.answer.map.held = self.answer.curves.held = False
        self.progress.begin()
        study, basis, values = asked.study, asked.basis, asked.values
        self.work.start(ask or (lambda effort: study.answer(basis, values, effort=effort)))
        self.look_at(asked)

    def look_at(self, asked: AskedStudy | None) -> None:
        """Show an answer, as far as it is; None: none of them."""
        if asked is not self._looked_at:
            self.variant.drop()
        self._looked_at = self.variant.asked = asked
        shown = self.shown
        self._sentence.setMinimumHeight(0)
        self._say(_IDLE if asked is None else asked.sentence)
        if shown is not None:
            self.answer.show_answer(shown)
        self.foot.offer(self.asked.all, self._looked_at)
        self._show_state()

    def keep(self) -> None:
        """Keep the answer with the board, as one undo step: it is saved and reported with it."""
        asked = self._looked_at
        if asked is not None and asked.state == "answered":
            kept = asked.kept()
            self._applying = True
            done = self.document.apply(f"keep answer {kept.name}", lambda board: keep_answer(board, kept))
            self._applying = False
            if done:
                asked.of = self.document.board
                self.said.emit(f"Kept with the board, and in its report from now on: {kept.name}")

    def export(self) -> None:
        """Write the answer's table, or its picture, into a file that the user chooses."""
        shown, asked = self.shown, self._looked_at
        if shown is None or asked is None:
            return
        folder = self.document.path.parent if self.document.path is not None else Path.home()
        path = self.targets.to_write("Export the answer", folder / f"{asked.study.word}.csv", KINDS)
        if path is None:
            return
        try:
            write_answer(path, shown, self.picture)
        except WorkbenchError as error:
            self.said.emit(str(error))
            return
        self.said.emit(f"Written: {path}")

    def apply(self) -> None:
        """Apply the answer as one undo step."""
        shown, asked, point = self.shown, self._looked_at, self.variant.point
        if shown is None or not shown.edit_name or asked is None:
            return
        edit, name = shown.edit, shown.edit_name
        if point is not None and point.edit is not None:
            edit, name = point.edit, f"{shown.edit_name}: {point.words.split(':')[0]}"
        if edit is None:
            return
        self.variant.forget()
        self._applying = True
        if self.document.apply(f"{name}{gap_words(asked.gap_m)}", asked.edited(edit)):
            if asked.state == "answered":
                asked.note_applied(self.document.board)
                self._say(asked.sentence)
            self.said.emit(f"Applied: {name}")
        self._applying = False
        self._show_state()

    def retell(self) -> None:
        """Tell every answer anew: figures are shown in other units."""
        for asked in self.asked.all:
            asked.retell()
        if self._looked_at is not None:
            self.look_at(self._looked_at)

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.answer.set_theme(theme)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape takes a shown variant back, then ends a study, then puts the panel away."""
        if event.key() != Qt.Key.Key_Escape:
            super().keyPressEvent(event)
        elif self.variant.point is not None:
            self.variant.drop()
            self._show_state()
        elif self.work.busy:
            self.asked.give_up_waiting()
            self.work.cancel()
        else:
            self.close_panel()

    def event(self, event: QEvent) -> bool:
        """The panel is never lower than its sentence and its fields need, however many lines they take."""
        if event.type() in (QEvent.Type.Resize, QEvent.Type.LayoutRequest):
            body = self.layout()
            if body is not None:
                self.setMinimumHeight(body.minimumHeightForWidth(self.width()))
        return super().event(event)

    # --- making

    def _make(self) -> None:
        self.run_button, self.apply_button = QPushButton("Run"), QPushButton("Apply")
        self.close_button = QPushButton("Close")
        self.progress = StudyProgress()
        self._sentence = QLabel(_IDLE, wordWrap=True)
        self._sentence.setObjectName("sentence")
        self._sentence.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.answer = AnswerPage(self._theme)
        self.foot = AnswersFoot(self.answer.which)
        self._actions = [study_action(one, self.open, self) for one in STUDIES]

    def _lay_out(self) -> None:
        head = QHBoxLayout()
        caption = QLabel("Study")
        caption.setObjectName("caption")
        for part, stretch in (
            (caption, 0), *self.question.head, (self.run_button, 0), (self.progress, 2), (self.apply_button, 0),
            (self.close_button, 0),
        ):  # fmt: skip
            head.addWidget(part, stretch)
        body = QVBoxLayout(self)
        body.setContentsMargins(3 * GRID_PX, 2 * GRID_PX, 3 * GRID_PX, 2 * GRID_PX)
        body.setSpacing(GRID_PX)
        body.addLayout(head)
        for part in self.question.below:
            body.addWidget(part)
        body.addWidget(self._sentence)
        body.addWidget(self.answer, 1)
        body.addLayout(self.foot)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)

    def _connect(self) -> None:
        self.question.chosen.connect(self._choose)
        self.question.changed.connect(self._show_state)
        self.question.entered.connect(self.run)
        self.run_button.clicked.connect(self.run)
        self.apply_button.clicked.connect(self.apply)
        self.close_button.clicked.connect(self.close_panel)
        self.foot.keep.connect(self.keep)
        self.foot.export.connect(self.export)
        self.foot.chosen.connect(lambda number: self.look_at(self.asked.all[number]))
        self.answer.pointed.connect(self.variant.choose)
        self.answer.chosen.connect(self._take)
        self.answer.working_wanted.connect(lambda: self.working_wanted.emit(self.asked_figure()))
        self.answer.table.hovered.connect(self.variant.glance)
        self.answer.table.taken.connect(self.apply)
        self.work.advanced.connect(self.progress.advance)
        self.work.grown.connect(self._grow)
        self.work.answered.connect(self._answer)
        self.work.failed.connect(self._fail)
        self.variant.said.connect(self.said)
        self.variant.changed.connect(self._show_state)
        self.document.changed.connect(self._follow_board)

    # --- following

    def _choose(self) -> None:
        """Another study's form; one that runs goes on, and what is answered can be looked at again."""
        self.variant.drop()
        if not self.work.busy:
            self.look_at(None)
        self._show_state()

    def _follow_board(self, board: Board) -> None:
        self.variant.forget()
        self.question.fill()
        asked = self._looked_at
        if asked is not None and asked.shown is not None and not self._applying and asked.is_stale(board):
            self._say(f"{_STALE} {asked.sentence}")
        self._show_state()

    def _grow(self, answer: Any) -> None:  # noqa: ANN401 - every study has its own answer
        """The answer as far as it is: its picture; a ranking would not stand still long enough to be read."""
        asked = self.asked.running
        if asked is None:
            return
        shown = asked.grow(answer)
        if asked is not self._looked_at:
            return
        self._say(f"{_STALE} {asked.sentence}" if asked.is_stale(self.document.board) else asked.sentence)
        # The picture below must not jump with every line that the sentence gains or loses.
        lines = self._sentence.heightForWidth(self._sentence.width())
        self._sentence.setMinimumHeight(max(self._sentence.minimumHeight(), lines))
        self.answer.show_answer(shown)
        self._show_state()

    def _answer(self, answer: Any) -> None:  # noqa: ANN401 - every study has its own answer
        asked = self.asked.running
        if asked is None:
            return
        self.said.emit(asked.end(answer).sentence)
        if asked is self._looked_at:
            self.look_at(asked)
        self._go_on()

    def _fail(self, sentence: str) -> None:
        asked = self.asked.running
        if asked is not None:
            asked.state, asked.sentence = "failed", sentence
        if asked is None or asked is self._looked_at:
            self._say(sentence)
        self._go_on()

    def _go_on(self) -> None:
        """Begin the next that waits; what is looked at stays."""
        waiting = self.asked.next
        if waiting is not None and not self.work.busy:
            self.begin(waiting)
        self.foot.offer(self.asked.all, self._looked_at)
        self._show_state()

    def _say(self, sentence: str) -> None:
        self._sentence.setText(sentence[:1].upper() + sentence[1:])

    def _take(self, point: Point) -> None:
        self.variant.choose(point)
        self.apply()

    def _show_state(self) -> None:
        busy = self.work.busy
        same = (running := self.asked.running) is not None and self.question.is_of(running)
        self.run_button.setText("Cancel" if same else "Run after that" if running is not None else "Run")
        self.progress.setVisible(busy)
        if not busy:
            self._sentence.setMinimumHeight(0)
        shown, asked = self.shown, self._looked_at
        self.foot.settle(asked)
        self.answer.settle(shown)
        one = self.variant.point is not None
        whole = shown is not None and shown.edit is not None and not (asked is not None and asked.state == "running")
        can = (one and shown is not None and bool(shown.edit_name)) or whole
        self.apply_button.setEnabled(can)
        self.apply_button.setText("Apply this one" if one else "Apply the best" if can else "Apply")
