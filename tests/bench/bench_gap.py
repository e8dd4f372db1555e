"""A neighbour's gap in the hand: what a picture costs while it is dragged over one while a part is slid.

``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_gap.py``. Through the real window, off screen, on a lane
of the demo that has another beside it; processor time of all threads and of the process that makes pictures.
"""

import os
import sys
from pathlib import Path

import pytest

pytest.importorskip("pytest_benchmark")
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
pytestmark = [
    pytest.mark.filterwarnings("default"),
    pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="needs /proc"),
]

from PySide6.QtCore import QEvent, QPointF  # noqa: E402

from tests.bench.bench_live import spent_s  # noqa: E402
from tests.bench.bench_window import (  # noqa: E402, F401 - fixtures among them
    Slide,
    application,
    idle,
    make_window,
    mouse,
)
from workbench.desk.app import demo_board  # noqa: E402
from workbench.desk.strip.paint import ghost_line  # noqa: E402
from workbench.desk.window import Window  # noqa: E402

LANE, PICTURES, ROUNDS = "RX2", 20, 3
AT_MOST = 1.3


class GapDrag(Slide):
    """The run of a neighbour of a lane in the hand: every place that it is moved to is another gap."""

    def __init__(self, window: Window, lane: str = LANE) -> None:
        window.resize(2560, 720)
        window.state.set_lane(lane)
        idle(window)
        ghost = next(one for one in window.strip.ghosts_shown if one.gap_m is not None)
        self._side = ghost.side
        # From 30 px on every pixel is another gap, up to the widest that there is, some 110 px further on.
        self.take(window, ghost_line(window.strip.layout_now, ghost).center(), 30.0)

    def move(self) -> None:
        self._moved_px += 1.0
        mouse(self._strip, QEvent.Type.MouseMove, self._start + QPointF(0.0, self._side * self._moved_px))


def a_picture_s(window: Window, slide: Slide) -> float:
    """Processor time of one, s: the least of a few rounds of some."""
    rounds = []
    for _ in range(ROUNDS):
        began = spent_s(window)
        for _ in range(PICTURES):
            slide.frame()
        rounds.append((spent_s(window) - began) / PICTURES)
    return min(rounds)


def bench_a_dragged_gap_over_a_slid_run(benchmark, make_window):  # noqa: F811
    """Processor time of a picture at a new gap over that of the same lane with a part slid along its run."""
    slid = make_window(demo_board())
    slid_s = a_picture_s(slid, Slide(slid, LANE))
    dragged = make_window(demo_board())
    drag = GapDrag(dragged)
    dragged_s = a_picture_s(dragged, drag)
    benchmark.pedantic(drag.frame, rounds=1)
    benchmark.extra_info["a picture over a slid run's"] = times = round(dragged_s / slid_s, 2)
    benchmark.extra_info["pictures that a second of processor time gives"] = round(1.0 / dragged_s, 1)
    benchmark.extra_info["pictures, ms"] = round(1e3 * dragged_s, 1), round(1e3 * slid_s, 1)
    sys.stderr.write(f"\n{benchmark.name}: {benchmark.extra_info}\n")
    assert times <= AT_MOST
