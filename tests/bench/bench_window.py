"""How immediate the window is, off screen: milliseconds, and how many plain curves could be painted in that time.

Run apart from the tests: ``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_window.py``. Each bench's
`extra_info` has the 95th percentile, the processor's time (all threads) and the ratio to setting and painting one
curve of 4096 points in the same run, which say more than milliseconds on a machine that does other things too: what is
measured here goes from thread to thread one after the other, so that the processor's time is what a free machine takes.
"""

import gc
import json
import os
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

pytest.importorskip("pytest_benchmark")
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
pytestmark = pytest.mark.filterwarnings("default")

import numpy as np  # noqa: E402
from PySide6.QtCore import QDeadlineTimer, QEvent, QEventLoop, QObject, QPointF, Qt, QTimer  # noqa: E402
from PySide6.QtGui import QMouseEvent  # noqa: E402
from PySide6.QtWidgets import QApplication, QWidget  # noqa: E402

from tests.bench import boards  # noqa: E402
from workbench.board.edits.path import path_of  # noqa: E402
from workbench.board.model import Board, Component, Element, Stage  # noqa: E402
from workbench.desk.app import demo_board  # noqa: E402
from workbench.desk.lanes.table import LaneTable  # noqa: E402
from workbench.desk.panes.plot.axes import linear_scale  # noqa: E402
from workbench.desk.panes.plot.chart import Chart, curve, thin  # noqa: E402
from workbench.desk.session.application import make_application  # noqa: E402
from workbench.desk.session.document import Document  # noqa: E402
from workbench.desk.session.settings import Preferences  # noqa: E402
from workbench.desk.strip.paint import TRACK_BOTTOM, TRACK_TOP  # noqa: E402
from workbench.desk.widgets.theme import LIGHT  # noqa: E402
from workbench.desk.window import Window  # noqa: E402
from workbench.engine.assess import assess_board  # noqa: E402

LONGEST_MS = 60_000
STAGED, PASSIVE = "RX3", "RX15"
ROOT = Path(__file__).parents[2]


class Paints(QObject):
    """Which of some widgets were painted since it was asked last."""

    def __init__(self, widgets: list[QWidget]) -> None:
        super().__init__()
        self.left: set[int] = set()
        self._numbers = {id(widget): number for number, widget in enumerate(widgets)}
        for widget in widgets:
            widget.installEventFilter(self)

    def expect(self) -> None:
        self.left = set(self._numbers.values())

    def eventFilter(self, part: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        if event.type() == QEvent.Type.Paint:
            self.left.discard(self._numbers[id(part)])
        return False


@pytest.fixture(scope="module")
def application() -> QApplication:
    return make_application()


@pytest.fixture
def make_window(application, tmp_path) -> Iterator[Callable[[Board], Window]]:
    made: list[Window] = []

    def make(board: Board) -> Window:
        window = Window(Document(board), Preferences(tmp_path / "desk.ini"), tmp_path / "unsaved")
        window.show_first_steps(False)
        window.show()
        gc.freeze()  # as the program does
        made.append(window)
        return window

    yield make
    for window in made:
        window.stop_work()
        window.deleteLater()
    application.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def wait(reached: Callable[[], bool]) -> None:
    """Let the program run until something holds."""
    deadline = QDeadlineTimer(LONGEST_MS)
    awake = QTimer(interval=1000)  # else a program that has nothing more to do would be waited for without end
    awake.start()
    while not reached():
        assert not deadline.hasExpired()
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)


def idle(window: Window) -> None:
    """Wait until everything is computed and drawn, also what a hand that rests lets begin."""
    QApplication.processEvents()
    wait(lambda: not window.runner.busy)
    QApplication.processEvents()


