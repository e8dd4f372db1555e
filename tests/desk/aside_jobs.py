"""Jobs for tests of the second process, which imports this file and must not load the toolkit."""

import sys
import time
from typing import NamedTuple

from workbench.desk.aside_work import Desk
from workbench.errors import WorkbenchError


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
