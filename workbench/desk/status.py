"""The line at the bottom: how the board does, what was refused, how long it took, whether something runs."""

from pathlib import Path
from time import perf_counter

from PySide6.QtCore import QPointF, QSize, Qt, QTimer, QUrl, Signal
from PySide6.QtGui import QColor, QDesktopServices, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QToolButton, QWidget

from workbench.desk.background.runner import Runner
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.next_step import next_step
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.elided import ElidedLabel
from workbench.desk.widgets.icons import icon, picture
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.engine.assessment import Assessment, LaneAssessment
from workbench.engine.symbols import Symbols
from workbench.reports.wording import VERDICTS, summary

CALM_MS = 150
"""Work that ends sooner is not shown as running."""
_GATHER_MS = 40
_SENTENCE_MS = 15_000


class StatusLine(QWidget):
    """Shows the board's verdict, and for a while instead of it a sentence about what could not be done.

    Signals:
        findings_wanted: the findings are to be shown.
    """

    findings_wanted = Signal()

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, theme: Theme, *, runner: Runner,
        parent: QWidget | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("status")
        self._document, self._state, self._computing = document, state, computing
        self._theme = theme
        self._since = perf_counter()
        self._sentence, self._alarm = "", False
        self._written = Path()
        self._open = QToolButton()
        self._open.setObjectName("openWritten")
        self._open.setText("Open")
        self._open.setAccessibleName("Open what was written")
        self._open.clicked.connect(self._open_written)
        self._open.hide()
        self._shape = QLabel()
        self._words = ElidedLabel()
        self._words.setAccessibleName("Status")
        self._running = RunningDots(theme)
        self._took = QLabel()
        self._found = QToolButton(autoRaise=True)
        self._found.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self._found.setToolTip("Show the findings (Ctrl+Shift+F)")
        self._found.clicked.connect(lambda _=False: self.findings_wanted.emit())
        self._lay_out()
        self._gather = QTimer(self, singleShot=True, interval=_GATHER_MS)
        self._gather.timeout.connect(self._show)
        self._forget = QTimer(self, singleShot=True, interval=_SENTENCE_MS)
        self._forget.timeout.connect(self.clear)
        document.changed.connect(self._changed)
        state.symbols_changed.connect(self._gather_soon)
        document.refused.connect(self.warn)
        runner.failed.connect(self.warn)
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
        """The count of findings; a click shows them."""
        return self._found

    @property
    def running(self) -> "RunningDots":
        """The running indicator."""
        return self._running

    def tell(self, sentence: str) -> None:
        """Show a sentence until the next edit, or for a while."""
        self._say(sentence, alarm=False)

    def warn(self, sentence: str) -> None:
        """As `tell`, of something that could not be done."""
        self._say(sentence, alarm=True)

    def stay(self, sentence: str) -> None:
        """Show how far long work is, until something else is said: it does not go by itself."""
        self._say(sentence, alarm=False)
        self._forget.stop()

    def offer(self, sentence: str, path: Path) -> None:
        """Show that a file is written, and open it on demand."""
        self._say(sentence, alarm=False)
        self._written = path
        self._open.setToolTip(f"Open {path}")
        self._open.show()

    def _say(self, sentence: str, *, alarm: bool) -> None:
        self._sentence, self._alarm = sentence[:1].upper() + sentence[1:], alarm
        self._open.hide()
        self._forget.start()
        self._show()

    def clear(self) -> None:
        """Show the verdict again."""
        self._sentence = ""
        self._forget.stop()
        self._open.hide()
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
        row.addWidget(self._open)
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
            ink = self._theme.failed if self._alarm else self._theme.accent
            self._draw("notice" if self._alarm else "news", ink, self._sentence)
        elif lanes:
            worst = max((lane.margin.verdict for lane in lanes), key=VERDICTS.index)
            self._draw(worst, self._theme.verdicts[worst], self._summary(lanes))
        else:
            words = "Computing" if self._document.board.lanes else next_step(self._document.board)
            self._draw("notice", self._theme.quiet, words)

    def _summary(self, lanes: tuple[LaneAssessment, ...]) -> str:
        left = len(self._document.board.lanes) - len(lanes)
        words = summary(Assessment(board=self._document.board.title, board_sha256="", program="", lanes=lanes))
        if self._state.symbols is Symbols.INDEPENDENT:
            words = f"Independent bits: {words}"
        if left:
            return f"{words} ({left} to go)"
        step = next_step(self._document.board)
        return f"{words}. {step}" if step else words

    def _open_written(self) -> None:
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(self._written)))

    @property
    def opens(self) -> Path | None:
        """The file that is offered to be opened; None while none is."""
        return None if self._open.isHidden() else self._written

    def _draw(self, name: str, ink: str, words: str) -> None:
        self._shape.setPixmap(picture(name, ink, 16, self.devicePixelRatioF()))
        self._words.set_full(words)


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
