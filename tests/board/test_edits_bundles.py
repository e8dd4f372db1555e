"""Runs laid beside one another, and apart again."""

import pytest
from msgspec.structs import replace

from workbench.board.edits.bundles import lay_side_by_side, set_gap, take_apart
from workbench.board.edits.lanes import remove_lanes, rename_lane
from workbench.board.model import Board, Bundle, Run
from workbench.board.reading import load_board, read_board
from workbench.board.writing import dump_board
from workbench.errors import EditError
from workbench.resources import project

INNER = "control inner pair"


@pytest.fixture(scope="module")
def board() -> Board:
    shelf = load_board(project("correlator-shelf.board.json")).board
    for bundle in shelf.bundles:
        shelf = take_apart(shelf, bundle.name)
    return replace(shelf, catalogue=replace(shelf.catalogue, couplings=()))


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


def test_a_gap_is_set_and_the_coupling_is_called_by_it(board):
    wider = set_gap(lay_side_by_side(board, INNER, gap_m=4e-4), INNER, gap_m=6e-4)
    assert wider == lay_side_by_side(board, INNER, gap_m=6e-4)
    assert read_board(dump_board(wider)).board == wider


def test_a_gap_that_two_bundles_share_changes_for_one_of_them_only(board):
    line = "midplane outer pair"
    both = lay_side_by_side(lay_side_by_side(board, INNER, gap_m=4e-4), line, gap_m=5e-4)
    coupling = both.bundles[0].coupling
    shared = replace(both, bundles=tuple(replace(one, coupling=coupling) for one in both.bundles))
    moved = set_gap(shared, line, gap_m=8e-4)
    gaps = {one.name: one.gap_m for one in moved.catalogue.couplings}
    assert {one.name: gaps[one.coupling] for one in moved.bundles} == {INNER: 4e-4, line: 8e-4}


def test_a_name_of_ones_own_stays_when_the_gap_changes(board):
    beside = lay_side_by_side(board, INNER, gap_m=4e-4)
    named = replace(beside.catalogue.couplings[0], name="inner neighbours")
    beside = replace(
        beside, catalogue=replace(beside.catalogue, couplings=(named,)),
        bundles=(replace(beside.bundles[0], coupling=named.name),),
    )  # fmt: skip
    assert set_gap(beside, INNER, gap_m=5e-4).catalogue.couplings == (replace(named, gap_m=5e-4),)


def test_a_gap_needs_a_bundle_that_has_one(board):
    with pytest.raises(EditError, match="there is no bundle"):
        set_gap(board, INNER, gap_m=4e-4)
