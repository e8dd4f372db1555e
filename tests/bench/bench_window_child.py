"""The program started as a user starts it, watched: prints when what is painted, in seconds
since a given instant, and the processor time until then.

Run by `bench_window.py` in a process of its own: ``python -m tests.bench.bench_window_child INSTANT`` with an instant
of `time.monotonic`, which on one machine counts alike in every process.
"""

import gc
import json
import sys
import time
from pathlib import Path

GIVE_UP_MS = 60_000


def main(started: float) -> None:
    """Start the window on the demo, note the paints, end once the whole board is assessed."""
    from PySide6.QtCore import QEvent, QObject, QTimer
    from PySide6.QtWidgets import QApplication

    gc.disable()
    from workbench.desk import app
    from workbench.desk.window import Window

    seen: dict[str, tuple[float, float]] = {}

    def note(what: str) -> None:
        seen.setdefault(what, (time.monotonic() - started, time.process_time()))

    class Watch(QObject):
        """Notes paints of the window's parts, once they are on screen."""

        def __init__(self, window: Window) -> None:
            super().__init__(window)
            self.window = window
            for pane in window.panes.panes:
                pane.chart.installEventFilter(self)
            window.lanes.installEventFilter(self)
            window.computing.board_ready.connect(self.assessed)

        def eventFilter(self, _: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
            if event.type() == QEvent.Type.Paint:
                filled = all(pane.shown for pane in self.window.panes.panes)
                QTimer.singleShot(0, self, lambda: note("curves" if filled else "window"))
            return False

        def assessed(self) -> None:
            note("board")
            QTimer.singleShot(0, QApplication.quit)

    real = app.open_window

    def watched(path: Path | None, failures: app.Failures) -> Window:
        window = real(path, failures)
        Watch(window)
        QTimer.singleShot(GIVE_UP_MS, window, QApplication.quit)
        return window

    app.open_window = watched
    app.run(None)
    sys.stdout.write(json.dumps(seen))


if __name__ == "__main__":
    main(float(sys.argv[1]))
