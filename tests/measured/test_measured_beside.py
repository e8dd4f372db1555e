"""Measurements beside the lane: aligned to a fraction of a sample, with the difference that was put in.

Sources: delays and levels that are put in by hand; scikit-rf's own line; the reflection of a step in impedance,
``(Z2 - Z1) / (Z2 + Z1)``, by hand.
"""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.lanes import UI_S, lane_board, plan_of, trace
from workbench.board.measurement import MeasuredEye, MeasuredResponse, MeasuredStep
from workbench.board.model import Component, Stage
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.views import view_lane
from workbench.errors import ProbePointError, TableError
from workbench.measured.overlay.alignment import SampledCurve, aligned, difference_of
from workbench.measured.overlay.response import beside, beside_lane, step_of
from workbench.parts.networks.packed import packed

MEMO = Memo()
PASSIVE = plan_of(lane_board((trace(0.1, "lossy"), Component(part="edge"), trace(0.1, "lossy"))))
STAGED = plan_of(lane_board((trace(0.1, "lossy"), Stage(device="U1", channel=1), trace(0.15, "lossy"))))


def bump(x):
    """A curve with an edge, a dip and a tail."""
    dip = 0.4 * np.exp(-(((x - 150e-12) / 40e-12) ** 2))
    return np.tanh(x / 30e-12) + dip - 0.2 * np.exp(-np.abs(x - 3e-10) / 1e-10)


MODEL = SampledCurve(x := np.arange(-400, 1200) * 1e-12, bump(x))


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.floats(-2e-9, 2e-9), st.floats(0.05, 20.0), st.floats(-3.0, 3.0), st.sampled_from([3e-12, 5e-12, 7.3e-12]))
def test_a_delay_below_the_sample_interval_and_a_level_are_found(delay_s, gain, offset, interval_s):
    x = np.arange(-300e-12, 1000e-12, interval_s) + delay_s
    found = aligned(MODEL, SampledCurve(x, gain * bump(x - delay_s) + offset), level=True)
    assert found.delay_s == pytest.approx(delay_s, abs=2e-14)
    assert found.gain == pytest.approx(gain, rel=1e-3)
    assert found.offset == pytest.approx(offset, abs=2e-3 * gain)


def test_what_lies_beyond_the_lane_does_not_lead_the_alignment():
    """A launch before and an open end after, as a reflectometer's record has them."""
    x = np.arange(-2e-9, 4e-9, 4e-12)
    y = np.where(x < 0.0, 0.0, np.where(x > 1.199e-9, 10.0, bump(x)))
    inside = SampledCurve(MODEL.x[400:], MODEL.y[400:])
    assert aligned(inside, SampledCurve(x + 7.77e-10, y), level=False).delay_s == pytest.approx(7.77e-10, abs=2e-12)


def test_noise_moves_the_delay_no_more_than_theory_says():
    """Cramer-Rao: ``sigma / sqrt(sum slope^2)``; 3 of them for each of 20 seeds."""
    x = np.arange(-300e-12, 1000e-12, 5e-12)
    slope = (bump(x + 1e-14) - bump(x - 1e-14)) / 2e-14
    bound = 0.02 / np.sqrt(np.sum(slope**2))
    for seed in range(20):
        noise = 0.02 * np.random.default_rng(seed).normal(size=x.size)
        found = aligned(MODEL, SampledCurve(x + 3.3e-12, bump(x) + noise), level=False)
        assert abs(found.delay_s - 3.3e-12) < 3.5 * bound


def test_the_difference_says_how_much_and_where():
    x = np.arange(5.0)
    difference = difference_of(x, np.array([1.0, 2.0, 3.0, 1.0, 1.0]), np.array([1.0, 1.0, 5.0, 1.0, 1.0]))
    assert difference == (pytest.approx(np.sqrt(1.0)), -0.2, -2.0, 2.0)


def response(f_hz, values, parameter="transmission", *, first=0, last=0) -> MeasuredResponse:
    return MeasuredResponse(
        name="bench", lane="D0", probe="pins", parameter=parameter, first=first, last=last, points=f_hz.size,
        f_hz=packed(f_hz), real=packed(np.abs(values)),
    )  # fmt: skip


