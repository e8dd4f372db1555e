"""What neighbours cost: an assessment with four aggressors a lane over the one without, processor time in one run.

``OPENBLAS_NUM_THREADS=1 python -m pytest -c tests/bench/pytest.ini tests/bench/bench_neighbours.py``.
"""

import statistics
import time

import pytest

pytest.importorskip("pytest_benchmark")
pytestmark = pytest.mark.filterwarnings("default")

from msgspec.structs import replace  # noqa: E402

from tests.bench.boards import outer_lanes  # noqa: E402
from workbench.board.edits.bundles import lay_side_by_side  # noqa: E402
from workbench.board.model import Board  # noqa: E402
from workbench.board.reading import load_board  # noqa: E402
from workbench.engine.assess import assess_board  # noqa: E402
from workbench.engine.lane.path import LanePlan, plan_of  # noqa: E402
from workbench.engine.lane.probe import resolve_probe  # noqa: E402
from workbench.engine.memo import Memo  # noqa: E402
from workbench.engine.symbols import Symbols  # noqa: E402
from workbench.engine.tails.eye import EyeReach  # noqa: E402
from workbench.engine.views import view_lane  # noqa: E402
from workbench.resources import project  # noqa: E402

ROUNDS, AT_MOST = 8, 1.3
INNER = ("L2", "L3", "L4", "L5")
"""Of eight lanes side by side those that have two neighbours to either side."""


def taken_s(board: Board, symbols: Symbols, lanes: tuple[str, ...] | None) -> float:
    """Processor time of a whole assessment of some lanes, s, nothing kept but cross-sections."""
    begun = time.process_time()
    assess_board(board, sha256="", lanes=lanes, symbols=symbols, memo=Memo(), threads=1)
    return time.process_time() - begun


@pytest.mark.parametrize("part", ["none", "linear", "limiting"])
@pytest.mark.parametrize("symbols", list(Symbols), ids=lambda one: one.value)
@pytest.mark.parametrize("lanes", [INNER, None], ids=["four lanes", "whole board"])
def bench_four_aggressors_a_lane(benchmark, part, symbols, lanes):
    """At most 1.3 times the assessment without: of the inner lanes alone, and of the board, as users assess it.

    On the board every aggressor is assessed itself, so that its responses are there; of its eight lanes the two
    outermost on either side have two or three aggressors.
    """
    alone = outer_lanes(8, part)
    line = alone.lanes[0].path[0].line
    beside = lay_side_by_side(alone, line, gap_m=6e-4)
    beside = replace(beside, bundles=tuple(replace(one, reach=2) for one in beside.bundles))
    counted = {len({one.aggressor.name for one in plan_of(beside, lane).neighbours}) for lane in beside.lanes[2:6]}
    assert counted == {4}
    both = [(taken_s(alone, symbols, lanes), taken_s(beside, symbols, lanes)) for _ in range(ROUNDS)]
    without_s, with_s = (min(column) for column in zip(*both[1:], strict=True))  # the first solves the sections
    benchmark.pedantic(lambda: None, rounds=1)
    benchmark.extra_info.update({"without s": round(without_s, 3), "over it": round(with_s / without_s, 2)})
    assert with_s <= AT_MOST * without_s


PICTURES = 40


def bench_pictures_of_a_gap_that_is_dragged(benchmark):
    """Of a lane of the demo with another beside it, at a new gap each: plan and picture over the lane's alone."""
    board = load_board(project("correlator-shelf.board.json")).board
    alone_s, beside_s = (median_s(board, alone=alone) for alone in (True, False))
    benchmark.pedantic(lambda: None, rounds=1)
    benchmark.extra_info.update(
        {"processor ms a picture": round(1e3 * beside_s, 1), "over it alone": round(beside_s / alone_s, 2)}
    )
    assert beside_s <= AT_MOST * alone_s


def median_s(board: Board, *, alone: bool) -> float:
    """Processor time of a picture of the moment, s: of a lane that gets longer by itself, or whose gap gets wider."""
    memo, taken = Memo(), []
    for number in range(PICTURES + 4):
        moved = with_gap(board, 4e-4 + 1e-5 * number)
        lane = next(one for one in moved.lanes if one.name == "RX2")
        begun = time.process_time()
        plan = plan_of(moved, lane, sketch=True)
        if alone:
            plan = longer(replace(plan, neighbours=()), 1.0 + 1e-4 * number)
        view_lane(memo, plan, resolve_probe(plan, "receiver"), plan.profile.ber.value, EyeReach.PICTURE)
        taken.append(time.process_time() - begun)
    return statistics.median(taken[4:])


def longer(plan: LanePlan, factor: float) -> LanePlan:
    """The lane with all its runs longer."""
    spans = (
        replace(span, elements=tuple(replace(e, length_m=e.length_m and factor * e.length_m) for e in span.elements))
        for span in plan.spans
    )
    return replace(plan, spans=tuple(spans))


def with_gap(board: Board, gap_m: float) -> Board:
    """The board with every gap between neighbours set."""
    couplings = tuple(replace(one, gap_m=gap_m) for one in board.catalogue.couplings)
    return replace(board, catalogue=replace(board.catalogue, couplings=couplings))
