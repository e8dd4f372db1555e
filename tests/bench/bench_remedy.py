"""What a search for remedies costs: three failing lanes of the demo, settings and parts allowed, in assessments' time.

``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_remedy.py``. The unit is one of these lanes assessed as
the search assesses it, by the line code, with nothing kept, measured before and after in the same run: the least of
each lane's times, and their mean. So many of these is all that the search may take, by processor time and not only by
count.
"""

import time

import pytest

pytest.importorskip("pytest_benchmark")
pytestmark = pytest.mark.filterwarnings("default")

from workbench.board.reading import load_board  # noqa: E402
from workbench.engine.assess import assess_board  # noqa: E402
from workbench.resources import project  # noqa: E402
from workbench.studies.pool.jobs import Basis  # noqa: E402
from workbench.studies.pool.running import Effort  # noqa: E402
from workbench.studies.remedies.moves import PARTS, SETTINGS  # noqa: E402
from workbench.studies.remedies.search import remedy_study  # noqa: E402

MOST = 400
LANES = ("RX13", "RX14", "RX15")
ROUNDS = 3


def plain_s(board, lane):
    """Processor time of one lane's assessment from nothing, the least of several, s."""
    least = float("inf")
    for _ in range(ROUNDS):
        began = time.process_time()
        assess_board(board, sha256="", lanes=(lane,), threads=1)
        least = min(least, time.process_time() - began)
    return least


def bench_three_failing_lanes_of_the_demo(benchmark):
    """RX13 to RX15 of the correlator shelf, on one process."""
    board = load_board(project("correlator-shelf.board.json")).board
    before = [plain_s(board, lane) for lane in LANES]
    found, spent = [], []

    def study():
        began = time.process_time()
        found.append(remedy_study(Basis(board=board), lanes=LANES, allow=(SETTINGS, PARTS), effort=Effort(workers=1)))
        spent.append(time.process_time() - began)

    benchmark.pedantic(study, rounds=1)
    after = [plain_s(board, lane) for lane in LANES]
    unit_s = sum(map(min, before, after)) / len(LANES)
    (answer,), (spent_s,) = found, spent
    assert all(one.chosen is not None for one in answer.lanes)
    benchmark.extra_info["counted assessments"] = answer.made.assessments
    benchmark.extra_info["plain assessment, ms"] = round(1e3 * unit_s, 1)
    benchmark.extra_info["assessments' worth of time"] = round(spent_s / unit_s, 1)
    assert spent_s <= MOST * unit_s