def test_a_stretch_beside_another_library_s_line():
    """scikit-rf's lossless 80 ohm line between 100 ohm; this lane's "trace" is lossless too, of 100 ohm."""
    import skrf

    plan = plan_of(lane_board((trace(0.05, "trace"), trace(0.2, "trace"))))
    f_hz = np.linspace(1e8, 1e10, 50)
    gamma = 2j * np.pi * f_hz * np.sqrt(3.9) / 299792458.0
    media = skrf.media.DefinedGammaZ0(skrf.Frequency.from_f(f_hz, unit="Hz"), z0=80.0, gamma=gamma, z0_port=100.0)
    s = media.line(0.2, "m", z0=80.0).s
    over = beside_lane(MEMO, plan, response(f_hz, s[:, 1, 0], first=2, last=2))
    assert over.probe == "elements 2 to 2"
    assert over.y_measured == pytest.approx(20 * np.log10(np.abs(s[:, 1, 0])))
    # The model's line is matched: all that was measured is the difference, at worst 20 log10 of (1 + 0.8^2) / (2 0.8).
    assert over.y_model == pytest.approx(np.zeros(50), abs=1e-9)
    assert over.difference.worst == pytest.approx(-20 * np.log10((1 + 0.8**2) / 1.6), rel=0.02)
    assert over.difference.rms == pytest.approx(np.sqrt(np.mean(over.y_measured**2)))
    assert over.figures[0].measured == pytest.approx(np.interp(2.5e9, f_hz, over.y_measured))


def test_a_stretch_that_changed_since_is_said():
    plan = plan_of(lane_board((trace(0.05, "trace"), Component(part="edge"))))
    f_hz = np.linspace(1e8, 1e10, 5)
    same = replace(response(f_hz, np.ones(5), first=1, last=2), made_of="trace 50 mm, edge")
    assert beside_lane(MEMO, plan, same).notes == ()
    (note,) = beside_lane(MEMO, plan, replace(same, made_of="trace 60 mm, edge")).notes
    assert "stood trace 60 mm, edge" in note


def test_a_response_of_the_lane_lies_on_its_own_curve():
    view = view_lane(MEMO, PASSIVE, resolve_probe(PASSIVE, "pins"), 1e-12)
    f_hz = np.linspace(5e7, 9e9, 60)
    known = np.interp(f_hz, view.response.f_hz, view.response.gain_db)
    over = beside(view, response(f_hz, 10 ** ((known + 0.5) / 20)))
    assert over.difference.mean == pytest.approx(0.5)
    assert over.difference.rms == pytest.approx(0.5)
    back = np.interp(f_hz, view.response.f_hz, view.response.return_db)
    over = beside(view, response(f_hz, 10 ** (-back / 20), "reflection"))
    assert over.y_label == "return loss"
    assert over.difference.rms == pytest.approx(0.0, abs=1e-9)


def test_frequencies_beyond_the_model_are_left_out_and_counted():
    view = view_lane(MEMO, PASSIVE, resolve_probe(PASSIVE, "pins"), 1e-12)
    f_hz = np.linspace(1e9, 2e10, 20)
    over = beside(view, response(f_hz, np.full(20, 0.5)))
    assert over.x[-1] <= view.response.f_hz[-1]
    assert over.notes == (f"{20 - over.x.size} of 20 frequencies lie beyond the model's",)
    with pytest.raises(TableError, match="can't be overlaid"):
        beside(view, response(f_hz + 1e12, np.full(20, 0.5)))


def step(x, y, quantity, *, probe="transmitter", round_trip=True) -> MeasuredStep:
    return MeasuredStep(
        name="bench", lane="D0", probe=probe, quantity=quantity, round_trip=round_trip, points=x.size,
        time_s=packed(x), values=packed(y),
    )  # fmt: skip


@pytest.mark.parametrize("round_trip", [True, False])
@pytest.mark.parametrize("quantity", ["impedance", "reflection"])
def test_a_reflected_step_shows_the_impedance_along_the_path(round_trip, quantity):
    """100 ohm, 80 ohm, 100 ohm, 0.1 m each: the bench's trace is made by hand, with its own reference plane."""
    board = lane_board((trace(0.1), trace(0.1, "step"), trace(0.1)))
    lossless = tuple(
        replace(line, conductor_loss_db_per_m=0.0, dielectric_loss_db_per_m=0.0) for line in board.catalogue.lines
    )
    plan = plan_of(replace(board, catalogue=replace(board.catalogue, lines=lossless)))
    flight_s = 0.1 * np.sqrt(3.9) / 299792458.0
    plane_s = 1.2345e-9
    one_way = np.arange(0.0, 4e-9, 5e-12)
    along = one_way - plane_s

    def edge(at_s):
        return 0.5 * (1.0 + np.tanh((along - at_s) / 15e-12))

    # Bench: matched 100 ohm lead, launch before 0.3 ns; an open end after the lane.
    ohm = 100.0 - 20.0 * edge(flight_s) + 20.0 * edge(2 * flight_s) + 4000.0 * edge(3 * flight_s)
    values = ohm if quantity == "impedance" else (ohm - 100.0) / (ohm + 100.0)
    x = one_way * (2.0 if round_trip else 1.0)
    over = beside_lane(MEMO, plan, step(x, values, quantity, round_trip=round_trip))
    assert over.y_unit == "ohm"
    # The trace by hand has no second reflections; in the model they tilt what lies after the second edge.
    assert over.alignment.delay_s == pytest.approx(plane_s, abs=2e-12)
    middle = np.abs(over.x - 1.5 * flight_s) < 0.3 * flight_s
    assert over.y_measured[middle] == pytest.approx(80.0, abs=0.1)
    assert over.y_model[middle] == pytest.approx(80.0, abs=0.1)


