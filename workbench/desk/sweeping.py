"""Garbage is collected on the GUI thread only.

The interpreter collects cycles on whichever thread happens to allocate. A cycle may hold the toolkit's objects, and
those must end where they live: let go by the engine's thread they take the program with them.
"""

import gc

from PySide6.QtCore import QObject, QTimer

YOUNG_MS, OLD_MS = 500, 20_000


class Sweeping(QObject):
    """Turns the interpreter's own collecting off and does it by a timer, the young often, all of it now and then."""

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        gc.disable()
        self._young = QTimer(self, interval=YOUNG_MS)
        self._young.timeout.connect(_new)
        self._old = QTimer(self, interval=OLD_MS)
        self._old.timeout.connect(_all)
        self._young.start()
        self._old.start()

    def close(self) -> None:
        """Leave collecting to the interpreter again."""
        self._young.stop()
        self._old.stop()
        gc.enable()


def _new() -> None:
    gc.collect(1)


def _all() -> None:
    gc.collect()
