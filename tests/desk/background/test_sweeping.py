"""Garbage is let go of on the GUI thread, and nowhere else."""

import gc
import threading
import weakref

from PySide6.QtCore import QObject

from workbench.desk.background.sweeping import Sweeping


class Knot(QObject):
    """Holds itself, so that only collecting ends it."""

    def __init__(self) -> None:
        super().__init__()
        self.itself = self


def test_another_thread_does_not_collect_and_the_timer_does(qtbot):
    sweeping = Sweeping()
    sweeping._young.setInterval(10)
    knots = [weakref.ref(Knot()) for _ in range(3)]

    def allocate() -> None:
        assert len([[n] for n in range(200_000)]) == 200_000

    worker = threading.Thread(target=allocate)
    worker.start()
    worker.join()
    assert all(knot() is not None for knot in knots)
    qtbot.waitUntil(lambda: all(knot() is None for knot in knots))
    sweeping.close()
    assert gc.isenabled()
