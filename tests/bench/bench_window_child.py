"""`link-margin` started as a user starts it, watched: prints when what is painted, in seconds since a given instant,
and the processor time of the process (all threads, from its start) until then.

"curves" is the first full paint: every pane of the window has been painted with the curves of the lane that is chosen.

Run by the benches in a process of its own: ``python -m tests.bench.bench_window_child INSTANT curves`` (or ``board``,
which waits for all verdicts too) with an instant of `time.monotonic`, which counts alike in every process.
"""

import json
import os
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

import workbench.desk
from workbench.cli import main as link_margin

if TYPE_CHECKING:
    from workbench.desk.help.failures import Failures
    from workbench.desk.window import Window

GIVE_UP_MS = 60_000


def watched(started: float, until: str, seen: dict[str, tuple[float, float]]) -> None:
    """Have the next window note its paints, and end once there is what is waited for."""
    from workbench.desk import app

    from PySide6.QtCore import QEvent, QObject, QTimer  # isort: skip - the program has loaded it by now
    from PySide6.QtWidgets import QApplication  # isort: skip

    def note(what: str) -> None:
        seen.setdefault(what, (time.monotonic() - started, time.process_time()))
        if until in seen:
            QApplication.quit()

    class Watch(QObject):
        """Notes paints of the window's panes, once they are on screen."""

        def __init__(self, window: "Window") -> None:
            super().__init__(window)
            self.panes = {pane.chart: pane for pane in window.panes.panes}
            self.left = set(self.panes)
            for chart in self.panes:
                chart.installEventFilter(self)
            window.lanes.installEventFilter(self)
            window.computing.board_ready.connect(lambda *_: note("board"))

        def eventFilter(self, part: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
            if event.type() == QEvent.Type.Paint:
                if part in self.panes and self.panes[part].shown:
                    self.left.discard(part)
                QTimer.singleShot(0, self, lambda done=not self.left: note("curves" if done else "window"))
            return False

    real = app.open_window

    def opened(path: Path | None, failures: "Failures") -> "Window":
        window = real(path, failures)
        Watch(window)
        QTimer.singleShot(GIVE_UP_MS, window, QApplication.quit)
        return window

    app.open_window = opened


def main(started: float, until: str) -> None:
    """Start the program on the demo, note the paints."""
    os.environ.setdefault("DISPLAY", "off screen")  # the program asks whether there is one; nothing connects to it
    seen: dict[str, tuple[float, float]] = {}
    real = workbench.desk.main

    def open_window(*given: object) -> int:
        watched(started, until, seen)
        return real(*given)

    workbench.desk.main = open_window
    sys.argv = ["link-margin"]
    status = link_margin()
    sys.stdout.write(json.dumps(seen))
    sys.exit(status)


if __name__ == "__main__":
    main(float(sys.argv[1]), sys.argv[2])
