"""Networks out: any element, span or whole lane as a Touchstone file that any reader of version 1 takes.

Two ports are the differential mode in 100 ohm. Four are the legs in 50 ohm, in the order left +, left -, right +,
right -; the board knows no common mode, so it is made from the differential one by its impedance alone: by default
25 ohm for 100, as two legs have that do not couple.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.engine.lane.elements import die_of, differential_in_a_row
from workbench.engine.lane.path import LanePlan, Span, StagePlan
from workbench.engine.lane.path_element import PathElement
from workbench.errors import NetworkError
from workbench.measured.touchstone.reading import Measured
from workbench.parts.networks.waves import chain_of, ports_of, scattering_of
from workbench.parts.twoport import REFERENCE_OHM, TwoPort, cascade
from workbench.quantity import show

UNCOUPLED_OHM = 25.0
"""Common-mode impedance of a pair of 100 ohm whose legs don't couple."""
_LEG_OHM = 50.0
_PAIRS_A_LINE = 4
_LEGS = ("left +", "left -", "right +", "right -")
_MOST_POINTS = 200_000


class Exported(NamedTuple):
    """A network ready to be written.

    Attributes:
        f_hz: frequencies, Hz, shape (n,).
        s: scattering matrices, shape (ports, ports, n).
        reference_ohm: of every port, ohm.
        comments: lines for the head of the file: what it is, and what is not in it.
        port_names: one per port.
    """

    f_hz: Floats
    s: Complexes
    reference_ohm: float
    comments: tuple[str, ...]
    port_names: tuple[str, ...]


def frequencies(low_hz: float, high_hz: float, step_hz: float) -> Floats:
    """Even frequencies from `low_hz` to `high_hz`, each a whole number of `step_hz` from 0 (all in Hz), shape (n,).

    Raises:
        NetworkError: there are none, or more than a file should hold.
    """
    if not (0.0 <= low_hz < high_hz and 0.0 < step_hz <= high_hz):
        raise NetworkError(
            f"from {show(low_hz, 'Hz')} to {show(high_hz, 'Hz')} in steps of {show(step_hz, 'Hz')}: invalid sweep; "
            f"give two rising frequencies and a step between them"
        )
    first, last = int(np.ceil(low_hz / step_hz - 1e-9)), int(np.floor(high_hz / step_hz + 1e-9))
    if not 1 <= last - first < _MOST_POINTS:
        raise NetworkError(f"the band has {last - first + 1} points; choose a step that makes 2 to {_MOST_POINTS}")
    return np.arange(first, last + 1) * step_hz


def element_of_path(plan: LanePlan, number: int, f_hz: Floats) -> Exported:
    """One element of a lane, alone.

    Args:
        plan: the lane.
        number: which element of the path, from 1, stages counted.
        f_hz: where, Hz, shape (n,).

    Raises:
        NetworkError: there is no such element, or it is a limiting stage.
    """
    rest = number - 1
    for at, span in enumerate(plan.spans):
        if 0 <= rest < len(span.elements):
            element = span.elements[rest]
            what = f"element {number} of lane {plan.name}: {element.record.name}"
            return _passive((element,), f_hz, what)
        rest -= len(span.elements)
        if rest == 0 and at < len(plan.stages):
            stage = plan.stages[at]
            s = _stage_scattering(stage, f_hz)
            return _differential(f_hz, s, (f"element {number} of lane {plan.name}: {stage.ref}", _UNILATERAL))
        rest -= 1
    count = sum(len(span.elements) for span in plan.spans) + len(plan.stages)
    raise NetworkError(f"lane {plan.name} has no element {number}; choose one from 1 to {count}")


def span_of(plan: LanePlan, number: int, f_hz: Floats) -> Exported:
    """One passive span of a lane, without the capacitances of the parts at its ends.

    Args:
        plan: the lane.
        number: which span, from 1.
        f_hz: where, Hz, shape (n,).

    Raises:
        NetworkError: there is no such span.
    """
    if not 1 <= number <= len(plan.spans):
        raise NetworkError(f"lane {plan.name} has no span {number}; choose one from 1 to {len(plan.spans)}")
    span = plan.spans[number - 1]
    what = f"span {number} of lane {plan.name}, from {span.from_} to {span.to}"
    return _passive(span.elements, f_hz, what)


