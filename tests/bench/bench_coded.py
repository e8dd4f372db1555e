"""What the line code's eye costs: its processor time over that of the independent one of the same lane in the same run.

``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_coded.py``. Nothing is kept from one round to the next;
each ratio is between the least of several rounds, taken in turns, since others may run on the same machine.
"""

import time

import pytest

pytest.importorskip("pytest_benchmark")
pytestmark = pytest.mark.filterwarnings("default")

from msgspec.structs import replace  # noqa: E402

from tests.bench import boards  # noqa: E402
from workbench.board.model import Guard  # noqa: E402
from workbench.board.reading import load_board  # noqa: E402
from workbench.codes.choosing import WORDS, pattern_named  # noqa: E402
from workbench.engine.assess import assess_board, assess_lane  # noqa: E402
from workbench.engine.lane.path import plan_of  # noqa: E402
from workbench.engine.lane.probe import resolve_probe  # noqa: E402
from workbench.engine.memo import Memo  # noqa: E402
from workbench.engine.symbols import Symbols  # noqa: E402
from workbench.engine.tails.eye import EyeReach  # noqa: E402
from workbench.engine.views import view_lane  # noqa: E402
from workbench.resources import project  # noqa: E402

ROUNDS = 4
LANES = ("RX1", "RX9", "RX13")
"""Of the demo shelf: passive and open, after a limiting stage, passive and nearly closed."""
MOST_TIMES = {"assessment": 3.5, EyeReach.PICTURE: 3.0, EyeReach.ALL: 4.0}
"""Three times is what is wanted of each; the rest is what other work on the same machine adds."""
MOST_TIMES_WHOLE_BOARD = 2.5
"""In one process that is running; from a cold start the imports make it less."""


def _times(benchmark, ask):
    """How many times the processor time of independent symbols the line code's takes."""
    spent = {symbols: [] for symbols in Symbols}
    for _ in range(ROUNDS):
        for symbols in Symbols:
            began = time.process_time()
            ask(symbols)
            spent[symbols].append(time.process_time() - began)
    benchmark.pedantic(lambda: ask(Symbols.CODED), rounds=1)
    least = {symbols: min(spent_s) for symbols, spent_s in spent.items()}
    times = least[Symbols.CODED] / least[Symbols.INDEPENDENT]
    benchmark.extra_info["times the independent eye"] = round(times, 2)
    return times


def _shelf():
    return load_board(project("correlator-shelf.board.json")).board


@pytest.mark.parametrize("name", LANES)
def bench_coded_assessment(benchmark, name):
    """Height, width, worst case and verdict of one lane."""
    board = _shelf()
    times = _times(benchmark, lambda symbols: assess_board(board, sha256="", lanes=(name,), symbols=symbols))
    assert times < MOST_TIMES["assessment"]


@pytest.mark.parametrize("reach", [EyeReach.PICTURE, EyeReach.ALL])
@pytest.mark.parametrize("name", LANES)
def bench_coded_picture(benchmark, name, reach):
    """All curves of one lane: those of the moment, and those to 1e-18."""
    board = _shelf()
    plan = plan_of(board, next(lane for lane in board.lanes if lane.name == name))
    probe, ratio = resolve_probe(plan, "receiver"), plan.profile.ber.value
    times = _times(benchmark, lambda symbols: view_lane(Memo(), plan, probe, ratio, reach, symbols=symbols))
    assert times < MOST_TIMES[reach]


@pytest.mark.parametrize("part", ["passive", "linear", "limiting"])
@pytest.mark.parametrize("length_m", [0.3, 0.6])
def bench_coded_short_lane(benchmark, part, length_m):
    """A lane with so few cursors that its independent eye costs next to nothing: told, not judged."""
    plan = boards.dragged(part, length_m)
    plan = replace(plan, profile=replace(plan.profile, coding="8b/10b"))
    _times(benchmark, lambda symbols: assess_lane(Memo(), plan, length_m, Guard(), symbols=symbols))


def bench_coded_board(benchmark):
    """All lanes of the demo shelf."""
    board = _shelf()
    times = _times(benchmark, lambda symbols: assess_board(board, sha256="", symbols=symbols))
    assert times < MOST_TIMES_WHOLE_BOARD


@pytest.mark.parametrize("word", WORDS)
def bench_pattern(benchmark, word):
    """Bits of a pattern; Mb/s in the extra column."""
    count = 2_000_000

    def run():
        return pattern_named(word).stream().take(count)

    assert benchmark.pedantic(run, rounds=3, warmup_rounds=1).size == count
    benchmark.extra_info["Mb/s"] = round(count / benchmark.stats.stats.min / 1e6, 1)
