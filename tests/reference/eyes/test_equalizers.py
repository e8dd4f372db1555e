"""The receiver's equalization against exhaustive search and the definitions of its sources."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import UI_S, assessed, lane_board, plan_of, trace
from tests.reference.passive.single_pole import signal_of
from tests.thinning import some
from workbench.engine.lane.equalizers import decision_phase
from workbench.engine.lane.lane import observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.waves import waves_of
from workbench.engine.memo import Memo
from workbench.parts.receiver import Ctle, Dfe

CTLE = Ctle(first_pole_hz=1.25e9, second_pole_hz=5e9, dc_gain_db=(-12.0, -9.0, -6.0, -3.0, 0.0))
TRANSMITTER = {"random_jitter_s": 1e-12, "deterministic_jitter_s": 1e-11}


@pytest.mark.parametrize("length_m", some([0.1, 0.4, 0.8, 1.2], 2))
@pytest.mark.parametrize("taps", [0, 1])
def test_the_gain_chosen_opens_the_eye_as_far_as_any_tried_by_hand(length_m, taps):
    """Every gain assessed by itself; the choice may differ where two are within 2 mV."""

    def lane(ctle):
        receiver = {"noise_v": 2e-3, "equalizer": ctle, "dfe": Dfe(taps=taps)}
        return assessed(lane_board((trace(length_m, "lossy"),), transmitter=TRANSMITTER, receiver=receiver))

    chosen = lane(CTLE)
    heights = [lane(replace(CTLE, fixed_gain_db=gain_db)).eye.height_v for gain_db in CTLE.dc_gain_db]
    assert chosen.equalizer.ctle_dc_gain_db in CTLE.dc_gain_db
    assert chosen.eye.height_v > max(heights) - 2e-3


@pytest.mark.parametrize("limit_v", [(), (0.03, 0.0, 0.5)])
def test_taps_take_off_the_post_cursors_as_far_as_their_limits_let_them(limit_v):
    """IEEE 802.3 Annex 93A (from memory): ``b(n) = clip(h(ts + nT), limit)``."""
    receiver = {"noise_v": 2e-3, "dfe": Dfe(taps=3, limit_v=limit_v)}
    plan = plan_of(lane_board((trace(0.9, "lossy"),), receiver=receiver))
    received = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12).received
    waves = received.waves
    post = waves.pulse_v[received.decision + waves.grid.samples_per_ui * np.arange(1, 4)]
    limits = np.array(limit_v or [np.inf] * 3)
    assert received.taps_v == pytest.approx(np.clip(post, -limits, limits))
    assert np.abs(post).min() > 1e-3


def test_a_symmetric_pulse_is_sampled_at_its_centre():
    """K. H. Mueller, M. Mueller, IEEE Trans. Comm. 24(5), 1976: equal first cursors on both sides; derived."""
    width_s = 0.5 * UI_S
    gaussian = signal_of(lambda f: np.exp(-((2.0 * np.pi * f * width_s) ** 2) / 2.0), ui_s=UI_S, rise_ui=0.2)
    waves = waves_of(gaussian)
    centre_s = (1.0 + 0.2 / 0.6) * UI_S / 2.0
    found_s = waves.start_s + decision_phase(waves, np.zeros(0)) * waves.grid.dt_s
    assert found_s == pytest.approx(centre_s, abs=waves.grid.dt_s)


@pytest.mark.parametrize(
    ("length_m", "dfe"), [(0.9, Dfe(taps=1, limit_v=(0.05,))), (1.1, Dfe(taps=2)), (0.6, Dfe(taps=5))]
)
def test_where_feedback_samples_is_a_fixed_point_of_its_rule(length_m, dfe):
    """The taps taken at the place put the place where it is."""
    plan = plan_of(lane_board((trace(length_m, "lossy"),), receiver={"noise_v": 2e-3, "dfe": dfe}))
    received = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12).received
    assert decision_phase(received.waves, received.taps_v) == pytest.approx(received.decision, abs=1)
    post = received.waves.pulse_v[received.decision + received.waves.grid.samples_per_ui * np.arange(1, dfe.taps + 1)]
    limits = np.array(dfe.limit_v or [np.inf] * dfe.taps)
    assert received.taps_v == pytest.approx(np.clip(post, -limits, limits))


def test_with_feedback_the_first_cursors_left_over_are_equal():
    receiver = {"noise_v": 2e-3, "dfe": Dfe(taps=1, limit_v=(0.05,))}
    plan = plan_of(lane_board((trace(0.9, "lossy"),), receiver=receiver))
    received = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12).received
    waves, per_ui = received.waves, received.waves.grid.samples_per_ui
    before, after = (waves.pulse_v[received.decision + side * per_ui] for side in (-1, 1))
    step = np.abs(np.diff(waves.pulse_v)).max()
    assert abs(before - (after - received.taps_v[0])) < step
