"""What whole commands cost: processor time of `link-margin` over that of ``assess --independent`` of the same board.

``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_whole.py``. Every command runs in a process of its own,
from a cold start with bytecode compiled, in turns with the one that it is measured by; processes that it starts count
with it, and the least of several rounds does.
"""

import os
import subprocess
import sys
from pathlib import Path

import pytest

pytest.importorskip("pytest_benchmark")
pytestmark = [
    pytest.mark.filterwarnings("default"),
    pytest.mark.skipif(not hasattr(os, "wait4"), reason="a command's processor time is asked as Unix gives it"),
]

from msgspec.structs import replace  # noqa: E402

from workbench.board.model import Board  # noqa: E402
from workbench.board.reading import load_board  # noqa: E402
from workbench.board.writing import save_board  # noqa: E402
from workbench.resources import project  # noqa: E402

ROOT = Path(__file__).parents[2]
SHELF = project("correlator-shelf.board.json")
MOST_COLD, MOST_REPORT, MOST_OF_FOUR_TIMES_THE_LANES = 2.0, 8.0, 4.2


def spent_s(*words: str | Path) -> float:
    """Processor time of one run of the command and of all processes that it starts, s."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    command = [sys.executable, "-m", "workbench", *map(str, words)]
    run = subprocess.Popen(
        command, cwd=ROOT, env={**env, "QT_QPA_PLATFORM": "offscreen"}, stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )  # fmt: skip
    _, status, used = os.wait4(run.pid, 0)
    assert os.waitstatus_to_exitcode(status) in (0, 1)  # 1: a lane does not pass
    return used.ru_utime + used.ru_stime


def least_s(commands: dict[str, tuple[str | Path, ...]], rounds: int) -> dict[str, float]:
    """The least processor time of each of some commands, run in turns, s."""
    spent: dict[str, list[float]] = {what: [] for what in commands}
    for _ in range(rounds):
        for what, words in commands.items():
            spent[what].append(spent_s(*words))
    return {what: min(times) for what, times in spent.items()}


def tell(benchmark, least: dict[str, float], over: str) -> dict[str, float]:
    """Write down what was measured, in units of one of the commands."""
    benchmark.pedantic(lambda: None, rounds=1)
    times = {what: round(seconds / least[over], 2) for what, seconds in least.items()}
    benchmark.extra_info.update(times)
    seconds = {what: round(one, 2) for what, one in least.items()}
    sys.stderr.write(f"\n{benchmark.name}: {times} (s of processor time: {seconds})\n")
    return times


def bench_cold_and_report(benchmark, tmp_path):
    """The demo shelf: assessed by its line code, and reported with everything."""
    times = tell(benchmark, least_s({
        "independent": ("assess", SHELF, "--independent"),
        "coded": ("assess", SHELF),
        "report": ("report", SHELF, "-o", tmp_path / "report.html"),
    }, rounds=3), "independent")  # fmt: skip
    assert times["coded"] <= MOST_COLD
    assert times["report"] <= MOST_REPORT


def bench_four_times_the_lanes(benchmark, tmp_path):
    """A board of the demo's sixteen lanes, and one that has each of them four times over."""
    board = load_board(SHELF).board
    for count in (1, 4):
        save_board(repeated(board, count), tmp_path / f"{count}.board.json")
    commands = {str(count): ("assess", tmp_path / f"{count}.board.json") for count in (1, 4)}
    times = tell(benchmark, least_s(commands, rounds=2), "1")
    assert times["4"] <= MOST_OF_FOUR_TIMES_THE_LANES


def repeated(board: Board, count: int) -> Board:
    """The board so many times over: devices, bundles and lanes with names of their own."""
    boards = [board, *(_renamed(board, f" {number}") for number in range(2, count + 1))]
    return replace(
        board,
        devices=tuple(device for one in boards for device in one.devices),
        bundles=tuple(bundle for one in boards for bundle in one.bundles),
        lanes=tuple(lane for one in boards for lane in one.lanes),
    )


def _renamed(board: Board, mark: str) -> Board:
    def marked(name: str | None) -> str | None:
        return None if name is None else name + mark

    def along(lane):
        # No two lanes are alike, else one would be known from the other.
        return tuple(
            replace(one, **{
                key: marked(getattr(one, key)) for key in ("bundle", "device") if hasattr(one, key)
            }, **({"length_m": one.length_m * (1.0 + 0.01 * len(mark) + 0.003 * int(mark))}
                  if hasattr(one, "length_m") else {}))
            for one in lane.path
        )  # fmt: skip

    return replace(
        board,
        devices=tuple(replace(device, ref=device.ref + mark) for device in board.devices),
        bundles=tuple(
            replace(one, name=one.name + mark, order=tuple(map(marked, one.order)),
                    against=tuple(map(marked, one.against)))
            for one in board.bundles
        ),
        lanes=tuple(replace(lane, name=lane.name + mark, path=along(lane)) for lane in board.lanes),
    )  # fmt: skip
