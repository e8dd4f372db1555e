"""What is computed at fewer phases, at fewer points or once for several is what it would be at each."""

import numpy as np
import pytest

from workbench.board.reading import load_board
from workbench.engine.coded.along import AxisPoints, transformed
from workbench.engine.coded.eye import CodedPhases
from workbench.engine.coded.tails import coded_sample
from workbench.engine.lane import lane as lanes
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import plan_of
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.received_eye import sample_at
from workbench.engine.memo import Memo
from workbench.engine.tails.eye import Eye, EyeReach
from workbench.engine.verdict.measures import opening
from workbench.engine.views import ERROR_RATIOS, view_lane
from workbench.resources import project

DEMO = load_board(project("correlator-shelf.board.json")).board


def of_demo(name, **changes):
    plan = plan_of(DEMO, next(one for one in DEMO.lanes if one.name == name))
    plan = lanes.replace(plan, **changes)
    return plan, resolve_probe(plan, "receiver")


@pytest.mark.campaign
@pytest.mark.parametrize("name", ["RX9", *(pytest.param(one, marks=pytest.mark.campaign) for one in ("RX2", "RX12"))])
def test_contours_between_the_phases_computed_are_those_of_their_own_phases(name):
    plan, probe = of_demo(name, neighbours=())
    observed = observe(Memo(), plan, probe, 1e-12, reach=EyeReach.ALL)
    eye, received, waves = observed.eye, observed.received, observed.received.waves
    at = int(np.floor(waves.crossing)) + np.arange(waves.grid.samples_per_ui + 2)
    coded = CodedPhases(lambda places: sample_at(received, places), at, observed.machine)
    time_s = (at - waves.crossing) * waves.grid.dt_s
    own = Eye(eye.ui_s, time_s, coded.tail(at, 1e-12, EyeReach.ALL), eye.sampling, eye.wrong)
    swing_v = 2.0 * np.abs(own.levels_v(1e-3)).max()
    for ratio in ERROR_RATIOS:
        exact, drawn = own.levels_v(ratio), np.interp(time_s, eye.time_s, observed.eye.levels_v(ratio))
        steep = np.abs(np.gradient(exact, time_s / eye.ui_s))
        assert np.all(np.abs(drawn - exact) < 0.001 * swing_v + 0.001 * steep)


@pytest.mark.campaign
def test_a_whole_picture_says_the_height_and_width_that_are_judged():
    plan, probe = of_demo("RX9")
    memo = Memo()
    view, judged = view_lane(memo, plan, probe, 1e-12).eye, observe(memo, plan, probe, 1e-12)
    seen = opening(judged, 1e-12)
    assert (view.height_v, view.width_ui) == (seen.height_v, seen.width_s / judged.eye.ui_s)


@pytest.mark.campaign
def test_points_where_nothing_is_left_change_nothing(monkeypatch):
    plan, probe = of_demo("RX14")
    received = observe(Memo(), plan, probe, 1e-12).received
    at = np.array([round(received.waves.crossing + 0.5 * received.waves.grid.samples_per_ui)])
    machine = observe(Memo(), plan, probe, 1e-12).machine
    coded = coded_sample(sample_at(received, at), machine, 1000.0)
    along = AxisPoints.evenly(np.array([-1000.0]), np.array([50.0]), 512, precise=True)
    value, log_scale = transformed(coded.moves, coded.begun, along, np.zeros(1))
    monkeypatch.setattr("workbench.engine.coded.along._FADED", -1.0)
    whole, whole_scale = transformed(coded.moves, coded.begun, along, np.zeros(1))
    assert np.abs(value[0, -1]) == 0.0
    assert np.abs(whole[0, 64]) > 0.0
    assert np.abs(value - whole).max() < 1e-7
    assert np.array_equal(log_scale, whole_scale)


def test_a_lane_without_its_neighbours_shares_the_eye_that_they_leave_alone(monkeypatch):
    plan, probe = of_demo("RX14")
    assert plan.neighbours
    assert not plan.stages
    made, memo = [], Memo()
    real = lanes.eye_received
    monkeypatch.setattr(lanes, "eye_received", lambda *a, **k: (made.append(1), real(*a, **k))[1])
    observe(memo, plan, probe, 1e-12)
    alone = observe(memo, lanes.replace(plan, neighbours=()), probe, 1e-12)
    assert len(made) == 1
    fresh = observe(Memo(), lanes.replace(plan, neighbours=()), probe, 1e-12)
    assert np.array_equal(alone.eye.tail.v, fresh.eye.tail.v)
