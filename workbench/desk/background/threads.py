"""Channels over threads that take turns: many things asked for, one computed at a time."""

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal

from workbench.desk.background.talk import Talk
from workbench.desk.background.thread import ThreadChannel
from workbench.errors import WorkbenchError

_WAIT_S = 0.05


class ThreadChannels(QObject):
    """A channel for each thing that is asked for, begun when it is first needed; none makes the curves on screen wait.

    Signals:
        failed: one sentence about what went wrong and was nobody's refusal.
        busy_changed: whether something is under way.
    """

    failed = Signal(str)
    busy_changed = Signal(bool)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._channels: dict[str, ThreadChannel] = {}
        self._turn = threading.Lock()
        self._was_busy = False

    @property
    def busy(self) -> bool:
        """Whether something is under way."""
        return any(channel.busy for channel in self._channels.values())

    def ask(self, name: str, work: Callable[[Talk], Any], done: Callable[[Any], None]) -> None:
        """Have something done away from here.

        Args:
            name: what the answer is for; only the latest work for it is answered.
            work: what is done; long work checks whether its answer is still wanted.
            done: gets the answer, or the `WorkbenchError` that refused it, on the GUI thread.
        """
        if name not in self._channels:
            self._channels[name] = ThreadChannel(self)
            self._channels[name].busy_changed.connect(lambda _: self._follow())
        self._channels[name].ask(lambda talk: self._in_turn(work, talk), done, failed=self.failed.emit)

    def cancel(self, name: str) -> None:
        """Nobody wants that answer any more."""
        if name in self._channels:
            self._channels[name].cancel()

    def close(self) -> None:
        """End the threads."""
        for channel in self._channels.values():
            channel.cancel()
        for channel in self._channels.values():
            channel.close()
        self._channels.clear()

    def _in_turn(self, work: Callable[[Talk], Any], talk: Talk) -> Any:  # noqa: ANN401 - whatever the work gives
        """What the work gives once the others are done; a refusal is an answer too, for the form that asked."""
        while not self._turn.acquire(timeout=_WAIT_S):
            talk.check()
        try:
            talk.check()
            return work(talk)
        except WorkbenchError as error:
            return error
        finally:
            self._turn.release()

    def _follow(self) -> None:
        if self.busy != self._was_busy:
            self._was_busy = self.busy
            self.busy_changed.emit(self._was_busy)
