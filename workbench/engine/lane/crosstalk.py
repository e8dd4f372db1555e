"""What a neighbouring lane's signal becomes at a place of a lane: first order in the coupling, exact in all else.

Along a stretch that two lanes share, the aggressor's voltage V_a and current I_a feed the victim with ``-y_m V_a dx``
across and ``z_m I_a dx`` in series. By reciprocity, the voltage that this makes at a node of the victim is

    v = int [-y_m V_a(x) V(x) + z_m I_a(x) I(x)] dx

with V, I the victim's own solution for a unit current into that node. Both solutions hold all reflections of their
lanes. On a uniform line each is a wave to either side, so that the integral has a closed form without any growing
exponential (derived; C. R. Paul, "Analysis of Multiconductor Transmission Lines", Wiley, has the equations that it
starts from). Through a part that both lanes pass the waves a_j that run into the aggressor's ends leave S_ij a_j at the
victim's; by reciprocity again that makes ``v = 2 sum a_i S_ij a_j`` with the victim's a_i for a unit current into the
node (power waves, as in `parts.networks.waves`). What the victim gives back to the aggressor is of second order and
left out.
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.engine.lane.elements import converts, element_two_port, end_of, line_of
from workbench.engine.lane.grid import Axis
from workbench.engine.lane.path import Neighbour, Span
from workbench.engine.lane.path_element import Along, PathElement
from workbench.engine.lane.spans import flight_time_s, transfer
from workbench.engine.memo import Memo
from workbench.parts.record import Crosstalk
from workbench.parts.twoport import (
    REFERENCE_OHM,
    TwoPort,
    input_admittance_s,
    reversed_two_port,
    voltage_transfer,
)


class _Wave(NamedTuple):
    """A line's voltage as two waves: `forward` at its beginning, `backward` at its end, V, shape (n,) each."""

    forward: Complexes
    backward: Complexes

    def between(self, gamma: Complexes, length_m: float, from_m: float, shared_m: float) -> "_Wave":
        """The same over a stretch of `shared_m` from `from_m` on, of a line of `length_m`."""
        rest_m = max(length_m - from_m - shared_m, 0.0)
        return _Wave(_later(self.forward, gamma, from_m), _later(self.backward, gamma, rest_m))

    def turned(self) -> "_Wave":
        """The same seen from the other end."""
        return _Wave(self.backward, self.forward)


def _later(wave: Complexes, gamma: Complexes, length_m: float) -> Complexes:
    """A wave `length_m` further along a line."""
    return wave * np.exp(-gamma * length_m) if length_m else wave


def coupled(memo: Memo, victim: Span, elements: int | None, neighbour: Neighbour, axis: Axis) -> Complexes:
    """Voltage at a place of the victim's span over the open voltage that drives the aggressor's, shape (n,).

    The time of flight along both lanes is taken out but for that along the shared stretch itself.

    Args:
        memo: the store of known results.
        victim: the span that the neighbour's run lies beside.
        elements: the place is after this many elements; None: across the span's load.
        neighbour: the other lane and how the two couple.
        axis: where to compute.
    """
    return (_through_part if neighbour.along is None else _along_runs)(memo, victim, elements, neighbour, axis)


def _through_part(memo: Memo, victim: Span, elements: int | None, neighbour: Neighbour, axis: Axis) -> Complexes:
    """From the ends of the aggressor's way through a part to those of the victim's."""
    assert isinstance(neighbour.by, Crosstalk)
    other_span = neighbour.aggressor.spans[neighbour.aggressor_span]
    driving = _driven(memo, other_span, neighbour.aggressor_element, axis, matched=True)
    answering = _answering(memo, victim, neighbour.element, elements, axis, matched=True)
    waves = neighbour.by.waves(axis.f_hz)
    return np.asarray(2.0 / REFERENCE_OHM * np.einsum("in,ijn,jn->n", answering, waves, driving), np.complex128)


