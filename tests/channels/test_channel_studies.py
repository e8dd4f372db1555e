"""Studies where each channel has its own equalization: it is free for each lane, what they share is not."""

import itertools

import pytest
from msgspec.structs import replace

from tests.channels.boards import searched
from workbench.board.edits.changes import changed
from workbench.board.edits.devices import set_settings
from workbench.board.model import Stage
from workbench.engine.assess import assess_board
from workbench.engine.memo import Memo
from workbench.errors import StudyError
from workbench.parts.conditioners.controls import Settings
from workbench.studies.figures import figures_of_assessment
from workbench.studies.ideal import settings_tried
from workbench.studies.kinds.settings import SettingsStudy
from workbench.studies.need import NeedJobs
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.position import placed, position_study
from workbench.studies.remedies.moves import changes_of
from workbench.studies.remedies.offered import NO_LIBRARY
from workbench.studies.remedies.parts_moves import parts_moves
from workbench.studies.remedies.settings_moves import settings_moves
from workbench.studies.setting_search import search as settings_search
from workbench.studies.setting_search.settings import device_choices, named_choices
from workbench.studies.settings import settings_study

ALONE = Effort(workers=1)
BOARD = searched()
MEMO = Memo()
STUDY = SettingsStudy()


def margins(board):
    """Every lane's margin by plain assessment."""
    lanes = assess_board(board, sha256="", memo=MEMO).lanes
    return {lane.lane: figures_of_assessment(lane, board.guard).margin_guards for lane in lanes}


def plainly(shared):
    """Every lane's margin by (equalization, emphasis), all channels alike: a lane is deaf to the other channel."""
    board = searched(())
    return {
        (eq, emphasis): margins(set_settings(board, ("U1",), {"equalization": eq, "emphasis": emphasis}))
        for eq, emphasis in itertools.product("012", shared)
    }  # fmt: skip


@pytest.fixture(scope="module")
def table():
    return plainly(("off", "on"))


@pytest.fixture(scope="module")
def joint():
    return settings_study(Basis(board=BOARD), ("U1",), effort=ALONE)


def of(candidate):
    """What a candidate sets: emphasis, and the equalization of channels 1 and 2."""
    shared, *own = candidate.settings
    assert [one.channel for one in candidate.settings] == [None, 1, 2]
    return shared.settings["emphasis"], *(one.settings["equalization"] for one in own)


def test_every_combination_of_what_is_shared_and_each_channels_own_is_ranked(joint, table):
    (group,) = joint.groups
    assert group.devices == ("U1", "U1 channel 1", "U1 channel 2")
    assert group.served == (("D0", "D1"), ("D0",), ("D1",))
    assert {of(one): one.margin_guards for one in group.candidates} == {
        (emphasis, first, second): min(table[first, emphasis]["D0"], table[second, emphasis]["D1"])
        for emphasis in ("off", "on") for first in "012" for second in "012"
    }  # fmt: skip
    # 2 emphases by 3 equalizations on each of two lanes: what channels share is not searched once a channel.
    assert joint.made.assessments == 12


def test_a_lane_that_is_not_the_worst_gets_its_best_too(joint, table):
    emphasis, first, second = of(joint.groups[0].best)
    assert table[first, emphasis]["D0"] == max(table[one, emphasis]["D0"] for one in "012")
    assert table[second, emphasis]["D1"] == max(table[one, emphasis]["D1"] for one in "012")


@pytest.mark.campaign
def test_the_joined_tables_give_every_lane_its_best_too(joint, monkeypatch):
    monkeypatch.setattr(settings_search, "RANKED", 1)
    (group,) = settings_study(Basis(board=BOARD), ("U1",), effort=ALONE).groups
    assert of(group.best) == of(joint.groups[0].best)
    assert group.exact


def test_the_board_with_the_answer_applied_has_the_margins_that_it_promises(joint):
    applied = joint.edit(BOARD)
    assert {lane.lane: lane.margin_guards for lane in joint.groups[0].recommended.lanes} == margins(applied)
    assert joint.groups[0].current.margin_guards == min(margins(BOARD).values())


@pytest.mark.campaign
def test_channels_that_share_nothing_are_searched_each_by_itself(table):
    whole = searched(("equalization", "swing", "emphasis"))
    answer = settings_study(Basis(board=whole), ("U1",), effort=ALONE)
    assert [group.devices for group in answer.groups] == [("U1 channel 1",), ("U1 channel 2",)]
    for group, lane in zip(answer.groups, ("D0", "D1"), strict=True):
        assert group.best.margin_guards == max(found[lane] for found in table.values())
    shown = STUDY.present(answer)
    assert "U1 channel 1, equalization" in shown.sentence
    assert "U1 channel 2, equalization" in shown.sentence
    assert shown.picture is not None
    assert margins(STUDY.applied(answer, whole)) == {
        group.lanes[0]: group.recommended.margin_guards for group in answer.groups
    }  # fmt: skip


