"""Jobs that misbehave, for the tests of whoever carries jobs out; importable where workers start."""

import os
import signal
import sys
from pathlib import Path
from typing import Any

from workbench.errors import ProbePointError
from workbench.studies.pool.jobs import Assessor, StudyJob


class Square(StudyJob, frozen=True, kw_only=True):
    """Its number, squared."""

    def do(self, assessor: Assessor) -> int:
        del assessor
        return self.number**2


class Dying(StudyJob, frozen=True, kw_only=True):
    """Kills its process while fewer than `times` markers stand in a folder; then it is its number."""

    folder: str
    times: int

    def do(self, assessor: Assessor) -> int:
        del assessor
        markers = len(list(Path(self.folder).iterdir()))
        if markers < self.times:
            Path(self.folder, str(markers)).touch()
            os.kill(os.getpid(), signal.SIGKILL)
        return self.number


class Loaded(StudyJob, frozen=True, kw_only=True):
    """The top-level modules of the process that does it."""

    def do(self, assessor: Assessor) -> Any:
        del assessor
        return sorted({name.partition(".")[0] for name in sys.modules})


class Long(StudyJob, frozen=True, kw_only=True):
    """Works on and on unless it is stopped, as an assessment does between its lanes."""

    def do(self, assessor: Assessor) -> int:
        for _ in range(1_000_000):
            assessor.figures(assessor.basis.board, ("D4",))
        return self.number


class Wrong(StudyJob, frozen=True, kw_only=True):
    """Asks for a probe point that is not there."""

    def do(self, assessor: Assessor) -> int:
        raise ProbePointError("lane D0 has no probe point 'U5 input'")
