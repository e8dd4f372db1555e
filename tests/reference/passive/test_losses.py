"""Losses, delays and baseline wander against closed forms and brute force."""

import numpy as np
import pytest
from scipy.signal import lfilter

from tests.lanes import RATE_BPS, UI_S, assessed, invented_profile, lane_board, trace
from workbench.board.model import Component


def test_loss_is_what_the_line_states_at_nyquist():
    """7 + 6 dB/m at 2.5 GHz, the Nyquist frequency of 5 Gb/s, on a line of nearly 100 ohm."""
    lane = assessed(lane_board((trace(0.5, "lossy"),)))
    assert lane.loss_db == pytest.approx(6.5, abs=0.02)


def test_end_capacitance_adds_its_own_loss():
    """A shunt C between matched ends loses ``10 log10(1 + (w C R/4 ...)^2)``: |2 / (2 + jwCR)|, derived."""
    capacitance_f = 1e-12
    lane = assessed(lane_board((trace(0.05),), receiver={"capacitance_f": capacitance_f}))
    omega = np.pi * RATE_BPS
    assert lane.loss_db == pytest.approx(20.0 * np.log10(abs(2.0 + 1j * omega * capacitance_f * 100.0) / 2.0), abs=1e-6)


def drift(corner_hz, count, seed):
    """Drift of random +-1 V symbols after a one-pole high-pass: the low-passed signal at the symbols' ends."""
    share = 1.0 - np.exp(-2.0 * np.pi * corner_hz * UI_S)
    symbols = np.random.default_rng(seed).integers(0, 2, count) * 2.0 - 1.0
    return lfilter([share], [1.0, share - 1.0], symbols)


def test_random_symbols_wander_as_brute_force_says():
    """The formula's sigma against 4e6 random bits through a high-pass; Q(1e-12) = 7.034484 (computed, scipy)."""
    path = (trace(0.02), Component(part="small"), trace(0.02))
    lane = assessed(lane_board(path))
    corner_hz = 1.0 / (2.0 * np.pi * 200.0 * 0.5e-10)  # 100 pF in each leg of a 200 ohm loop
    sigma = drift(corner_hz, 4_000_000, 1).std()
    assert lane.baseline_wander_v / 7.034484 == pytest.approx(0.5 * sigma, rel=0.05)


def test_a_coded_lane_wanders_as_far_as_its_worst_sequence_drives_it():
    """8b/10b: 4.9 symbols, the running sum's largest value less the least average that can be kept up.

    The sum alone stays within +-3 of its middle (Widmer and Franaszek, IBM J. R&D 27(5), 1983); a value iteration over
    the code (tests/reference/eyes/test_coded.py) finds the same 4.9.
    """
    path = (trace(0.02), Component(part="small"), trace(0.02))
    lane = assessed(lane_board(path, profile=invented_profile(coding="8b/10b")))
    tau_s = 200.0 * 0.5e-10
    assert lane.baseline_wander_v == pytest.approx(0.5 * 4.9 * UI_S / tau_s, rel=0.02)