def test_what_is_shown_names_the_channels(joint):
    shown = STUDY.present(joint)
    assert shown.edit_name == "settings of U1"
    assert {shown.picture.across.rpartition(" ")[2], shown.picture.down.rpartition(" ")[2]} == {
        "equalization", "emphasis",
    }  # fmt: skip
    assert "U1 channel 2 (D1): equalization" in STUDY.text(joint, BOARD.guard)
    head, *rows = STUDY.rows(joint)
    at = head.index("channel")
    assert {row[at] for row in rows} == {None, 1, 2}


def test_one_channel_may_be_named_by_itself():
    (own,) = named_choices(BOARD, "U1:2")
    assert (own.words, own.lanes, own.controls) == ("U1 channel 2", ("D1",), ("equalization",))
    lost = 'no lane passes channel "7" of "U1"; write "U1:1" or "U1:2"'
    for name, words in (("U1:7", lost), ("U7:1", 'no device "U7"')):
        with pytest.raises(StudyError, match=words):
            named_choices(BOARD, name)
    with pytest.raises(StudyError, match=r"all channels of .* are set alike"):
        named_choices(searched(()), "U1:1")


def test_a_remedy_sets_the_lanes_own_channel_and_says_so():
    lane = BOARD.lanes[1]
    moves = [one for one in settings_moves(BOARD, lane, NO_LIBRARY) if "equalization of" in one.words]
    assert {one.words.partition(" to ")[0] for one in moves} == {"set equalization of U1 channel 2"}
    assert all(not one.cost for one in moves)
    shared = [one for one in settings_moves(BOARD, lane, NO_LIBRARY) if "emphasis of U1 " in one.words]
    assert all("sets all 2 lanes of U1" in one.cost for one in shared)
    board = changed(BOARD, moves[0].changes)
    assert board.devices[0].on_channel(1) == BOARD.devices[0].on_channel(1)
    assert board.devices[0].on_channel(2) != BOARD.devices[0].on_channel(2)


def test_a_free_channel_is_offered_at_its_own_positions():
    lane = replace(BOARD.lanes[0], name="D7", path=(BOARD.lanes[0].path[0],))
    board = replace(BOARD, lanes=(*BOARD.lanes, lane))
    moves = [one for one in parts_moves(board, lane, NO_LIBRARY) if "the free channel 3 of U1" in one.words]
    said = {one.words.partition(" into D7")[0].partition("U1")[2] for one in moves}
    assert said == {"", " at equalization 0", " at equalization 2"}
    put = changed(board, changes_of([next(one for one in moves if "equalization 2" in one.words)]))
    assert [put.devices[0].on_channel(n)["equalization"] for n in (1, 2, 3)] == ["1", "1", "2"]
    assert Stage(device="U1", channel=3) in put.lanes[-1].path


def test_a_budgets_best_equalization_is_the_lanes_own():
    assert settings_tried(BOARD, "D0") == settings_tried(searched(()), "D0") == 6


def test_a_stage_left_alone_is_tried_at_its_own_channels_positions():
    jobs = NeedJobs(BOARD, ("D0",), "first", 0).jobs
    assert len(jobs) == 1  # one stage: only without it
    (choices, *_) = [one for one in device_choices(BOARD, "U1") if one.channel == 1]
    assert choices.change(Settings(equalization="0")).of(BOARD).devices[0].on_channel(2)["equalization"] == "1"


@pytest.mark.campaign
def test_at_each_position_every_lane_takes_its_best_equalization(table):
    answer = position_study(Basis(board=BOARD), "U1", from_m=0.0, to_m=0.02, positions=2, effort=ALONE)
    assert [dict(one) for one in answer.settings] == [{"swing": "unity", "emphasis": "off"}]
    here = next(point for point in answer.points if point.shift_m == 0.0)
    for lane in here.lanes:
        assert lane.margin_guards == max(table[one, "off"][lane.lane] for one in "012")
    assert answer.current.margin_guards == min(margins(BOARD).values())
    assert min(margins(placed(BOARD, "U1", here)).values()) == here.margin_guards
    assert "best equalization of each channel" in answer.reason
