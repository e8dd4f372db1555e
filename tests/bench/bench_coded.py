"""How long the line code's eye takes, beside the plain one of the same lane in the same run.

``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_coded.py``. The plain assessment is known when the coded
one is asked for, as in the program; its own eye is computed anew in each round.
"""

import time

import pytest

pytest.importorskip("pytest_benchmark")
pytestmark = pytest.mark.filterwarnings("default")

from msgspec.structs import replace  # noqa: E402

from tests.bench import boards  # noqa: E402
from workbench.codes.choosing import WORDS, pattern_named  # noqa: E402
from workbench.codes.machine import eight_ten  # noqa: E402
from workbench.engine.coded.eye import coded_eye  # noqa: E402
from workbench.engine.lane.lane import observe  # noqa: E402
from workbench.engine.lane.probe import resolve_probe  # noqa: E402
from workbench.engine.memo import Memo  # noqa: E402

ALLOWED_S = 1.5
ERROR_RATIO = 1e-12


def _observed(plan):
    return observe(Memo(), plan, resolve_probe(plan, "receiver"), ERROR_RATIO)


@pytest.mark.parametrize("part", ["passive", "linear", "limiting"])
@pytest.mark.parametrize("length_m", [0.3, 0.6])
def bench_coded_eye(benchmark, part, length_m):
    """8b/10b over two runs, without a conditioner and with one of each kind; processor time, since others may run."""
    plan = boards.dragged(part, length_m)
    plan = replace(plan, profile=replace(plan.profile, coding="8b/10b"))
    began = time.process_time()
    observed = _observed(plan)
    plain_s = time.process_time() - began
    machine, spent_s = eight_ten(), []

    def run():
        began = time.process_time()
        coded_eye(observed, machine, ERROR_RATIO)
        spent_s.append(time.process_time() - began)

    benchmark.pedantic(run, rounds=5, warmup_rounds=1)
    benchmark.extra_info["processor s, least"] = round(min(spent_s), 3)
    benchmark.extra_info["times the plain eye"] = round(min(spent_s) / plain_s, 1)
    assert min(spent_s) < ALLOWED_S


@pytest.mark.parametrize("word", WORDS)
def bench_pattern(benchmark, word):
    """Bits of a pattern; Mb/s in the extra column."""
    count = 2_000_000

    def run():
        return pattern_named(word).stream().take(count)

    assert benchmark.pedantic(run, rounds=3, warmup_rounds=1).size == count
    benchmark.extra_info["Mb/s"] = round(count / benchmark.stats.stats.min / 1e6, 1)
