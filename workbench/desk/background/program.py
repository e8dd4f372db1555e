"""A channel over this program run once more, by a command of the command line."""

import sys
from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

from PySide6.QtCore import QObject, QProcess, QProcessEnvironment

from workbench.desk.background.channel import WorkChannel
from workbench.desk.background.talk import Message
from workbench.reports.underway import WANTED, WIPE

_END_MS = 2000


class ProgramOutput(NamedTuple):
    """What a command ended with: its exit status, what it printed, and what it said last beside that."""

    status: int
    printed: str
    complaint: str


class ProgramChannel(WorkChannel):
    """Runs commands, one at a time; what is given up is killed. The progress is the words that a command says itself.

    Args:
        program: what is run, with its first words; the command's follow.
        environment: what is added to this process's.
        parent: its owner.
    """

    unstarted = "the program did not start; see whether it is still where it was installed"

    def __init__(
        self, program: Sequence[str] = (), environment: Mapping[str, str] | None = None, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._program = tuple(program) or this_program()
        self._environment = {"QT_QPA_PLATFORM": "offscreen", WANTED: "1", **(environment or {})}
        self._process: QProcess | None = None
        self._number, self._heard = 0, ""

    @property
    def process(self) -> QProcess | None:
        """The process; None while there is none."""
        return self._process

    def ask(
        self, words: Sequence[str], done: Callable[[ProgramOutput], None], *,
        progress: Callable[[str], None] = lambda _: None, failed: Callable[[str], None] = lambda _: None,
    ) -> None:  # fmt: skip
        """Have a command run in place of any other.

        Args:
            words: the command and its options.
            done: gets what it ended with, whatever its status.
            progress: gets how far it says it is.
            failed: gets a sentence where it could not be run or was ended from outside.
        """
        self._ask(lambda number: self._start(number, words), done, progress, failed)

    def close(self) -> None:
        """End the process."""
        self.cancel()

    def _want(self, number: int) -> None:
        if number == 0:
            self._end()

    def _start(self, number: int, words: Sequence[str]) -> None:
        self._end()
        process = self._process = QProcess(self)
        environment = QProcessEnvironment.systemEnvironment()
        for name, value in self._environment.items():
            environment.insert(name, value)
        process.setProcessEnvironment(environment)
        process.readyReadStandardError.connect(lambda: self._hear(number))
        process.finished.connect(lambda status, end: self._finished(number, status, end))
        process.errorOccurred.connect(lambda error: self._unstarted(number, error))
        self._heard = ""
        process.start(self._program[0], [*self._program[1:], *words])

    def _hear(self, number: int) -> None:
        """What the process says on its way: how far it is, each time in place of the last, and what is wrong."""
        assert self._process is not None
        new = bytes(self._process.readAllStandardError().data()).decode(errors="replace")
        self._heard += new
        last = self._heard.rpartition(WIPE)[2]
        if new and WIPE in self._heard and last and "\n" not in last:
            self._came.emit(Message(number, "progress", last))

    def _finished(self, number: int, status: int, end: QProcess.ExitStatus) -> None:
        assert self._process is not None
        self._hear(number)
        printed = bytes(self._process.readAllStandardOutput().data()).decode(errors="replace").strip()
        self._forget()
        output = ProgramOutput(status, printed, self._heard.rpartition(WIPE)[2].strip())
        self._came.emit(Message(number, "done", output) if end is QProcess.ExitStatus.NormalExit else None)

    def _unstarted(self, number: int, error: QProcess.ProcessError) -> None:
        if error is QProcess.ProcessError.FailedToStart:
            self._forget()
            self._came.emit(Message(number, "failed", self.unstarted))

    def _end(self) -> None:
        if self._process is not None:
            self._process.blockSignals(True)
            self._process.kill()
            self._process.waitForFinished(_END_MS)
            self._forget()

    def _forget(self) -> None:
        if self._process is not None:
            self._process.deleteLater()
            self._process = None


def this_program() -> tuple[str, ...]:
    """How this program is started once more."""
    return (sys.executable,) if getattr(sys, "frozen", False) else (sys.executable, "-m", "workbench")
