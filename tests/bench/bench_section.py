"""What solving a cross-section costs, as a ratio to a dense LAPACK solve of as many unknowns in the same run.

Both on one thread of the linear algebra library: ``OPENBLAS_NUM_THREADS=1 python -m pytest -c tests/bench/pytest.ini
tests/bench/bench_section.py``. Processor time, least of several.
"""

import time

import numpy as np
import pytest

pytest.importorskip("pytest_benchmark")
pytestmark = pytest.mark.filterwarnings("default")

from tests.parts.section.samples import INNER, MASKED, OUTER, TWO_RESINS, replace  # noqa: E402
from workbench.parts.section.solving import solve  # noqa: E402

SECTIONS = {
    "outer, 1 pair": OUTER,
    "masked, 1 pair": MASKED,
    "outer, 2 pairs": replace(OUTER, pairs=2, between_m=4e-4),
    "masked, 2 pairs": replace(MASKED, pairs=2, between_m=4e-4),
    "inner, 2 pairs": replace(INNER, pairs=2, between_m=4e-4),
    "two resins, 2 pairs": replace(TWO_RESINS, pairs=2, between_m=4e-4),
    "two resins, 4 pairs": replace(TWO_RESINS, pairs=4, between_m=4e-4),
    "masked, 4 pairs": replace(MASKED, pairs=4, between_m=4e-4),
}
AT_MOST, LARGE = 4.0, 350
"""The price asked for, and from how many unknowns on: below, a dense solve takes less than the calls to numpy."""


def least_s(work, rounds=9) -> float:
    taken = []
    for _ in range(rounds):
        begun = time.process_time()
        work()
        taken.append(time.process_time() - begun)
    return min(taken)


@pytest.mark.parametrize("name", SECTIONS)
def bench_solving_over_a_dense_solve_of_its_size(benchmark, name):
    """At most four times, from 350 unknowns on."""
    section = SECTIONS[name]
    found = benchmark.pedantic(lambda: solve(section), rounds=9, warmup_rounds=1)
    size, signals = found.nodes, found.capacitance.shape[0]
    matrix = np.random.default_rng(1).normal(size=(size, size)) + size * np.eye(size)
    given = matrix[:, :signals].copy()
    ratio = least_s(lambda: solve(section)) / least_s(lambda: np.linalg.solve(matrix, given))
    benchmark.extra_info.update({"unknowns": size, "over a dense solve": round(ratio, 2)})
    if size >= LARGE:
        assert ratio <= AT_MOST
