"""Bits sent through the lane on screen, counted by a second process: what was asked, how far it is, what came of it."""

from typing import NamedTuple

from PySide6.QtCore import QObject, Signal

from workbench.desk.background.process import ProcessChannel
from workbench.desk.background.worker import BitsJob, BitsProgress
from workbench.desk.session.computing import Computing
from workbench.desk.session.view_state import ShownTrace
from workbench.engine.lane.path import LanePlan
from workbench.errors import WorkbenchError
from workbench.waveform.result import WaveformResult
from workbench.waveform.settings import WaveformSettings


class Wish(NamedTuple):
    """What is to be sent: a pattern (None: what the line code sends for random data), how many bits, a seed."""

    pattern: str | None = None
    bits: int = 1_000_000
    seed: int = 1


class _Run(NamedTuple):
    plan: LanePlan
    probe: str
    wish: Wish


class Bits(QObject):
    """Sends bits through one lane at a time.

    Signals:
        changed: something began, went on, ended or came out.
        failed: a sentence.

    Attributes:
        wish: what is sent next.
        shown: whether panes show what was counted.
    """

    changed = Signal()
    failed = Signal(str)

    def __init__(self, computing: Computing, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._computing = computing
        self.channel = ProcessChannel(self)
        self.wish = Wish()
        self._shown = False
        self._running: _Run | None = None
        self._progress = BitsProgress(0, 0)
        self._came: tuple[_Run, WaveformResult] | None = None

    @property
    def shown(self) -> bool:
        """Whether panes show what was counted."""
        return self._shown

    @shown.setter
    def shown(self, shown: bool) -> None:
        """Show it, or not."""
        if shown != self._shown:
            self._shown = shown
            self.changed.emit()

    @property
    def running(self) -> bool:
        """Whether bits are under way."""
        return self._running is not None

    @property
    def progress(self) -> BitsProgress:
        """How many bits were sent so far, of how many."""
        return self._progress

    def result(self, trace: ShownTrace) -> WaveformResult | None:
        """What was counted for a trace; None where it has changed since, or was never asked for."""
        plan = self._computing.plan_of(trace)
        if self._came is None or plan is None:
            return None
        run, result = self._came
        return result if run.probe == trace.probe and run.plan == plan else None

    def send(self, trace: ShownTrace) -> None:
        """Send what `wish` says through a trace's lane to its probe point."""
        plan = self._computing.plan_of(trace)
        if plan is None:
            self.failed.emit("This lane can't be computed as it is; the status line has the reason.")
            return
        run = self._running = _Run(plan, trace.probe, self.wish)
        self._progress = BitsProgress(0, run.wish.bits)
        try:
            settings = WaveformSettings(pattern=run.wish.pattern, bits=run.wish.bits, seed=run.wish.seed)
        except WorkbenchError as error:
            self._fail(str(error))
            return

        def done(result: WaveformResult) -> None:
            self._running, self._came = None, (run, result)
            self.changed.emit()

        self.channel.ask(BitsJob(plan, trace.probe, settings), done, progress=self._go_on, failed=self._fail)
        self.changed.emit()

    def stop(self) -> None:
        """Send no more; what was counted until then comes out."""
        self.channel.hurry()

    def close(self) -> None:
        """End the process."""
        self._running = None
        self.channel.close()

    def _go_on(self, progress: BitsProgress) -> None:
        self._progress = progress
        self.changed.emit()

    def _fail(self, sentence: str) -> None:
        self._running = None
        self.failed.emit(sentence)
        self.changed.emit()