def lane_of(plan: LanePlan, f_hz: Floats) -> Exported:
    """A whole lane from the transmitter's pins to the receiver's, without what these two add.

    Args:
        plan: the lane.
        f_hz: where, Hz, shape (n,).

    Raises:
        NetworkError: it has a limiting stage.
    """
    if not plan.stages:
        return _passive(plan.spans[0].elements, f_hz, f"lane {plan.name}")
    s = _scattering(_span_chain(plan, 0, f_hz))
    for number, stage in enumerate(plan.stages):
        s = star(star(s, _stage_scattering(stage, f_hz)), _scattering(_span_chain(plan, number + 1, f_hz)))
    refs = ", ".join(stage.ref for stage in plan.stages)
    return _differential(f_hz, s, (f"lane {plan.name}, through {refs}", _UNILATERAL))


_UNILATERAL = "conditioners are linear and pass nothing backwards; small signals, no noise"


def single_ended(exported: Exported, common_ohm: float = UNCOUPLED_OHM) -> Exported:
    """A differential two-port as the four ports of its legs, without mode conversion.

    Args:
        exported: the differential two-port in 100 ohm.
        common_ohm: common-mode impedance of a line whose differential one is 100 ohm, in ohm.

    Raises:
        NetworkError: the impedance is not above 0.
    """
    if not 0.0 < common_ohm < np.inf:
        raise NetworkError(f"a common-mode impedance of {common_ohm:g} ohm makes no line; give one above 0")
    common = exported.s
    if common_ohm != UNCOUPLED_OHM:
        chain, attenuation = chain_of(exported.s, REFERENCE_OHM, REFERENCE_OHM)
        ratio = common_ohm / REFERENCE_OHM
        scaled = chain * np.array([[1.0, ratio], [1.0 / ratio, 1.0]])[:, :, None]
        common = scattering_of(TwoPort(scaled, attenuation), UNCOUPLED_OHM, UNCOUPLED_OHM)
        # Nothing of a determinant is left behind much loss: what is reciprocal stays so, what is one-way too.
        common[0, 1] = np.where(exported.s[0, 1] == exported.s[1, 0], common[1, 0], common[0, 1])
        common[0, 1, exported.s[0, 1] == 0.0] = 0.0
    modes = np.zeros((4, 4, exported.f_hz.size), np.complex128)
    modes[:2, :2], modes[2:, 2:] = exported.s, common
    legs = "of legs that don't couple" if common_ohm == UNCOUPLED_OHM else f"of {common_ohm:g} ohm"
    note = f"common mode {legs}, assumed: the board knows the differential mode only; no mode conversion"
    return Exported(exported.f_hz, ports_of(modes), _LEG_OHM, (*exported.comments, note), _LEGS)


def star(first: Complexes, second: Complexes) -> Complexes:
    """Two two-ports in a row by their scattering matrices, also where nothing passes backwards.

    R. Redheffer, J. Math. Phys. 41, 1962, 1-41.

    Args:
        first: shape (2, 2, n).
        second: shape (2, 2, n), with the same reference between the two.
    """
    between = 1.0 - first[1, 1] * second[0, 0]
    found = np.empty_like(first)
    found[0, 0] = first[0, 0] + first[0, 1] * second[0, 0] * first[1, 0] / between
    found[0, 1] = first[0, 1] * second[0, 1] / between
    found[1, 0] = second[1, 0] * first[1, 0] / between
    found[1, 1] = second[1, 1] + second[1, 0] * first[1, 1] * second[0, 1] / between
    return found


