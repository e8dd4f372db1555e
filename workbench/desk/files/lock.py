"""Who has a board's file open: a lock beside it, seen by every window and every user who can see the file."""

import os
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QLockFile, QSysInfo


class Claim:
    """One window's hold on one file.

    Attributes:
        path: the file.
        holder: "" while the hold is ours, or nobody's (where the folder can't be written, nobody can save there); else
            who has it, in words.
        elsewhere: whether the holder is on another computer, so that it can't be seen from here whether it still runs.
        since: since when it is held, in words; "" while the hold is ours.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = QLockFile(str(lock_path(path)))
        self._lock.setStaleLockTime(0)  # only the death of its process makes a lock stale, no age
        taken = self._lock.tryLock(0)
        held = not taken and self._lock.error() is QLockFile.LockError.LockFailedError
        self.elsewhere = held and self._host() not in ("", QSysInfo.machineHostName())
        self.holder = self._who() if held else ""
        self.since = _since(lock_path(path)) if held else ""
        self._mark = _mark(lock_path(path)) if taken else None

    @property
    def lost(self) -> bool:
        """Whether a hold that was ours is so no longer: someone took the lock away, or away and over."""
        return self._mark is not None and _mark(lock_path(self.path)) != self._mark

    def release(self) -> None:
        """Let others have the file; a lock that someone else put in the place of ours stays."""
        lock = lock_path(self.path)
        aside = lock.with_name(f"{lock.name}.{os.getpid()}")
        lost = self.lost
        if lost:  # unlocking removes whatever has the name
            with suppress(OSError):
                lock.rename(aside)
        self._lock.unlock()
        self._mark = None
        if lost:
            with suppress(OSError):
                aside.rename(lock)

    def _who(self) -> str:
        """The holder as the lock names it; the user is the lock file's owner."""
        process, host = self._info()
        if process == os.getpid() and host == QSysInfo.machineHostName():
            return "another window of this program"
        where = f"on {host}" if host and host != QSysInfo.machineHostName() else "on this computer"
        return f"{_owner(lock_path(self.path))} {where}"


    def _info(self) -> tuple[int, str]:
        """Number of the holder's process, and the name of its computer; 0 and "" where the lock does not say."""
        found = self._lock.getLockInfo()
        return (found[-3], found[-2]) if isinstance(found, tuple) and len(found) >= 3 else (0, "")

    def _host(self) -> str:
        return self._info()[1]


def break_lock(path: Path) -> None:
    """Take away the lock of a holder on another computer, who is asked nothing: only where the user wants just that.

    Raises:
        OSError: it can't be removed.
    """
    lock_path(path).unlink(missing_ok=True)


def lock_path(path: Path) -> Path:
    """Where the lock of a file lies."""
    real = path.resolve()
    return real.with_name(f".{real.name[:100]}.lock")


def _mark(path: Path) -> tuple[int, int] | None:
    """What tells a lock from another of the same name; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _since(path: Path) -> str:
    try:
        return datetime.fromtimestamp(path.stat().st_mtime).astimezone().strftime("%d %b %Y, %H:%M")
    except OSError:  # it was just released
        return ""


def _owner(path: Path) -> str:
    try:
        return path.owner()
    except (OSError, KeyError, NotImplementedError):  # it was just released; a user without a name; no such notion here
        return "someone"
