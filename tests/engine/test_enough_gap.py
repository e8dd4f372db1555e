"""The gap that would be enough: put in, the lane passes and keeps half of its margin; a tenth less, and it does not."""

import pytest
from msgspec.structs import replace

from workbench.board.edits.bundles import set_gap, take_apart
from workbench.board.reading import load_board
from workbench.engine.assess import assess_board
from workbench.resources import project

LINE, HURT = "midplane outer pair", "RX2"


@pytest.fixture(scope="module")
def board():
    shelf = take_apart(load_board(project("correlator-shelf.board.json")).board, "control inner pair")
    return replace(shelf, lanes=tuple(lane for lane in shelf.lanes if lane.name in (HURT, "RX8")))


def assessed(board, name=HURT):
    return assess_board(board, sha256="", lanes=(name,)).lanes[0]


@pytest.mark.campaign
def test_put_in_it_is_enough_and_a_tenth_less_is_not(board):
    hurt = assessed(board)
    gap_m = hurt.crosstalk.enough_gap_m
    assert gap_m is not None
    assert gap_m > 5.5e-4
    assert any(f"{gap_m * 1e6:.0f} µm between them would be enough" in one.text for one in hurt.findings)
    left_v = hurt.crosstalk.height_v_without - hurt.limits.height_v
    put_in, narrower = (assessed(set_gap(board, LINE, gap_m=gap)) for gap in (gap_m, 0.9 * gap_m))
    assert put_in.margin.verdict == "pass"
    assert put_in.margin.height_v >= 0.5 * left_v
    assert "crosstalk" not in {one.rule for one in put_in.findings}
    assert narrower.margin.verdict != "pass" or narrower.margin.height_v < 0.5 * left_v


def test_a_lane_that_is_not_hurt_is_told_no_gap(board):
    assert assessed(board, "RX8").crosstalk.enough_gap_m is None
    assert assessed(set_gap(board, LINE, gap_m=2e-3)).crosstalk.enough_gap_m is None
