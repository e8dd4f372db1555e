"""Worst-case height against brute force and the single pole's closed form."""

import numpy as np
import pytest

from tests.lanes import lane_board, plan_of, trace
from tests.reference.eyes.enumeration import sequences
from workbench.engine.lane.lane import observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.verdict.measures import worst_case_height_v


def test_the_worst_of_all_sequences_of_16_bits_is_the_peak_distortion_height():
    """Brute force over 2^15 sequences around a 1, at every phase (Casper, Haycock, Mooney, VLSI Symposium 2002)."""
    plan = plan_of(lane_board((trace(0.3, "lossy"),), receiver={"capacitance_f": 1e-12}))
    observed = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12)
    waves = observed.received.waves
    per_ui, n = waves.grid.samples_per_ui, waves.grid.samples
    others = sequences(15)
    best = -np.inf
    rest = 0.0
    for phase in int(np.ceil(waves.crossing)) + np.arange(per_ui):
        cursors = waves.pulse_v[(phase + per_ui * np.arange(-2, 14)) % n]
        height = 2.0 * (cursors[2] + (others @ np.delete(cursors, 2)).min())
        everything = np.abs(waves.pulse_v[(phase + per_ui * np.arange(waves.grid.window_ui)) % n]).sum()
        if height > best:
            best, rest = height, 2.0 * (everything - np.abs(cursors).sum())
    found = worst_case_height_v(observed)
    assert rest < 0.04
    assert best - rest - 1e-4 <= found <= best + 1e-9


@pytest.mark.parametrize("ratio", [1.0, 2.0, 3.0])
def test_a_single_pole_leaves_one_minus_two_a_of_the_swing(ratio):
    """``1 - 2 exp(-T/tau)`` at the end of the bit, infinitely steep edges (derived).

    The height has a cusp there, which the grid of 1/32 UI misses by up to half a step times its slope.
    """
    ui_s = 2e-10
    capacitance_f = ui_s / ratio / 50.0
    board = lane_board((trace(0.05),), transmitter={"rise_time_s": 0.0}, receiver={"capacitance_f": capacitance_f})
    plan = plan_of(board)
    observed = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12)
    assert worst_case_height_v(observed) == pytest.approx(1.0 - 2.0 * np.exp(-ratio), abs=0.02)
