"""What other lanes add to an eye, against sums over all their symbols; and on boards, from bundle to verdict.

With Gaussian noise the tail with a few aggressors' cursors is a mean of Q functions over all their symbols, exactly.
"""

from itertools import product

import numpy as np
import pytest
from msgspec.structs import replace
from scipy.special import log_ndtr, logsumexp

from tests.lanes import assessed, lane_board, trace
from workbench.board.model import Board, Bundle, Stage
from workbench.engine.assess import assess_board
from workbench.engine.lane.crosstalk import coupled
from workbench.engine.lane.grid import Grid
from workbench.engine.lane.path import plan_of
from workbench.engine.lane.spans import flight_time_s
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.density import LOG_FLOOR, Tail
from workbench.engine.tails.strangers import density_of, laid_over
from workbench.parts.lines.coupling import LevelCoupling

NOISE_V, MAIN_V = 4e-3, 0.2
CURSORS = (np.array([0.021, 0.0207, 0.004]), np.array([0.0025, 0.0016, -0.0005, 0.0001]))


def gaussian_tail() -> Tail:
    z = np.linspace(-12.5, 6.0, 2001)
    log_p = log_ndtr(z)
    return Tail((MAIN_V + NOISE_V * z)[None], np.clip(log_p, LOG_FLOOR, 0.0)[None])


def exact_log_p(v: float) -> float:
    cursors = np.concatenate(CURSORS)
    sums = np.array([np.dot(signs, cursors) for signs in product((-1.0, 1.0), repeat=cursors.size)])
    return float(logsumexp(log_ndtr((v - MAIN_V - sums) / NOISE_V)) - np.log(sums.size))


@pytest.mark.parametrize("error_ratio", [1e-3, 1e-6, 1e-9, 1e-12])
def test_the_level_of_an_error_ratio_is_that_of_the_sum_over_all_symbols(error_ratio):
    density = density_of([(cursors, (-1.0, 1.0)) for cursors in CURSORS])
    tail = laid_over(gaussian_tail(), density)
    level = float(np.interp(np.sqrt(-np.log(error_ratio)), np.sqrt(-tail.log_p[0])[::-1], tail.v[0][::-1]))
    low, high = 0.0, MAIN_V
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if exact_log_p(middle) < np.log(error_ratio) else (low, middle)
    assert level == pytest.approx(low, abs=0.25e-3)  # of 51 mV that the aggressors can reach


def test_a_density_is_whole_symmetric_and_reaches_as_far_as_the_sum():
    density = density_of([(cursors, (-1.0, 1.0)) for cursors in CURSORS])
    assert density.chance.sum() == pytest.approx(1.0)
    assert density.chance == pytest.approx(density.chance[::-1])
    assert float(density.level_v[-1]) == pytest.approx(sum(float(np.abs(one).sum()) for one in CURSORS), rel=0.05)
    spread = float(density.chance @ density.level_v**2)
    assert spread == pytest.approx(sum(float(np.sum(one**2)) for one in CURSORS), rel=0.05)


def test_other_levels_are_taken_as_they_are():
    four = density_of([(np.array([0.03]), (-1.0, -1 / 3, 1 / 3, 1.0))])
    assert float(four.chance @ four.level_v**2) == pytest.approx(0.03**2 * 5.0 / 9.0, rel=0.05)


def test_nothing_added_is_no_density():
    assert density_of([]) is None
    assert density_of([(np.zeros(3), (-1.0, 1.0))]) is None


# --- boards


def shared(*, fext_db: float = 34.0, next_db: float = 40.0, **bundle) -> Board:
    """Three equal lanes whose whole runs lie beside one another."""
    one = lane_board((trace(0.2, "lossy"),), receiver={"noise_v": 2e-3})
    level = LevelCoupling(name="near", next_db=next_db, fext_db=fext_db, frequency_hz=2.5e9, length_m=0.2)
    (run,) = one.lanes[0].path
    lanes = tuple(replace(one.lanes[0], name=name, path=(replace(run, bundle="b"),)) for name in ("A", "B", "C"))
    return replace(
        one, lanes=lanes, catalogue=replace(one.catalogue, couplings=(level,)),
        bundles=(Bundle(name="b", coupling="near", **bundle),),
    )  # fmt: skip


def judged(board: Board, symbols: Symbols = Symbols.CODED):
    return {lane.lane: lane for lane in assess_board(board, sha256="", symbols=symbols).lanes}


@pytest.mark.parametrize("symbols", list(Symbols))
def test_neighbours_take_height_and_the_middle_lane_has_two(symbols):
    found = judged(shared(), symbols)
    alone = assessed(lane_board((trace(0.2, "lossy"),), receiver={"noise_v": 2e-3}))
    assert [len(found[name].crosstalk.aggressors) for name in "ABC"] == [1, 2, 1]
    assert found["A"].eye.height_v > found["B"].eye.height_v
    for lane in found.values():
        assert lane.crosstalk.height_v_without == pytest.approx(alone.eye.height_v, abs=2e-3)
        assert lane.crosstalk.height_v_without - lane.eye.height_v > 0.0
        # Bounded: never more than twice what all of them can reach.
        assert lane.crosstalk.height_v_without - lane.eye.height_v < 2.0 * lane.crosstalk.peak_v
    assert found["B"].crosstalk.aggressors[0].height_cost_v > 0.0


