"""How fast studies are on this machine's cores, and how much two are faster than one.

``python -m pytest -c tests/bench/pytest.ini tests/bench/bench_studies.py``. A study's processes start and end with it:
their start is in the time.
"""

import time

import pytest
from msgspec.structs import replace

pytest.importorskip("pytest_benchmark")
pytestmark = pytest.mark.filterwarnings("default")

from tests.assessor import boards  # noqa: E402

from workbench.parts.conditioners.controls import Settings  # noqa: E402
from workbench.parts.conditioners.linear import GainSetting  # noqa: E402
from workbench.parts.conditioners.zero_pole import EmphasisSetting, EqualizationSetting  # noqa: E402
from workbench.studies.pool.jobs import Basis  # noqa: E402
from workbench.studies.pool.running import Effort  # noqa: E402
from workbench.studies.position import position_study  # noqa: E402
from workbench.studies.settings import settings_study  # noqa: E402
from workbench.studies.variation.tolerances import tolerance_from_text  # noqa: E402
from workbench.studies.variation.yields import yield_study  # noqa: E402


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


def measured(benchmark, study, *, rounds=3):
    """The study on two processes as the benchmark, and once on one for the ratio and the same answer."""
    found = []
    benchmark.pedantic(lambda: found.append(study(Effort(workers=2))), rounds=rounds)
    began = time.perf_counter()
    alone = study(Effort(workers=1))
    alone_s = time.perf_counter() - began
    assert replace(alone, made=found[0].made) == found[0]
    benchmark.extra_info["assessments"] = alone.made.assessments
    benchmark.extra_info["times faster on two"] = round(alone_s / benchmark.stats.stats.min, 2)
    benchmark.extra_info["known already"] = round(found[0].made.shared_ratio, 4)
    return benchmark.stats.stats.min


def bench_settings_of_four_lanes(benchmark):
    """1,536 assessments: under 12 s."""
    basis = Basis(board=many_settings())
    took_s = measured(benchmark, lambda effort: settings_study(basis, ("U0",), effort=effort), rounds=2)
    assert took_s < 12.0


def bench_position_of_four_lanes(benchmark):
    """50 positions by 16 settings for 4 lanes, 3,200 assessments and what tells whether it is needed: under 20 s."""
    basis = Basis(board=many_settings())
    took_s = measured(
        benchmark,
        lambda effort: position_study(
            basis, "U0", from_m=-0.1, to_m=0.15, positions=50, settings="equalization", effort=effort
        ),
        rounds=1,
    )
    assert took_s < 20.0


def bench_yield_of_one_lane(benchmark):
    """2,000 draws of five tolerances on one lane: under 25 s."""
    basis = Basis(board=many_settings())
    tolerances = [
        tolerance_from_text(text)
        for text in ("loss=±10% per layer", "impedance=±10%", "length=±1%", "boost:U0=±0.5 dB", "noise=±20%")
    ]
    took_s = measured(
        benchmark,
        lambda effort: yield_study(basis, tolerances, lanes=("D0",), draws=2000, effort=effort),
        rounds=1,
    )
    assert took_s < 25.0
