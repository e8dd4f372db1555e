"""Reading, judging and fitting away from the GUI thread, without making the curves on screen wait."""

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal

from workbench.desk.background.runner import Runner, Token
from workbench.errors import WorkbenchError


class Work(QObject):
    """A thread of its own, begun when it is first needed; a newer request takes the place of the one before.

    Signals:
        failed: one sentence about what went wrong and was nobody's refusal.
        busy_changed: whether something is under way.
    """

    failed = Signal(str)
    busy_changed = Signal(bool)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._runner: Runner | None = None

    @property
    def busy(self) -> bool:
        """Whether something is under way."""
        return self._runner is not None and self._runner.busy

    def ask(self, channel: str, work: Callable[[Token], Any], done: Callable[[Any], None]) -> None:
        """Do something away from here.

        Args:
            channel: what the answer is for; only the latest of a channel is answered.
            work: what is done; long work checks its token.
            done: gets the answer, or the `WorkbenchError` that refused it, on the GUI thread.
        """
        self._running().submit(channel, lambda token: _outcome(work, token), done)

    def cancel(self, channel: str) -> None:
        """Nobody wants that answer any more."""
        if self._runner is not None:
            self._runner.cancel(channel)

    def close(self) -> None:
        """End the thread."""
        if self._runner is not None:
            self._runner.close()
            self._runner = None

    def _running(self) -> Runner:
        if self._runner is None:
            self._runner = Runner(self)
            self._runner.failed.connect(self.failed)
            self._runner.busy_changed.connect(self.busy_changed)
        return self._runner


def _outcome(work: Callable[[Token], Any], token: Token) -> Any:  # noqa: ANN401 - whatever the work gives
    """What the work gives; a refusal is an answer too, for the form that asked."""
    try:
        return work(token)
    except WorkbenchError as error:
        return error
