"""Yield over tolerance: a lane whose margin is known in closed form, and statistics against scipy's."""

import math
from statistics import NormalDist

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.lanes import invented_profile, lane_board, trace
from tests.studies.boards import section, with_lanes
from workbench.board.profile import ReceiverLimits, Sourced
from workbench.errors import StudyError
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.variation.statistics import (
    normal_of,
    random_points,
    rank_correlation,
    sobol_points,
)
from workbench.studies.variation.tolerances import tolerance_from_text
from workbench.studies.variation.yields import yield_study

ALONE = Effort(workers=1)
NOISE_V, LIMIT_V, SWING_V = 0.002, 0.9, 0.96
Q_1E12 = NormalDist().inv_cdf(1.0 - 1e-12)


def linear_toy():
    """A lossless matched lane: its height is its swing less twice Q of the noise, so linear in the swing."""
    where = {"source": "invented for tests", "status": "from memory"}
    limits = ReceiverLimits(at="pins", height_v=Sourced(value=LIMIT_V, **where))
    return lane_board((trace(0.02),), receiver={"noise_v": NOISE_V}, profile=invented_profile(limits=limits))


@pytest.mark.campaign
def test_the_yield_of_a_linear_toy_is_its_closed_form():
    # height = swing - 2 Q noise >= limit, swing normal with sigma 10 %/3: Phi of the distance.
    board = linear_toy()
    host = replace(board.catalogue.transmitters[0], swing_v=SWING_V)
    board = replace(board, catalogue=replace(board.catalogue, transmitters=(host,)))
    answer = yield_study(
        Basis(board=board), [tolerance_from_text("swing=±10%")], draws=64, seed=3, sobol=True, effort=ALONE
    )
    needed_v = LIMIT_V + 2.0 * Q_1E12 * NOISE_V
    sigma_v = 0.1 * SWING_V / 3.0
    expected = NormalDist().cdf((SWING_V - needed_v) / sigma_v)
    assert 0.6 < expected < 0.95
    found = answer.lanes[0]
    # Stratified in one dimension, so that the share is right to about one point.
    assert found.keeps_limits.value == pytest.approx(expected, abs=1.5 / 64)
    assert found.keeps_limits.low < expected < found.keeps_limits.high
    assert found.drivers[0].correlation == pytest.approx(1.0, abs=1e-9)
    # The margin's quantiles are those of the normal distribution, in guard bands of 10 mV.
    for level, margin in zip(answer.levels[1:-1], found.quantiles[1:-1], strict=True):
        swing_v = SWING_V + NormalDist().inv_cdf(level) * sigma_v
        assert margin == pytest.approx((swing_v - needed_v) / board.guard.height_v, abs=0.4)


@pytest.mark.campaign
def test_lanes_alike_move_together_per_board_and_apart_per_lane():
    board = with_lanes(section(), "D4")
    twin = replace(board.lanes[0], name="D5")
    basis = Basis(board=replace(board, lanes=(*board.lanes, twin)))

    def margins(text):
        found = yield_study(basis, [tolerance_from_text(text)], draws=6, effort=ALONE)
        assert [one.lane for one in found.lanes] == ["", "D4", "D5"]
        return [np.array(one.margin_guards) for one in found.lanes]

    whole, first, second = margins("loss=±20% per board")
    assert (first == second).all()
    assert (whole == first).all()
    whole, first, second = margins("loss=±20% per lane")
    assert (first != second).all()
    assert (whole == np.minimum(first, second)).all()


@pytest.mark.campaign
def test_the_same_seed_draws_the_same():
    basis = Basis(board=with_lanes(section(), "D4"))
    tolerances = [tolerance_from_text("loss=±20% uniform")]
    first, again, other = (
        yield_study(basis, tolerances, draws=4, seed=seed, effort=ALONE) for seed in (1, 1, 2)
    )
    assert first.lanes == again.lanes
    assert first.lanes != other.lanes


@given(st.lists(st.tuples(st.integers(0, 6), st.integers(0, 6)), min_size=3, max_size=30))
@settings(max_examples=30)
def test_the_rank_correlation_is_that_of_the_mean_ranks(pairs):
    """Its definition: C. Spearman, Am. J. Psychol. 15(1), 1904, 72-101; ties share their mean rank."""

    def ranks(values):
        return np.array([(values < one).sum() + ((values == one).sum() + 1) / 2.0 for one in values])

    x, y = np.array(pairs, float).T
    if np.unique(x).size < 2 or np.unique(y).size < 2:
        assert rank_correlation(x, y) == 0.0
    else:
        assert rank_correlation(x, y) == pytest.approx(np.corrcoef(ranks(x), ranks(y))[0, 1], abs=1e-12)


def test_sobol_points_find_the_mean_of_a_smooth_function_far_better_than_draws():
    # The mean of prod exp(u_i) over the unit cube is (e - 1)^4.
    expected = (math.e - 1.0) ** 4

    def miss(points):
        return abs(float(np.exp(points.sum(axis=1)).mean()) / expected - 1.0)

    assert miss(sobol_points(1024, 4, seed=5)) < 1e-3
    assert np.median([miss(random_points(1024, 4, seed)) for seed in range(9)]) > 5e-3


def test_normal_draws_are_the_inverse_distribution_and_stay_finite():
    from scipy.stats import norm

    points = np.array([0.0, 1e-9, 0.3, 0.5, 0.999, 1.0])
    found = normal_of(points, mean=2.0, sigma=0.5)
    assert found[1:-1] == pytest.approx(norm.ppf(points[1:-1], 2.0, 0.5), abs=1e-9)
    assert np.isfinite(found).all()


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"draws": 1}, "1 draws do not make a distribution"),
        ({"draws": 100, "sobol": True}, "ask for a power of two, 64 or 128"),
        ({"draws": 30_000}, "this takes 30,000 assessments"),
    ],
)
def test_counts_that_do_not_fit_are_one_sentence(options, sentence):
    with pytest.raises(StudyError, match=sentence):
        yield_study(
            Basis(board=with_lanes(section(), "D4")), [tolerance_from_text("loss=10%")], effort=ALONE, **options
        )


def test_a_draw_that_leaves_a_field_s_range_is_refused_before_anything_is_computed():
    with pytest.raises(StudyError, match='the tolerance on "loss" makes an impossible board'):
        yield_study(
            Basis(board=with_lanes(section(), "D4")), [tolerance_from_text("loss=±280%")], draws=64, effort=ALONE
        )
