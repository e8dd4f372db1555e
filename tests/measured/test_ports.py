"""Port maps: what passes at low frequency belongs together, what couples most is a pair; stated maps; what is unclear.

The rule is the project's own; the networks are invented.
"""

from itertools import permutations

import numpy as np
import pytest

from tests.measured.networks import F_HZ, channel, legs, measured
from workbench.errors import NotStatedError, TableError
from workbench.measured.touchstone.ports import guessed_ports, network_of, stated_ports, way_words
from workbench.parts.network import PortPair


def ways(port_map) -> list[str]:
    return [way_words(pair) for pair in port_map.pairs]


@pytest.mark.parametrize(
    ("order", "known"),
    [([(1, 2), (3, 4)], "1,3:2,4"), ([(1, 3), (2, 4)], "1,2:3,4"), ([(1, 4), (2, 3)], "1,2:4,3")],
)
def test_the_ways_of_four_ports_are_seen_in_any_order(order, known):
    found = guessed_ports(measured(legs(order)))
    assert ways(found) == [known]
    assert found.sure
    assert found.ports_are == "single-ended"
    assert any(f"port 1 passes to port {dict(order)[1]}" in reason for reason in found.reasons)


def test_eight_ports_offer_their_ways_and_the_coupling_tells_the_pairs():
    # Legs 0 and 2, and 1 and 3, are neighbours by coupling though not by number.
    order = [(1, 5), (2, 6), (3, 7), (4, 8)]
    found = guessed_ports(measured(legs(order, {(0, 2): 0.2, (1, 3): 0.2, (0, 1): 0.01, (2, 3): 0.01})))
    assert ways(found) == ["1,3:5,7", "2,4:6,8"]
    assert found.sure


def test_without_coupling_neighbours_in_number_are_taken_and_said_to_be():
    found = guessed_ports(measured(legs([(1, 5), (2, 6), (3, 7), (4, 8)])))
    assert ways(found) == ["1,2:5,6", "3,4:7,8"]
    assert not found.sure
    assert any("does not tell" in reason for reason in found.reasons)


@pytest.mark.parametrize("order", list(permutations([2, 3, 4, 5, 6]))[::17])
def test_sixteen_and_fewer_ports_come_in_any_numbering(order):
    numbers = [1, *order]
    found = guessed_ports(measured(legs(list(zip(numbers[::2], numbers[1::2], strict=True))), reference=100.0))
    assert {frozenset(pair.ports) for pair in found.pairs} == {
        frozenset(pair) for pair in zip(numbers[::2], numbers[1::2], strict=True)
    }
    assert found.ports_are == "differential"


def test_two_ports_are_taken_by_their_reference():
    one, other = (guessed_ports(measured(channel(), reference=ohm)) for ohm in (50.0, 100.0))
    assert (one.ports_are, other.ports_are) == ("single-ended", "differential")
    assert "one leg of a pair" in one.reasons[0]


def test_what_the_data_do_not_show_is_asked_for():
    star = np.full((4, 4, F_HZ.size), 0.5 + 0j)  # an ideal four-way junction
    with pytest.raises(NotStatedError, match="port 1") as asked:
        guessed_ports(measured(star))
    assert asked.value.wanted == "ports"
    with pytest.raises(NotStatedError, match="3 legs"):
        guessed_ports(measured(legs([(1, 2), (3, 4), (5, 6)])))
    with pytest.raises(TableError, match="one port"):
        guessed_ports(measured(channel()[:1, :1]))


def test_stated_maps_are_read():
    four = measured(legs([(1, 3), (2, 4)]))
    assert stated_ports("1,2:3,4", four).pairs == (PortPair(left=1, left_minus=2, right=3, right_minus=4),)
    assert ways(stated_ports(" 2 , 1 : 4, 3 ", four)) == ["2,1:4,3"]
    eight = measured(legs([(1, 5), (2, 6), (3, 7), (4, 8)]))
    assert ways(stated_ports("1,2:5,6; 3,4:7,8", eight)) == ["1,2:5,6", "3,4:7,8"]
    assert ways(stated_ports("3,4:7,8 1,2:5,6", eight)) == ["3,4:7,8", "1,2:5,6"]
    assert stated_ports("1:3", four).ports_are == "single-ended"
    assert stated_ports("1:2", measured(channel(), reference=100.0)).ports_are == "differential"
    assert stated_ports("1:2", measured(channel()), "differential").ports_are == "differential"


@pytest.mark.parametrize("words", ["", "1", "1,2", "1,2:3", "1:3,4", "a:b", "0:1", "1,0:3,4", "1,2:3,5", "1,1:3,4",
                                   "1,2:3,4;1,2:3,4", "1,2:3,4,5", "-1:2"])  # fmt: skip
def test_maps_that_make_no_sense_are_refused_in_a_sentence(words):
    with pytest.raises(TableError, match=r"bench\.s4p: "):
        stated_ports(words, measured(legs([(1, 3), (2, 4)])))


def test_a_catalogue_entry_keeps_source_and_all_ports():
    four = measured(legs([(1, 3), (2, 4)]))
    network = network_of(four, "jumper", guessed_ports(four))
    assert (network.source, network.source_sha256) == ("bench.s4p", "0" * 64)
    assert np.array_equal(network.matrices().s, four.s)
    assert network.problems() == ()
    with pytest.raises(TableError, match="whole pair"):
        network_of(four, "jumper", stated_ports("1,2:3,4", four, "differential"))
