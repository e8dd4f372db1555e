"""How live the window is, in ratios of processor time: what a picture costs over a plain assessment of the same lane.

``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_live.py``. Through the real window, off screen; what a
picture costs is that of all threads and of the process that makes pictures. The unit is a warm plain assessment of the
lane (`Plain`), taken in turns with what is measured. Linux: a process's time is read from /proc.
"""

import json
import os
import statistics
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

pytest.importorskip("pytest_benchmark")
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as `link-margin desk` starts them
pytestmark = [
    pytest.mark.filterwarnings("default"),
    pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="needs /proc"),
]

from tests.bench.bench_window import (  # noqa: E402, F401 - fixtures among them
    PASSIVE,
    ROOT,
    STAGED,
    Slide,
    application,
    eye_paints,
    idle,
    make_window,
    wait,
)
from workbench.board.edits.path import path_of  # noqa: E402
from workbench.board.edits.planned import PathEdits  # noqa: E402
from workbench.board.model import Board, Guard, Run  # noqa: E402
from workbench.desk.app import demo_board  # noqa: E402
from workbench.desk.panes.kinds.eye import EyePane  # noqa: E402
from workbench.desk.panes.pane import Pane  # noqa: E402
from workbench.desk.panes.plot.axes import QuantityAxis  # noqa: E402
from workbench.desk.panes.plot.chart import Chart  # noqa: E402
from workbench.desk.panes.plot.marks import Tinted, Words  # noqa: E402
from workbench.desk.strip.path_strip import PathStrip  # noqa: E402
from workbench.desk.window import Window  # noqa: E402
from workbench.engine.assess import assess_lane  # noqa: E402
from workbench.engine.lane.path import plan_of  # noqa: E402
from workbench.engine.memo import Memo  # noqa: E402
from workbench.engine.symbols import Symbols  # noqa: E402

MOST_OF_AN_ASSESSMENT, MOST_WAITING, MOST_OF_IMPORTS = 1.5, 2.0, 1.6
ROUNDS, PER_ROUND = 6, 5
STARTS = 9
BARE_IMPORTS = "import numpy, PySide6.QtWidgets, PySide6.QtSvg, pyqtgraph"


class Plain:
    """The unit: a warm plain assessment of one lane.

    It is what `assess_lane` takes by independent symbols, in this process, of the lane after an edit that its store has
    not met, with everything kept that the edit does not reach: what a window would have to do for the same edit if it
    only counted plainly and drew nothing. Processor time, s.
    """

    def __init__(self, lane: str) -> None:
        self._lane, self._memo, self._number = lane, Memo(), 0
        self._at = first_run(demo_board(), lane)
        self.times_s: list[float] = []
        self._assess(demo_board())

    def take(self, count: int) -> None:
        """Assess after so many more edits."""
        for _ in range(count):
            self._number += 1
            edit = PathEdits(demo_board(), self._lane, (self._lane,)).set_length(self._at, 0.02 + 1e-4 * self._number)
            self.times_s.append(self._assess(edit.edit(demo_board())))

    def _assess(self, board: Board) -> float:
        plan = plan_of(board, next(one for one in board.lanes if one.name == self._lane))
        began = time.thread_time()  # the window's threads are none of it
        assess_lane(self._memo, plan, 1.0, Guard(), symbols=Symbols.INDEPENDENT)
        return time.thread_time() - began

    @property
    def unit_s(self) -> float:
        """The median of all that were taken."""
        return statistics.median(self.times_s)


def first_run(board: Board, lane: str) -> int:
    """The place of a lane's first run, whose length the edits change."""
    return next(number for number, one in enumerate(path_of(board, lane)) if isinstance(one, Run))


def spent_s(window: Window) -> float:
    """Processor time so far of all threads here and of the process that makes pictures, s."""
    worker = window.sketching.worker
    return time.process_time() + (0.0 if worker is None else _of_process_s(worker.process.pid))


def _of_process_s(pid: int | None) -> float:
    """Of every thread that the process has, s."""
    tasks = Path(f"/proc/{pid}/task").iterdir()
    return sum(int((task / "schedstat").read_text().split()[0]) for task in tasks) * 1e-9