def touchstone_text(exported: Exported) -> str:
    """A network as the text of a Touchstone 1.1 file, every number to its last bit."""
    head = [f"! {line}" for line in exported.comments]
    head += [f"! Port[{number}] = {name}" for number, name in enumerate(exported.port_names, start=1)]
    head.append(f"# Hz S RI R {exported.reference_ohm:g}")
    ports = exported.s.shape[0]
    # Version 1 writes a two-port column by column, and everything else row by row.
    matrices = np.swapaxes(exported.s, 0, 1) if ports == 2 else exported.s
    per_row = [2 * ports * ports] if ports <= 2 else [2 * ports] * ports
    numbers = np.moveaxis(matrices.reshape(ports * ports, -1), -1, 0)
    rows = np.stack([numbers.real, numbers.imag], axis=2).reshape(exported.f_hz.size, -1).tolist()
    for f_hz, row in zip(exported.f_hz.tolist(), rows, strict=True):
        head.append(f"{f_hz!r} {_wrapped(row, per_row)}")
    return "\n".join(head) + "\n"


def exported_network(measured: Measured, comments: Sequence[str] = ()) -> Exported:
    """A measured network ready to be written again.

    Raises:
        NetworkError: its ports have not all the same reference.
    """
    if len(set(measured.reference_ohm)) > 1:
        raise NetworkError("its ports have different references, which version 1 can't say; renormalize it first")
    names = measured.port_names or tuple(f"port {number + 1}" for number in range(measured.ports))
    return Exported(measured.f_hz, measured.s, measured.reference_ohm[0], tuple(comments), names)


def _wrapped(row: list[float], per_row: list[int]) -> str:
    """A matrix in lines of at most four pairs, each of its rows beginning a new one; a two-port in one line."""
    lines, at = [], 0
    for count in per_row:
        step = count if len(per_row) == 1 else 2 * _PAIRS_A_LINE
        lines += [" ".join(map(repr, row[at + n : at + min(n + step, count)])) for n in range(0, count, step)]
        at += count
    return "\n".join(lines)


def _passive(elements: tuple[PathElement, ...], f_hz: Floats, what: str) -> Exported:
    s = _scattering(differential_in_a_row(elements, f_hz))
    return _differential(f_hz, s, (what, "passive path alone: no end resistances or capacitances"))


def _differential(f_hz: Floats, s: Complexes, comments: tuple[str, ...]) -> Exported:
    return Exported(f_hz, s, REFERENCE_OHM, (*comments, "differential mode, 100 ohm"), ("left", "right"))


def _span_chain(plan: LanePlan, number: int, f_hz: Floats) -> TwoPort:
    """A span with what lies across the stages at its ends, but not across the lane's two ends."""
    span: Span = plan.spans[number]
    inside = differential_in_a_row(span.elements, f_hz)
    if number > 0:
        inside = cascade(die_of(span.source, f_hz), inside)
    if number < len(plan.stages):
        inside = cascade(inside, die_of(span.load, f_hz))
    return inside


def _scattering(two_port: TwoPort) -> Complexes:
    """In 100 ohm; both directions alike as far as rounding after much loss can tell."""
    s = scattering_of(two_port, REFERENCE_OHM, REFERENCE_OHM)
    rounding = 1e-12 + 1e-14 * np.exp(np.minimum(two_port.attenuation_np, 300.0))
    s[0, 1] = np.where(np.abs(s[0, 1] - s[1, 0]) > rounding, s[0, 1], s[1, 0])
    return s


def _stage_scattering(stage: StagePlan, f_hz: Floats) -> Complexes:
    """A linear stage in 100 ohm, without its capacitances: what its resistances reflect and what it amplifies.

    Raises:
        NetworkError: it is limiting.
    """
    if stage.regenerates:
        raise NetworkError(
            f"{stage.ref} is limiting and has no linear response; export the spans before and after it"
        )
    load, source = stage.part.input_resistance_ohm, stage.part.output_resistance_ohm
    s = np.zeros((2, 2, f_hz.size), np.complex128)
    s[0, 0] = (load - REFERENCE_OHM) / (load + REFERENCE_OHM)
    s[1, 1] = (source - REFERENCE_OHM) / (source + REFERENCE_OHM)
    # The stage's gain is from its input pins into a matched load.
    late = np.exp(-2j * np.pi * f_hz * stage.delay_s)
    s[1, 0] = 2.0 * load / (load + REFERENCE_OHM) * stage.transfer(f_hz) * late
    return s
