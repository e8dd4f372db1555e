"""Progress of a long assessment, on one line of standard error that is wiped at the end."""

import os
import time
from types import TracebackType
from typing import Self, TextIO

from workbench.reports.underway import WANTED, WIPE

QUIET_S = 0.5
"""A shorter assessment shows nothing; a flicker would only distract."""


class ProgressLine:
    """Counts lanes, or whatever else, on a terminal; silent where the stream is none and nobody else listens."""

    def __init__(self, stream: TextIO, what: str = "lanes") -> None:
        self._stream, self._what = stream, what
        self._wanted = stream.isatty() or WANTED in os.environ
        self._started_s = time.monotonic()
        self._shown = False

    def __enter__(self) -> Self:
        return self

    def show(self, done: int, total: int, left_s: float | None = None) -> None:
        """Say that `done` of `total` are computed, and where it is known how many seconds (s) are left."""
        if self._wanted and time.monotonic() - self._started_s >= QUIET_S:
            left = "" if left_s is None else f", {left_s:.0f} s left"
            self._stream.write(f"{WIPE}{done} of {total} {self._what}{left}")
            self._stream.flush()
            self._shown = True

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            self._stream.write(WIPE)
            self._stream.flush()
