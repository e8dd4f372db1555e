"""Limits of the board's owner: typed where an interface has none, kept with their source, judged by."""

from msgspec.structs import replace

from tests.lanes import lane_board, trace
from workbench.board.edits.limits import NO_SOURCE, OwnLimits, own_limits, set_own_limits
from workbench.board.library import builtin_profiles
from workbench.engine.assess import assess_board

UNLIMITED = "sas-3"
LIMITED = "pcie-1"


def test_own_limits_are_typed_with_their_source_and_only_where_the_standard_has_none():
    board = replace(lane_board((trace(0.1, "lossy"),)), profile=UNLIMITED)
    assert own_limits(board, LIMITED) is None
    assert own_limits(board, UNLIMITED) == OwnLimits()
    wanted = OwnLimits(height_v=0.1, source="shelf specification 3.2")
    judged = set_own_limits(board, UNLIMITED, wanted)
    assert own_limits(judged, UNLIMITED) == wanted
    profile = next(one for one in judged.profiles if one.id == UNLIMITED)
    assert profile.limits.height_v.source == "shelf specification 3.2"
    assert profile.limits.height_v.status == "own requirement"
    assert set_own_limits(judged, UNLIMITED, OwnLimits()) == board
    assert builtin_profiles()[UNLIMITED].limits.height_v is None


def test_a_lane_is_not_judged_until_its_owner_says_by_what():
    board = lane_board((trace(0.1, "lossy"),))
    profile = board.profiles[0].id
    (before,) = assess_board(board, sha256="").lanes
    assert before.margin.verdict == "not judged"
    (after,) = assess_board(set_own_limits(board, profile, OwnLimits(height_v=0.05, width_ui=0.2)), sha256="").lanes
    assert after.margin.verdict == "pass"
    assert f"own requirement: {NO_SOURCE}" in after.margin.judged_by[0]
    (missed,) = assess_board(set_own_limits(board, profile, OwnLimits(height_v=3.0)), sha256="").lanes
    assert missed.margin.verdict == "fail"
