"""How fast the engine is, as medians and as a ratio to the obvious general-purpose way in the same run.

Run apart from the tests: ``python -m pytest -c tests/bench/pytest.ini tests/bench``. Nothing is kept from one round to
the next unless the benchmark says so.
"""

import resource
import statistics
import subprocess
import sys
import time

import pytest

pytest.importorskip("pytest_benchmark")
pytestmark = pytest.mark.filterwarnings("default")

from tests.bench import boards, general_purpose  # noqa: E402
from workbench.board.index import Index  # noqa: E402
from workbench.board.library import profile_of  # noqa: E402
from workbench.board.reading import read_board  # noqa: E402
from workbench.board.writing import dump_board  # noqa: E402
from workbench.engine.assess import assess_board  # noqa: E402
from workbench.engine.lane.lane import observe  # noqa: E402
from workbench.engine.lane.path import plan_lane  # noqa: E402
from workbench.engine.lane.probe import resolve_probe  # noqa: E402
from workbench.engine.memo import Memo  # noqa: E402
from workbench.engine.tails.eye import EyeReach  # noqa: E402
from workbench.engine.views import view_lane  # noqa: E402


@pytest.mark.parametrize("lanes", [1, 16, 64])
def bench_file_to_verdict(benchmark, lanes):
    """From the file's bytes to the verdict, nothing known before."""
    data = dump_board(boards.conditioned(lanes))

    def run():
        loaded = read_board(data)
        return assess_board(loaded.board, sha256=loaded.sha256)

    found = benchmark.pedantic(run, rounds=15 if lanes < 64 else 5, warmup_rounds=1)
    assert len(found.lanes) == lanes
    benchmark.extra_info["peak MiB of this process"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def bench_one_element_changed(benchmark):
    """One lane again after one of its elements changed, the rest known."""
    board, memo = boards.conditioned(16), Memo()
    assess_board(board, sha256="", memo=memo)
    lengths = iter(range(1, 1000))

    def setup():
        changed = boards.with_last_run(board, 0, 0.30 + 1e-4 * next(lengths))
        return (changed,), {}

    def run(changed):
        return assess_board(changed, sha256="", memo=memo, lanes=("D0",))

    benchmark.pedantic(run, setup=setup, rounds=40)


FRAME_S = 1.0 / 30.0


@pytest.mark.parametrize("reach", [EyeReach.PICTURE, EyeReach.ALL])
@pytest.mark.parametrize("part", ["passive", "linear", "limiting"])
def bench_picture_of_a_dragged_run(benchmark, part, reach):
    """All curves of a lane while its first run is dragged, in frames of 1/30 s; the whole picture follows at rest."""
    memo, lengths = Memo(), iter(range(1, 1000))

    def setup():
        plan = boards.dragged(part, 0.55 + 1e-5 * next(lengths))
        return (plan, resolve_probe(plan, "receiver")), {}

    def run(plan, probe):
        return view_lane(memo, plan, probe, 1e-12, reach)

    benchmark.pedantic(run, setup=setup, rounds=20, warmup_rounds=2)
    benchmark.extra_info["frames"] = round(statistics.median(benchmark.stats.stats.data) / FRAME_S, 2)


def bench_ratio_to_general_purpose(benchmark):
    """The same eye height by scikit-rf and convolution of probabilities; the answers have to agree."""
    board = boards.passive_quiet()
    plan = plan_lane(Index(board), board.lanes[0], profile_of(board, board.profile))
    probe = resolve_probe(plan, "receiver")

    def ours():
        return observe(Memo(), plan, probe, 1e-12)

    seen = benchmark.pedantic(ours, rounds=20, warmup_rounds=1)
    grid = seen.received.waves.grid
    started = time.perf_counter()
    theirs_v = general_purpose.eye_height_v(plan, grid, 1e-12)
    theirs_s = time.perf_counter() - started
    ours_v = 2.0 * float(observe(Memo(), plan, probe, 1e-12, reach=EyeReach.ALL).eye.levels_v(1e-12).max())
    assert ours_v == pytest.approx(theirs_v, abs=4e-4)
    benchmark.extra_info["times faster"] = round(theirs_s / statistics.median(benchmark.stats.stats.data), 1)
    benchmark.extra_info["heights V"] = (round(ours_v, 5), round(theirs_v, 5))


@pytest.mark.parametrize("way", ["plain", "coded"])
def bench_cold_start(benchmark, tmp_path, way):
    """`link-margin assess` on a 16-lane board in a fresh process, imports included; coded: the line code's eye too."""
    file = tmp_path / "shelf.board.json"
    file.write_bytes(dump_board(boards.conditioned(16)))
    command = [sys.executable, "-m", "workbench", "assess", str(file), *(["--independent"] if way == "plain" else [])]
    benchmark.pedantic(lambda: subprocess.run(command, capture_output=True, check=False), rounds=5, warmup_rounds=1)
