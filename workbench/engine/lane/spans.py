"""What passive spans do: two-ports, transfers with their true terminations, losses; each kept in the memo."""

from typing import NamedTuple

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.engine.lane.grid import Axis, Grid
from workbench.engine.lane.path import PathElement, Span, Terminal
from workbench.engine.memo import Memo
from workbench.parts.record import ComponentRecord, RunRecord
from workbench.parts.twoport import (
    LineConstants,
    Propagation,
    SParameters,
    TwoPort,
    cascade,
    input_admittance_s,
    line,
    propagation,
    s_parameters,
    shunt,
    through,
    voltage_transfer,
)


class LineOnAxis(NamedTuple):
    """A line at the axis's frequencies: its constants per metre and what they propagate like."""

    constants: LineConstants
    propagation: Propagation


def element_two_port(memo: Memo, element: PathElement, axis: Axis) -> TwoPort:
    """The two-port of one element at the axis's frequencies."""
    return memo.get(("element", element, axis), lambda: _make_element(memo, element, axis))


def _make_element(memo: Memo, element: PathElement, axis: Axis) -> TwoPort:
    if isinstance(element.record, ComponentRecord):
        seen = element.record.fast_matrix if isinstance(axis, Grid) else element.record.chain_matrix
        return seen(axis.f_hz, element.parts)
    known = line_of(memo, element, axis)
    return line(known.constants, element.length_m or 0.0, known.propagation)


def line_of(memo: Memo, element: PathElement, axis: Axis) -> LineOnAxis:
    """The line that an element is a stretch of; the element must be a run."""

    def make() -> LineOnAxis:
        assert isinstance(element.record, RunRecord)
        constants = element.record.line_constants(axis.f_hz, element.parts)
        return LineOnAxis(constants, propagation(constants))

    return memo.get(("line", element.record, element.parts, axis), make)


def die_of(terminal: Terminal, f_hz: Floats) -> TwoPort:
    """What lies across an end's resistance, at `f_hz` (Hz, shape (n,))."""
    across = 2j * np.pi * f_hz * terminal.capacitance_f
    return shunt(across if terminal.port is None else terminal.port.admittance_s(f_hz))


def end_of(memo: Memo, terminal: Terminal, axis: Axis, *, drives: bool = False) -> TwoPort:
    """What lies between a span's last element and its end's resistance; where it `drives`, the other way round."""
    if terminal.package is not None:
        return terminal.package.chain_matrix(axis.f_hz)
    die = die_of(terminal, axis.f_hz)
    if terminal.network is None:
        return die
    package = element_two_port(memo, terminal.network, axis)
    return cascade(die, package) if drives else cascade(package, die)


def span_two_port(memo: Memo, span: Span, axis: Axis) -> TwoPort:
    """The two-port of a whole span, end capacitances included."""

    def make() -> TwoPort:
        first, inner, last = span.elements[:1], span.elements[1:-1], span.elements[1:][-1:]
        inside = [_in_a_row(memo, elements, axis) for elements in (first, inner, last) if elements]
        return cascade(end_of(memo, span.source, axis, drives=True), *inside, end_of(memo, span.load, axis))

    return memo.get(("span", span.source, span.elements, span.load, axis), make)


def _in_a_row(memo: Memo, elements: tuple[PathElement, ...], axis: Axis) -> TwoPort:
    """Elements one after the other, kept: what slides along a path changes only the spans' outermost ones."""
    if len(elements) == 1:
        return element_two_port(memo, elements[0], axis)
    return memo.get(
        ("row", elements, axis), lambda: cascade(*(element_two_port(memo, element, axis) for element in elements))
    )


class Transfer(NamedTuple):
    """Voltage over the source's open voltage, shape (n,), without the time of flight `delay_s` (s), which is apart."""

    gain: Complexes
    delay_s: float


def transfer(memo: Memo, span: Span, axis: Axis, elements: int | None = None) -> Transfer:
    """From the source's open voltage to a place in the span, with the true source, load and all reflections.

    Args:
        memo: the store of known results.
        span: the span.
        axis: where to compute.
        elements: the place is after this many elements, and what follows loads it; None: across the span's load.
    """

    def make() -> Transfer:
        n = axis.f_hz.size
        load = np.full(n, 1.0 / span.load.resistance_ohm, np.complex128)
        if elements is None:
            gain = voltage_transfer(span_two_port(memo, span, axis), span.source.resistance_ohm, load)
        else:
            before = [element_two_port(memo, element, axis) for element in span.elements[:elements]]
            after = [element_two_port(memo, element, axis) for element in span.elements[elements:]]
            rest = input_admittance_s(cascade(through(n), *after, end_of(memo, span.load, axis)), load)
            driven = cascade(end_of(memo, span.source, axis, drives=True), *before)
            gain = voltage_transfer(driven, span.source.resistance_ohm, rest)
        delay_s = span.source.flight_s + flight_time_s(memo, span, axis, elements)
        return Transfer(gain * np.exp(2j * np.pi * axis.f_hz * delay_s), delay_s)

    return memo.get(("transfer", span.source, span.elements, span.load, elements, axis), make)


def span_s_parameters(memo: Memo, span: Span, axis: Axis) -> SParameters:
    """S-parameters of a span between matched 100 ohm ends, end capacitances included, between packages' pins."""
    span = msgspec.structs.replace(span, source=_at_pins(span.source), load=_at_pins(span.load))
    key = ("s", span.source, span.elements, span.load, axis)
    return memo.get(key, lambda: s_parameters(span_two_port(memo, span, axis)))


def _at_pins(terminal: Terminal) -> Terminal:
    """An end as it is without what lies after its package's pins."""
    if terminal.package is not None:
        return Terminal(terminal.resistance_ohm, terminal.package.pin_capacitance_f)
    return Terminal(terminal.resistance_ohm, 0.0) if terminal.network is not None else terminal


def channel_s_parameters(memo: Memo, span: Span, axis: Axis) -> SParameters:
    """S-parameters of a span's elements alone between matched 100 ohm ends: the channel without what it connects."""

    def make() -> SParameters:
        parts = [element_two_port(memo, element, axis) for element in span.elements]
        return s_parameters(cascade(through(axis.f_hz.size), *parts))

    return memo.get(("channel", span.elements, axis), make)


def flight_time_s(memo: Memo, span: Span, axis: Axis, elements: int | None = None) -> float:
    """Time of flight in s along a span's first `elements` elements (all by default).

    Lines count by their phase delay at Nyquist; where the axis does not reach it, at its end. Of all elements a package
    at the load counts with them.
    """
    at = min(axis.nyquist_index, axis.f_hz.size - 1)
    omega = 2.0 * np.pi * float(axis.f_hz[at])
    total = 0.0
    for element in span.elements[:elements]:
        if isinstance(element.record, ComponentRecord):
            total += element.record.flight_time_s(element.parts)
        else:
            gamma = line_of(memo, element, axis).propagation.gamma_per_m[at]
            total += float(gamma.imag) / omega * (element.length_m or 0.0)
    return total + span.load.flight_s if elements is None else total


def line_impedance_ohm(memo: Memo, element: PathElement, axis: Axis) -> float | None:
    """Differential impedance in ohm at Nyquist of an element that is a line; None for one that is not."""
    if isinstance(element.record, ComponentRecord):
        return element.record.line_impedance_ohm(element.parts)
    at = min(axis.nyquist_index, axis.f_hz.size - 1)
    return float(line_of(memo, element, axis).propagation.impedance_ohm[at].real)
