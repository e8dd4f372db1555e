"""Widths of eyes whose edges stand still: they end between the phases that are computed."""

import numpy as np
import pytest

from tests.lanes import invented_profile, lane_board, plan_of, trace
from tests.reference.passive.single_pole import open_between, ramp_step, ramp_ui, signal_of, single_pole
from tests.reference.sent.true_edges import Source, ends_at, gaussian_pair
from workbench.codes.machine import machine_of
from workbench.engine.coded.tails import coded_sample, coded_tail_near, ladder_of
from workbench.engine.lane.lane import observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.received_eye import sample_at
from workbench.engine.memo import Memo
from workbench.engine.verdict.measures import opening

UI_S, RATIO = 2e-10, 1e-12


@pytest.mark.parametrize("rise_ui", [0.01, 0.2])
@pytest.mark.parametrize("tau_ui", [0.15, 0.45])
def test_an_eye_without_jitter_ends_where_histograms_say(tau_ui, rise_ui):
    noise_v = 0.004
    signal = signal_of(single_pole(tau_ui * UI_S), ui_s=UI_S, rise_ui=rise_ui)
    ends_ui = open_between(signal, RATIO, noise_v)
    source = Source(lambda t: ramp_step(t, tau=tau_ui, ramp=ramp_ui(rise_ui)), gaussian_pair(0.0, 0.0))
    assert ends_ui == pytest.approx(ends_at(source, RATIO, *ends_ui, noise_v=noise_v, bin_v=5e-4), abs=0.0015)


def test_an_ideal_lane_without_rise_time_is_open_for_its_whole_unit_interval():
    """Closed form: a step as sharp as 0.1 % of a unit interval's rise leaves all of it but that."""
    board = lane_board((trace(0.05),), transmitter={"rise_time_s": 0.0}, receiver={"noise_v": 1e-3})
    plan = plan_of(board)
    seen = opening(observe(Memo(), plan, resolve_probe(plan, "receiver"), RATIO), RATIO)
    assert seen.width_s / UI_S == pytest.approx(1.0, abs=0.003)


@pytest.mark.parametrize("length_m", [0.3, 0.6])
def test_a_line_coded_eye_ends_where_phases_in_between_say(length_m):
    """Eight phases for each of the grid's, which is next to no interpolation."""
    profile = invented_profile(coding="8b/10b")
    plan = plan_of(lane_board((trace(length_m, "lossy"),), receiver={"noise_v": 1e-3}, profile=profile))
    observed = observe(Memo(), plan, resolve_probe(plan, "receiver"), RATIO)
    assert observed.machine is machine_of("8b/10b")
    eye, waves = observed.eye, observed.received.waves
    for end_s in eye.crossings_s(RATIO):
        places = np.round(waves.crossing + end_s / waves.grid.dt_s) + np.arange(-8, 9) / 8.0
        sample, depth = sample_at(observed.received, places), -float(np.log(RATIO))
        ladder = ladder_of(coded_sample(sample, observed.machine), depth)
        tail = coded_tail_near(sample, observed.machine, ladder, RATIO)
        beside = eye._replace(time_s=(places - waves.crossing) * waves.grid.dt_s, tail=tail)
        level_v = beside.levels_v(RATIO)
        order = np.argsort(level_v)
        true_s = float(np.interp(0.0, level_v[order], beside.time_s[order]))
        assert end_s / UI_S == pytest.approx(true_s / UI_S, abs=0.0015)
