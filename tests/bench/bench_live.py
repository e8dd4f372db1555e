"""How live the window is, in ratios of processor time: what a picture costs over a plain assessment of the same lane.

``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_live.py``. Through the real window, off screen; what a
picture costs is that of all threads and of the process that makes pictures. A plain assessment is one of the lane by
independent symbols with nothing kept, the least of several in the same run. Linux: a process's time is read from /proc.
"""

import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytest.importorskip("pytest_benchmark")
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
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
    idle,
    make_window,
    pane_paints,
    wait,
)
from workbench.board.edits.path import path_of  # noqa: E402
from workbench.board.edits.planned import PathEdits  # noqa: E402
from workbench.board.model import Guard, Run  # noqa: E402
from workbench.desk.app import demo_board  # noqa: E402
from workbench.desk.window import Window  # noqa: E402
from workbench.engine.assess import assess_lane  # noqa: E402
from workbench.engine.lane.path import plan_of  # noqa: E402
from workbench.engine.memo import Memo  # noqa: E402
from workbench.engine.symbols import Symbols  # noqa: E402

MOST_OF_AN_ASSESSMENT, MOST_WAITING, MOST_OF_IMPORTS = 1.5, 2.0, 1.6
PICTURES = 15
BARE_IMPORTS = "import numpy, PySide6.QtWidgets, PySide6.QtSvg, pyqtgraph"


def plain_s(lane: str) -> float:
    """Processor time of a plain assessment of a demo lane, the least of several, s."""
    board = demo_board()
    plan = plan_of(board, next(one for one in board.lanes if one.name == lane))
    least = float("inf")
    for _ in range(12):
        began = time.process_time()
        assess_lane(Memo(), plan, 1.0, Guard(), symbols=Symbols.INDEPENDENT)
        least = min(least, time.process_time() - began)
    return least


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


def _settled(window: Window) -> None:
    """Wait until the curves and figures of the lane are there: others' would be counted with the pictures."""
    idle(window)


@pytest.mark.parametrize("lane", [STAGED, PASSIVE])
def bench_slide_in_assessments(benchmark, make_window, lane):  # noqa: F811
    """Processor time of a picture while a conditioner, or a run's end, is slid."""
    plain = plain_s(lane)
    window = make_window(demo_board())
    slide = Slide(window, lane)
    _settled(window)
    slide.frame()
    rounds = []
    for _ in range(2):
        began = spent_s(window)
        for _ in range(PICTURES):
            slide.frame()
        rounds.append((spent_s(window) - began) / PICTURES)
    benchmark.pedantic(slide.frame, rounds=1)
    benchmark.extra_info["a picture over a plain assessment"] = times = round(min(rounds) / plain, 2)
    benchmark.extra_info["picture, plain assessment, ms"] = round(1e3 * min(rounds), 1), round(1e3 * plain, 1)
    sys.stderr.write(f"\n{benchmark.name}: {benchmark.extra_info}\n")
    assert times <= MOST_OF_AN_ASSESSMENT


@pytest.mark.parametrize("lane", [STAGED, PASSIVE])
def bench_edit_in_assessments(benchmark, make_window, lane):  # noqa: F811
    """A run's length is changed: processor time and waiting until every pane is painted with it."""
    plain = plain_s(lane)
    window = make_window(demo_board())
    window.state.set_lane(lane)
    idle(window)
    fresh: list[bool] = []
    paints = pane_paints(window)
    window.computing.view_ready.connect(lambda *_: (fresh.append(True), paints.expect()))
    at = next(number for number, one in enumerate(path_of(window.document.board, lane)) if isinstance(one, Run))
    effort, waited = [], []
    for turn in range(22):
        idle(window)
        fresh.clear()
        began, started = spent_s(window), time.perf_counter()
        planned = PathEdits(window.document.board, lane, (lane,)).set_length(at, 0.02 + 1e-4 * (turn + 1))
        assert window.document.apply(planned.name, planned.edit)
        wait(lambda: bool(fresh) and not paints.left)
        if turn > 5:
            effort.append(spent_s(window) - began)
            waited.append(time.perf_counter() - started)
        else:
            wait(lambda: window.sketching.worker is None or window.sketching.awake)
    benchmark.pedantic(lambda: None, rounds=1)
    p95 = int(0.95 * (len(waited) - 1))
    told = {
        "effort over a plain assessment": round(statistics.median(effort) / plain, 2),
        "waiting over it, median": round(statistics.median(waited) / plain, 2),
        "waiting over it, p95": round(sorted(waited)[p95] / plain, 2),
        "effort, waiting, plain assessment, ms": [
            round(1e3 * one, 1) for one in (statistics.median(effort), statistics.median(waited), plain)
        ],
    }
    benchmark.extra_info.update(told)
    sys.stderr.write(f"\n{benchmark.name}: {told}\n")
    assert told["effort over a plain assessment"] <= MOST_OF_AN_ASSESSMENT


def bench_first_paint_in_imports(benchmark, tmp_path):
    """From the start of the process to the demo's curves in all panes, over the bare imports, both with bytecode."""
    home = {name: str(tmp_path) for name in ("HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_CACHE_HOME")}
    home["OPENBLAS_NUM_THREADS"] = "1"  # as `link-margin desk` starts it
    everything = {name: value for name, value in {**os.environ, **home}.items() if name != "PYTHONDONTWRITEBYTECODE"}
    told: dict[str, list[tuple[float, float]]] = {"bare": [], "curves": [], "window": []}
    for _ in range(6):
        watch = "import time; {}; print({{'curves': [time.monotonic() - BEGAN, time.process_time()]}})"
        for what, command in (
            ("bare", ["-c", watch.replace("BEGAN", str(time.monotonic())).format(BARE_IMPORTS)]),
            ("curves", ["-m", "tests.bench.bench_window_child", str(time.monotonic())]),
        ):
            if what == "curves":
                command[-1] = str(time.monotonic())
            else:
                command[-1] = watch.replace("BEGAN", str(time.monotonic())).format(BARE_IMPORTS)
            run = subprocess.run(
                [sys.executable, *command], env=everything, cwd=ROOT, capture_output=True, text=True,
                check=True,
            )  # fmt: skip
            told[what].append(tuple(eval(run.stdout)["curves"]))
    benchmark.pedantic(lambda: None, rounds=1)
    least = {what: (min(one[0] for one in seen), min(one[1] for one in seen)) for what, seen in told.items() if seen}
    found = {
        "waiting": round(least["curves"][0] / least["bare"][0], 2),
        "processor": round(least["curves"][1] / least["bare"][1], 2),
        "bare s": least["bare"],
    }
    sys.stderr.write(f"\n{benchmark.name}: {found}\n")
    benchmark.extra_info.update(found)
