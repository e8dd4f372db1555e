"""The pipes between a session and its child: room for a block, and so many bytes read from them."""

import contextlib
import os
import subprocess

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

_LARGEST_ANSWER = 2**33
_PIPE_BYTES = 2**20


def widen(process: "subprocess.Popen[bytes]") -> None:
    """Give the pipes room for a block, so that both ends take turns less often; where the system lets one."""
    for stream in (process.stdin, process.stdout):
        if fcntl is None or stream is None or not hasattr(fcntl, "F_SETPIPE_SZ"):
            return
        with contextlib.suppress(OSError):
            fcntl.fcntl(stream.fileno(), fcntl.F_SETPIPE_SZ, _PIPE_BYTES)


def exactly(descriptor: int, count: int) -> bytearray | None:
    """So many bytes; None where the other end closes before, or the number is beyond all sense."""
    if not 0 <= count <= _LARGEST_ANSWER:
        return None
    found = bytearray(count)
    view, at = memoryview(found), 0
    while at < count:
        try:
            got = os.readv(descriptor, [view[at:]]) if hasattr(os, "readv") else _read_into(descriptor, view[at:])
        except OSError:
            return None
        if not got:
            return None
        at += got
    return found


def _read_into(descriptor: int, view: memoryview) -> int:
    data = os.read(descriptor, min(len(view), 1 << 16))
    view[: len(data)] = data
    return len(data)
