"""Jobs for tests of the second process, which imports this file and must not load the toolkit."""

import sys
import time
from typing import Any, NamedTuple

from workbench.desk.background import worker
from workbench.desk.background.talk import Talk
from workbench.desk.background.worker import BackgroundJob
from workbench.engine.memo import Memo
from workbench.errors import WorkbenchError
from workbench.parts.lines.line_by_loss import LineByLoss
from workbench.studies.pool import processes


class Twice(NamedTuple):
    number: int

    def run(self, talk: Talk) -> tuple[int, bool]:
        talk.tell("half of it")
        return 2 * self.number, "PySide6" in sys.modules


class Endless(NamedTuple):
    def run(self, talk: Talk) -> None:
        talk.tell("begun")
        while True:
            talk.check()
            time.sleep(0.001)


class Refused(NamedTuple):
    def run(self, talk: Talk) -> None:
        raise WorkbenchError("this can't be done; do that")


class Broken(NamedTuple):
    def run(self, talk: Talk) -> float:
        return 1 / 0


class Deadly(NamedTuple):
    def run(self, talk: Talk) -> None:
        sys.exit(3)


class Injected(NamedTuple):
    """A job that meets a part whose physics breaks."""

    job: BackgroundJob
    error: Exception

    def run(self, talk: Talk) -> Any:
        _break_lines(self.error)
        worker._MEMO = Memo()  # nothing is known, so that the part is asked
        return self.job.run(talk)


def begin_broken(*asked: Any) -> None:
    """Begins a study's worker process in which a part's physics breaks."""
    _break_lines(FloatingPointError("underflow encountered in exp"))
    processes._begin(*asked)


def _break_lines(error: Exception) -> None:
    def breaks(*_: object) -> None:
        raise error

    LineByLoss.line_constants = breaks
