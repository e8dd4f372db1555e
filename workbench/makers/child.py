"""The process that a maker's code runs in: started alone, with the standard library only.

It answers on the descriptors that it was given as standard input and output, which it takes for itself at once, so that
what the model prints goes nowhere. A message is four bytes of length, JSON, and as many raw bytes as the JSON's "bytes"
says. It must import nothing of the project: a crash here takes nothing with it.
"""

import contextlib
import ctypes
import json
import mmap
import os
import struct
import sys
from collections.abc import Callable
from typing import Any, BinaryIO, NoReturn

GUARD_BYTES = 8192
"""Known bytes before and after everything that a model may write to."""
LONGEST_TEXT = 1 << 20

_GUARD = struct.pack("<d", -8.3e271) * (GUARD_BYTES // 8)

Head = dict[str, Any]


class Refusal(Exception):  # noqa: N818 - told to the parent as an answer
    """What the parent is told instead of a result: a word and a text."""


class Guarded:
    """Bytes for a model to write to, between guards: of its own, or from `at` on in `room`."""

    def __init__(self, size: int, room: "bytearray | mmap.mmap | None" = None, at: int = 0) -> None:
        whole = bytearray(size + 2 * GUARD_BYTES) if room is None else room
        self._all = memoryview(whole)[at : at + size + 2 * GUARD_BYTES]
        self._all[:GUARD_BYTES] = self._all[-GUARD_BYTES:] = _GUARD
        self.inside = self._all[GUARD_BYTES : GUARD_BYTES + size]
        self._address = ctypes.addressof(ctypes.c_char.from_buffer(whole, at))

    def pointer(self) -> ctypes.c_void_p:
        """Where the model may begin to write."""
        return ctypes.c_void_p(self._address + GUARD_BYTES)

    def check(self, what: str) -> None:
        """Refuse where a guard was written to."""
        if bytes(self._all[:GUARD_BYTES]) != _GUARD:
            raise Refusal("overran", f"before the start of {what}")
        if bytes(self._all[-GUARD_BYTES:]) != _GUARD:
            raise Refusal("overran", f"beyond the end of {what}")


class Host:
    """The library and what it holds between calls."""

    def __init__(self, take: BinaryIO, give: BinaryIO, shared: int = -1) -> None:
        self._take, self._give, self._shared = take, give, shared
        self._library: ctypes.CDLL | None = None
        self._handle = ctypes.c_void_p()
        self._wave = Guarded(0)
        self._clocks = Guarded(0)

    def serve(self) -> None:
        """Answer until the parent closes."""
        known: dict[str, Callable[[Head], None]] = {"load": self.load, "init": self.init, "wave": self.wave}
        while (head := self._read()) is not None:
            do = known.get(str(head.get("do")))
            if do is None:
                self._close()
                self._say({"ok": True})
                return
            try:
                do(head)
            except Refusal as refusal:
                self._say({"error": refusal.args[0], "text": refusal.args[1]})
            except MemoryError:
                self._say({"error": "memory", "text": ""})

    def load(self, head: Head) -> None:
        """Load the library and see that it has what it should."""
        try:
            self._library = ctypes.CDLL(head["library"])
        except OSError as error:
            raise Refusal("load", str(error)) from error
        for name in head["needs"]:
            if not hasattr(self._library, name):
                raise Refusal("missing", name)
        self._say({"ok": True})

    def init(self, head: Head) -> None:
        """AMI_Init in place on the matrix that follows."""
        assert self._library is not None
        matrix = Guarded(head["bytes"])
        self._fill(matrix)
        told, message = ctypes.c_char_p(), ctypes.c_char_p()
        asked = ctypes.create_string_buffer(head["text"].encode("utf-8", "surrogateescape"))
        call = self._library.AMI_Init
        call.restype = ctypes.c_long
        done = call(
            matrix.pointer(), ctypes.c_long(head["rows"]), ctypes.c_long(head["aggressors"]),
            ctypes.c_double(head["sample_interval"]), ctypes.c_double(head["bit_time"]), asked,
            ctypes.byref(told), ctypes.byref(self._handle), ctypes.byref(message),
        )  # fmt: skip
        matrix.check("the impulse matrix")
        said = _text(message)
        if done != 1:
            raise Refusal("refused", said)
        self._say({"ok": True, "told": _text(told), "message": said}, matrix.inside)

    def wave(self, head: Head) -> None:
        """AMI_GetWave in place on the wave that follows; the clocks come after it."""
        assert self._library is not None
        size, clocks, shared = head["size"], 8 * head["clocks"], self._shared >= 0
        if (len(self._wave.inside), len(self._clocks.inside)) != (size, clocks):
            room = mmap.mmap(self._shared, size + clocks + 4 * GUARD_BYTES) if shared else None
            self._wave = Guarded(size, room)
            self._clocks = Guarded(clocks, room, size + 2 * GUARD_BYTES if shared else 0)
        if not shared:
            self._fill(self._wave)
        self._clocks.inside[:] = struct.pack("<d", -1.0) * head["clocks"]
        told = ctypes.c_char_p()
        call = self._library.AMI_GetWave
        call.restype = ctypes.c_long
        done = call(
            self._wave.pointer(), ctypes.c_long(size // 8), self._clocks.pointer(), ctypes.byref(told),
            self._handle,
        )  # fmt: skip
        self._wave.check("the wave")
        self._clocks.check("the clock times")
        if done != 1:
            raise Refusal("refused", "")
        blocks = () if shared else (self._wave.inside, self._clocks.inside)
        self._say({"ok": True, "told": _text(told)}, *blocks)

    def _close(self) -> None:
        if self._library is not None and self._handle and hasattr(self._library, "AMI_Close"):
            self._library.AMI_Close.restype = ctypes.c_long
            self._library.AMI_Close(self._handle)

    def _fill(self, into: Guarded) -> None:
        at = 0
        while at < len(into.inside):
            count = self._take.readinto(into.inside[at:])  # type: ignore[attr-defined]  # the file is a buffered one
            if not count:
                raise SystemExit(0)
            at += count

    def _read(self) -> Head | None:
        size = self._take.read(4)
        if len(size) < 4:
            return None
        found: Head = json.loads(self._take.read(struct.unpack("<I", size)[0]))
        return found

    def _say(self, head: Head, *blocks: memoryview) -> None:
        text = json.dumps({**head, "bytes": sum(len(block) for block in blocks)}).encode()
        self._give.write(struct.pack("<I", len(text)) + text)
        for block in blocks:
            self._give.write(block)
        self._give.flush()


def _text(pointer: ctypes.c_char_p) -> str:
    """What a model gave as text; "" for none."""
    data = pointer.value or b""
    if len(data) > LONGEST_TEXT:
        raise Refusal("text", f"{len(data):,} characters")
    return data.decode("utf-8", "replace")


def limit(memory_bytes: int, cpu_s: int, file_bytes: int) -> None:
    """Bound what this process may take, where the system can.

    Args:
        memory_bytes: of addresses.
        cpu_s: of processor time, s.
        file_bytes: of any file that it writes.
    """
    try:
        import resource  # noqa: PLC0415 - not there on Windows
    except ImportError:
        return
    for kind, most in (
        (resource.RLIMIT_AS, memory_bytes), (resource.RLIMIT_CPU, cpu_s), (resource.RLIMIT_FSIZE, file_bytes),
        (resource.RLIMIT_CORE, 0),
    ):  # fmt: skip
        with contextlib.suppress(ValueError, OSError):  # a system may allow less, or not know one
            resource.setrlimit(kind, (most, most))


def main(arguments: list[str]) -> int:
    """Serve; the arguments are the limits of `limit`, and the descriptor of shared memory, -1 where there is none."""
    take, give = os.dup(0), os.dup(1)
    nothing = os.open(os.devnull, os.O_RDWR)
    os.dup2(nothing, 0)
    os.dup2(nothing, 1)
    *limits, shared = map(int, arguments)
    limit(*limits)
    with os.fdopen(take, "rb") as taking, os.fdopen(give, "wb") as giving, contextlib.suppress(BrokenPipeError):
        Host(taking, giving, shared).serve()
    return 0


def serve(arguments: list[str]) -> NoReturn:
    """Serve, and end at once: at the interpreter's own end a model's leftovers may hang or crash."""
    os._exit(main(arguments))


if __name__ == "__main__":
    serve(sys.argv[1:])
