"""Work off the GUI thread, one thing at a time: it is done, tells its progress, fails or is cancelled.

A channel leads over a thread (`thread.ThreadChannel`), a worker process (`process.ProcessChannel`) or this program run
once more (`program.ProgramChannel`). What is asked later takes the place of what is under way; answers come on the GUI
thread, and one that nobody waits for any more is dropped.
"""

import logging
from collections.abc import Callable
from typing import Any, NamedTuple

from PySide6.QtCore import QObject, Qt, Signal

from workbench.desk.background.talk import Failure, Message

_LOG = logging.getLogger(__name__)


class _Asked(NamedTuple):
    number: int
    done: Callable[[Any], None]
    progress: Callable[[Any], None]
    failed: Callable[[str], None]


class WorkChannel(QObject):
    """What every channel does with messages; how work is carried is a subclass's.

    Signals:
        busy_changed: whether work is under way.

    Attributes:
        broken: how the sentence begins about what nobody foresaw.
        stopped: the sentence where what carried the work has ended.
    """

    busy_changed = Signal(bool)
    broken = "Something went wrong while computing"
    stopped = "The background calculation stopped; run it again."
    _came = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._asked: _Asked | None = None
        self._number = 0
        self._came.connect(self._take, Qt.ConnectionType.QueuedConnection)

    @property
    def busy(self) -> bool:
        """Whether an answer is awaited."""
        return self._asked is not None

    def cancel(self) -> None:
        """Give up what is under way: it ends soon, and nobody hears of it."""
        self._want(0)
        self._settle()

    def hurry(self) -> None:
        """Ask what is under way to end soon with what it has."""
        if self._asked is not None:
            self._want(-self._asked.number)

    def _ask(
        self, begin: Callable[[int], None], done: Callable[[Any], None], progress: Callable[[Any], None],
        failed: Callable[[str], None],
    ) -> None:  # fmt: skip
        """Have something begun, by its number, in place of anything under way."""
        was_busy = self.busy
        self._number += 1
        self._asked = _Asked(self._number, done, progress, failed)
        begin(self._number)
        if not was_busy and self.busy:
            self.busy_changed.emit(True)

    def _want(self, number: int) -> None:
        """Say which work's answer is wanted; negative: soon; 0: none."""
        raise NotImplementedError

    def _lost(self) -> None:
        """What carried the work is gone."""
        asked = self._asked
        self._settle()
        if asked is not None:
            _LOG.error("what computed in the background has ended")
            asked.failed(self.stopped)

    def _take(self, message: Message | None) -> None:
        asked = self._asked
        if message is None:
            self._lost()
        elif asked is not None and message.number == asked.number:
            if message.kind == "progress":
                asked.progress(message.content)
                return
            self._settle()
            if message.kind == "done":
                asked.done(message.content)
            elif message.kind == "failed":
                asked.failed(message.content)
            elif message.kind == "broken":
                failure: Failure = message.content
                _LOG.error("work in the background failed\n%s", failure.trace)
                asked.failed(f"{self.broken} ({failure.kind}); the log has the details.")

    def _settle(self) -> None:
        if self._asked is not None:
            self._asked = None
            self.busy_changed.emit(False)
