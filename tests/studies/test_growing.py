"""Answers that grow: what is told while a study runs is what cancelling it at that moment would have given."""

import pytest

from tests.studies.boards import section, with_few_settings, with_lanes
from workbench.studies.pool import running
from workbench.studies.pool.jobs import Assess, Basis
from workbench.studies.pool.running import Effort
from workbench.studies.position import position_study
from workbench.studies.reach import reach_study
from workbench.studies.settings import settings_study
from workbench.studies.variation.corners import corners_study
from workbench.studies.variation.tolerances import tolerance_from_text
from workbench.studies.variation.yields import yield_study

BOARD = with_few_settings(with_lanes(section("limiting"), "D0"))
QUESTION = Basis(board=BOARD)
VARYING = tuple(map(tolerance_from_text, ("loss=±5%", "length=±2%")))


@pytest.fixture
def grown(monkeypatch):
    """Every answer on the way, however fast they come."""
    monkeypatch.setattr(running, "_PARTLY_S", 0.0)
    monkeypatch.setattr(running, "_PARTLY_SHARE", 0.0)
    monkeypatch.setattr(running, "_CHUNK", 1)
    return []


def watched(grown):
    return Effort(workers=1, partly=grown.append)


def sizes_grow(sizes, whole):
    assert len(sizes) > 1
    assert sizes == sorted(sizes)
    assert 0 < sizes[0] < whole
    assert sizes[-1] <= whole


@pytest.mark.campaign
def test_settings_grow_by_candidates_of_the_whole_answer(grown):
    basis = Basis(board=with_lanes(section("limiting"), "D0"))
    whole = settings_study(basis, ("U1",), effort=watched(grown)).groups[0]
    sizes_grow([len(one.groups[0].candidates) for one in grown], len(whole.candidates))
    figures = {one.settings: one.lanes for one in whole.candidates}
    for answer in grown:
        group = answer.groups[0]
        assert not group.exact
        assert all(figures[one.settings] == one.lanes for one in group.candidates)
        assert group.best.margin_guards == max(one.margin_guards for one in group.candidates)


@pytest.mark.campaign
def test_positions_grow_on_the_axis_of_the_whole_answer(grown):
    whole = position_study(QUESTION, "U1", positions=2, effort=watched(grown))
    sizes_grow([len(one.points) for one in grown], len(whole.points))
    for answer in grown:
        assert (answer.shifts_m, answer.settings) == (whole.shifts_m, whole.settings)
        assert set(answer.points) <= set(whole.points)
        assert answer.made.stopped == f"{answer.made.assessments} of {whole.made.assessments} assessments so far"


@pytest.mark.campaign
def test_reaches_come_lane_by_lane(grown):
    basis = Basis(board=with_lanes(section(), "D0", "D1"))
    whole = reach_study(basis, "1", longest_m=0.32, effort=watched(grown))
    sizes_grow([len(one.rows) for one in grown], len(whole.rows))
    assert all(set(one.rows) <= set(whole.rows) for one in grown)


@pytest.mark.campaign
def test_corners_and_draws_grow(grown):
    corners = corners_study(QUESTION, VARYING, effort=watched(grown))
    sizes_grow([len(one.corners) for one in grown], len(corners.corners))
    assert all(one.corners[0] == corners.corners[0] for one in grown)
    grown.clear()
    draws = yield_study(QUESTION, VARYING, draws=6, effort=watched(grown))
    sizes_grow([one.draws for one in grown], draws.draws)
    for answer in grown:
        assert set(answer.lanes[0].margin_guards) <= set(draws.lanes[0].margin_guards)


def test_answers_on_the_way_are_few_and_nobody_pays_for_what_nobody_watches(monkeypatch):
    seen, made = [], []
    monkeypatch.setattr(running, "_PARTLY_S", 60.0)

    def counted(outcome):
        made.append(outcome)
        return outcome

    jobs = [Assess(number=number, lanes=("D0",)) for number in range(30)]
    running.answer_jobs(QUESTION, jobs, Effort(workers=1, partly=seen.append), counted)
    assert len(seen) == len(made) <= 1
    made.clear()
    running.answer_jobs(QUESTION, jobs, Effort(workers=1), counted)
    assert not made

