"""How a figure came about, in a window of its own: formula, numbers, sources; its inputs lead on, and back."""

from collections.abc import Callable
from typing import NamedTuple

from PySide6.QtCore import Qt, QUrl, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QLabel, QTextBrowser, QToolButton, QVBoxLayout, QWidget

from workbench.board.model import Board
from workbench.desk.background.runner import Runner
from workbench.desk.background.talk import ALONE, Talk
from workbench.desk.explain.page import FIELD, FIGURE, LANE, heading_of, page_html
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import AskedFigure
from workbench.desk.widgets.form_window import FormWindow
from workbench.desk.widgets.formula import FormulaView
from workbench.desk.widgets.theme import GRID_PX, Theme, set_letters, usual_points
from workbench.engine.figures.answered import explain_answer, spot_at
from workbench.engine.figures.entry import ExplainedLane, FigureFacts
from workbench.engine.figures.explaining import Explanation, case_of, entry_named, explain
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.errors import WorkbenchError
from workbench.reports.answers import ANSWER_ENTRIES

_SIZE = (720, 620)
_WAIT = "Working it out…"
PRIORITY = 0
"""What was asked for comes before what is only on its way."""


class _Worked(NamedTuple):
    case: ExplainedLane | None
    found: Explanation
    entry: FigureFacts


class _Known(NamedTuple):
    """A lane that is ready to be explained, and as what."""

    board: Board
    lane: str
    probe: str
    symbols: Symbols
    case: ExplainedLane

    def is_of(self, board: Board, asked: AskedFigure, symbols: Symbols) -> bool:
        return self.board is board and self[1:4] == (asked.lane, asked.probe, symbols)


