"""Runs laid beside one another, and apart again."""

import pytest

from workbench.board.edits.bundles import lay_side_by_side, take_apart
from workbench.board.edits.lanes import remove_lanes, rename_lane
from workbench.board.model import Board, Bundle, Run
from workbench.board.reading import load_board, read_board
from workbench.board.writing import dump_board
from workbench.errors import EditError
from workbench.resources import project

INNER = "control inner pair"


@pytest.fixture(scope="module")
def board() -> Board:
    return load_board(project("correlator-shelf.board.json")).board


def bundled(board: Board) -> set[str]:
    return {lane.name for lane in board.lanes for one in lane.path if isinstance(one, Run) and one.bundle is not None}


def test_all_runs_of_a_line_lie_beside_one_another_and_apart_again(board):
    beside = lay_side_by_side(board, INNER, gap_m=4e-4)
    assert bundled(beside) == {
        lane.name for lane in board.lanes for one in lane.path if isinstance(one, Run) and one.line == INNER
    }
    assert read_board(dump_board(beside)).board == beside
    apart = take_apart(beside, INNER)
    assert bundled(apart) == set()
    assert apart.lanes == board.lanes


def test_asked_again_the_gap_changes_and_nothing_is_left_behind(board):
    wider = lay_side_by_side(lay_side_by_side(board, INNER, gap_m=4e-4), INNER, gap_m=6e-4)
    assert [coupling.gap_m for coupling in wider.catalogue.couplings] == [6e-4]
    assert len(wider.bundles) == 1


def test_a_line_told_by_its_loss_has_no_gap(board):
    with pytest.raises(EditError, match="has no cross-section"):
        lay_side_by_side(board, "midplane trace", gap_m=4e-4)
    with pytest.raises(EditError, match="there is no line"):
        lay_side_by_side(board, "no such line", gap_m=4e-4)
    with pytest.raises(EditError, match="there is no bundle"):
        take_apart(board, INNER)


def test_bundles_follow_their_lanes(board):
    beside = lay_side_by_side(board, INNER, gap_m=4e-4)
    named = Bundle(name=INNER, coupling=beside.bundles[0].coupling, order=("RX1", "RX0"), against=("RX1",))
    ordered = Board(**{name: getattr(beside, name) for name in beside.__struct_fields__} | {"bundles": (named,)})
    renamed = rename_lane(ordered, "RX1", "first")
    assert (renamed.bundles[0].order, renamed.bundles[0].against) == (("first", "RX0"), ("first",))
    assert remove_lanes(ordered, ["RX1"]).bundles[0].order == ("RX0",)
