"""A study away from the GUI thread: its advances and its answer come back as signals."""

import logging
import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Qt, Signal

from workbench.errors import WorkbenchError
from workbench.studies.pool.running import Advance, Effort

_LOG = logging.getLogger(__name__)
_JOIN_S = 3.0

Ask = Callable[[Effort], Any]
"""Carries a study out with an effort and returns its answer."""


class StudyWork(QObject):
    """Runs one study at a time; a new one takes the place of one that runs.

    Signals:
        advanced: how far it is, an `Advance`.
        grown: the answer as far as it is, while the study runs; never more of them than can be drawn.
        answered: the answer, whole or (cancelled) as far as it came.
        failed: one sentence: there is no answer.
    """

    advanced = Signal(object)
    grown = Signal(object)
    answered = Signal(object)
    failed = Signal(str)
    _came = Signal(int, object, object)
    _went_on = Signal(int, object)
    _grew = Signal(int)

    def __init__(self, parent: QObject | None = None, *, workers: int | None = None) -> None:
        super().__init__(parent)
        self._workers, self._number = workers, 0
        self._open, self._closed = threading.Lock(), False
        self._cancelled = threading.Event()
        self._thread: threading.Thread | None = None
        self._busy = False
        self._so_far: Any = None
        self._came.connect(self._deliver, Qt.ConnectionType.QueuedConnection)
        self._went_on.connect(self._pass_on, Qt.ConnectionType.QueuedConnection)
        self._grew.connect(self._show_growth, Qt.ConnectionType.QueuedConnection)

    @property
    def busy(self) -> bool:
        """Whether an answer is on its way."""
        return self._busy

    def start(self, ask: Ask) -> None:
        """Begin a study."""
        self.drop()
        self._cancelled, self._busy = threading.Event(), True
        self._thread = threading.Thread(
            target=self._run, args=(self._number, ask, self._cancelled), name="study", daemon=True
        )
        self._thread.start()

    def cancel(self) -> None:
        """End the study that runs; what it has by then is its answer."""
        self._cancelled.set()

    def drop(self) -> None:
        """End the study that runs; nobody wants its answer any more."""
        self.cancel()
        self._number += 1
        self._busy = False

    def close(self) -> None:
        """End it and wait for that."""
        self.drop()
        with self._open:
            self._closed = True
        if self._thread is not None:
            self._thread.join(_JOIN_S)

    def _run(self, number: int, ask: Ask, cancelled: threading.Event) -> None:
        def watch(advance: Advance) -> None:
            with self._open:
                if not self._closed:
                    self._went_on.emit(number, advance)

        def partly(answer: object) -> None:
            with self._open:
                if not self._closed:
                    self._so_far = answer  # in the place of one that was not drawn yet
                    self._grew.emit(number)

        answer, failure = None, None
        try:
            answer = ask(Effort(workers=self._workers, watch=watch, cancelled=cancelled.is_set, partly=partly))
        except Exception as error:  # noqa: BLE001 - whatever fails here must reach the user, not end the thread
            failure = error
        with self._open:  # who closes may take this object away right after
            if not self._closed:
                self._came.emit(number, answer, failure)

    def _pass_on(self, number: int, advance: Advance) -> None:
        if number == self._number:
            self.advanced.emit(advance)

    def _show_growth(self, number: int) -> None:
        with self._open:
            answer, self._so_far = self._so_far, None
        if answer is not None and number == self._number and self._busy:
            self.grown.emit(answer)

    def _deliver(self, number: int, answer: object, error: Exception | None) -> None:
        if number != self._number:
            return
        self._busy, self._so_far = False, None
        if error is None:
            self.answered.emit(answer)
        elif isinstance(error, WorkbenchError):
            self.failed.emit(str(error))
        else:
            _LOG.error("a study failed", exc_info=error)
            self.failed.emit(f"The study went wrong ({type(error).__name__}); the log has the details.")