@pytest.fixture(scope="module")
def plain_s(application) -> float:
    """Setting and painting one curve of 4096 points, the least of several, s."""
    chart = Chart(linear_scale(""), linear_scale(""))
    item = curve(smooth=False)
    item.set_pen(thin("#000000"))
    chart.add(item)
    chart.set_theme(LIGHT)
    chart.resize(300, 200)
    chart.set_ranges((0.0, 1.0), (-1.0, 1.0))
    chart.show()
    QApplication.processEvents()
    x, paints, least = np.linspace(0.0, 1.0, 4096), Paints([chart]), np.inf
    for number in range(20):
        paints.expect()
        started = time.perf_counter()
        item.set_data(x, np.sin(20.0 * x + number))
        wait(lambda: not paints.left)
        least = min(least, time.perf_counter() - started)
    chart.deleteLater()
    return float(least)


class Effort:
    """The processor's time that each call of a function took, s."""

    def __init__(self, function: Callable[[], None]) -> None:
        self.times_s: list[float] = []
        self._function = function

    def __call__(self) -> None:
        started = time.process_time()
        self._function()
        self.times_s.append(time.process_time() - started)

    def told(self) -> dict[str, float]:
        times = sorted(self.times_s)
        return {"processor ms, median": round(1e3 * statistics.median(times), 1),
                "processor ms, p95": round(1e3 * times[int(0.95 * (len(times) - 1))], 1)}  # fmt: skip


def tell(benchmark, plain_s: float, **more: object) -> None:
    times = sorted(benchmark.stats.stats.data)
    benchmark.extra_info["median ms"] = round(1e3 * statistics.median(times), 1)
    benchmark.extra_info["p95 ms"] = round(1e3 * times[int(0.95 * (len(times) - 1))], 1)
    benchmark.extra_info["least ms"] = round(1e3 * times[0], 1)
    benchmark.extra_info["median in plain curves"] = round(statistics.median(times) / plain_s, 1)
    benchmark.extra_info.update(more)
    sys.stderr.write(f"\n{benchmark.name}: {json.dumps(benchmark.extra_info)}\n")


def eye_paints(window: Window) -> Paints:
    """Paints of the eye, which no edit leaves as it is; panes that change with it are painted in the same go."""
    return Paints([pane.chart for pane in window.panes.panes if pane.kind == "eye"])


def bench_first_paint(benchmark, tmp_path, plain_s):
    """A process of its own, from its start to the demo's curves in the panes; the whole board's verdict follows."""
    home = {name: str(tmp_path) for name in ("HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")}
    seen: list[dict[str, tuple[float, float]]] = []

    def start() -> None:
        command = [sys.executable, "-m", "tests.bench.bench_window_child", str(time.monotonic()), "board"]
        told = subprocess.run(command, env={**os.environ, **home}, cwd=ROOT, capture_output=True, text=True, check=True)
        seen.append(json.loads(told.stdout))

    benchmark.pedantic(start, rounds=7, warmup_rounds=1)
    for what in ("window", "curves", "board"):
        times = [one.get(what, one["curves"])[0] for one in seen]  # the curves may be there at the first paint
        benchmark.extra_info[f"{what} s, least and median"] = (round(min(times), 2), round(statistics.median(times), 2))
    tell(benchmark, plain_s)


def _first(path: tuple[Element, ...], kind: type) -> int:
    return next(number for number, one in enumerate(path) if isinstance(one, kind))


class Slide:
    """A lane's first conditioner in the hand, else its first part: every place that it is moved to is a new one."""

    def __init__(self, window: Window, lane: str = STAGED) -> None:
        window.resize(2560, 720)  # long enough for that
        window.state.set_lane(lane)
        idle(window)
        path = path_of(window.document.board, lane)
        at = _first(path, Stage) if any(isinstance(one, Stage) for one in path) else _first(path, Component)
        self.take(window, QPointF(window.strip.layout_now.slot(at).centre, (TRACK_TOP + TRACK_BOTTOM) / 2.0), 10.0)

    def take(self, window: Window, at: QPointF, moved_px: float) -> None:
        """Press there and begin to move."""
        self.window, self._strip, self._start, self._moved_px = window, window.strip, at, moved_px
        self.fresh: list[bool] = []
        self.paints = eye_paints(window)
        window.computing.view_ready.connect(lambda *_: (self.fresh.append(True), self.paints.expect()))
        mouse(self._strip, QEvent.Type.MouseButtonPress, self._start)
        for _ in range(5):  # the hand moves on: now pictures come from a process of their own
            self.frame()
        wait(lambda: window.sketching.awake)
        self.frame()

    def move(self) -> None:
        self._moved_px += 2.0
        mouse(self._strip, QEvent.Type.MouseMove, self._start + QPointF(self._moved_px, 0.0))

    def frame(self) -> None:
        self.fresh.clear()
        before = self.window.document.shown
        while self.window.document.shown is before:  # places snap: a small move may change nothing
            self.move()
        wait(lambda: bool(self.fresh) and not self.paints.left)


