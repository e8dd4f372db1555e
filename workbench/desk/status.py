"""The line at the bottom: how the board does, what was refused, how long it took, whether something runs."""

from time import perf_counter

from PySide6.QtCore import QPointF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QColor, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenu, QToolButton, QWidget

from workbench.desk.background.runner import Runner
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.elided import ElidedLabel
from workbench.desk.widgets.icons import icon, picture
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.engine.assessment import Assessment, LaneAssessment
from workbench.engine.symbols import Symbols
from workbench.reports.wording import SEVERITIES, VERDICTS, summary

CALM_MS = 150
"""Work that ends sooner is not shown as running."""
_GATHER_MS = 40
_SENTENCE_MS = 15_000
_MOST_FINDINGS = 40


class StatusLine(QWidget):
    """Shows the board's verdict, and for a while instead of it a sentence about what could not be done.

    Signals:
        finding_chosen: a finding was chosen from the list; carries its rule's name.
        meaning_wanted: what findings mean is asked for.
    """

    finding_chosen = Signal(str)
    meaning_wanted = Signal()

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, theme: Theme, *, runner: Runner,
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("status")
        self._document, self._state, self._computing = document, state, computing
        self._theme = theme
        self._since = perf_counter()
        self._sentence = ""
        self._shape = QLabel()
        self._words = ElidedLabel()
        self._words.setAccessibleName("Status")
        self._running = RunningDots(theme)
        self._took = QLabel()
        self._found = QToolButton(autoRaise=True, popupMode=QToolButton.ToolButtonPopupMode.InstantPopup)
        self._found.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self._found.setMenu(QMenu(self._found))
        self._found.menu().aboutToShow.connect(self._list_findings)
        self._lay_out()
        self._gather = QTimer(self, singleShot=True, interval=_GATHER_MS)
        self._gather.timeout.connect(self._show)
        self._forget = QTimer(self, singleShot=True, interval=_SENTENCE_MS)
        self._forget.timeout.connect(self.clear)
        document.changed.connect(self._changed)
        state.symbols_changed.connect(self._gather_soon)
        document.refused.connect(self.tell)
        runner.failed.connect(self.tell)
        runner.busy_changed.connect(self._running.set_busy)
        computing.lane_ready.connect(self._gather_soon)
        computing.board_ready.connect(self._assessed)
        self._running.set_busy(runner.busy)
        self.set_theme(theme)

    @property
    def sentence(self) -> str:
        """What is told at the moment; "" while the verdict is shown."""
        return self._sentence

    @property
    def text(self) -> str:
        """The words shown at the moment."""
        return self._words.full

    @property
    def findings(self) -> QToolButton:
        """The count of findings, with their list."""
        return self._found

    @property
    def running(self) -> "RunningDots":
        """The running indicator."""
        return self._running

    def tell(self, sentence: str) -> None:
        """Show a sentence until the next edit, or for a while."""
        self._sentence = sentence[:1].upper() + sentence[1:]
        self._forget.start()
        self._show()

    def clear(self) -> None:
        """Show the verdict again."""
        self._sentence = ""
        self._forget.stop()
        self._show()

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours."""
        self._theme = theme
        self._running.set_theme(theme)
        self._found.setIcon(icon("findings", theme.quiet))
        self._show()

    def _lay_out(self) -> None:
        row = QHBoxLayout(self)
        row.setContentsMargins(2 * GRID_PX, 0, 2 * GRID_PX, 0)
        row.setSpacing(2 * GRID_PX)
        row.addWidget(self._shape)
        row.addWidget(self._words, 1)
        for part in (self._running, self._took, self._found):
            row.addWidget(part)
        self._took.setToolTip("How long the whole board took to assess after the last edit")

    def _changed(self) -> None:
        self._since = perf_counter()
        if self._sentence:
            self.clear()

    def _assessed(self) -> None:
        self._took.setText(_seconds(perf_counter() - self._since))
        self._show()

    def _gather_soon(self) -> None:
        if not self._gather.isActive():
            self._gather.start()

    def _lanes(self) -> tuple[LaneAssessment, ...]:
        known = self._computing.assessments
        return tuple(known[lane.name] for lane in self._document.board.lanes if lane.name in known)

    def _show(self) -> None:
        lanes = self._lanes()
        number = sum(len(lane.findings) for lane in lanes)
        self._found.setText(f"{number} finding" if number == 1 else f"{number} findings")
        self._found.setEnabled(number > 0)
        self._found.setAccessibleName(self._found.text())
        if self._sentence:
            self._draw("notice", self._theme.failed, self._sentence)
        elif lanes:
            worst = max((lane.margin.verdict for lane in lanes), key=VERDICTS.index)
            self._draw(worst, self._theme.verdicts[worst], self._summary(lanes))
        else:
            words = "Computing" if self._document.board.lanes else "No lanes yet; the Lane menu adds one"
            self._draw("notice", self._theme.quiet, words)

    def _summary(self, lanes: tuple[LaneAssessment, ...]) -> str:
        left = len(self._document.board.lanes) - len(lanes)
        words = summary(Assessment(board=self._document.board.title, board_sha256="", program="", lanes=lanes))
        if self._state.symbols is Symbols.INDEPENDENT:
            words = f"Independent bits: {words}"
        return f"{words} ({left} to go)" if left else words

    def _draw(self, name: str, ink: str, words: str) -> None:
        self._shape.setPixmap(picture(name, ink, 16, self.devicePixelRatioF()))
        self._words.set_full(words)

    def _list_findings(self) -> None:
        menu = self._found.menu()
        menu.clear()
        grouped: dict[tuple[str, str, str], list[str]] = {}
        for lane in self._lanes():
            for finding in lane.findings:
                grouped.setdefault((finding.severity, finding.text, finding.rule), []).append(lane.lane)
        order = sorted(grouped.items(), key=lambda item: [str(one) for one in SEVERITIES].index(item[0][0]))
        for (severity, text, rule), names in order[:_MOST_FINDINGS]:
            action = QAction(f"{_named(names)}, {severity}: {text}".replace("&", "&&"), menu)
            action.triggered.connect(lambda _=False, name=names[0], rule=rule: self._choose(name, rule))
            menu.addAction(action)
        if len(order) > _MOST_FINDINGS:
            menu.addAction(f"and {len(order) - _MOST_FINDINGS} more").setEnabled(False)
        if order:
            menu.addSeparator()
            menu.addAction("What findings mean…").triggered.connect(lambda _=False: self.meaning_wanted.emit())

    def _choose(self, lane: str, rule: str) -> None:
        self._state.set_lane(lane)
        self.finding_chosen.emit(rule)


class RunningDots(QWidget):
    """Three still dots while work lasts; they appear late and keep their place, so that nothing flickers or jumps."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._ink = theme.accent
        self.shown = False
        self._late = QTimer(self, singleShot=True, interval=CALM_MS)
        self._late.timeout.connect(lambda: self._set(True))
        self.setFixedSize(QSize(6 * GRID_PX, 5 * GRID_PX))
        self._set(False)

    def set_busy(self, busy: bool) -> None:
        """Say whether something runs."""
        if not busy:
            self._late.stop()
            self._set(False)
        elif not self.shown and not self._late.isActive():
            self._late.start()

    def set_theme(self, theme: Theme) -> None:
        """Take a theme's colours."""
        self._ink = theme.accent
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802 - Qt's name
        """Draw the dots."""
        if not self.shown:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(self._ink))
        for number in range(3):
            painter.drawEllipse(QPointF(self.width() / 2 + (number - 1) * 7.0, self.height() / 2), 2.0, 2.0)
        painter.end()

    def _set(self, shown: bool) -> None:
        self.shown = shown
        self.setAccessibleName("Computing" if shown else "Idle")
        self.setToolTip("Computing" if shown else "")
        self.update()


def _seconds(time_s: float) -> str:
    return f"{time_s * 1e3:.0f} ms" if time_s < 1.0 else f"{time_s:.1f} s"


def _named(names: list[str]) -> str:
    return ", ".join(names) if len(names) <= 4 else f"{', '.join(names[:3])} and {len(names) - 3} more"
