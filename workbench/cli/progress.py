"""Progress of long work: a terminal's one line that is wiped at the end, or a plain line from time to time."""

import os
import time
from types import TracebackType
from typing import Self, TextIO

from workbench.reports.underway import WANTED, WIPE

QUIET_S = 0.5
"""A shorter assessment shows nothing; a flicker would only distract."""


PLAIN_S = 10.0
"""Where there is no terminal, as in a batch job's log, a line stands no sooner than so long after the last."""


class ProgressLine:
    """Counts lanes, or whatever else: on a terminal or to who listens on one line, elsewhere on plain lines."""

    def __init__(self, stream: TextIO, what: str = "lanes") -> None:
        self._stream, self._what = stream, what
        self._wanted = stream.isatty() or WANTED in os.environ
        self._started_s = self._told_s = time.monotonic()
        self._shown = False

    def __enter__(self) -> Self:
        return self

    def show(self, done: int, total: int, left_s: float | None = None) -> None:
        """Say that `done` of `total` are computed, and where it is known how many seconds (s) are left."""
        now_s = time.monotonic()
        left = "" if left_s is None else f", {left_s:.0f} s left"
        told = f"{done} of {total} {self._what}{left}"
        if self._wanted and now_s - self._started_s >= QUIET_S:
            self._stream.write(f"{WIPE}{told}")
            self._stream.flush()
            self._shown = True
        elif not self._wanted and now_s - self._told_s >= PLAIN_S:
            self._stream.write(f"{told}\n")
            self._stream.flush()
            self._told_s = now_s

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            self._stream.write(WIPE)
            self._stream.flush()
