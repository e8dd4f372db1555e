"""Where a line code's edges cross on average: against its own encoded data, counted."""

import numpy as np
import pytest

from workbench.codes.choosing import pattern_named
from workbench.codes.eight_ten import EightTen
from workbench.codes.machine import eight_ten, independent
from workbench.engine.coded.edge import mean_crossing, means_about_an_edge

NEWER, PER_UI = 4, 32


@pytest.fixture(scope="module")
def encoded():
    """Random data in 8b/10b as levels, and where a rising edge's upper symbols stand."""
    levels = 2.0 * pattern_named(EightTen.word).stream().take(400_000) - 1.0
    upper = np.flatnonzero((levels[:-1] < 0.0) & (levels[1:] > 0.0)) + 1
    return levels, upper[(upper > 40) & (upper < levels.size - 40)]


def test_symbols_about_an_edge_lean_as_encoded_data_do(encoded):
    levels, upper = encoded
    counted = [float(levels[upper + NEWER - column].mean()) for column in range(12)]
    # 1e5 edges, each mean good to 1/sqrt(1e5) rms.
    assert means_about_an_edge(eight_ten())[:12] == pytest.approx(counted, abs=5.0 / np.sqrt(upper.size))


def test_independent_symbols_do_not_lean():
    means = means_about_an_edge(independent())
    assert means[NEWER : NEWER + 2] == (1.0, -1.0)
    assert np.abs(means).sum() == 2.0


def test_the_mean_crossing_is_that_of_the_wave_that_encoded_data_make(encoded):
    """A slow pulse, one pole of 0.8 UI: the mean over all its rising edges crosses zero there."""
    levels, upper = encoded
    time_ui = np.arange(64 * PER_UI) / PER_UI
    charge = 1.0 - np.exp(-time_ui / 0.8)
    pulse_v = charge - np.where(time_ui >= 1.0, 1.0 - np.exp(-(time_ui - 1.0) / 0.8), 0.0)
    lone = float(np.interp(0.0, (pulse_v[:PER_UI] - pulse_v[PER_UI : 2 * PER_UI]), np.arange(PER_UI)))
    cursors = np.arange(-NEWER, 40)
    mean_v = np.zeros(PER_UI)
    for cursor in cursors:
        at = np.arange(PER_UI) + cursor * PER_UI
        # The pulse starts at 0: newer symbols add nothing yet.
        mean_v += np.where(at >= 0, pulse_v[np.maximum(at, 0)], 0.0) * levels[upper - cursor].mean()
    counted = float(np.interp(0.0, mean_v, np.arange(PER_UI)))
    found = mean_crossing(pulse_v, PER_UI, lone, eight_ten())
    assert found == pytest.approx(counted, abs=0.002 * PER_UI)
    assert abs(found - lone) > 0.004 * PER_UI  # else nothing is told from a lone edge
