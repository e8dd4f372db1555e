"""Standard output and error as the commands may rely on: there, able to write any name, and deaf once nobody reads.

A command's exit status is its answer. It must not depend on whether somebody still reads what is printed: a closed
stream, or a reader that went away, takes the rest of the text and leaves the status as it is.
"""

import contextlib
import io
import os
import sys
from collections.abc import Iterator
from typing import TextIO


class _Heard(io.TextIOBase):
    """Writes to a stream until its reader goes away, then nowhere.

    Standard error (`last`) falls silent on any trouble: there is nowhere left to tell it.
    """

    def __init__(self, stream: TextIO, *, last: bool) -> None:
        self._stream: TextIO | None = stream
        self._of = stream
        self._silenced_by: type[OSError] = OSError if last else BrokenPipeError

    def write(self, text: str) -> int:
        """Write, if anybody still reads; standard output raises OSError for other trouble, such as a full disk."""
        if self._stream is not None:
            try:
                self._stream.write(text)
            except self._silenced_by:
                self._fall_silent()
        return len(text)

    def flush(self) -> None:
        """Flush, if anybody still reads."""
        if self._stream is not None and not self._stream.closed:  # Python 3.13 says what a last flush runs into
            try:
                self._stream.flush()
            except self._silenced_by:
                self._fall_silent()

    def isatty(self) -> bool:
        """Whether the stream is a terminal."""
        return self._of.isatty()

    def fileno(self) -> int:
        """The stream's own descriptor."""
        return self._of.fileno()

    @property
    def encoding(self) -> str:  # type: ignore[override]  # read-only here
        """The stream's character set."""
        return self._of.encoding

    def _fall_silent(self) -> None:
        self._stream = None
        _redirect_to_nowhere(self._of)


def begin_in_utf8() -> None:
    """Start this process anew in Python's UTF-8 mode where its locale has ASCII only and that mode was switched off.

    File names and words of the command line would else be halves of characters, which no board can hold.
    """
    if sys.getfilesystemencoding() == "ascii" and not getattr(sys, "frozen", False):
        os.execv(sys.executable, [sys.executable, "-X", "utf8", *sys.orig_argv[1:]])


@contextlib.contextmanager
def open_streams() -> Iterator[None]:
    """Standard output and error while a command runs; a stream that was closed from the start goes nowhere."""
    before = sys.stdout, sys.stderr
    with open(os.devnull, "w", encoding="utf-8") as nowhere:  # noqa: PTH123 - a device, not a path
        sys.stdout = _usable(before[0], nowhere)
        sys.stderr = _usable(before[1], nowhere, last=True)
        try:
            yield
        finally:
            sys.stdout, sys.stderr = before


def drop_output() -> None:
    """Let the interpreter's own last flush go nowhere, so that it doesn't fail again."""
    _redirect_to_nowhere(sys.stdout)


def _usable(stream: TextIO | None, nowhere: TextIO, *, last: bool = False) -> TextIO:
    if stream is None or stream.closed:
        return nowhere
    if isinstance(stream, io.TextIOWrapper):
        # A name that the terminal's character set lacks is shown escaped instead of stopping the report.
        stream.reconfigure(errors="backslashreplace")
        return _Heard(stream, last=last)  # type: ignore[return-value]  # all of TextIO that a command uses
    return stream


def _redirect_to_nowhere(stream: TextIO) -> None:
    with contextlib.suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
