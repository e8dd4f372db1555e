"""What the elements of a span do by themselves: in the differential mode, and in both; each kept in the memo."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.engine.lane.grid import Axis, Grid
from workbench.engine.lane.path import Terminal
from workbench.engine.lane.path_element import PathElement
from workbench.engine.memo import Memo
from workbench.parts.fourport import FourPort, apart, joined, scaled_common, skewed
from workbench.parts.networks.waves import chain_of
from workbench.parts.record import ComponentRecord, RunRecord
from workbench.parts.twoport import (
    REFERENCE_OHM,
    LineConstants,
    Propagation,
    TwoPort,
    cascade,
    line,
    propagation,
    shunt,
    through,
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
    return _stretch(line_of(memo, element, axis), element.length_m or 0.0)


def line_of(memo: Memo, element: PathElement, axis: Axis) -> LineOnAxis:
    """The line that an element is a stretch of; the element must be a run."""

    def make() -> LineOnAxis:
        assert isinstance(element.record, RunRecord)
        return _made(element.record.line_constants(axis.f_hz, element.parts))

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


def converts(element: PathElement) -> bool:
    """Whether an element turns the differential mode into the common one."""
    if element.skew_s or element.mismatch_m:
        return True
    return isinstance(element.record, ComponentRecord) and element.record.converts(element.parts)


def has_own_common_mode(element: PathElement) -> bool:
    """Whether more is known of an element's common mode than that of two legs which don't couple."""
    if isinstance(element.record, ComponentRecord):
        return element.record.converts(element.parts)
    return element.record.common_constants(np.array([1e9]), element.parts) is not None


def element_modes(memo: Memo, element: PathElement, axis: Axis) -> FourPort:
    """The four-port of one element at the axis's frequencies."""
    return memo.get(
        ("modes", element, axis), lambda: _modes(element, element_two_port(memo, element, axis), axis.f_hz)
    )


def _modes(element: PathElement, differential: TwoPort, f_hz: Floats) -> FourPort:
    if isinstance(element.record, RunRecord):
        return _run_modes(element, f_hz)
    own = element.record.mode_ports(f_hz, element.parts, differential)
    own = apart(differential) if own is None else own
    if not element.skew_s:
        return own
    impedance = element.record.line_impedance_ohm(element.parts) or REFERENCE_OHM
    return joined(own, skewed(np.pi * f_hz * element.skew_s, np.full(f_hz.size, impedance + 0j)))


def _run_modes(element: PathElement, f_hz: Floats) -> FourPort:
    """A run with what its legs differ by in its middle; where that lies matters only as far as modes run apart."""
    assert isinstance(element.record, RunRecord)
    known, length_m = _made(element.record.line_constants(f_hz, element.parts)), element.length_m or 0.0
    common = element.record.common_constants(f_hz, element.parts)
    other = known if common is None else _made(scaled_common(common))
    if not converts(element):
        return apart(_stretch(known, length_m), _stretch(other, length_m))
    half = apart(_stretch(known, length_m / 2.0), _stretch(other, length_m / 2.0))
    square = known.propagation.impedance_ohm * other.propagation.impedance_ohm
    impedance = np.sqrt(np.where(square == 0.0, REFERENCE_OHM**2, square))
    angle = np.pi * f_hz * element.skew_s + 0.5 * element.mismatch_m * known.propagation.gamma_per_m.imag
    return joined(half, skewed(np.asarray(angle), impedance), half)


def differential_in_a_row(elements: tuple[PathElement, ...], f_hz: Floats) -> TwoPort:
    """The differential two-port of elements in a row at `f_hz` (Hz, shape (n,)), common mode matched at its ends."""
    each = [
        element.record.chain_matrix(f_hz, element.parts)
        if isinstance(element.record, ComponentRecord)
        else _stretch(_made(element.record.line_constants(f_hz, element.parts)), element.length_m or 0.0)
        for element in elements
    ]
    if not any(map(converts, elements)):
        return cascade(through(f_hz.size), *each)
    seen = joined(*(_modes(one, own, f_hz) for one, own in zip(elements, each, strict=True))).differential
    s = np.array([[seen.s11, seen.s12], [seen.s21, seen.s22]])
    return chain_of(s, REFERENCE_OHM, REFERENCE_OHM)


def _made(constants: LineConstants) -> LineOnAxis:
    return LineOnAxis(constants, propagation(constants))


def _stretch(known: LineOnAxis, length_m: float) -> TwoPort:
    return line(known.constants, length_m, known.propagation)