def _along_runs(memo: Memo, victim: Span, elements: int | None, neighbour: Neighbour, axis: Axis) -> Complexes:
    """Along the stretch where two runs lie side by side."""
    assert isinstance(neighbour.by, Along)
    along = neighbour.by
    own = victim.elements[neighbour.element]
    other_span = neighbour.aggressor.spans[neighbour.aggressor_span]
    other = other_span.elements[neighbour.aggressor_element]
    own_ohm, other_ohm = _impedance_ohm(memo, own, axis), _impedance_ohm(memo, other, axis)
    lines = line_of(memo, own, axis), line_of(memo, other, axis)
    shared_m = along.shared_m
    driving = _driven(memo, other_span, neighbour.aggressor_element, axis, matched=False)
    driving = driving.between(
        lines[1].propagation.gamma_per_m, other.length_m or 0.0, along.aggressor_from_m, shared_m
    )
    answering = _answering(memo, victim, neighbour.element, elements, axis, matched=False)
    answering = answering.between(lines[0].propagation.gamma_per_m, own.length_m or 0.0, along.from_m, shared_m)
    if neighbour.against:
        driving = driving.turned()
    gammas = lines[1].propagation.gamma_per_m, lines[0].propagation.gamma_per_m
    kind = (other.record, other.parts), (own.record, own.parts)
    means = memo.get(("stretch", *kind, shared_m, axis), lambda: _means(*gammas, shared_m, alike=kind[0] == kind[1]))
    voltages, currents = _integrals(driving, answering, means)
    currents = currents / (own_ohm * other_ohm)
    constants = lines[0].constants
    mutual_z = along.ratios.inductive * 1j * constants.z_ohm_per_m.imag
    mutual_y = -along.ratios.capacitive * 1j * constants.y_s_per_m.imag
    return np.asarray(-mutual_y * voltages + mutual_z * currents, np.complex128)


class _Means(NamedTuple):
    """What waves that run the same way and against each other make over a stretch, its length included, m."""

    along_m: Complexes
    across_m: Complexes


def _means(gamma_a: Complexes, gamma_v: Complexes, length_m: float, *, alike: bool) -> _Means:
    across = np.exp(-gamma_v * length_m)
    if alike:
        return _Means(length_m * _mean(2.0 * length_m * gamma_v, across * across), length_m * across)
    other = np.exp(-gamma_a * length_m)
    along = _mean((gamma_a + gamma_v) * length_m, across * other)
    return _Means(length_m * along, length_m * _between((gamma_a - gamma_v) * length_m, across, other))


def _integrals(driving: _Wave, answering: _Wave, means: _Means) -> tuple[Complexes, Complexes]:
    """The integrals of V_a V, and of I_a I times both impedances, over the shared stretch."""
    along = (driving.forward * answering.forward + driving.backward * answering.backward) * means.along_m
    across = (driving.forward * answering.backward + driving.backward * answering.forward) * means.across_m
    return along + across, along - across


def _impedance_ohm(memo: Memo, element: PathElement, axis: Axis, *, matched: bool = False) -> Complexes:
    """Characteristic impedance of a run in ohm; at 0 Hz, where nothing couples, that of the next frequency."""
    if matched:
        return np.full(axis.f_hz.size, REFERENCE_OHM, np.complex128)
    impedance = line_of(memo, element, axis).propagation.impedance_ohm
    if axis.f_hz[0] == 0.0:
        impedance = np.concatenate([impedance[1:2], impedance[1:]])
    return impedance


def _mean(x: Complexes, fallen: Complexes) -> Complexes:
    """The mean of exp(-x t) for t from 0 to 1, (1 - exp(-x)) / x, also where x is 0; `fallen` is exp(-x)."""
    return _between(x, np.ones(1), fallen)


def _between(x: Complexes, first: Complexes | Floats, last: Complexes) -> Complexes:
    """The mean of ``first exp(-x t)`` for t from 0 to 1 where `last` is ``first exp(-x)``, also where x is 0."""
    small = np.maximum(np.abs(x.real), np.abs(x.imag)) < 1e-5
    if not small.any():
        return np.asarray((first - last) / x)
    safe = np.where(small, 1.0, x)
    return np.asarray(np.where(small, first * (1.0 - x / 2.0), (first - last) / safe))


