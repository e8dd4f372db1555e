"""Tails of a sample against exact enumeration, direct convolution and closed forms."""

import numpy as np
import pytest
from scipy.special import log_ndtr, logsumexp, ndtr

from tests.reference.eyes.enumeration import log_lower_tail, values_of
from tests.thinning import some
from workbench.engine.tails.density import lower_tail, tail_near
from workbench.engine.tails.quick import quick_tail
from workbench.engine.tails.samples import Sample, treated

GIVEN = {2: 1.0}
RATIOS = (1e-3, 1e-6, 1e-9, 1e-12, 1e-15, 1e-18)


def pulse(seed, count=16):
    """A main cursor of 0.6 V among random ones that die away: up to 0.15 V."""
    cursors = np.random.default_rng(seed).normal(size=count) * np.exp(-np.arange(count) / 3.0) * 0.15
    cursors[2] = 0.6
    return cursors


def sample_of(cursors, noise_v, **more):
    return Sample(cursors_v=np.asarray(cursors)[None], given=GIVEN, noise_v=np.array([noise_v]), **more)


def level(tail, ratio):
    return float(np.interp(np.sqrt(-np.log(ratio)), np.sqrt(-tail.log_p[0])[::-1], tail.v[0][::-1]))


@pytest.mark.parametrize("noise_v", [0.003, 0.01, 0.03])
@pytest.mark.parametrize("seed", some(range(6), 2))
def test_a_tail_is_that_of_all_sequences_of_16_symbols(seed, noise_v):
    """Exact: every one of the 2^15 sequences before a known symbol, each with its Gaussian (scipy)."""
    cursors = pulse(seed)
    sample, values = sample_of(cursors, noise_v), values_of(cursors, GIVEN)
    tail = lower_tail(sample)
    for ratio in RATIOS:
        for found in (level(tail, ratio), level(tail_near(sample, ratio), ratio)):
            true = log_lower_tail(values, [found - 1e-5, found, found + 1e-5], noise_v)
            slope = (true[2] - true[0]) / 2e-5
            # At 1e-6 and below a twentieth of a millivolt; the shallow end, of no eye, need not be better than 0.3 mV.
            assert abs(true[1] - np.log(ratio)) / slope < (3e-4 if ratio > 1e-4 else 5e-5)


@pytest.mark.parametrize("noise_v", [0.01, 0.03])
@pytest.mark.parametrize("seed", some(range(6), 2))
def test_a_quick_tail_is_that_of_all_sequences_within_a_percent_of_the_cursor(seed, noise_v):
    """Exact as above; the leading term of a series for one smooth hump, so not where noise tells sequences apart."""
    cursors = pulse(seed)
    sample, values = sample_of(cursors, noise_v), values_of(cursors, GIVEN)
    tail = quick_tail(treated(sample))
    for ratio in RATIOS[:-1]:
        found = level(tail, ratio)
        true = log_lower_tail(values, [found - 0.01 * cursors[2], found + 0.01 * cursors[2]], noise_v)
        assert true[0] < np.log(ratio) < true[1]


@pytest.mark.parametrize("noise_v", [0.002, 0.02])
def test_a_tail_is_that_of_probabilities_convolved_one_cursor_at_a_time(noise_v):
    """Direct convolution on a grid of 0.02 mV in long double, noise last; needs 1e-6, 1e-12, 1e-15 within 0.1 mV."""
    grid_v = 2e-5
    rng = np.random.default_rng(7)
    steps = np.round(rng.normal(size=40) * np.exp(-np.arange(40) / 6.0) * 0.08 / grid_v).astype(int)
    steps[2] = round(0.9 / grid_v)
    reach = int(np.abs(np.delete(steps, 2)).sum())
    chance = np.zeros(2 * reach + 1, np.longdouble)
    chance[reach] = 1.0
    for step in np.delete(steps, 2):
        chance = (np.roll(chance, step) + np.roll(chance, -step)) / 2.0
    values = (np.arange(-reach, reach + 1) + steps[2]) * grid_v
    held = chance > 0.0
    tail = lower_tail(sample_of(steps * grid_v, noise_v))
    for ratio in (1e-6, 1e-12, 1e-15):
        v = level(tail, ratio) + np.array([-1e-4, 1e-4])
        inside = held & (values < v[1] + 40.0 * noise_v)
        logs = np.log(chance[inside]).astype(float)
        true = [logsumexp(logs + log_ndtr((at - values[inside]) / noise_v)) for at in v]
        assert true[0] < np.log(ratio) < true[1]


@pytest.mark.parametrize("sigma", [0.02, 0.05, 0.1])
def test_a_pole_of_half_is_uniform(sigma):
    """Cursors (1 - a) a^k with a = 1/2: uniform on (0, 1) given the upper symbol, so with noise
    ``P(v <= 0) = Q-integral`` of a uniform start: sigma (phi(0) - phi(1/sigma)) + ... (Bernoulli convolution; derived).
    """
    cursors = 0.5 ** np.arange(1, 40)  # (1 - a) a^k
    sample = Sample(cursors_v=cursors[None], given={0: 1.0}, noise_v=np.array([sigma]))
    tail = lower_tail(sample)
    got = np.exp(-(np.interp(0.0, tail.v[0], np.sqrt(-tail.log_p[0])) ** 2))
    known = ndtr(-1.0 / sigma) + sigma / np.sqrt(2.0 * np.pi) * (1.0 - np.exp(-0.5 / sigma**2))
    assert got == pytest.approx(known, rel=0.01)


def test_one_post_cursor_gives_two_gaussians():
    """``BER = [Q((1+h)/sigma) + Q((1-h)/sigma)] / 2``; h = 0.3, sigma = 0.1: 6.39906e-13 (derived, computed)."""
    sample = Sample(cursors_v=np.array([[1.0, 0.3]]), given={0: 1.0}, noise_v=np.array([0.1]))
    tail = lower_tail(sample)
    got = -(np.interp(0.0, tail.v[0], np.sqrt(-tail.log_p[0])) ** 2)
    assert got == pytest.approx(np.log(6.39906e-13), abs=0.01)


@pytest.mark.parametrize("ratio", RATIOS)
def test_noise_alone_is_q(ratio):
    """Q of Gaussian noise, scipy's inverse in `log_ndtr`."""
    sample = Sample(cursors_v=np.array([[0.5]]), given={0: 1.0}, noise_v=np.array([0.02]))
    for found in (level(lower_tail(sample), ratio), level(tail_near(sample, ratio), ratio)):
        assert log_ndtr((found - 0.5) / 0.02) == pytest.approx(np.log(ratio), abs=0.02)


def test_four_levels_are_those_of_all_sequences():
    """PAM4 by the same code: all 4^7 sequences."""
    levels = (-1.0, -1.0 / 3.0, 1.0 / 3.0, 1.0)
    cursors = pulse(3, count=8)
    tail = lower_tail(sample_of(cursors, 0.01, levels=levels))
    values = values_of(cursors, GIVEN, levels)
    for ratio in RATIOS[:-1]:
        found = level(tail, ratio)
        assert log_lower_tail(values, [found], 0.01)[0] == pytest.approx(np.log(ratio), abs=0.06)
