"""Gain tables: the causal filter against known ones, the fit against what it was made of."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import spence

from workbench.errors import ModelError
from workbench.makers.gain_table import GainTable, checked, fitted, stage_gain_db
from workbench.parts.conditioners.gain_curve import causal_gain, chi2


def stage(f_hz: np.ndarray, zero_hz: float = 1e9, pole_hz: float = 8e9) -> np.ndarray:
    """A known minimum-phase filter: a zero and two poles."""
    return (1.0 + 1j * f_hz / zero_hz) / (1.0 + 1j * f_hz / pole_hz) ** 2


def level(gain: np.ndarray) -> tuple[float, ...]:
    return tuple((20.0 * np.log10(np.abs(gain))).tolist())


def test_the_chi_function_is_half_the_difference_of_dilogarithms():
    # chi2(x) = (Li2(x) - Li2(-x)) / 2, with scipy's dilogarithm as the outside opinion.
    x = np.linspace(0.0, 1.0, 4001)
    assert chi2(x) == pytest.approx((spence(1.0 - x) - spence(1.0 + x)) / 2.0, abs=1e-12)


@pytest.mark.parametrize(("fall", "pole_at"), [(20.0, 1), (40.0, 2)])
def test_one_point_and_a_fall_have_bodes_phase(fall, pole_at):
    # Half way up a semi-infinite slope's break the phase is n 45 degrees; far above it n 90 degrees.
    found = causal_gain((1e9,), (6.0,), np.array([0.0, 1e9, 1e14]), fall_db_per_decade=fall)
    assert np.degrees(np.angle(found[1])) == pytest.approx(-45.0 * pole_at)
    assert np.unwrap(np.angle(causal_gain((1e9,), (6.0,), np.geomspace(1e6, 1e14, 500), fall_db_per_decade=fall)))[
        -1
    ] == pytest.approx(-np.pi / 2.0 * pole_at, abs=1e-4)
    assert found[0] == pytest.approx(10.0 ** (6.0 / 20.0))


@pytest.mark.parametrize(
    ("points", "highest_hz", "most_db", "most_degrees"),
    [(8, 20e9, 0.6, 1.5), (12, 20e9, 0.4, 2.5), (20, 20e9, 0.13, 1.0), (40, 20e9, 0.03, 0.5), (40, 60e9, 0.03, 0.3)],
)
def test_a_known_filters_phase_comes_back_but_for_a_delay(points, highest_hz, most_db, most_degrees):
    # The data: magnitudes of a zero and two poles. What lies beyond the last point only delays what lies far below it.
    known = np.geomspace(10e6, highest_hz, points)
    f_hz = np.linspace(20e6, 10e9, 500)
    ratio = causal_gain(tuple(known.tolist()), level(stage(known)), f_hz) / stage(f_hz)
    phase = np.angle(ratio)
    delay = (phase @ f_hz) / (f_hz @ f_hz)
    assert np.abs(20.0 * np.log10(np.abs(ratio))).max() < most_db
    assert np.degrees(np.abs(phase - delay * f_hz)).max() < most_degrees
    assert abs(delay) / (2.0 * np.pi) < 10e-12


def test_with_the_filters_own_fall_the_delay_is_right_too():
    known = np.geomspace(10e6, 60e9, 40)
    f_hz = np.linspace(20e6, 10e9, 500)
    ratio = causal_gain(tuple(known.tolist()), level(stage(known)), f_hz, fall_db_per_decade=20.0) / stage(f_hz)
    assert np.degrees(np.abs(np.angle(ratio))).max() < 0.5


@pytest.mark.campaign
@settings(max_examples=25)
@given(st.lists(st.floats(-20.0, 20.0), min_size=2, max_size=10))
def test_whatever_the_table_says_nothing_comes_before_its_cause(levels):
    known = tuple(np.geomspace(1e9, 20e9, len(levels)).tolist())
    dt_s, samples = 1e-12, 2**14
    f_hz = np.arange(samples // 2 + 1) / (samples * dt_s)
    wave = np.fft.irfft(causal_gain(known, tuple(levels), f_hz), samples)
    # The window's last eighth: a slow tail that comes round has not got so far yet.
    before = (wave[-samples // 8 :] ** 2).sum()
    assert before < 5e-5 * (wave**2).sum()


@given(st.lists(st.floats(-20.0, 20.0), min_size=2, max_size=10))
def test_the_gain_passes_through_its_points_and_overshoots_none(levels):
    known = np.geomspace(1e8, 20e9, len(levels))
    through = causal_gain(tuple(known.tolist()), tuple(levels), known)
    assert 20.0 * np.log10(np.abs(through)) == pytest.approx(np.array(levels), abs=1e-9)
    between = np.geomspace(1e8, 20e9, 301)
    seen = 20.0 * np.log10(np.abs(causal_gain(tuple(known.tolist()), tuple(levels), between)))
    assert seen.max() <= max(levels) + 1e-9
    assert seen.min() >= min(levels) - 1e-9


ZEROS = np.array([[3e9], [1.2e9], [0.5e9]])
F_HZ = np.geomspace(1e8, 12e9, 15)


def made(noise_db: float = 0.0) -> GainTable:
    gains = stage_gain_db(F_HZ, dc_gain_db=-1.5, zero_hz=ZEROS, bandwidth_hz=7e9)
    return GainTable(F_HZ, ("1", "2", "3"), gains + noise_db * np.random.default_rng(1).normal(size=gains.shape))


def test_the_fit_finds_what_the_table_was_made_of():
    found = fitted(made(), 4e9)
    assert (found.dc_gain_db, found.bandwidth_hz) == (pytest.approx(-1.5, abs=1e-6), pytest.approx(7e9, rel=1e-6))
    boosts = stage_gain_db(np.array([4e9]), dc_gain_db=0.0, zero_hz=ZEROS, bandwidth_hz=7e9)[:, 0]
    assert found.boosts_db == pytest.approx(tuple(boosts), abs=1e-6)
    assert found.rms_db < 1e-6


def test_the_fit_says_where_it_misses():
    table = made()
    table.gain_db[1, 10] += 2.0
    found = fitted(table, 4e9)
    worst = max(found.misses, key=lambda miss: abs(miss.miss_db))
    assert (worst.setting, worst.at_hz) == ("2", F_HZ[10])
    assert -2.0 < worst.miss_db < -1.0


def test_noise_moves_the_fit_by_as_much_as_it_ought_to():
    # 45 values of 0.1 dB noise against 5 figures: the DC gain is known to some 0.1 dB / sqrt(15).
    found = fitted(made(0.1), 4e9)
    assert found.dc_gain_db == pytest.approx(-1.5, abs=0.12)
    assert found.bandwidth_hz == pytest.approx(7e9, rel=0.05)
    assert found.rms_db == pytest.approx(0.1, rel=0.4)


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (GainTable(np.zeros(0), (), np.zeros((0, 0))), "is empty"),
        (GainTable(np.array([1e9, 1e9]), ("1",), np.zeros((1, 2))), "don't rise"),
        (GainTable(np.array([1e9, 2e9]), ("1", "1"), np.zeros((2, 2))), 'the setting "1" has two rows'),
        (GainTable(np.array([1e9, 2e9]), ("1",), np.array([[0.0, 99.0]])), "has 99 dB"),
        (GainTable(np.array([1e9, 2e9]), ("1",), np.array([[0.0, np.nan]])), "check the unit"),
        (GainTable(np.array([1e9, 2e9]), ("1",), np.zeros((1, 3))), "don't fit"),
    ],
)
def test_a_table_that_makes_no_sense_is_refused(table, says):
    with pytest.raises(ModelError, match=says):
        checked(table)
    with pytest.raises(ModelError, match="two frequencies"):
        fitted(GainTable(np.array([1e9]), ("1",), np.zeros((1, 1))))
