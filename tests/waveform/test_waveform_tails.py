"""Reading and continuing tails, and what a count of errors says."""

import math

import numpy as np
import pytest

from workbench.waveform.bounds import clopper_pearson
from workbench.waveform.counts import CROSSING_BINS, Tally
from workbench.waveform.openings import countable_ratio, jitter_of
from workbench.waveform.tails import counted, fitted, quantile, spread


def gaussian_counts(places, mean, sigma, total):
    return np.array([total * 0.5 * math.erfc((x - mean) / sigma / math.sqrt(2.0)) for x in places])


def test_quantile_is_the_one_of_the_trade():
    """Q(1e-12) = 7.034 and Q(1e-15) = 7.941 (INCITS MJSQ and every table of it; tables of the normal distribution)."""
    assert quantile(np.array([1e-12, 1e-15])) == pytest.approx([7.034, 7.941], abs=6e-4)


def test_a_gaussian_tail_is_continued_exactly():
    places = np.linspace(0.0, 1.0, 400)
    beyond = gaussian_counts(places, 0.1, 0.12, 1e6)
    line = fitted(places, beyond, 1e6, 1.0)
    assert line is not None
    assert (line.mean, line.sigma) == (pytest.approx(0.1, abs=1e-6), pytest.approx(0.12, abs=1e-6))
    assert line.at(1e-12) == pytest.approx(0.1 + 7.0345 * 0.12, abs=1e-4)


def test_counting_reads_the_ratio_between_places():
    places = np.linspace(0.0, 1.0, 40)
    beyond = gaussian_counts(places, 0.1, 0.12, 1e6)
    assert counted(places, beyond, 1e6, 1e-4) == pytest.approx(0.1 + 3.71902 * 0.12, abs=2e-4)
    # d x / d p = 1 / density: sqrt(100) counts more or fewer.
    density = math.exp(-0.5 * 3.71902**2) / math.sqrt(2.0 * math.pi) / 0.12
    assert spread(places, beyond, 1e6, 1e-4) == pytest.approx(1e-5 / density, rel=0.03)


def test_too_few_counts_are_not_continued():
    places = np.linspace(0.0, 1.0, 40)
    assert fitted(places, np.where(places < 0.5, 1e6, 0.0), 1e6, 1.0) is None
    assert counted(places, np.full(40, 1e6), 1e6, 1e-4) is None


def test_dual_dirac_jitter_comes_apart_as_it_was_put_together():
    """Two Gaussians of 0.01 UI, 0.08 UI apart."""
    rng = np.random.default_rng(4)
    n = 1_000_000
    jitter = 0.01 * rng.normal(size=n) + 0.08 * (rng.integers(0, 2, n) - 0.5)
    tally = Tally(2)
    tally.crossings += np.bincount(((jitter + 0.5) * CROSSING_BINS).astype(int), minlength=CROSSING_BINS)
    found = jitter_of(tally, error_ratio=1e-12, ui_s=1.0)
    assert found.random_s == pytest.approx(0.01, rel=0.03)
    assert found.deterministic_s == pytest.approx(0.08, rel=0.03)
    assert found.rms_s == pytest.approx(math.hypot(0.01, 0.04), rel=0.005)
    assert found.total_s == pytest.approx(0.08 + 2.0 * 7.0345 * 0.01, rel=0.03)


@pytest.mark.parametrize("errors", [1, 3, 40])
def test_bounds_are_those_of_the_binomial_distribution(errors):
    """By definition: as many errors or more have probability 2.5 % at the lower bound, or fewer at the upper."""
    trials = 2000
    low, high = clopper_pearson(errors, trials)

    def below(ratio, most):
        return sum(math.comb(trials, k) * ratio**k * (1.0 - ratio) ** (trials - k) for k in range(most + 1))

    assert 1.0 - below(low, errors - 1) == pytest.approx(0.025, rel=1e-6)
    assert below(high, errors) == pytest.approx(0.025, rel=1e-6)


def test_no_errors_leave_the_closed_form():
    """None in n: upper bound ``1 - 0.025^(1/n)``; all of n: the mirror image."""
    assert clopper_pearson(0, 1000) == (0.0, pytest.approx(1.0 - 0.025**1e-3, rel=1e-9))
    assert clopper_pearson(1000, 1000) == (pytest.approx(0.025**1e-3, rel=1e-9), 1.0)


@pytest.mark.parametrize(("symbols", "ratio"), [(1_000_000, 1e-4), (200_000, 1e-4), (10**7, 1e-5), (1000, 0.1)])
def test_a_ratio_counts_where_it_shows_a_score_of_times(symbols, ratio):
    assert countable_ratio(symbols) == pytest.approx(ratio)
