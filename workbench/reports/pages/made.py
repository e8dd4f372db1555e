"""Where a report's figures come from, said on every page of it."""

import datetime
from typing import NamedTuple

from workbench import __version__


class ReportOrigin(NamedTuple):
    """The board file's name and SHA-256, the program's version, and the day."""

    file: str
    sha256: str
    program: str
    day: str


def made_of(file: str, sha256: str, day: datetime.date) -> ReportOrigin:
    """What this program made of a board file on a day."""
    return ReportOrigin(file, sha256, __version__, day.isoformat())