def test_the_order_across_the_board_decides_who_is_beside_whom():
    found = judged(shared(order=("B", "A", "C")))
    assert {one.lane for one in found["A"].crosstalk.aggressors} == {"B", "C"}
    assert {one.lane for one in found["B"].crosstalk.aggressors} == {"A"}


def test_an_aggressor_that_runs_against_brings_its_near_end():
    along, against = (judged(shared(fext_db=200.0, against=names))["A"].crosstalk for names in ((), ("B",)))
    assert along.peak_v < 0.1 * against.peak_v
    # The near end saturates at Kb of the aggressor: 1 % of its swing, up and down again.
    assert against.peak_v == pytest.approx(0.01, rel=0.5)


def test_another_clock_is_a_little_milder_than_the_worst_phase():
    worst, other = (judged(shared(alignment=way))["B"].eye.height_v for way in ("worst", "asynchronous"))
    assert other > worst
    assert other - worst < 0.02


def test_a_board_without_bundles_says_nothing_of_neighbours():
    assert assessed(lane_board((trace(0.2),))).crosstalk is None


# --- where runs lie


def cut_in_two(board: Board, name: str, first_m: float) -> Board:
    """One lane's run as two, one after the other in the same bundle."""
    lanes = tuple(
        replace(lane, path=(replace(lane.path[0], length_m=first_m), replace(lane.path[0], length_m=0.2 - first_m)))
        if lane.name == name else lane
        for lane in board.lanes
    )  # fmt: skip
    return replace(board, lanes=lanes)


@pytest.mark.parametrize("against", [(), ("A",)])
@pytest.mark.parametrize("name", ["A", "B"])
def test_a_run_cut_in_two_adds_what_the_whole_one_does(name, against):
    board = shared(against=against)
    board = replace(board, lanes=board.lanes[:2])
    plans = [plan_of(one, one.lanes[1]) for one in (board, cut_in_two(board, name, 0.07))]
    grid = Grid(plans[0].profile.ui_s, 64, 200)
    whole, parts = (
        sum(coupled(Memo(), plan.spans[0], None, near, grid) * flown(plan, near, grid) for near in plan.neighbours)
        for plan in plans
    )
    assert [len(plan.neighbours) for plan in plans] == [1, 2]
    assert parts == pytest.approx(whole, abs=2e-3 * np.abs(whole).max())


def flown(plan, near, grid) -> np.ndarray:
    """The delay that `coupled` takes out: up to the aggressor's run, and after the lane's own."""
    memo = Memo()
    to_s = flight_time_s(memo, near.aggressor.spans[0], grid, near.aggressor_element)
    whole_s = flight_time_s(memo, plan.spans[0], grid)
    from_s = whole_s - flight_time_s(memo, plan.spans[0], grid, near.element + 1)
    return np.exp(-2j * np.pi * grid.f_hz * (to_s + from_s))


# --- before a limiting stage


def conditioned(fext_db: float, **bundle) -> Board:
    """Two lanes side by side before a limiting stage each."""
    board = shared(fext_db=fext_db, **bundle)
    board = replace(board, devices=(replace(board.devices[0], part="limiting"),))
    lanes = tuple(
        replace(lane, path=(*lane.path, Stage(device="U1", channel=n), trace(0.4, "lossy")))
        for n, lane in enumerate(board.lanes[:2], start=1)
    )
    return replace(board, lanes=lanes)


def test_what_hardly_adds_anything_before_a_limiting_stage_leaves_its_figures_as_they_are():
    near, alone = (judged(conditioned(fext_db))["A"] for fext_db in (120.0, 200.0))
    assert near.eye.height_v == pytest.approx(alone.eye.height_v, abs=1e-5)
    assert near.eye.width_ui == pytest.approx(alone.eye.width_ui, abs=1e-4)


def test_neighbours_before_a_limiting_stage_cost_what_the_eye_loses_by_them():
    near, alone = (judged(conditioned(fext_db, next_db=200.0))["A"] for fext_db in (30.0, 200.0))
    lost_v = alone.eye.height_v - near.eye.height_v
    assert lost_v > 2e-3
    (worst,) = near.crosstalk.aggressors
    assert (worst.lane, worst.at) == ("B", "U1")
    assert near.crosstalk.height_v_without == pytest.approx(alone.eye.height_v, abs=0.35 * lost_v)
    assert worst.height_cost_v == pytest.approx(near.crosstalk.height_v_without - near.eye.height_v)
