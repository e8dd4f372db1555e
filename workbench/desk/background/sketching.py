"""Pictures of the moment in a process of their own: what makes them and what draws them don't share an interpreter.

The engine's thread waits for the answer, which leaves the interpreter to the drawing. The process starts once a board
is worked on, and until it is there, or if it is lost, the engine's thread makes the picture itself.
"""

import logging
from threading import Lock

from workbench.desk.background.process import WorkerProcess
from workbench.desk.background.talk import Message
from workbench.desk.background.worker import Awake, SketchJob
from workbench.engine.lane.path import LanePlan
from workbench.engine.symbols import Symbols
from workbench.engine.views import LaneView

_LOG = logging.getLogger(__name__)
_WORKED_ON = 4
"""From so many changes on the process is worth its memory."""


class Sketching:
    """Asks the process for pictures; every method may be called on any thread, `view` on one."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._worker: WorkerProcess | None = None
        self._changes, self._awake, self._closed = 0, False, False

    def noticed(self) -> None:
        """The board is being worked on."""
        self._changes += 1
        with self._lock:
            if self._changes >= _WORKED_ON and self._worker is None and not self._closed:
                try:
                    self._start()
                except OSError:  # the system gives no process now: the engine's thread makes the pictures
                    _LOG.exception("the drawing process can't be started")
                    self._changes, self._worker = 0, None

    @property
    def awake(self) -> bool:
        """Whether the process is there and answers."""
        with self._lock:
            worker = self._worker
            if worker is not None and not self._awake:
                self._awake = worker.line.poll() and self._answer(worker) is not None
            return self._awake

    def view(self, plan: LanePlan, probe: str, error_ratio: float, symbols: Symbols) -> LaneView | None:
        """A lane's picture of the moment; None where the process is not there, or could not make it."""
        worker = self._worker
        if worker is None or not self.awake:
            return None
        if not worker.ask(0, SketchJob(plan, probe, error_ratio, symbols)):
            self._lose()
            return None
        message = self._answer(worker)
        return message.content if message is not None and message.kind == "done" else None

    def close(self) -> None:
        """End the process."""
        with self._lock:
            self._closed, self._awake = True, False
            worker = self._worker
        if worker is not None:
            worker.end()

    @property
    def worker(self) -> WorkerProcess | None:
        """The process and the line to it; None while there is none."""
        return self._worker

    def _start(self) -> None:
        self._worker = WorkerProcess("sketching", gives_way=0)
        self._worker.ask(0, Awake())

    def _answer(self, worker: WorkerProcess) -> Message | None:
        message = worker.answer()
        if message is None:
            self._lose()
        return message

    def _lose(self) -> None:
        """The process is gone; the next changes start another."""
        if not self._closed:
            _LOG.error("the drawing process has ended")
        self._changes, self._awake = 0, False
        self._worker = None
