"""Garbage is collected on the GUI thread only.

The interpreter collects cycles on whichever thread happens to allocate. A cycle may hold the toolkit's objects, and
those must end where they live: let go by the engine's thread they take the program with them.

Memory that was let go of is given back to the system then. The engine makes and drops arrays of every size, and left
to itself the C library keeps their room: some 200 MB after an hour's work. What threads make and drop lies in one
place, not in one a thread, where room that one has left is none for another: another 150 MB after ten thousand edits.
"""

import ctypes
import gc
import sys
import threading

from PySide6.QtCore import QObject, QTimer

YOUNG_MS, OLD_MS = 500, 20_000
_ARENA_MAX = -8
"""GNU's number for how many places memory is taken from (malloc.h)."""


class Sweeping(QObject):
    """Turns the interpreter's own collecting off and does it by a timer, the young often, all of it now and then."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        gc.disable()
        self._young = QTimer(self, interval=YOUNG_MS)
        self._young.timeout.connect(_new)
        self._old = QTimer(self, interval=OLD_MS)
        self._old.timeout.connect(self.sweep)
        self._young.start()
        self._old.start()
        self._giving: threading.Thread | None = None

    def sweep(self) -> None:
        """Collect everything, and give back what is free, on a thread: that may take longer than a frame."""
        gc.collect()
        if self._giving is None or not self._giving.is_alive():
            self._giving = threading.Thread(target=give_back, daemon=True, name="sweeping")
            self._giving.start()

    def wait(self) -> None:
        """Until what is free was given back."""
        if self._giving is not None:
            self._giving.join()

    def close(self) -> None:
        """Leave collecting to the interpreter again."""
        self._young.stop()
        self._old.stop()
        self.wait()
        gc.enable()


def keep_together() -> None:
    """Have all threads take memory from one place, where the C library can be told (GNU's); before they begin."""
    if sys.platform == "linux":
        option = getattr(ctypes.CDLL(None), "mallopt", None)
        if option is not None:
            option(_ARENA_MAX, 1)


def give_back() -> None:
    """Give free memory back to the system, where its C library keeps it and can be asked (GNU's)."""
    if sys.platform == "linux":
        trim = getattr(ctypes.CDLL(None), "malloc_trim", None)
        if trim is not None:
            trim(0)


def _new() -> None:
    gc.collect(1)
