"""Port maps: what passes at low frequency belongs together, what couples most is a pair; stated maps; what is unclear.

The rule is the project's own; the networks are invented.
"""

from itertools import permutations

import numpy as np
import pytest
from msgspec.structs import replace

from tests.measured.networks import F_HZ, channel, legs, measured
from tests.parts.samples import BY_LOSS
from workbench.errors import NotStatedError, TableError
from workbench.measured.touchstone.ports import guessed_ports, network_of, stated_ports, way_words
from workbench.parts.network import PortPair
from workbench.parts.networks.waves import ports_of, scattering_of
from workbench.parts.record import Parts
from workbench.parts.twoport import line


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
    assert any("does not show" in reason for reason in found.reasons)


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
    assert "one side, P or N, of a pair" in one.reasons[0]


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


def coupled(length_m: float, f_hz=F_HZ):
    """Two coupled legs between ports (left +, left -, right +, right -) of 50 ohm: shape (4, 4, n).

    Made of the two modes of a symmetric pair, odd 48 and even 62 ohm: differential 96 and common 31 ohm.
    """
    modes = np.zeros((4, 4, f_hz.size), np.complex128)
    for at, impedance_ohm, reference_ohm in ((0, 96.0, 100.0), (2, 31.0, 25.0)):
        constants = replace(BY_LOSS, impedance_ohm=impedance_ohm).line_constants(f_hz, Parts())
        modes[at : at + 2, at : at + 2] = scattering_of(line(constants, length_m), reference_ohm, reference_ohm)
    return ports_of(modes)


@pytest.mark.parametrize("length_m", [0.03, 0.1, 0.3])
@pytest.mark.parametrize(("order", "known"), [([0, 2, 1, 3], "1,3:2,4"), ([0, 2, 3, 1], "1,4:2,3")])
def test_what_couples_at_once_lies_at_the_same_end(length_m, order, known):
    """Causality: what couples to the far end cannot arrive before the flight time; near ends couple at once."""
    found = guessed_ports(measured(coupled(length_m)[np.ix_(order, order)]))
    assert ways(found) == [known]
    assert any("lie at one end" in reason for reason in found.reasons)


@pytest.mark.parametrize("order", [[0, 2, 1, 3], [0, 2, 3, 1]])
def test_where_two_orders_fit_alike_and_differ_the_user_is_asked(order):
    # Too short for the band to tell early from late; the differential two-ports of both orders differ all the same.
    with pytest.raises(NotStatedError, match=r"1,3:2,4 and 1,4:2,3 fit within 0\.\d dB") as asked:
        guessed_ports(measured(coupled(0.01)[np.ix_(order, order)]))
    assert asked.value.wanted == "ports"


SWEEPS = {
    "three points": (np.array([1.0, 2.0, 3.0]) * 1e9, None, "3 points above 0 Hz are not a network"),
    "conjugated": (F_HZ, np.conj, "its data are conjugated or its time runs backwards"),
    "conjugated, uneven": (np.geomspace(1e6, 2e10, 300), np.conj, "conjugated"),
    "too far apart": (np.arange(1, 21) * 1e9, None, "points are too far apart for 0.85"),
}


@pytest.mark.parametrize("name", SWEEPS)
def test_data_that_cannot_be_used_are_refused_with_a_remedy(name):
    f_hz, turned, words = SWEEPS[name]
    s = channel(f_hz, 0.06)  # delays by 0.856 ns, by its phase at fine spacing
    one = measured(s if turned is None else turned(s), f_hz, 100.0)
    with pytest.raises(TableError, match=words) as refused:
        network_of(one, "jumper", guessed_ports(one))
    assert "export" in str(refused.value)


@pytest.mark.parametrize("length_m", [0.0005, 0.005, 0.06, 0.3])
@pytest.mark.parametrize("f_hz", [F_HZ, np.geomspace(1e6, 2e10, 300), np.concatenate([[0.0], F_HZ])])
def test_sound_data_of_any_length_are_taken(length_m, f_hz):
    one = measured(channel(f_hz, length_m), f_hz, 100.0)
    assert network_of(one, "jumper", guessed_ports(one)).problems() == ()
