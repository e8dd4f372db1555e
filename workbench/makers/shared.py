"""Memory that a session and its child both see, so that a wave is not carried back and forth: where the system has it.

Between guards lie the wave and after it the clock times; the child writes the guards and looks at them, as it does
with memory of its own.
"""

import mmap
import os
from typing import Self

import numpy as np

from workbench.arrays import Floats
from workbench.makers.child import GUARD_BYTES


class SharedWaves:
    """A piece of memory with a descriptor that a child process inherits.

    Attributes:
        descriptor: its file descriptor.
    """

    def __init__(self, descriptor: int) -> None:
        self.descriptor = descriptor
        self._room: mmap.mmap | None = None
        self._views: tuple[Floats, Floats] = (np.zeros(0), np.zeros(0))

    @classmethod
    def made(cls) -> Self | None:
        """One that is empty yet; None where the system has no memory with a descriptor."""
        make = getattr(os, "memfd_create", None)
        try:
            return None if make is None else cls(make("waves"))
        except OSError:
            return None

    def views(self, wave: int, clocks: int) -> tuple[Floats, Floats]:
        """Where the wave stands, shape (wave,), and the clock times, shape (clocks,); valid till the next call.

        Args:
            wave: samples of the wave.
            clocks: room for clock times.
        """
        if (self._views[0].size, self._views[1].size) != (wave, clocks):
            size = 8 * (wave + clocks) + 4 * GUARD_BYTES
            self._let_go()
            os.ftruncate(self.descriptor, size)
            self._room = mmap.mmap(self.descriptor, size)
            whole = np.frombuffer(self._room, "<f8")
            guard = GUARD_BYTES // 8
            first = whole[guard : guard + wave]
            self._views = first, whole[wave + 3 * guard : wave + 3 * guard + clocks]
        return self._views

    def close(self) -> None:
        """Give it back."""
        self._let_go()
        os.close(self.descriptor)

    def _let_go(self) -> None:
        # What still looks at it keeps it mapped, and the last one to go unmaps it.
        self._views, self._room = (np.zeros(0), np.zeros(0)), None
