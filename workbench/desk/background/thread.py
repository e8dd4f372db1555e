"""A channel over threads of this process: for work that itself asks other processes, or waits."""

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject

from workbench.desk.background.channel import WorkChannel
from workbench.desk.background.talk import Message, Talk, carried_out
from workbench.errors import Stopped

_JOIN_S = 3.0


class _Gate:
    """Open as long as what is said through it finds the channel: who takes that away shuts it first, or by doing so."""

    def __init__(self) -> None:
        self.lock, self.shut = threading.Lock(), False

    def close(self, _: object = None) -> None:
        """Nothing is said from now on; what is being said is said to its end."""
        with self.lock:
            self.shut = True


class ThreadChannel(WorkChannel):
    """Runs each piece of work on a thread of its own; one that is not wanted any more ends by itself."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._gate = _Gate()
        self.destroyed.connect(self._gate.close)
        self._wanted = 0
        self._thread: threading.Thread | None = None

    @property
    def thread_under_way(self) -> threading.Thread | None:
        """The thread begun last; None before the first."""
        return self._thread

    def ask(
        self, work: Callable[[Talk], Any], done: Callable[[Any], None], *,
        progress: Callable[[Any], None] = lambda _: None, failed: Callable[[str], None] = lambda _: None,
    ) -> None:  # fmt: skip
        """Have work done in place of any other.

        Args:
            work: what is done there.
            done: gets its result.
            progress: gets what it tells on the way.
            failed: gets a sentence where there is no result.
        """

        def begin(number: int) -> None:
            self._wanted = number
            self._thread = threading.Thread(target=self._run, args=(number, work), name="background", daemon=True)
            self._thread.start()

        self._ask(begin, done, progress, failed)

    def close(self) -> None:
        """End it and wait for that."""
        self.cancel()
        self._gate.close()  # who closes may take this object away right after
        if self._thread is not None:
            self._thread.join(_JOIN_S)

    def _want(self, number: int) -> None:
        self._wanted = number

    def _run(self, number: int, work: Callable[[Talk], Any]) -> None:
        def check() -> None:
            if abs(self._wanted) != number:
                raise Stopped

        talk = Talk(lambda content: self._say(Message(number, "progress", content)), check,
                    lambda: self._wanted != number)  # fmt: skip
        self._say(carried_out(number, work, talk))

    def _say(self, message: Message) -> None:
        with self._gate.lock:
            if not self._gate.shut:
                self._came.emit(message)
