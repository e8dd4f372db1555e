"""Jobs for tests of the second process, which imports this file and must not load the toolkit."""

import sys
import time
from typing import Any, NamedTuple

from workbench.desk.background import worker
from workbench.desk.background.worker import Desk, Job
from workbench.engine.memo import Memo
from workbench.errors import WorkbenchError
from workbench.parts.line_by_loss import LineByLoss
from workbench.studies.pool import processes


class Twice(NamedTuple):
    number: int

    def run(self, desk: Desk) -> tuple[int, bool]:
        desk.tell("half of it")
        return 2 * self.number, "PySide6" in sys.modules


class Endless(NamedTuple):
    def run(self, desk: Desk) -> None:
        desk.tell("begun")
        while True:
            desk.check()
            time.sleep(0.001)


class Refused(NamedTuple):
    def run(self, desk: Desk) -> None:
        raise WorkbenchError("this can't be done; do that")


class Broken(NamedTuple):
    def run(self, desk: Desk) -> float:
        return 1 / 0


class Deadly(NamedTuple):
    def run(self, desk: Desk) -> None:
        sys.exit(3)


class Injected(NamedTuple):
    """A job that meets a part whose physics breaks."""

    job: Job
    error: Exception

    def run(self, desk: Desk) -> Any:
        _break_lines(self.error)
        worker._MEMO = Memo()  # nothing is known, so that the part is asked
        return self.job.run(desk)


def begin_broken(*asked: Any) -> None:
    """Begins a study's worker process in which a part's physics breaks."""
    _break_lines(FloatingPointError("underflow encountered in exp"))
    processes._begin(*asked)


def _break_lines(error: Exception) -> None:
    def breaks(*_: object) -> None:
        raise error

    LineByLoss.line_constants = breaks
