"""Pulse responses against closed forms: one pole, skin effect, matched and mismatched lossless lines, transmit taps."""

import numpy as np
import pytest
from scipy.special import erfc

from tests.lanes import UI_S, assessed, lane_board, trace
from tests.reference.passive.single_pole import ramp_pulse, ramp_ui, signal_of, single_pole
from workbench.board.model import Run
from workbench.engine.lane.waves import waves_of

SPEED_OF_LIGHT = 299_792_458.0  # SI definition


@pytest.mark.parametrize("tau_ui", [0.3, 0.7, 1.4427])
def test_a_pole_gives_the_closed_form_of_a_ramp_through_it(tau_ui):
    """Closed form derived in `single_pole`; found: 1e-4 of the half swing."""
    waves = waves_of(signal_of(single_pole(tau_ui * UI_S), ui_s=UI_S, rise_ui=0.2))
    time = (np.arange(waves.grid.samples) * waves.grid.dt_s + waves.start_s) / UI_S
    known = ramp_pulse(time, tau=tau_ui, ramp=ramp_ui(0.2))
    assert np.abs(waves.pulse_v - known).max() < 3e-4


def test_receiver_capacitance_makes_a_lane_a_single_pole():
    """A matched line into C: pole ``tau = (R/2) C``, 50 ohm after the pins of a 100 ohm system. Derived."""
    capacitance_f = 4e-12
    lane = assessed(lane_board((trace(0.05),), receiver={"capacitance_f": capacitance_f}))
    tau = 50.0 * capacitance_f / UI_S
    time = np.linspace(0.0, 3.0, 30001)
    known = ramp_pulse(time, tau=tau, ramp=ramp_ui(4e-11 / UI_S))
    assert lane.pulse.peak_v == pytest.approx(0.5 * known.max(), abs=1e-3)


def test_skin_effect_gives_the_complementary_error_function():
    """``H = exp(-a sqrt(jw))`` steps as ``erfc(a / (2 sqrt t))`` (R. L. Wigington, N. S. Nahman, Proc. IRE 45, 1957,
    166; formula from memory, confirmed by the inverse transform here). 6 dB at 5 GHz, 10 Gb/s. The ramp's running mean
    of the step is summed numerically.
    """
    ui_s, a = 1e-10, 5.511591e-6
    waves = waves_of(
        signal_of(lambda f: np.exp(-a * np.sqrt(2j * np.pi * f)), ui_s=ui_s, rise_ui=0.15, window_ui=2048)
    )
    ramp = ramp_ui(0.15) * ui_s

    def step(time):
        late = time[:, None] - ramp * (np.arange(400) + 0.5) / 400.0
        return np.where(late > 0.0, erfc(a / (2.0 * np.sqrt(np.maximum(late, 1e-18)))), 0.0).mean(axis=1)

    time = np.arange(waves.grid.samples) * waves.grid.dt_s + waves.start_s
    early = time < 20.0 * ui_s
    known = step(time[early]) - step(time[early] - ui_s)
    # A pulse that never quite ends wraps round the window: the rest of its tail lies under all of it.
    assert np.abs(waves.pulse_v[early] - known).max() < 1e-3


def test_a_matched_lossless_lane_shows_half_its_swing_at_its_flight_time():
    """From the definition of the pulse; delay ``l sqrt(er) / c``."""
    length_m = 0.2
    lane = assessed(lane_board((trace(length_m),)))
    assert lane.pulse.peak_v == pytest.approx(0.5, rel=2e-3)
    assert lane.delay_s == pytest.approx(length_m * 3.9**0.5 / SPEED_OF_LIGHT, rel=1e-9)
    ramp_s = 4e-11 / 0.6
    first_full_s = lane.delay_s + ramp_s
    # The top is flat from the end of the ramp to the end of the UI; Gibbs ripple decides where the largest sample is.
    assert first_full_s - UI_S / 16 <= lane.pulse.peak_s <= lane.delay_s + UI_S + UI_S / 16
    assert lane.loss_db == pytest.approx(0.0, abs=1e-9)


def test_a_mismatched_line_rings_as_the_lattice_diagram_says():
    """Bounce diagram (derived): 50 ohm into 100 ohm into 10 kohm; each round trip times both reflections."""
    far_ohm = 10_000.0
    length_m = 0.5 * 3.0 * UI_S * SPEED_OF_LIGHT / 3.9**0.5  # one way 1.5 UI: bounces come 3 UI apart
    run = Run(line="trace", length_m=length_m)
    board = lane_board((run,), transmitter={"resistance_ohm": 50.0}, receiver={"resistance_ohm": far_ohm})
    lane = assessed(board)
    half_swing_open_v = 0.5 * (50.0 + 100.0) / 100.0
    source, load = (50.0 - 100.0) / (50.0 + 100.0), (far_ohm - 100.0) / (far_ohm + 100.0)
    first = half_swing_open_v * 100.0 / 150.0 * (1.0 + load)
    bounces = [first * (source * load) ** n for n in range(5)]
    cursors = np.array(lane.pulse.cursors_v[1:])
    assert lane.pulse.peak_v == pytest.approx(first, rel=5e-3)
    assert cursors[[0, 3, 6, 9]] == pytest.approx(bounces[:4], abs=2e-3)
    assert np.abs(cursors[[1, 2, 4, 5]]).max() < 2e-3


@pytest.mark.parametrize(("preshoot_db", "deemphasis_db"), [(0.0, 3.5), (0.0, 6.0), (3.5, 0.0), (3.5, 3.5)])
def test_taps_make_the_levels_that_their_decibels_say(preshoot_db, deemphasis_db):
    """Settled level ``c-1 + c0 + c+1``, alternating level ``|c-1| + |c0| + |c+1| = 1``: PCI Express Base
    Specification 6.2 table 8-1 (public transcription): boost is ``-20 log10 Vb``.
    """
    transmitter = {"preshoot_db": preshoot_db, "deemphasis_db": deemphasis_db}
    lane = assessed(lane_board((trace(0.05),), transmitter=transmitter))
    cursors = np.array(lane.pulse.cursors_v)
    signs = (-1.0) ** np.arange(cursors.size)
    alternating, settled = abs(cursors @ signs), cursors.sum()
    assert alternating == pytest.approx(0.5, rel=5e-3)
    first = 10.0 ** (-deemphasis_db / 20.0)
    if preshoot_db == 0.0:
        assert settled / 0.5 == pytest.approx(first, rel=5e-3)
    main, after, before = cursors[1], cursors[2], cursors[0]
    va, vb, vc = main + before - after, main + before + after, main + after - before
    assert 20.0 * np.log10(va / vb) == pytest.approx(deemphasis_db, abs=0.05)
    assert 20.0 * np.log10(vc / vb) == pytest.approx(preshoot_db, abs=0.05)
