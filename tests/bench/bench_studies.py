"""What a study's assessments cost, in plain ones of the same lanes in the same run, and how much two cores are faster.

``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_studies.py``. A study's processes start and end with it:
their start is in the processor time, which is that of all processes together.
"""

import resource
import time

import pytest
from msgspec.structs import replace

pytest.importorskip("pytest_benchmark")
pytestmark = pytest.mark.filterwarnings("default")

from tests.bench import boards  # noqa: E402
from workbench.engine.assess import assess_board  # noqa: E402
from workbench.engine.symbols import Symbols  # noqa: E402
from workbench.parts.conditioners.controls import Settings  # noqa: E402
from workbench.parts.conditioners.linear import GainSetting  # noqa: E402
from workbench.parts.conditioners.zero_pole import EmphasisSetting, EqualizationSetting  # noqa: E402
from workbench.studies.pool.jobs import Basis  # noqa: E402
from workbench.studies.pool.running import Effort  # noqa: E402
from workbench.studies.position import position_study  # noqa: E402
from workbench.studies.settings import settings_study  # noqa: E402
from workbench.studies.variation.tolerances import tolerance_from_text  # noqa: E402
from workbench.studies.variation.yields import yield_study  # noqa: E402

MOST_TIMES = 1.5
"""By the line code, as verdicts are; what is shared pays for that."""


def many_settings():
    """Four lanes through one device of 16 x 4 x 6 positions, whose boost brackets what the lanes lose before it."""
    board = boards.conditioned(4)
    board = replace(board, lanes=tuple(replace(lane, path=_from_afar(lane.path)) for lane in board.lanes))
    part = replace(
        board.catalogue.conditioners[0],
        equalization=tuple(EqualizationSetting(setting=str(n), boost_db=0.6 * n) for n in range(16)),
        swing=tuple(GainSetting(setting=str(n), gain_db=n - 2.0, limit_v=1.2) for n in range(4)),
        emphasis=tuple(EmphasisSetting(setting=str(n), deemphasis_db=1.0 * n, duration_s=2e-10) for n in range(6)),
    )
    device = replace(board.devices[0], settings=Settings(equalization="6", swing="2", emphasis="0"))
    return replace(board, devices=(device,), catalogue=replace(board.catalogue, conditioners=(part,)))


def _from_afar(path):
    return (*path[:2], replace(path[0], length_m=0.3), *path[2:])


def processor_s():
    """Processor time of this process and of those that it has waited for, s."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def plain_s(board):
    """Processor time of one of the board's lanes assessed by independent bits from nothing, the least of several, s."""
    least = float("inf")
    for _ in range(4):
        began = time.process_time()
        assess_board(board, sha256="", symbols=Symbols.INDEPENDENT, threads=1)
        least = min(least, time.process_time() - began)
    return least / len(board.lanes)


def measured(benchmark, basis, study, *, rounds=1):
    """The study on two processes as the benchmark, and once on one for the same answer and the ratios.

    Returns:
        Plain assessments that one of the study's takes.
    """
    found = []
    benchmark.pedantic(lambda: found.append(study(Effort(workers=2))), rounds=rounds)
    began, spent_s = time.perf_counter(), processor_s()
    alone = study(Effort(workers=1))
    alone_s, spent_s = time.perf_counter() - began, processor_s() - spent_s
    assert replace(alone, made=found[0].made) == found[0]
    times = spent_s / alone.made.assessments / plain_s(basis.board)
    benchmark.extra_info["assessments"] = alone.made.assessments
    benchmark.extra_info["plain assessments each"] = round(times, 2)
    benchmark.extra_info["times faster on two"] = round(alone_s / benchmark.stats.stats.min, 2)
    benchmark.extra_info["known already"] = round(found[0].made.shared_ratio, 4)
    return times


def bench_settings_of_four_lanes(benchmark):
    """1,536 assessments, which share what lies before and after the device."""
    basis = Basis(board=many_settings())
    assert measured(benchmark, basis, lambda effort: settings_study(basis, ("U0",), effort=effort)) < MOST_TIMES


def bench_position_of_four_lanes(benchmark):
    """50 positions by 16 settings for 4 lanes, 3,200 assessments and what tells whether it is needed."""
    basis = Basis(board=many_settings())

    def study(effort):
        return position_study(
            basis, "U0", from_m=-0.1, to_m=0.15, positions=50, settings="equalization", effort=effort
        )

    assert measured(benchmark, basis, study) < MOST_TIMES


def bench_yield_of_one_lane(benchmark):
    """2,000 draws of five tolerances on one lane, none of which leaves anything to be shared."""
    basis = Basis(board=many_settings())
    tolerances = [
        tolerance_from_text(text)
        for text in ("loss=±10% per layer", "impedance=±10%", "length=±1%", "boost:U0=±0.5 dB", "noise=±20%")
    ]

    def study(effort):
        return yield_study(basis, tolerances, lanes=("D0",), draws=2000, effort=effort)

    assert measured(benchmark, basis, study) < MOST_TIMES
