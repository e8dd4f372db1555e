"""Work off the GUI thread: the latest request of a channel wins, stale results are dropped, nothing blocks.

One worker thread; requests wait in channels by priority. A new request of a channel replaces the one that waits and, if
one of that channel is running, its result is dropped, unless it was asked for as `steady`. A failure reaches `failed`
as one sentence and the log.
"""

import logging
import threading
from collections.abc import Callable, Hashable
from itertools import count
from time import monotonic
from typing import Any, NamedTuple

from PySide6.QtCore import QObject, Qt, Signal

from workbench.desk.background.talk import ALONE, Failure, Message, Talk, carried_out
from workbench.errors import Stopped

_LOG = logging.getLogger(__name__)

FIRST = 0
"""The priority of what the pointer waits for."""
DRAWING_S = 0.025
"""How long after such an answer the thread leaves the interpreter to the drawing of it."""


class _Request(NamedTuple):
    priority: int
    number: int
    channel: Hashable
    work: Callable[[Talk], Any]
    done: Callable[[Any], None]
    given_up: threading.Event
    steady: bool
    lost: Callable[[], None]

    def carried_out(self) -> Message:
        """Do it, unless it was given up before."""

        def check() -> None:
            if self.given_up.is_set():
                raise Stopped

        def work(talk: Talk) -> Any:  # noqa: ANN401 - each work has its own result
            talk.check()
            return self.work(talk)

        return carried_out(self.number, work, ALONE._replace(check=check))


class Runner(QObject):
    """Runs engine work on one thread and hands results back on the GUI thread.

    Signals:
        busy_changed: True when work starts, False when nothing is left; views show it only if it lasts.
        failed: one sentence about work that failed.
    """

    busy_changed = Signal(bool)
    failed = Signal(str)
    _finished = Signal(object, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._waiting: dict[Hashable, _Request] = {}
        self._running: _Request | None = None
        self._latest: dict[Hashable, int] = {}
        self._numbers = count()
        self._wake = threading.Condition()
        self._closing = False
        self._finished.connect(self._deliver, Qt.ConnectionType.QueuedConnection)
        self._thread = threading.Thread(target=self._loop, name="engine", daemon=True)
        self._thread.start()

    def submit(
        self, channel: Hashable, work: Callable[[Talk], Any], done: Callable[[Any], None], *, priority: int = 10,
        steady: bool = False, lost: Callable[[], None] = lambda: None,
    ) -> None:  # fmt: skip
        """Ask for work; a waiting request of the same channel is replaced, a running one's result dropped.

        Args:
            channel: what the answer is for; only the latest request of a channel is answered.
            work: runs on the worker thread; long work checks between its parts whether its answer is still wanted.
            done: gets the result on the GUI thread.
            priority: smaller runs first.
            steady: once it runs, a newer request doesn't stop it, and its answer is given before the newer one's:
                what is asked for faster than it can be answered would otherwise stand still.
            lost: told on the GUI thread that the work failed, and nothing newer was asked for: there is no answer.
        """
        with self._wake:
            if self._running is not None and self._running.channel == channel and not self._running.steady:
                self._running.given_up.set()
            was_idle = not self._waiting and self._running is None
            number = self._latest[channel] = next(self._numbers)
            self._waiting[channel] = _Request(priority, number, channel, work, done, threading.Event(), steady, lost)
            self._wake.notify()
        if was_idle:
            self.busy_changed.emit(True)

    def hasten(self, channel: Hashable, priority: int) -> None:
        """Give what a channel waits for another priority, if it still waits."""
        with self._wake:
            waiting = self._waiting.get(channel)
            if waiting is not None:
                self._waiting[channel] = waiting._replace(priority=priority)

    def cancel(self, channel: Hashable) -> None:
        """Drop what a channel waits for."""
        with self._wake:
            self._waiting.pop(channel, None)
            self._latest.pop(channel, None)
            if self._running is not None and self._running.channel == channel:
                self._running.given_up.set()

    @property
    def busy(self) -> bool:
        """Whether anything runs or waits."""
        with self._wake:
            return bool(self._waiting) or self._running is not None

    def close(self, timeout_s: float = 5.0) -> None:
        """Stop the thread, waiting `timeout_s` s for it; what runs is told to end, what waits is dropped."""
        with self._wake:
            self._closing = True
            self._waiting.clear()
            if self._running is not None:
                self._running.given_up.set()
            self._wake.notify()
        self._thread.join(timeout_s)

    def _loop(self) -> None:
        drawn_at = 0.0
        while True:
            with self._wake:
                request = self._next(drawn_at)
                if request is None:
                    return
                self._running = request
            message = request.carried_out()
            with self._wake:
                if self._closing:
                    return
                # Held until it is handed over: whoever closes may take this object away right after.
                self._finished.emit(request, message)
            if request.priority == FIRST:
                drawn_at = monotonic() + DRAWING_S

    def _next(self, drawn_at: float) -> _Request | None:
        """The request to run, once there is one; None when the runner closes.

        What comes second waits until what came first can be drawn: both would want the interpreter.
        """
        while not self._closing:
            if not self._waiting:
                self._wake.wait()
                continue
            request = min(self._waiting.values(), key=lambda one: (one.priority, one.number))
            rest_s = drawn_at - monotonic()
            if request.priority == FIRST or rest_s <= 0.0:
                del self._waiting[request.channel]
                return request
            self._wake.wait(rest_s)
        return None

    def _deliver(self, request: _Request, message: Message) -> None:
        with self._wake:
            if self._running is request:
                self._running = None
            idle = not self._waiting and self._running is None
            latest = self._latest.get(request.channel)
            newest = latest == request.number
            wanted = newest or (latest is not None and request.steady)
            if newest:
                del self._latest[request.channel]
        if message.kind == "done":
            if wanted:
                request.done(message.content)
        elif message.kind != "cancelled" and wanted:
            self.failed.emit(self._sentence(request.channel, message))
            if newest:
                request.lost()
        if idle and not self.busy:
            self.busy_changed.emit(False)

    def _sentence(self, channel: Hashable, message: Message) -> str:
        if message.kind == "failed":
            return str(message.content)
        failure: Failure = message.content
        _LOG.error("work for %s failed\n%s", channel[0] if isinstance(channel, tuple) else channel, failure.trace)
        return f"Something went wrong while computing ({failure.kind}); the log has the details."