def of_threads_s(pid: int) -> dict[str, float]:
    """Processor time of each of a process's threads, s, by name and number."""
    return {
        f"{(task / 'comm').read_text().strip()} {task.name}": int((task / "schedstat").read_text().split()[0]) * 1e-9
        for task in Path(f"/proc/{pid}/task").iterdir()
    }


@pytest.mark.parametrize("lane", [STAGED, PASSIVE])
def bench_slide_in_assessments(benchmark, make_window, lane):  # noqa: F811
    """Processor time of a picture while a conditioner, or a part between two runs, is moved."""
    plain, window = Plain(lane), make_window(demo_board())
    slide = Slide(window, lane)
    idle(window)  # others' figures would be counted with the pictures
    slide.frame()
    pictures_s = []
    for _ in range(ROUNDS):
        plain.take(PER_ROUND)
        idle(window)
        for _ in range(PER_ROUND):
            began = spent_s(window)
            slide.frame()
            pictures_s.append(spent_s(window) - began)
    benchmark.pedantic(slide.frame, rounds=1)
    told = _in_units(pictures_s, plain, "picture")
    _tell(benchmark, told)
    assert told["picture over the unit, median"] <= MOST_OF_AN_ASSESSMENT


@pytest.mark.parametrize("lane", [STAGED, PASSIVE])
def bench_edit_in_assessments(benchmark, make_window, lane):  # noqa: F811
    """A run's length is changed: processor time and waiting until every pane is painted with it.

    On a board that is worked on: the first edits, while the process for pictures starts, are not counted.
    """
    plain, window = Plain(lane), make_window(demo_board())
    window.state.set_lane(lane)
    idle(window)
    edit = Edits(window, lane)
    for _ in range(6):
        idle(window)
        edit.do()
    wait(lambda: window.sketching.awake)
    effort, waited = [], []
    for _ in range(ROUNDS):
        idle(window)
        plain.take(PER_ROUND)
        for _ in range(PER_ROUND):
            idle(window)
            began, started = spent_s(window), time.perf_counter()
            edit.do()
            effort.append(spent_s(window) - began)
            waited.append(time.perf_counter() - started)
    benchmark.pedantic(lambda: None, rounds=1)
    told = _in_units(effort, plain, "effort") | _in_units(waited, plain, "waiting")
    _tell(benchmark, told)
    assert told["effort over the unit, median"] <= MOST_OF_AN_ASSESSMENT
    assert told["waiting over the unit, p95"] <= MOST_WAITING


class Edits:
    """A run's length is changed again and again, each time to one that was not met before."""

    def __init__(self, window: Window, lane: str) -> None:
        self._window, self._lane, self._number = window, lane, 0
        self._at = first_run(window.document.board, lane)
        self._fresh: list[bool] = []
        self._paints = eye_paints(window)
        window.computing.view_ready.connect(lambda *_: (self._fresh.append(True), self._paints.expect()))

    def do(self) -> None:
        """Change it, and wait until the panes show that."""
        self._number += 1
        self._fresh.clear()
        document = self._window.document
        planned = PathEdits(document.board, self._lane, (self._lane,)).set_length(
            self._at, 0.02 + 1e-4 * self._number
        )
        assert document.apply(planned.name, planned.edit)
        wait(lambda: bool(self._fresh) and not self._paints.left)


def _in_units(times_s: list[float], plain: Plain, what: str) -> dict[str, object]:
    p95_s = sorted(times_s)[int(0.95 * (len(times_s) - 1))]
    return {
        f"{what} over the unit, median": round(statistics.median(times_s) / plain.unit_s, 2),
        f"{what} over the unit, p95": round(p95_s / plain.unit_s, 2),
        f"{what}, unit, ms": (round(1e3 * statistics.median(times_s), 1), round(1e3 * plain.unit_s, 1)),
    }


def _tell(benchmark, told: dict[str, object]) -> None:
    benchmark.extra_info.update(told)
    sys.stderr.write(f"\n{benchmark.name}: {told}\n")