def test_a_reflected_step_behind_a_stage_sees_only_its_own_span():
    flight_s = 0.15 * np.sqrt(3.9) / 299792458.0
    x = np.arange(0.0, 2.0 * flight_s, 1e-11)
    over = beside_lane(MEMO, STAGED, step(x, np.full(x.size, 100.0), "impedance", probe="U1 output"))
    assert over.x[-1] - over.x[0] <= flight_s * 1.05
    assert over.difference.rms < 5.0


def test_a_transmitted_step_is_aligned_in_time_and_level():
    view = view_lane(MEMO, PASSIVE, resolve_probe(PASSIVE, "pins"), 1e-12)
    model = step_of(view)
    x = np.arange(model.x[0], model.x[-1], 6e-12) + 4.2e-9
    y = 0.25 * np.interp(x - 4.2e-9, model.x, model.y) + 0.1
    over = beside_lane(MEMO, PASSIVE, step(x, y, "transmitted", probe="pins"))
    assert over.alignment.delay_s == pytest.approx(4.2e-9, abs=1e-13)
    assert over.alignment.gain == pytest.approx(0.25, rel=1e-3)
    assert over.alignment.offset == pytest.approx(0.1, abs=1e-3)
    assert over.difference.rms < 1e-3


def test_the_model_s_step_swings_between_the_levels_of_long_runs():
    """Through a lane matched at both ends, without loss and emphasis, half the swing to each side: 0.5 V of 1 V."""
    view = view_lane(MEMO, plan := plan_of(lane_board((trace(0.1),))), resolve_probe(plan, "pins"), 1e-12)
    model = step_of(view)
    assert model.y[0] == pytest.approx(-0.5, abs=2e-3)
    assert model.y[-1] == pytest.approx(0.5, abs=2e-3)
    assert np.interp(view.ui_s * 0.0, model.x, model.y) == pytest.approx(0.0, abs=0.02)


def eye_of(plan: LanePlan, **figures) -> object:
    return beside_lane(MEMO, plan, MeasuredEye(name="bench", lane="D0", probe="receiver", **figures))


@pytest.mark.campaign
def test_eye_figures_stand_beside_the_model_s_at_the_same_error_ratio():
    view = view_lane(MEMO, PASSIVE, resolve_probe(PASSIVE, "receiver"), 1e-12)
    over = eye_of(PASSIVE, height_v=0.3, width_ui=0.7)
    assert [(f.label, f.unit, f.measured, f.model) for f in over.figures] == [
        ("eye height", "V", 0.3, view.eye.height_v), ("eye width", "UI", 0.7, view.eye.width_ui),
    ]  # fmt: skip
    assert over.difference is None
    jittered = plan_of(lane_board((trace(0.1, "lossy"),), transmitter={"random_jitter_s": 2e-12}))
    loose, strict = (eye_of(jittered, width_ui=0.7, ber=ber).figures[0].model for ber in (1e-3, 1e-15))
    # Random jitter of 2 ps to either side: Q(1e-15) - Q(1e-3) = 7.941 - 3.090 (normal quantiles), each side of the eye.
    assert loose - strict == pytest.approx(2 * (7.941 - 3.090) * 2e-12 / UI_S, rel=0.1)


def test_a_probe_point_or_place_that_the_lane_lacks_is_refused():
    with pytest.raises(ProbePointError):
        beside_lane(MEMO, PASSIVE, MeasuredEye(name="b", lane="D0", probe="U7 input", height_v=0.1))
    with pytest.raises(ProbePointError, match="conditioner channel"):
        beside_lane(MEMO, STAGED, response(np.array([1e9, 2e9]), np.ones(2), first=1, last=3))
