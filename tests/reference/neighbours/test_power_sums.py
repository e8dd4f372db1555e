"""Power sums and integrated crosstalk noise against closed forms and the values that follow from the formula."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, trace
from tests.reference.neighbours.test_neighbours import shared
from workbench.board.model import Bundle
from workbench.engine.lane.path import plan_of
from workbench.engine.memo import Memo
from workbench.engine.verdict.power_sums import AggressorDriver, crosstalk_noise_v, power_sums, standard_axis
from workbench.parts.lines.coupling import LevelCoupling

STEP_HZ = 10e6
CLAUSE_85 = AggressorDriver(0.6, 24e-12, 10.3125e9, receiver_hz=7.5e9, to_hz=10e9)
"""From memory: the constants of 40GBASE-CR4. The values below follow from the formula; no test rests on a limit."""


def of_levels(level_db: np.ndarray, driver: AggressorDriver) -> float:
    f_hz = STEP_HZ * np.arange(1, 4001)
    return crosstalk_noise_v(f_hz, 10.0 ** (-level_db(f_hz) / 20.0), driver)


def test_the_noise_of_flat_crosstalk_is_what_the_formula_gives():
    # Worked out apart, in 10 MHz steps: 5.493 mV for 40 dB, 3.462 mV for 40 dB - 20 log10(f / 5 GHz) of loss.
    assert of_levels(lambda f: 40.0 + 0.0 * f, CLAUSE_85) == pytest.approx(5.493e-3, rel=2e-4)
    assert of_levels(lambda f: 40.0 - 20.0 * np.log10(f / 5e9), CLAUSE_85) == pytest.approx(3.462e-3, rel=2e-4)


def test_without_any_loss_or_filter_the_noise_is_the_random_signals_own_power():
    wide = AggressorDriver(0.6, 0.0, 10.3125e9, receiver_hz=1e15, to_hz=500e9)
    f_hz = STEP_HZ * np.arange(1, 50001)
    assert crosstalk_noise_v(f_hz, np.ones(f_hz.size), wide) == pytest.approx(0.9946 * 0.6, rel=1e-3)


def sums_of(board, name="B"):
    plan = plan_of(board, next(lane for lane in board.lanes if lane.name == name))
    return power_sums(Memo(), plan, 0, standard_axis(plan.profile.ui_s))


def lossless(lanes: int, *, length_m: float = 0.2, next_db: float = 40.0, fext_db: float = 200.0, **bundle):
    """Equal lossless lanes side by side, all matched."""
    one = lane_board((trace(length_m),))
    level = LevelCoupling(name="near", next_db=next_db, fext_db=fext_db, frequency_hz=2.5e9, length_m=length_m)
    (run,) = one.lanes[0].path
    names = "ABC"[:lanes]
    rows = tuple(replace(one.lanes[0], name=name, path=(replace(run, bundle="b"),)) for name in names)
    return replace(
        one, lanes=rows, catalogue=replace(one.catalogue, couplings=(level,)),
        bundles=(Bundle(name="b", coupling="near", **bundle),),
    )  # fmt: skip


def test_near_end_crosstalk_over_frequency_is_the_closed_form_and_two_sources_are_3_db_more():
    """NEXT = Kb (1 - exp(-2 j w T)) of a lossless matched line (public course pages on coupled lines)."""
    two = sums_of(lossless(2, against=("A",)))
    assert two.far_db is None
    delay_s = 0.2 * np.sqrt(3.9) / 299792458.0
    closed = 1e-2 * np.abs(1.0 - np.exp(-4j * np.pi * two.f_hz * delay_s))
    assert 10.0 ** (-two.near_db / 20.0) == pytest.approx(closed, abs=2e-4)
    three = sums_of(lossless(3, against=("A", "C")))
    assert two.near_db - three.near_db == pytest.approx(np.full(two.f_hz.size, 20.0 * np.log10(2.0) / 2.0), abs=1e-6)


def test_far_end_crosstalk_is_the_level_that_was_stated_and_rises_with_frequency():
    found = sums_of(lossless(2, fext_db=34.0, next_db=200.0))
    assert found.near_db is None
    assert found.at(found.far_db, 2.5e9) == pytest.approx(34.0, abs=0.05)
    assert found.at(found.far_db, 1.25e9) == pytest.approx(34.0 + 20.0 * np.log10(2.0), abs=0.05)


def test_the_ratio_is_crosstalk_less_the_lanes_own_loss():
    found = sums_of(shared(fext_db=34.0, next_db=40.0))
    assert found.loss_db[-1] > 2.0
    assert found.ratio_db == pytest.approx(found.far_db - found.loss_db)


def test_a_lane_without_neighbours_has_no_power_sums():
    board = lossless(1)
    plan = plan_of(board, board.lanes[0])
    assert power_sums(Memo(), plan, 0, standard_axis(plan.profile.ui_s)) is None