def _driven(memo: Memo, span: Span, element: int, axis: Axis, *, matched: bool) -> _Wave:
    """The aggressor's waves into one of its elements for a unit open voltage, from the flight to its beginning on.

    They are those of the run's own line, or of `matched` ends, which a part's crosstalk counts from.
    """

    def make() -> _Wave:
        impedance = _impedance_ohm(memo, span.elements[element], axis, matched=matched)
        begin_s, end_s = (_rightward_s(memo, span, element + n, axis) for n in (0, 1))
        begin_v, end_v = _at_ends_v(memo, span, element, axis)
        return _waves(begin_v, begin_v * begin_s, end_v, end_v * end_s, impedance)

    return memo.get(("driven", span, element, axis, matched), make)


def _at_ends_v(memo: Memo, span: Span, element: int, axis: Axis) -> tuple[Complexes, Complexes]:
    """Voltages before and after an element for a unit open voltage, from the flight to its beginning on, (n,) each."""
    if any(map(converts, span.elements)):
        first, last = (transfer(memo, span, axis, element + n) for n in (0, 1))
        later = np.exp(-2j * np.pi * axis.f_hz * (last.delay_s - first.delay_s))
        return first.gain, np.asarray(last.gain * later)
    delay_s = span.source.flight_s + flight_time_s(memo, span, axis, element)
    on = np.exp(2j * np.pi * axis.f_hz * delay_s)
    begin_v, end_v = (_driven_v(memo, span, element + n, axis) for n in (0, 1))
    return begin_v * on, end_v * on


def _driven_v(memo: Memo, span: Span, place: int, axis: Axis) -> Complexes:
    """Voltage at a place of a span for a unit open voltage, its flight included, shape (n,): element by element."""

    def make() -> Complexes:
        if place > 0:
            return _driven_v(memo, span, place - 1, axis) * _crossed_rightward(memo, span, place - 1, axis)
        into_s = _rightward_s(memo, span, 0, axis)
        return voltage_transfer(end_of(memo, span.source, axis, drives=True), span.source.resistance_ohm, into_s)

    return memo.get(("driven to", span.source, span.elements, span.load, place, axis), make)


class _Way(NamedTuple):
    """From a place with the voltage `node_v` (V, shape (n,)) to an element with its line's impedance (ohm)."""

    element: int
    place: int
    node_v: Complexes
    impedance: Complexes


def _answering(
    memo: Memo, span: Span, element: int, elements: int | None, axis: Axis, *, matched: bool
) -> _Wave:
    """The victim's waves into one of its elements for a unit current into a place, flight to the nearer end taken out.

    The place is after `elements` of the span's elements, or across its load.
    """

    def make() -> _Wave:
        place = len(span.elements) if elements is None else elements
        left_s, right_s = (seen(memo, span, place, axis) for seen in (_leftward_s, _rightward_s))
        impedance = _impedance_ohm(memo, span.elements[element], axis, matched=matched)
        if elements is None:  # across the load, after what the end itself has
            node_v = _across_load(memo, span, left_s, axis)
        else:
            node_v = np.asarray(1.0 / (left_s + right_s), np.complex128)
        way = _Way(element, place, node_v, impedance)
        return (_leftward_wave if element < place else _rightward_wave)(memo, span, axis, way)

    return memo.get(("answering", span, element, elements, axis, matched), make)


def _across_load(memo: Memo, span: Span, left_s: Complexes, axis: Axis) -> Complexes:
    """Voltage where the last element ends for a unit current into the load's own resistance."""
    end = end_of(memo, span.load, axis)
    load_s = np.full(axis.f_hz.size, 1.0 / span.load.resistance_ohm, np.complex128)
    back = reversed_two_port(end)
    into_s = input_admittance_s(back, left_s)
    later = np.exp(2j * np.pi * axis.f_hz * span.load.flight_s)
    return np.asarray(voltage_transfer(back, 0.0, left_s) * later / (into_s + load_s), np.complex128)


def _leftward_wave(memo: Memo, span: Span, axis: Axis, way: _Way) -> _Wave:
    """On an element left of the place: the voltage falls towards the source."""
    element, place, node_v, impedance = way
    begin_s, end_s = (_leftward_s(memo, span, element + n, axis) for n in (0, 1))
    between = range(element + 1, place)
    end_v = _without_flight(memo, span, between, axis, node_v)
    for number in reversed(between):
        end_v = end_v * _crossed_leftward(memo, span, number + 1, axis)
    begin_v = end_v * _crossed_leftward(memo, span, element + 1, axis)
    return _waves(begin_v, -begin_v * begin_s, end_v, -end_v * end_s, impedance)


