"""Files replaced whole: at any moment either the old or the new one is there, and no half of either.

The new bytes go to a part file beside the target, are flushed to the disk, and take the target's place and permissions.
A part file is locked for as long as its writer lives, so that the next writer can tell what a killed one left, and
takes only that away.
"""

import errno
import glob
import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows: there an open file can't be taken away, which tells the living from the dead as well
    fcntl = None  # type: ignore[assignment]

_TRIES = 20


def replace_file(path: Path, data: bytes) -> None:
    """Write a file, whole or not at all; links are followed, and an old file's permissions stay.

    Args:
        path: the file.
        data: what it is to hold.

    Raises:
        OSError: it can't be written there, or the disk did not confirm it.
    """
    target = path.resolve()
    if target.exists() and not (target.is_file() or target.is_dir()):
        target.write_bytes(data)  # a pipe or a terminal is written to, never replaced
        return
    put_in_place(target, data)
    sync_folder(target.parent)


def put_in_place(target: Path, data: bytes) -> None:
    """As `replace_file`, without waiting for the folder's own entry to be on the disk; `target` is no link.

    Raises:
        OSError: it can't be written there; then the old file is as it was.
    """
    mode = writable_mode(target)
    handle, part = _own_part(target)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            if mode is not None:
                part.chmod(mode)
            if fcntl is not None:
                os.replace(part, target)  # noqa: PTH105 - the call whose failure the tests bring about
        if fcntl is None:
            os.replace(part, target)  # noqa: PTH105 - an open file can't be renamed there
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise
    sweep_parts(target)


def writable_mode(target: Path) -> int | None:
    """Permissions of the file that is to be replaced; None where there is none yet.

    Raises:
        IsADirectoryError: it is a folder, or something else that is no file.
        PermissionError: it is not to be written.
    """
    try:
        mode = target.stat().st_mode
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
    # Replacing asks only for the folder's permission: a file that is marked read-only must stay what it is.
    if not os.access(target, os.W_OK):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    return stat.S_IMODE(mode)


def sweep_parts(target: Path) -> None:
    """Take away the part files that killed writers of `target` left; those of living ones stay."""
    for part in target.parent.glob(f".{glob.escape(target.name[:100])}.*.part"):
        with suppress(OSError):
            _sweep_one(part)


def sync_folder(folder: Path) -> None:
    """Make a new name in the folder last through a power cut, where the system can; raises OSError."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    except OSError as error:
        # Some network file systems know no such call for folders; the file itself is safe.
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):
            raise
    finally:
        os.close(handle)


def _own_part(target: Path) -> tuple[int, Path]:
    """A new part file beside the target, open and locked, and sure to be still there."""
    for _ in range(_TRIES):
        part = target.with_name(f".{target.name[:100]}.{secrets.token_hex(6)}.part")
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        if fcntl is None:
            return handle, part
        fcntl.flock(handle, fcntl.LOCK_EX)
        # Between making and locking another writer may have taken it for a dead one's.
        with suppress(FileNotFoundError):
            if part.stat().st_ino == os.fstat(handle).st_ino:
                return handle, part
        os.close(handle)
    raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))


def _sweep_one(part: Path) -> None:
    if fcntl is None:
        part.unlink()
        return
    handle = os.open(part, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)  # BlockingIOError: its writer lives
        part.unlink()
    finally:
        os.close(handle)
