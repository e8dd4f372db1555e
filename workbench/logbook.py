"""The log that a user can attach to a bug report: versions, actions, errors with tracebacks, nothing of a board.

What is written passes through `LogFormatter`: names that the session's boards use are replaced, the home folder too,
and of an error's message is kept only what Python makes of the code itself: names and values stand in the others.
"""

import logging
import os
import platform
import re
import sys
import time
from collections.abc import Callable, Collection
from datetime import UTC, datetime
from logging.handlers import RotatingFileHandler
from pathlib import Path

from workbench import __version__

LOG = logging.getLogger("workbench")
LARGEST_BYTES, KEPT_SESSIONS, KEPT_S = 1_000_000, 10, 30 * 86_400.0
_SHOWN_CHARACTERS = 500_000
_LIBRARIES = ("PySide6-Essentials", "numpy", "scipy", "scikit-rf", "msgspec")
_SHORTEST_NAME = 2
_TRACEBACK = "Traceback (most recent call last)"
_BETWEEN = ("The above exception was", "During handling of", "[Previous line repeated", "  [Previous line repeated")
_ABOUT_CODE = frozenset({
    "ZeroDivisionError", "FloatingPointError", "OverflowError", "RecursionError", "MemoryError", "AttributeError",
    "TypeError", "NameError", "UnboundLocalError", "ImportError", "ModuleNotFoundError", "IndexError", "RuntimeWarning",
})  # fmt: skip
"""Kinds whose messages speak of the code, not of what it was given."""
_LEFT_OUT = "(its message is left out)"
_CODE_LINES = 2
"""After a place stand its line of code and a line of marks below it."""


def versions() -> dict[str, str]:
    """What the program runs on: itself, Python, the platform, and the libraries that count."""
    import importlib.metadata  # noqa: PLC0415 - told once, after the start

    found = {"program": __version__, "Python": sys.version.split()[0], "platform": platform.platform()}
    for name in _LIBRARIES:
        try:
            found[name] = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:  # installed in a way that left its metadata out
            found[name] = "unknown"
    return found


def header(**more: str) -> str:
    """The first line of a session; `more` is what else is known of where it runs."""
    return "; ".join(f"{name} {value}" for name, value in {**versions(), **more}.items())


def scrubbed(text: str, names: Collection[str] = ()) -> str:
    """A text without the home folder and without names of the user's: each is replaced by a word for it."""
    home = str(Path.home())
    if len(home) > 1:
        text = text.replace(home, "~")
    known = sorted({name for name in names if len(name) >= _SHORTEST_NAME}, key=len, reverse=True)
    if not known:
        return text
    pattern = "|".join(map(re.escape, known))
    return re.sub(rf"(?<!\w)(?:{pattern})(?!\w)", "[name]", text)


def without_messages(text: str) -> str:
    """A text with tracebacks, whose errors keep their kinds, and their messages where those speak of code alone."""
    lines: list[str] = []
    inside, code = False, 0
    for line in text.splitlines():
        if _TRACEBACK in line:
            inside, code = True, 0
            lines.append(line)
        elif not inside or not line or line.startswith(_BETWEEN):
            lines.append(line)
        elif line.startswith('  File "'):
            code = _CODE_LINES
            lines.append(line)
        elif code and line.startswith("    "):
            code -= 1
            lines.append(line)
        else:
            code = 0
            lines += _error_lines(line)
    return "\n".join(lines)


def _error_lines(line: str) -> list[str]:
    """An error's own line; none for the further lines of a message."""
    kind, _, message = line.partition(": ")
    if not kind.replace(".", "").replace("_", "").isalnum() or not kind.rpartition(".")[2][:1].isupper():
        return []
    if not message:
        return [kind]
    return [line if kind in _ABOUT_CODE else f"{kind} {_LEFT_OUT}"]


class LogFormatter(logging.Formatter):
    """Writes records without anything of the user's.

    Args:
        names: hands out the names that must not appear, whenever something is written.
    """

    def __init__(self, names: Callable[[], Collection[str]] = tuple) -> None:
        super().__init__("%(asctime)s %(levelname)s %(name)s %(message)s")
        self.names = names

    def format(self, record: logging.LogRecord) -> str:
        """The record's text."""
        text = super().format(record)
        return scrubbed(without_messages(text) if _TRACEBACK in text else text, self.names())


def log_folder() -> Path:
    """Where this platform keeps logs."""
    import platformdirs  # noqa: PLC0415 - a command that goes well needs none

    return platformdirs.user_log_path("link-margin-workbench", appauthor=False)


def session_file(folder: Path) -> Path:
    """A log of a session's own, so that two windows never write into one; the oldest go."""
    now = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
    return folder / f"session-{now}-{os.getpid()}.log"


def open_log(path: Path, formatter: logging.Formatter) -> logging.Handler:
    """A handler that writes to a file; where there is no folder to log into, the terminal is better than silence."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        _tidy(path.parent)
        handler: logging.Handler = RotatingFileHandler(path, maxBytes=LARGEST_BYTES, backupCount=1, encoding="utf-8")
    except OSError:
        handler = logging.StreamHandler()
    handler.setFormatter(formatter)
    return handler


def _tidy(folder: Path) -> None:
    """Take logs away that are both beyond the last sessions and old: a window may be open for weeks."""
    for old in sorted(folder.glob("session-*.log*"))[:-KEPT_SESSIONS]:
        try:
            if time.time() - old.stat().st_mtime > KEPT_S:
                old.unlink()
        except OSError:  # another window holds it, or was quicker
            continue


def text_of(folder: Path) -> str:
    """The sessions that are kept, the oldest first, as far back as can be looked through; "" where there is none."""
    found = sorted(folder.glob("session-*.log*"), key=_order)
    parts = []
    for path in found:
        try:
            parts.append(path.read_text(encoding="utf-8", errors="replace"))
        except OSError:  # it went while this looked
            continue
    return "".join(parts)[-_SHOWN_CHARACTERS:]


def _order(path: Path) -> tuple[str, bool]:
    """By session; within one, what was rotated away comes first."""
    name, _, rotated = path.name.partition(".log")
    return name, not rotated