def _rightward_wave(memo: Memo, span: Span, axis: Axis, way: _Way) -> _Wave:
    """On an element right of the place: the voltage falls towards the load."""
    element, place, node_v, impedance = way
    begin_s, end_s = (_rightward_s(memo, span, element + n, axis) for n in (0, 1))
    between = range(place, element)
    begin_v = _without_flight(memo, span, between, axis, node_v)
    for number in between:
        begin_v = begin_v * _crossed_rightward(memo, span, number, axis)
    end_v = begin_v * _crossed_rightward(memo, span, element, axis)
    return _waves(begin_v, begin_v * begin_s, end_v, end_v * end_s, impedance)


def _waves(begin_v: Complexes, begin_a: Complexes, end_v: Complexes, end_a: Complexes, impedance: Complexes) -> _Wave:
    return _Wave((begin_v + impedance * begin_a) / 2.0, (end_v - impedance * end_a) / 2.0)


def _without_flight(memo: Memo, span: Span, numbers: range, axis: Axis, node_v: Complexes) -> Complexes:
    """A voltage that is to cross some elements, with their time of flight taken out beforehand."""
    if not numbers:
        return node_v
    flight_s = flight_time_s(memo, span, axis, numbers.stop) - flight_time_s(memo, span, axis, numbers.start)
    return np.asarray(node_v * np.exp(2j * np.pi * axis.f_hz * flight_s))


def _leftward_s(memo: Memo, span: Span, place: int, axis: Axis) -> Complexes:
    """Admittance from a place of a span towards its source, S, shape (n,)."""

    def make() -> Complexes:
        return input_admittance_s(*_left_of(memo, span, place, axis))

    return memo.get(("leftward", span.source, span.elements[:place], axis), make)


def _crossed_leftward(memo: Memo, span: Span, place: int, axis: Axis) -> Complexes:
    """Voltage before the element that ends at a place over that at the place, for what comes from there, shape (n,)."""

    def make() -> Complexes:
        before, then_s = _left_of(memo, span, place, axis)
        return voltage_transfer(before, 0.0, then_s)

    return memo.get(("crossed leftward", span.source, span.elements[:place], axis), make)


def _left_of(memo: Memo, span: Span, place: int, axis: Axis) -> tuple[TwoPort, Complexes]:
    """The next thing left of a place, seen from there, and the admittance after it, S, shape (n,)."""
    if place == 0:
        source_s = np.full(axis.f_hz.size, 1.0 / span.source.resistance_ohm, np.complex128)
        return reversed_two_port(end_of(memo, span.source, axis, drives=True)), source_s
    before = reversed_two_port(element_two_port(memo, span.elements[place - 1], axis))
    return before, _leftward_s(memo, span, place - 1, axis)


def _rightward_s(memo: Memo, span: Span, place: int, axis: Axis) -> Complexes:
    """Admittance from a place of a span towards its load, S, shape (n,)."""

    def make() -> Complexes:
        return input_admittance_s(*_right_of(memo, span, place, axis))

    return memo.get(("rightward", span.elements[place:], span.load, axis), make)


def _crossed_rightward(memo: Memo, span: Span, place: int, axis: Axis) -> Complexes:
    """Voltage after the element that begins at a place over that at the place, shape (n,)."""

    def make() -> Complexes:
        after, then_s = _right_of(memo, span, place, axis)
        return voltage_transfer(after, 0.0, then_s)

    return memo.get(("crossed rightward", span.elements[place:], span.load, axis), make)


def _right_of(memo: Memo, span: Span, place: int, axis: Axis) -> tuple[TwoPort, Complexes]:
    """The next thing right of a place and the admittance after it, S, shape (n,)."""
    if place == len(span.elements):
        load_s = np.full(axis.f_hz.size, 1.0 / span.load.resistance_ohm, np.complex128)
        return end_of(memo, span.load, axis), load_s
    after = element_two_port(memo, span.elements[place], axis)
    return after, _rightward_s(memo, span, place + 1, axis)