def bench_frames_of_a_slide(benchmark, make_window, plain_s):
    """How many pictures of the eye a second are painted while the pointer moves 60 times a second."""
    slide = Slide(make_window(demo_board()))
    eye = next(pane for pane in slide.window.panes.panes if pane.kind == "eye").chart
    painted, counts = Paints([eye]), []

    def second() -> None:
        pointer = QTimer(interval=16, timerType=Qt.TimerType.PreciseTimer)
        pointer.timeout.connect(slide.move)
        slide.fresh.clear()
        ends, count = time.perf_counter() + 1.0, 0
        pointer.start()
        while time.perf_counter() < ends:
            QApplication.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)
            if slide.fresh and not painted.left:
                count += 1
                slide.fresh.clear()
                painted.expect()
        pointer.stop()
        counts.append(count)

    painted.expect()
    benchmark.pedantic(second, rounds=5, warmup_rounds=1)
    tell(benchmark, plain_s, **{"frames a second": counts, "median of them": statistics.median(counts)})


def bench_longest_block(benchmark, make_window, plain_s):
    """The longest that the GUI thread does not come round while a board of 64 lanes is assessed."""
    board = boards.conditioned(64)
    gaps: list[float] = []

    def assess() -> None:
        window = make_window(board)
        QApplication.processEvents()
        ticks: list[float] = []
        heart = QTimer(interval=0)
        heart.timeout.connect(lambda: ticks.append(time.perf_counter()))
        heart.start()
        done: list[bool] = []
        window.computing.board_ready.connect(lambda: done.append(True))
        wait(lambda: bool(done))
        heart.stop()
        gaps.extend(np.diff(ticks).tolist())
        longest.append(float(np.diff(ticks).max()))
        window.runner.close()
        window.hide()

    longest: list[float] = []
    benchmark.pedantic(assess, rounds=3)
    p99_ms = round(1e3 * float(np.quantile(gaps, 0.99)), 1)
    tell(benchmark, plain_s, **{"longest ms": [round(1e3 * one, 1) for one in longest], "p99 of blocks ms": p99_ms})


def bench_scroll_256_lanes(benchmark, make_window, plain_s):
    """The table of 256 assessed lanes moves by some pixels and is painted."""
    window = make_window(boards.conditioned(256))
    window.runner.close()
    for lane in assess_board(window.document.board, sha256="").lanes:
        window.computing.assessments[lane.lane] = lane
        window.computing.lane_ready.emit(lane.lane, lane)
    table: LaneTable = window.lanes
    QApplication.processEvents()
    paints, bar = Paints([table.view.viewport()]), table.view.verticalScrollBar()
    assert table.model.rowCount() == 256
    assert bar.maximum() > 2000

    def frame() -> None:
        paints.expect()
        bar.setValue((bar.value() + 37) % bar.maximum())
        wait(lambda: not paints.left)

    effort = Effort(frame)
    benchmark.pedantic(effort, rounds=200, warmup_rounds=5)
    tell(benchmark, plain_s, **effort.told())


def mouse(widget: QWidget, kind: QEvent.Type, place: QPointF) -> None:
    """One event of the left button, as the platform would send it."""
    button = Qt.MouseButton.NoButton if kind == QEvent.Type.MouseMove else Qt.MouseButton.LeftButton
    QApplication.sendEvent(widget, QMouseEvent(
        kind, place, widget.mapToGlobal(place), button, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier,
    ))  # fmt: skip
