"""A study away from the GUI thread: its advances and its answer come back as signals."""

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal

from workbench.desk.background.talk import Talk
from workbench.desk.background.thread import ThreadChannel
from workbench.studies.pool.running import Advance, Effort

Ask = Callable[[Effort], Any]
"""Carries a study out with an effort and returns its answer."""


class _Grown:
    """The answer of one study as far as it is: a later one takes the place of one that was not drawn yet."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._answer: object = None

    def put(self, answer: object) -> None:
        with self._lock:
            self._answer = answer

    def take(self) -> object:
        with self._lock:
            answer, self._answer = self._answer, None
        return answer


class StudyChannel(ThreadChannel):
    """A channel that says of a study that it went wrong."""

    broken = "The study went wrong"


class StudyWork(QObject):
    """Runs one study at a time; a new one takes the place of one that runs.

    Signals:
        advanced: how far it is, an `Advance`.
        grown: the answer as far as it is, while the study runs; never more of them than can be drawn.
        answered: the answer, whole or (cancelled) as far as it came.
        failed: one sentence: there is no answer.

    Attributes:
        workers: how many processes a study has; None: as many as it sees fit.
    """

    advanced = Signal(object)
    grown = Signal(object)
    answered = Signal(object)
    failed = Signal(str)

    def __init__(self, parent: QObject | None = None, *, workers: int | None = None) -> None:
        super().__init__(parent)
        self.workers = workers
        self.channel = StudyChannel(self)

    @property
    def busy(self) -> bool:
        """Whether an answer is on its way."""
        return self.channel.busy

    def start(self, ask: Ask) -> None:
        """Begin a study."""
        self.drop()

        def work(talk: Talk) -> Any:  # noqa: ANN401 - each study has its own answer
            grown = _Grown()

            def partly(answer: object) -> None:
                grown.put(answer)
                talk.tell(grown)

            return ask(Effort(workers=self.workers, watch=talk.tell, cancelled=talk.hurry, partly=partly))

        self.channel.ask(work, self._answer, progress=self._go_on, failed=self._fail)

    def cancel(self) -> None:
        """End the study that runs; what it has by then is its answer."""
        self.channel.hurry()

    def drop(self) -> None:
        """End the study that runs; nobody wants its answer any more."""
        self.channel.cancel()

    def close(self) -> None:
        """End it and wait for that."""
        self.drop()
        self.channel.close()

    def _go_on(self, progress: "Advance | _Grown") -> None:
        if isinstance(progress, Advance):
            self.advanced.emit(progress)
            return
        answer = progress.take()
        if answer is not None:
            self.grown.emit(answer)

    def _answer(self, answer: object) -> None:
        self.answered.emit(answer)

    def _fail(self, sentence: str) -> None:
        self.failed.emit(sentence)