class Stopwatch:
    """Processor time that this thread spends in some functions, s, without what others of them take within."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.spent_s: dict[str, float] = {}
        self._patch, self._under_way = monkeypatch, [0.0]

    def watch(self, owner: type, name: str, what: str) -> None:
        """Count what a method takes as time for something."""
        real = getattr(owner, name)

        def watched(*given: object, **named: object) -> object:
            if threading.current_thread() is not threading.main_thread():
                return real(*given, **named)
            began = time.thread_time()
            self._under_way.append(0.0)
            try:
                return real(*given, **named)
            finally:
                took, within = time.thread_time() - began, self._under_way.pop()
                self.spent_s[what] = self.spent_s.get(what, 0.0) + took - within
                self._under_way[-1] += took

        self._patch.setattr(owner, name, watched)


WATCHED = (
    (EyePane, "_show_density", "density"), (Tinted, "paint", "density"), (QuantityAxis, "paint", "text"),
    (Words, "paint", "text"), (Pane, "_read_out", "text"), (Pane, "_refresh", "curves"),
    (Chart, "paintEvent", "curves"), (PathStrip, "paintEvent", "strip"),
    (PathStrip, "mouseMoveEvent", "the hand: edit, check, plan, what else listens"),
)  # fmt: skip


@pytest.mark.parametrize("lane", [STAGED, PASSIVE])
def bench_where_a_picture_goes(benchmark, make_window, monkeypatch, lane):  # noqa: F811
    """Where the processor time of a picture goes while something is moved, in units; the watches add a little."""
    plain = Plain(lane)
    watch = Stopwatch(monkeypatch)
    for owner, name, what in WATCHED:
        watch.watch(owner, name, what)
    window = make_window(demo_board())
    slide = Slide(window, lane)
    idle(window)
    slide.frame()
    plain.take(ROUNDS * PER_ROUND)
    watch.spent_s.clear()
    worker = window.sketching.worker
    assert worker is not None
    gui_s, began_s, worker_s = time.thread_time(), time.process_time(), _of_process_s(worker.process.pid)
    pictures = ROUNDS * PER_ROUND
    for _ in range(pictures):
        slide.frame()
    gui_s, all_s = time.thread_time() - gui_s, time.process_time() - began_s
    found = {"engine": _of_process_s(worker.process.pid) - worker_s, "hand-over: other threads": all_s - gui_s}
    found |= watch.spent_s
    found["the rest of the GUI thread"] = gui_s - sum(watch.spent_s.values())
    benchmark.pedantic(lambda: None, rounds=1)
    _tell(benchmark, {
        **{what: (round(1e3 * spent / pictures, 1), round(spent / pictures / plain.unit_s, 2))
           for what, spent in found.items()},
        "unit, ms": round(1e3 * plain.unit_s, 1),
    })  # fmt: skip


def bench_first_paint_in_imports(benchmark, tmp_path):
    """`link-margin` in a fresh process to its first full paint, over the bare imports in one, both with bytecode.

    Processor time from the start of the process, all threads; the two by turns, the least of each.
    """
    home = {name: str(tmp_path) for name in ("HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")}
    everything = {name: value for name, value in {**os.environ, **home}.items() if name != "PYTHONDONTWRITEBYTECODE"}
    everything["OPENBLAS_NUM_THREADS"] = "1"  # as `link-margin` sets it
    told: dict[str, list[tuple[float, float]]] = {}
    for _ in range(STARTS):
        for command in (
            ["-c", f"{BARE_IMPORTS}; import json, time; print(json.dumps(dict(bare=[0.0, time.process_time()])))"],
            ["-m", "tests.bench.bench_window_child", str(time.monotonic()), "curves"],
        ):
            run = subprocess.run(
                [sys.executable, *command], env=everything, cwd=ROOT, capture_output=True, text=True, check=True
            )
            for what, found in json.loads(run.stdout).items():
                told.setdefault(what, []).append(tuple(found))
    benchmark.pedantic(lambda: None, rounds=1)
    cost = {what: sorted(one[1] for one in seen) for what, seen in told.items() if seen}
    found = {
        "first full paint over bare imports, least of each": round(cost["curves"][0] / cost["bare"][0], 2),
        "median of each": round(statistics.median(cost["curves"]) / statistics.median(cost["bare"]), 2),
        "processor s": {what: [round(one, 3) for one in costs] for what, costs in cost.items()},
    }
    sys.stderr.write(f"\n{benchmark.name}: {found}\n")
    benchmark.extra_info.update(found)
    assert found["first full paint over bare imports, least of each"] <= MOST_OF_IMPORTS
