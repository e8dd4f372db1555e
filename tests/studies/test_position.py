"""Sliding a device along its lanes: the points are assessments of the edited board, the windows what holds there."""

import pytest
from msgspec.structs import replace

from tests.studies.boards import run, section, with_few_settings, with_lanes
from workbench.board.edits.path import slide_stage, take_out
from workbench.board.model import Run, Stage
from workbench.engine.assess import assess_board
from workbench.errors import StudyError
from workbench.studies.figures import figures_of_assessment
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.position import LEAST_RUN_M, placed, position_study

BOARD = with_few_settings(with_lanes(section("limiting"), "D0", "D1"))
ALONE = Effort(workers=1)


def plain(board, lanes=None):
    """Figures by a plain assessment."""
    return tuple(
        figures_of_assessment(lane, board.guard) for lane in assess_board(board, sha256="", lanes=lanes).lanes
    )


@pytest.fixture(scope="module")
def answer():
    return position_study(Basis(board=BOARD), "U1", positions=2, effort=ALONE)


@pytest.mark.campaign
def test_every_point_is_the_assessment_of_the_board_moved_and_set_by_hand(answer):
    for point in answer.points[::3]:
        first, *others = BOARD.devices
        board = replace(BOARD, devices=(replace(first, settings=point.settings), *others))
        if point.shift_m:
            for lane in ("D0", "D1"):
                board = slide_stage(board, lane, 1, by_m=point.shift_m)
        assert point.lanes == plain(board)
        assert placed(BOARD, "U1", point) == board


def test_positions_reach_as_far_as_the_shortest_runs_and_hold_where_it_stands(answer):
    # By hand: the shortest run before U1 is 0.25 m, the shortest after it 0.30 m.
    assert answer.shifts_m[0] == pytest.approx(-(0.25 - LEAST_RUN_M))
    assert answer.shifts_m[-1] == pytest.approx(0.30 - LEAST_RUN_M)
    assert 0.0 in answer.shifts_m
    assert len(answer.shifts_m) == 3
    assert answer.current is not None
    assert answer.current.lanes == plain(BOARD)


def test_the_best_is_the_largest_worst_margin_and_the_edit_puts_it_there(answer):
    assert answer.best.margin_guards == max(point.margin_guards for point in answer.points)
    edited = answer.edit(BOARD)
    assert min(one.margin_guards for one in plain(edited)) == answer.best.margin_guards
    for lane, before in zip(edited.lanes, BOARD.lanes, strict=True):
        assert lane.length_m == pytest.approx(before.length_m, abs=1e-12)


def test_windows_are_the_stretches_where_every_lane_keeps_its_limits(answer):
    for settings in answer.settings:
        inside = {
            point.shift_m
            for window in answer.windows if window.settings == settings
            for point in answer.curve(settings) if window.from_m <= point.shift_m <= window.to_m
        }  # fmt: skip
        assert inside == {point.shift_m for point in answer.curve(settings) if point.worst.verdict != "fail"}


def test_whether_a_conditioner_is_needed_is_the_assessment_without_it(answer):
    for need in answer.needs:
        board = take_out(BOARD, need.lane, 1)
        (expected,) = plain(board, (need.lane,))
        assert need.passive.margin_guards == pytest.approx(expected.margin_guards, rel=1e-6)
        assert need.alone == ()
        assert ("needs no conditioner" in need.said) == (expected.verdict == "pass")


@pytest.mark.campaign
def test_whether_one_would_suffice_is_the_best_setting_of_each_stage_alone():
    board = with_lanes(section(), "D2")
    need = position_study(Basis(board=board), "U2", positions=2, settings="current", effort=ALONE).needs[0]
    assert need.devices == ("U1", "U2")
    assert [one.ref for one in need.alone] == ["U1", "U2"]
    for one, other in zip(need.alone, (3, 1), strict=True):
        alone = take_out(board, "D2", other)
        margins = {}
        for equalization in "0123":
            settings = one.settings | {"equalization": equalization}
            variant = replace(alone, devices=tuple(replace(d, settings=settings) for d in alone.devices))
            margins[equalization] = plain(variant)[0].margin_guards
        assert one.figures.margin_guards == pytest.approx(max(margins.values()), rel=1e-6)
        assert margins[one.settings["equalization"]] == max(margins.values())
    assert "one is enough" in need.said


@pytest.mark.campaign
def test_two_stages_of_one_device_on_a_lane_move_together():
    board = with_lanes(section(), "D0")
    path = (run(0.1), Stage(device="U1", channel=1), run(0.2), Stage(device="U1", channel=2), run(0.3))
    board = replace(board, lanes=(replace(board.lanes[0], path=path),))
    answer = position_study(
        Basis(board=board), "U1", from_m=0.01, to_m=0.02, positions=2, settings="current", effort=ALONE
    )
    moved = placed(board, "U1", answer.points[-1])
    lengths = [one.length_m for one in moved.lanes[0].path if isinstance(one, Run)]
    assert lengths == pytest.approx([0.12, 0.2, 0.28])
    assert answer.points[-1].lanes == plain(moved)


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"from_m": 0.1, "to_m": -0.1}, "a range from 100 mm to -100 mm holds nothing; write the smaller shift first"),
        ({"from_m": 0.1, "to_m": 0.1}, "a range from 100 mm to 100 mm holds nothing"),
        ({"from_m": -1.0}, r"more than the runs have; its runs allow -249 mm to \+299 mm"),
        ({"positions": 1}, "1 positions do not make a curve"),
        ({"settings": "boost"}, 'there is no choice of settings "boost"'),
        ({"limit": 100}, "this takes 204 assessments"),
    ],
)
def test_what_cannot_be_asked_is_one_sentence(options, sentence):
    with pytest.raises(StudyError, match=sentence) as caught:
        position_study(Basis(board=BOARD), "U1", effort=ALONE, **options)
    assert "\n" not in str(caught.value)


def test_a_device_with_no_run_beside_it_is_refused():
    board = with_lanes(section(), "D0")
    path = (*board.lanes[0].path[:2], *board.lanes[0].path[3:])
    board = replace(board, lanes=(replace(board.lanes[0], path=path),))
    with pytest.raises(StudyError, match='"U1" can\'t slide on lane "D0": what stands after it is not a run'):
        position_study(Basis(board=board), "U1", effort=ALONE)


def test_a_gain_that_is_no_reason_to_move_is_said_to_be_none(answer):
    gained = answer.best.margin_guards - answer.current.margin_guards
    assert ("hardly more than now" in answer.reason) == (0.0 < gained < 0.25)
    linear = with_few_settings(with_lanes(section(), "D1"))
    near = position_study(
        Basis(board=linear), "U1", from_m=-0.05, to_m=0.05, positions=2, settings="current", effort=ALONE
    )
    assert 0.0 < near.best.margin_guards - near.current.margin_guards < 0.25
    assert f"hardly more than now ({near.current.margin_guards:+.2f})" in near.reason
