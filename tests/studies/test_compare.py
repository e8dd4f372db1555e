"""Two boards compared: every difference named, and what it did is an assessment of the board with it alone."""

import csv
import io

import pytest
from msgspec.structs import replace

from tests.studies.boards import run, section, with_lanes
from workbench.board.edits.changes import changed
from workbench.board.edits.devices import set_settings
from workbench.board.edits.path import replace_element, set_run_length
from workbench.board.model import Component, Guard
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.engine.assess import assess_board
from workbench.errors import StudyError
from workbench.studies.comparison.comparing import compare_boards
from workbench.studies.comparison.differences import differences
from workbench.studies.figures import figures_of_assessment
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort

FIRST = with_lanes(section(), "D0", "D1", "D4")
ALONE = Effort(workers=1)


def thicker(board):
    """The board with one entry of its catalogue changed."""
    lines = tuple(
        replace(line, conductor_loss_db_per_m=6.0) if line.name == "lossy" else line for line in board.catalogue.lines
    )
    return replace(board, catalogue=replace(board.catalogue, lines=lines))


def strapped(board):
    return set_settings(board, ("U1",), {"equalization": "2"})


def longer(board):
    return set_run_length(board, "D1", 0, length_m=0.5)


SECOND = longer(strapped(thicker(FIRST)))


def margins(board):
    assessed = assess_board(board, sha256="").lanes
    return {lane.lane: figures_of_assessment(lane, board.guard).margin_guards for lane in assessed}


@pytest.fixture(scope="module")
def answer():
    return compare_boards(Basis(board=FIRST), Basis(board=SECOND), effort=ALONE)


@pytest.mark.campaign
def test_every_difference_is_named_with_what_changed(answer):
    assert [(one.where, one.name, one.kind, one.said) for one in answer.changes] == [
        ("lines", "lossy", "changed", ("conductor loss 7 dB/m became 6 dB/m",)),
        ("device", "U1", "changed", ("equalization 1 became 2",)),
        ("lane", "D1", "changed", ('element 1: "lossy" 350 mm became "lossy" 500 mm',)),
    ]


@pytest.mark.campaign
def test_each_effect_is_the_assessment_with_that_change_alone_and_without_it(answer):
    before, after = margins(FIRST), margins(SECOND)
    assert {lane.lane: (lane.first.margin_guards, lane.second.margin_guards) for lane in answer.lanes} == {
        name: (before[name], after[name]) for name in before
    }
    edits = (thicker, strapped, longer)
    for at, one in enumerate(answer.changes):
        alone = margins(edits[at](FIRST))
        rest = FIRST
        for other in (edit for n, edit in enumerate(edits) if n != at):
            rest = other(rest)
        without = margins(rest)
        found = {effect.lane: effect for effect in one.effects}
        for name in before:
            if name in found:
                assert found[name].into_first_guards == alone[name] - before[name]
                assert found[name].out_of_second_guards == after[name] - without[name]
            else:
                assert alone[name] == pytest.approx(before[name], abs=1e-6)
    assert [sorted(effect.lane for effect in one.effects) for one in answer.changes] == [
        ["D0", "D1", "D4"], ["D0", "D1"], ["D1"]
    ]  # fmt: skip


def test_the_differences_taken_over_make_the_second_board():
    second = replace(
        replace_element(SECOND, "D0", 3, Component(part="via")), guard=Guard(height_v=0.02), profile="sata-3",
        lanes=(*replace_element(SECOND, "D0", 3, Component(part="via")).lanes[:2],),
    )  # fmt: skip
    found = differences(FIRST, second)
    made = changed(FIRST, [one.taken for one in found])
    assert replace(made, lanes=made.lanes[:2]) == second
    assert [(one.where, one.name, one.kind) for one in found] == [
        ("board", "", "changed"), ("board", "", "changed"), ("lines", "lossy", "changed"), ("device", "U1", "changed"),
        ("lane", "D0", "changed"), ("lane", "D1", "changed"), ("lane", "D4", "removed"),
    ]  # fmt: skip
    assert found[1].said == ("height guard 10 mV became 20 mV",)
    assert found[4].said == ('element 4: "edge" became "via"',)


def test_what_is_new_or_gone_is_told_and_lanes_stand_on_one_side_only():
    extra = replace(FIRST.lanes[2], name="D5", path=(run(0.2, "twinax"),))
    second = replace(FIRST, lanes=(*FIRST.lanes[:2], extra))
    answer = compare_boards(Basis(board=FIRST), Basis(board=second), effort=ALONE)
    assert [(one.name, one.kind) for one in answer.changes] == [("D4", "removed"), ("D5", "added")]
    by_lane = {lane.lane: lane for lane in answer.lanes}
    assert by_lane["D4"].second is None
    assert by_lane["D5"].first is None
    assert by_lane["D5"].second.margin_guards == margins(second)["D5"]


def test_a_lane_gained_what_both_assessments_differ_by(answer):
    for lane in answer.lanes:
        if lane.first is None or lane.second is None:
            assert lane.gained_guards is lane.gained_height_v is lane.gained_width_ui is None
            continue
        assert lane.gained_height_v == lane.second.height_v - lane.first.height_v
        assert lane.gained_width_ui == lane.second.width_ui - lane.first.width_ui
        assert lane.gained_guards == lane.second.margin_guards - lane.first.margin_guards
    assert any(lane.gained_guards for lane in answer.lanes)


def test_the_same_board_has_no_changes_and_an_unknown_lane_is_one_sentence():
    same = compare_boards(Basis(board=FIRST), Basis(board=FIRST), lanes=("D4",), effort=ALONE)
    assert same.changes == ()
    with pytest.raises(StudyError, match='neither board has a lane "D9"'):
        compare_boards(Basis(board=FIRST), Basis(board=FIRST), lanes=("D9",), effort=ALONE)


def test_a_change_that_goes_only_with_others_says_so():
    part = FIRST.catalogue.conditioners[0]
    fewer = replace(part, equalization=part.equalization[2:])
    second = strapped(FIRST)
    second = replace(second, devices=tuple(
        replace(d, settings=d.settings | {"equalization": "2"}) for d in second.devices
    ), catalogue=replace(second.catalogue, conditioners=(fewer, *second.catalogue.conditioners[1:])))  # fmt: skip
    answer = compare_boards(Basis(board=FIRST), Basis(board=second), lanes=("D4",), effort=ALONE)
    assert "it goes together with other changes" in answer.changes[0].apart


def test_the_command_prints_both_boards_and_every_change(tmp_path, capsys):
    for name, board in (("a", FIRST), ("b", SECOND)):
        save_board(board, tmp_path / f"{name}.board.json")
    files = [str(tmp_path / f"{name}.board.json") for name in "ab"]
    words = ["compare", *files, "--workers", "1", "--lane", "D1"]
    assert main(words) == 0
    out = capsys.readouterr().out
    assert "device U1: equalization 1 became 2" in out
    assert max(map(len, out.splitlines())) <= 100
    assert main([*words, "--csv"]) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert [row["where"] for row in rows] == ["lane", "lines", "device", "lane"]
