"""What passive spans do: two-ports, transfers with their true terminations, losses; each kept in the memo."""

from itertools import groupby
from typing import NamedTuple

import msgspec
import numpy as np

from workbench.arrays import Complexes
from workbench.engine.lane.elements import (
    converts,
    element_modes,
    element_two_port,
    end_of,
    has_own_common_mode,
    line_of,
)
from workbench.engine.lane.grid import Axis
from workbench.engine.lane.path import Span, Terminal
from workbench.engine.lane.path_element import PathElement
from workbench.engine.memo import Memo
from workbench.parts.fourport import FourPort, apart, joined, voltage_between
from workbench.parts.record import ComponentRecord
from workbench.parts.twoport import (
    REFERENCE_OHM,
    SParameters,
    TwoPort,
    cascade,
    input_admittance_s,
    s_parameters,
    series,
    shunt,
    through,
    voltage_transfer,
)


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
        if any(map(converts, span.elements)):
            gain = _gain_in_modes(memo, span, axis, elements)
        elif elements is None:
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


def _gain_in_modes(memo: Memo, span: Span, axis: Axis, elements: int | None) -> Complexes:
    """As `transfer` for a span that turns one mode into the other; ends are two legs that don't couple."""
    n = axis.f_hz.size
    # Both ends become matched ones: what they are more or less than the reference belongs to the four-ports.
    more_ohm = np.full(n, span.source.resistance_ohm - REFERENCE_OHM + 0j)
    source = cascade(series(more_ohm), end_of(memo, span.source, axis, drives=True))
    load = shunt(np.full(n, 1.0 / span.load.resistance_ohm - 1.0 / REFERENCE_OHM + 0j))
    end = end_of(memo, span.load, axis)
    before, after = span.elements[:elements], () if elements is None else span.elements[elements:]
    ahead = joined(apart(source), *_modes_of(memo, before, axis))
    if elements is None:
        return voltage_between(joined(ahead, apart(end)), apart(load))
    rest = [*_modes_of(memo, after, axis), apart(cascade(end, load))]
    return voltage_between(ahead, joined(*rest))


def _modes_of(memo: Memo, elements: tuple[PathElement, ...], axis: Axis) -> list[FourPort]:
    """The four-ports of elements in a row; neighbours that treat both modes alike come as one."""
    found: list[FourPort] = []
    for own, some in groupby(elements, lambda one: converts(one) or has_own_common_mode(one)):
        row = tuple(some)
        if own:
            found += [element_modes(memo, element, axis) for element in row]
        else:
            found.append(apart(_in_a_row(memo, row, axis)))
    return found


def channel_modes(memo: Memo, span: Span, axis: Axis) -> FourPort | None:
    """A span's elements alone in both modes, matched ends; None where they turn neither into the other."""
    if not any(map(converts, span.elements)):
        return None
    return memo.get(
        ("channel modes", span.elements, axis), lambda: joined(*_modes_of(memo, span.elements, axis))
    )


def span_s_parameters(memo: Memo, span: Span, axis: Axis) -> SParameters:
    """S-parameters of a span between matched 100 ohm ends, end capacitances included, between packages' pins."""
    span = msgspec.structs.replace(span, source=_at_pins(span.source), load=_at_pins(span.load))
    key = ("s", span.source, span.elements, span.load, axis)

    def make() -> SParameters:
        if not any(map(converts, span.elements)):
            return s_parameters(span_two_port(memo, span, axis))
        first, last = apart(end_of(memo, span.source, axis, drives=True)), apart(end_of(memo, span.load, axis))
        return joined(first, *_modes_of(memo, span.elements, axis), last).differential

    return memo.get(key, make)


def _at_pins(terminal: Terminal) -> Terminal:
    """An end as it is without what lies after its package's pins."""
    if terminal.package is not None:
        return Terminal(terminal.resistance_ohm, terminal.package.pin_capacitance_f)
    return Terminal(terminal.resistance_ohm, 0.0) if terminal.network is not None else terminal


def channel_s_parameters(memo: Memo, span: Span, axis: Axis) -> SParameters:
    """S-parameters of a span's elements alone between matched 100 ohm ends: the channel without what it connects."""

    def make() -> SParameters:
        modes = channel_modes(memo, span, axis)
        if modes is not None:
            return modes.differential
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
