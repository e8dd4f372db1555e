"""A channel over a process of its own: the pointer and the curves never wait for what it does.

One process, started when it is first needed; one job at a time. A newer job ends the one under way.
"""

import logging
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject

from workbench.desk.background.channel import WorkChannel
from workbench.desk.background.talk import Message
from workbench.desk.background.worker import GIVES_WAY, BackgroundJob, WantedNumber, serve

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess

_LOG = logging.getLogger(__name__)


class WorkerProcess:
    """A process that does jobs, and the line to it.

    Args:
        name: what the system calls it.
        gives_way: how far it stands below the window where both want the processor.

    Raises:
        OSError: the system gives no process now.
    """

    def __init__(self, name: str, gives_way: int = GIVES_WAY) -> None:
        import multiprocessing  # noqa: PLC0415 - the window starts without it

        context = multiprocessing.get_context("spawn")
        self.wanted: WantedNumber = context.RawValue("q", 0)
        self.line, other = context.Pipe()
        self.process: SpawnProcess = context.Process(
            target=serve, args=(other, self.wanted, gives_way), name=name, daemon=True
        )
        self.process.start()
        other.close()

    def ask(self, number: int, job: BackgroundJob) -> bool:
        """Send it a job; whether it is there to take it."""
        try:
            self.line.send((number, job))
        except OSError:
            _LOG.exception("the %s process can't be asked", self.process.name)
            return False
        return True

    def answer(self) -> Message | None:
        """Wait for what comes next; None once it is gone. On one thread at a time."""
        try:
            message: Message = self.line.recv()
        except (EOFError, OSError):
            return None
        return message

    def end(self) -> None:
        """End it, whatever it is at."""
        self.process.kill()
        self.process.join(2.0)


class ProcessChannel(WorkChannel):
    """Runs jobs in another process; answers come on the GUI thread."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._worker: WorkerProcess | None = None
        self._reader: threading.Thread | None = None

    @property
    def process(self) -> "SpawnProcess | None":
        """The process; None while there is none."""
        return None if self._worker is None else self._worker.process

    def ask(
        self, job: BackgroundJob, done: Callable[[Any], None], *, progress: Callable[[Any], None] = lambda _: None,
        failed: Callable[[str], None] = lambda _: None,
    ) -> None:  # fmt: skip
        """Have a job done in place of any other.

        Args:
            job: what is done there.
            done: gets its result.
            progress: gets what it tells on the way.
            failed: gets a sentence where there is no result.
        """

        def begin(number: int) -> None:
            try:
                worker = self._living()
            except OSError:
                _LOG.exception("the system gives no process now")
                self._lost()
                return
            worker.wanted.value = number
            if not worker.ask(number, job):
                self._lost()

        self._ask(begin, done, progress, failed)

    def close(self) -> None:
        """End the process."""
        self.cancel()
        if self._worker is not None:
            self._worker.end()
        if self._reader is not None:  # it speaks through this object, which may go right after
            self._reader.join(2.0)
        self._worker = self._reader = None

    def _living(self) -> WorkerProcess:
        if self._worker is None or not self._worker.process.is_alive():
            self._worker = WorkerProcess("background")
            self._reader = threading.Thread(
                target=_read, args=(self._worker, self._came), daemon=True, name="background"
            )
            self._reader.start()
        return self._worker

    def _want(self, number: int) -> None:
        if self._worker is not None:
            self._worker.wanted.value = number

    def _lost(self) -> None:
        self._worker = None
        super()._lost()


def _read(worker: WorkerProcess, came: Any) -> None:  # noqa: ANN401 - a bound signal, which the toolkit does not type
    """Pass on what comes until the line is cut; then None. Runs on a thread of its own."""
    while True:
        message = worker.answer()
        try:
            came.emit(message)
        except RuntimeError:
            return  # the window is gone
        if message is None:
            return