class WorkingView(FormWindow):
    """Shows the working of one figure after another; Backspace goes back, Escape closes.

    Signals:
        entry_wanted: a field of the catalogue was followed; carries the section and the entry's name.
        shown: another figure is explained; carries its path.

    Attributes:
        trail: the figures that were followed, the one shown last.
    """

    entry_wanted = Signal(str, str)
    shown = Signal(str)

    def __init__(
        self, document: Document, runner: Runner, theme: Theme, parent: QWidget | None = None,
        *, memo: Memo, symbols: Callable[[], Symbols],
    ) -> None:  # fmt: skip
        super().__init__("working", "How was this computed?", _SIZE, parent)
        self._document, self._runner, self._memo, self._symbols = document, runner, memo, symbols
        self.trail: list[AskedFigure] = []
        self._known: _Known | None = None
        self._make(theme)
        document.changed.connect(self._follow_board)
        QShortcut(QKeySequence(Qt.Key.Key_Backspace), self, self.go_back)
        self.set_theme(theme)

    def show_figure(self, asked: AskedFigure) -> None:
        """Explain a figure; what was followed before is forgotten."""
        self.trail = [asked]
        self.come_forward()
        self._ask()

    def follow(self, path: str) -> None:
        """Go on to another figure of the same lane."""
        here = self.trail[-1]
        # What was shown beside a figure leads from one to the other; further down it is another place.
        self.trail.append(here._replace(name=path, others=(here.name, *here.others) if path in here.others else ()))
        self._ask()

    def go_back(self) -> None:
        """Go back to the figure that led here."""
        if len(self.trail) > 1:
            self.trail.pop()
            self._ask()

    def retell(self) -> None:
        """Explain the figure anew: in another unit."""
        if self.isVisible() and self.trail:
            self._ask()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self.formula.set_theme(theme)
        self.page.document().setDefaultStyleSheet(
            f"a {{ color: {theme.accent}; }} .quiet {{ color: {theme.quiet}; }} td {{ padding: 1px; }}"
        )
        self.page.setHtml(self._html)

    def _make(self, theme: Theme) -> None:
        self.back = QToolButton()
        self.back.setText("‹ Back")
        self.back.clicked.connect(self.go_back)
        self.back.setAccessibleName("Back to the previous figure")
        self.way, self.heading = QLabel(), QLabel()
        self.way.setObjectName("way")
        set_letters(self.heading, usual_points() + 3.0, heavy=True)
        for label in (self.way, self.heading):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.formula, self.page, self._html = FormulaView(theme), QTextBrowser(), ""
        self.page.setOpenLinks(False)
        self.page.anchorClicked.connect(self._go)
        self.page.setAccessibleName("How it was computed")
        head, body = QHBoxLayout(), QVBoxLayout(self)
        head.addWidget(self.back)
        head.addWidget(self.way, 1)
        body.setContentsMargins(3 * GRID_PX, 2 * GRID_PX, 3 * GRID_PX, 2 * GRID_PX)
        body.addLayout(head)
        for part in (self.heading, self.formula):
            body.addWidget(part)
        body.addWidget(self.page, 1)

    # --- asking

    def _ask(self) -> None:
        asked, symbols = self.trail[-1], self._symbols()
        shown = self._document.snapshots.get(asked.snapshot) if asked.snapshot else self._document.shown
        board = asked.board or (shown if shown is not None else self._document.shown)
        known, memo = self._known, self._memo
        self.back.setEnabled(len(self.trail) > 1)
        self.way.setText(" › ".join([_subject(self.trail[0]), *(one.name for one in self.trail)]))
        case = known.case if known is not None and known.is_of(board, asked, symbols) else None

        def work(talk: Talk) -> _Worked:
            talk.check()
            if asked.answered is not None:
                return _Worked(None, *explain_answer(ANSWER_ENTRIES, asked.answered, asked.name))
            found = case if case is not None else case_of(
                board, asked.lane, probe=asked.probe, symbols=symbols, memo=memo
            )  # fmt: skip
            return _Worked(found, explain(found, asked.name), entry_named(found, asked.name))

        def done(answer: _Worked) -> None:
            if answer.case is not None:
                self._known = _Known(board, asked.lane, asked.probe, symbols, answer.case)
            self._show(answer)

        if case is not None:
            try:
                done(work(ALONE))
            except WorkbenchError as error:
                self._say(str(error))
            return
        self._say(_WAIT)
        self._runner.submit(("working",), work, done, priority=PRIORITY, lost=lambda: self._say(""))

    def _show(self, answer: _Worked) -> None:
        found = answer.found
        self.heading.setText(heading_of(found))
        self.formula.show_equation(answer.entry.symbol, answer.entry.formula)
        asked = self.trail[-1]
        # Without a variant's board nobody knows which assessment the figure is of.
        others = [name for name in asked.others if name != asked.name]
        self._html = page_html(found, to_lane=asked.answered is not None and asked.board is not None, others=others)
        self.page.setHtml(self._html)
        self.shown.emit(found.path)

    def _say(self, sentence: str) -> None:
        self.heading.setText(sentence[:1].upper() + sentence[1:])
        self._html = ""
        self.page.clear()

    def _go(self, link: QUrl) -> None:
        kind, _, rest = link.toString(QUrl.ComponentFormattingOption.PrettyDecoded).partition(":")
        if kind == FIGURE:
            self.follow(rest)
        elif kind == LANE:
            self._follow_lane(rest)
        elif kind == FIELD:
            section, _, name = rest.partition("/")
            self.entry_wanted.emit(section, name)

    def _follow_lane(self, name: str) -> None:
        """Go on to a figure of the lane that an answer's record is of, on its variant of the board."""
        asked = self.trail[-1]
        assert asked.answered is not None
        lane = getattr(spot_at(asked.answered, asked.name).record, "lane", asked.lane)
        self.trail.append(asked._replace(name=name, lane=lane, answered=None, others=()))
        self._ask()

    def _follow_board(self, board: Board) -> None:
        """The figure is another one on another board; an answer's stays what it was."""
        asked = self.trail[-1] if self.trail else None
        if self.isVisible() and asked is not None and asked.answered is None and asked.board is None:
            if any(lane.name == self.trail[-1].lane for lane in board.lanes):
                self._ask()
            else:
                self._say(f"The board has no lane {self.trail[-1].lane} any more.")


def _subject(asked: AskedFigure) -> str:
    """What the way begins with."""
    return asked.lane if asked.answered is None else asked.answered.name
