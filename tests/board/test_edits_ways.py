"""Lanes that pass a part together: by one gesture, by an import, and copied."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, trace
from tests.measured.networks import legs, measured
from workbench.board.edits.bundles import BundlePlace, bundle_place, set_bundle_place, take_apart
from workbench.board.edits.lanes import copy_lanes
from workbench.board.edits.ways import lay_through, pass_together
from workbench.board.model import Board, Component, Run
from workbench.board.reading import read_board
from workbench.board.writing import dump_board
from workbench.errors import EditError
from workbench.measured.touchstone.ports import network_of, stated_ports
from workbench.parts.crosstalk import CrosstalkLevel

LEVELS = (CrosstalkLevel(frequency_hz=2.5e9, next_db=40.0, fext_db=46.0),)
PLACE = BundlePlace(place=1, direction="along", alignment="worst", reach=1)
F_HZ = np.arange(1, 81) * 2.5e8


def with_network(names: str, part: str = "edge") -> Board:
    """Lanes through a connector that states its crosstalk, and a network of two pairs in the catalogue."""
    one = lane_board((trace(0.1), Component(part=part), trace(0.1)))
    given = measured(legs([(1, 3), (2, 4), (5, 7), (6, 8)], f_hz=F_HZ), F_HZ)
    network = network_of(given, "packed", stated_ports("1,2:3,4 5,6:7,8", given))
    edge = replace(one.catalogue.connectors[0], crosstalk=LEVELS)
    return replace(
        one, lanes=tuple(replace(one.lanes[0], name=name) for name in names),
        catalogue=replace(one.catalogue, networks=(network,), connectors=(edge,)),
    )  # fmt: skip


def places(board: Board) -> list[tuple[int, str | None]]:
    return [(one.way, one.bundle) for lane in board.lanes for one in lane.path if isinstance(one, Component)]


def test_all_lanes_pass_a_connector_together_and_apart_again():
    before = with_network("ABC")
    board = pass_together(before, "edge", against=("B",))
    assert places(board) == [(1, "edge")] * 3
    assert board.bundles[0].against == ("B",)
    assert board.bundles[0].coupling is None
    assert read_board(dump_board(board)).board == board
    assert pass_together(board, "edge") == board  # a second call changes nothing
    assert take_apart(board, "edge").lanes == before.lanes


def test_lanes_take_a_networks_ways_in_their_order_and_then_those_of_the_next_one():
    board = pass_together(with_network("ABCDE", "packed"), "packed")
    assert places(board) == [
        (1, "packed"), (2, "packed"), (1, "packed (2)"), (2, "packed (2)"), (1, "packed (3)"),
    ]  # fmt: skip
    assert read_board(dump_board(board)).board == board


def test_a_network_takes_the_place_of_what_its_lanes_have():
    board = lay_through(with_network("ABC"), "packed", ("C", "A"), in_place_of="edge", against=("A",))
    assert [lane.path[1] for lane in board.lanes] == [
        Component(part="packed", way=2, bundle="packed"), Component(part="edge"),
        Component(part="packed", way=1, bundle="packed"),
    ]  # fmt: skip
    assert board.bundles[0].against == ("A",)


def test_a_copy_takes_a_free_way_and_where_none_is_left_passes_one_of_its_own():
    board = pass_together(with_network("A", "packed"), "packed")
    one = copy_lanes(board, ("A",)).board
    two = copy_lanes(one, ("A",)).board
    assert places(one) == [(1, "packed"), (2, "packed")]
    assert sorted(places(two), key=str) == [(1, "packed"), (1, None), (2, "packed")]


@pytest.mark.parametrize(
    ("edit", "words"),
    [
        (lambda b: pass_together(b, "tracee"), "there is no"),
        (lambda b: pass_together(b, "trace"), "does not say"),
        (lambda b: pass_together(b, "packed"), "no lane passes"),
        (lambda b: lay_through(b, "packed", ("A", "B", "C"), in_place_of="edge"), "2 ways for 3 lanes"),
        (lambda b: lay_through(b, "trace", ("A",), in_place_of="edge"), "no connector or network"),
        (lambda b: lay_through(b, "packed", ("A",), in_place_of="trace"), "twice"),
        (lambda b: lay_through(b, "packed", ("A",), in_place_of="via"), "nowhere"),
        (lambda b: set_bundle_place(b, "edge", "A", PLACE),
         "has nothing in"),
    ],
)  # fmt: skip
def test_what_can_not_be_is_refused(edit, words):
    with pytest.raises(EditError, match=words):
        edit(with_network("ABC"))


def test_a_lanes_place_and_direction_in_a_bundle_can_be_set():
    board = pass_together(with_network("ABC"), "edge")
    assert bundle_place(board, "edge", "C") == BundlePlace(place=3, direction="along", alignment="worst", reach=1)
    moved = set_bundle_place(
        board, "edge", "C", BundlePlace(place=1, direction="against", alignment="asynchronous", reach=2)
    )
    assert moved.bundles[0].order == ("C", "A", "B")
    assert moved.bundles[0].against == ("C",)
    assert bundle_place(moved, "edge", "A") == replace(PLACE, place=2, alignment="asynchronous", reach=2)
    back = set_bundle_place(moved, "edge", "C", BundlePlace(place=9, direction="along", alignment="worst", reach=1))
    assert back.bundles[0].order == ("A", "B", "C")
    assert back.bundles[0].against == ()


def test_a_cable_that_states_its_crosstalk_is_passed_together():
    one = lane_board((Run(line="twinax", length_m=1.0),))
    cable = replace(one.catalogue.cables[0], crosstalk=LEVELS)
    board = replace(one, lanes=tuple(replace(one.lanes[0], name=name) for name in "AB"),
                    catalogue=replace(one.catalogue, cables=(cable,)))  # fmt: skip
    found = pass_together(board, "twinax")
    assert [one.bundle for lane in found.lanes for one in lane.path] == ["twinax", "twinax"]
    assert found.bundles[0].coupling is None
