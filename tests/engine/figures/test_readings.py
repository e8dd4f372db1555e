"""What a read-out has at the cursor is the lane's own figure where that stands, and the curve's limits elsewhere."""

from functools import cache

import numpy as np
import pytest

from tests.lanes import assessed, lane_board, plan_of, trace
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.readings import bathtub_reading, eye_reading, impedance_reading, pulse_reading, response_reading
from workbench.engine.views import ERROR_RATIOS, view_lane

BOARD = lane_board((trace(0.3, "lossy"),), receiver={"noise_v": 2e-3})


@cache
def view():
    plan = plan_of(BOARD)
    return view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12)


def test_a_reading_is_the_lanes_own_figure_where_that_stands() -> None:
    found, curves = assessed(BOARD), view()
    ratio = ERROR_RATIOS.index(1e-12)
    eye = eye_reading(curves, "D0", curves.eye.sampling_ui, ratio=ratio, ber=1e-12)
    assert eye.opening_v == pytest.approx(found.eye.height_v, abs=0.002)  # of 1 V swing: contours are drawn, not solved
    assert eye.height_v == pytest.approx(found.eye.height_v, rel=1e-9)
    bath = curves.eye
    left = float(bath.bath_ui[np.flatnonzero(bath.bathtub < -12.0)[0]])
    assert bathtub_reading(curves, "D0", left).ber < 1e-12 < bathtub_reading(curves, "D0", left - 0.01).ber
    assert bathtub_reading(curves, "D0", left).width_ui == pytest.approx(found.eye.width_ui, rel=1e-9)
    at_ui = float(curves.pulse.time_ui[curves.pulse.pulse_v.argmax()])
    top = pulse_reading(curves, "D0", at_ui)
    assert top.pulse_v == pytest.approx(found.pulse.peak_v, abs=5e-4)
    assert top.time_s == pytest.approx(at_ui * found.pulse.ui_s)
    gain = response_reading(curves, "D0", found.nyquist_hz)
    assert gain.gain_db == pytest.approx(-found.loss_db, abs=0.01)
    assert gain.return_db >= found.spans[0].return_loss_db  # which is the least up to Nyquist
    assert gain.nyquist_hz == found.nyquist_hz
    assert gain.ratio_db is None


def test_what_comes_before_the_flight_and_beyond_the_lane_is_told_as_it_is() -> None:
    curves = view()
    assert pulse_reading(curves, "D0", float(curves.pulse.time_ui[0])).pulse_v == pytest.approx(0.0, abs=1e-3)
    near, far = (impedance_reading(curves, "D0", part * float(curves.profile.delay_s[-1])) for part in (0.05, 0.25))
    assert near.impedance_ohm == pytest.approx(100.0, abs=2.0)  # the line's own, and more with its resistance
    assert near.impedance_ohm < far.impedance_ohm
