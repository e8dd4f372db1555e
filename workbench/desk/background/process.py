"""Work that takes seconds, in a process of its own: the hand and the curves never wait for it.

One process, started when it is first needed; one job at a time. A newer job ends the one under way.
"""

import logging
import multiprocessing
import threading
from collections.abc import Callable
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from typing import Any, NamedTuple

from PySide6.QtCore import QObject, Qt, Signal

from workbench.desk.background.worker import Job, Message, Wanted, serve

_LOG = logging.getLogger(__name__)
_LOST = "The background calculation stopped; run it again."


class _Asked(NamedTuple):
    number: int
    done: Callable[[Any], None]
    told: Callable[[Any], None]
    failed: Callable[[str], None]


class ProcessChannel(QObject):
    """Runs jobs in another process; answers come on the GUI thread.

    Signals:
        busy_changed: whether a job is under way.
    """

    busy_changed = Signal(bool)
    _came = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._process: SpawnProcess | None = None
        self._connection: Connection | None = None
        self._reader: threading.Thread | None = None
        self._wanted: Wanted | None = None
        self._asked: _Asked | None = None
        self._number = 0
        self._came.connect(self._take, Qt.ConnectionType.QueuedConnection)

    @property
    def busy(self) -> bool:
        """Whether an answer is awaited."""
        return self._asked is not None

    def ask(
        self, job: Job, done: Callable[[Any], None], *, told: Callable[[Any], None] = lambda _: None,
        failed: Callable[[str], None] = lambda _: None,
    ) -> None:  # fmt: skip
        """Have a job done in place of any other.

        Args:
            job: what is done there.
            done: gets its result.
            told: gets what it tells on the way.
            failed: gets a sentence where there is no result.
        """
        was_busy = self.busy
        self._number += 1
        self._asked = _Asked(self._number, done, told, failed)
        try:
            line = self._line()
            self._want(self._number)
            line.send((self._number, job))
        except OSError:  # the system gives no process, or the one there was has ended
            _LOG.exception("the process aside can't be asked")
            self._lose()
            return
        if not was_busy:
            self.busy_changed.emit(True)

    def hurry(self) -> None:
        """Ask the job under way to end soon with what it has."""
        if self._asked is not None:
            self._want(-self._asked.number)

    def cancel(self) -> None:
        """Give up what is under way."""
        self._want(0)
        self._settle()

    def close(self) -> None:
        """End the process."""
        self.cancel()
        if self._process is not None:
            self._process.kill()
            self._process.join(2.0)
        if self._reader is not None:  # it speaks through this object, which may go right after
            self._reader.join(2.0)
        self._process = self._reader = None

    def _line(self) -> Connection:
        """The line to a living process."""
        if self._connection is None or self._process is None or not self._process.is_alive():
            context = multiprocessing.get_context("spawn")
            self._wanted = context.RawValue("q", 0)
            self._connection, other = context.Pipe()
            process = context.Process(target=serve, args=(other, self._wanted), name="aside", daemon=True)
            process.start()
            other.close()
            self._process = process
            reader = threading.Thread(target=_read, args=(self._connection, self._came), daemon=True, name="aside")
            self._reader = reader
            reader.start()
        return self._connection

    def _take(self, message: Message | None) -> None:
        asked = self._asked
        if message is None:
            self._lose()
        elif asked is not None and message.number == asked.number:
            if message.kind == "told":
                asked.told(message.content)
                return
            self._settle()
            if message.kind == "done":
                asked.done(message.content)
            elif message.kind == "refused":
                asked.failed(message.content)
            elif message.kind == "broken":
                _LOG.error("work aside failed\n%s", message.content)
                asked.failed("Something went wrong while computing aside; the log has the details.")

    def _want(self, number: int) -> None:
        if self._wanted is not None:
            self._wanted.value = number

    def _settle(self) -> None:
        if self._asked is not None:
            self._asked = None
            self.busy_changed.emit(False)

    def _lose(self) -> None:
        """The process is gone."""
        asked, self._connection, self._process = self._asked, None, None
        self._settle()
        if asked is not None:
            _LOG.error("the process aside has ended")
            asked.failed(_LOST)


def _read(connection: Connection, came: Any) -> None:  # noqa: ANN401 - a bound signal, which the toolkit does not type
    """Hand on what comes until the line is cut; then None. Runs on a thread of its own."""
    while True:
        try:
            message = connection.recv()
        except (EOFError, OSError):
            message = None
        try:
            came.emit(message)
        except RuntimeError:
            return  # the window is gone
        if message is None:
            return
