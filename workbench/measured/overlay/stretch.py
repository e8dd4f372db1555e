"""A stretch of a lane's path as a bench measures it: from place to place between two probes, with no chips at its ends.

Places count from 1 along the lane's path, stages included.
"""

from itertools import zip_longest
from typing import NamedTuple

from workbench.arrays import Floats
from workbench.board.measurement import MeasuredResponse, stretch_words
from workbench.engine.lane.elements import converts, differential_in_a_row
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.path_element import PathElement
from workbench.errors import ProbePointError
from workbench.parts.record import ComponentRecord
from workbench.parts.twoport import SParameters, TwoPort, cascade, line, s_parameters, through


class Between(NamedTuple):
    """The first and last place between the probes, from 1."""

    first: int
    last: int


def places_of(plan: LanePlan, measured: MeasuredResponse) -> Between:
    """Between which places a response was measured; one that states none was measured on the whole lane to its probe.

    A stage in that stretch is refused where the elements are asked for, by `elements_between`.
    """
    if measured.first:
        return Between(measured.first, measured.last)
    before = 0
    for span, stage in zip_longest(plan.spans, plan.stages):
        before += len(span.elements)
        if stage is None or measured.probe == f"{stage.ref} input":
            break
        before += 1
    return Between(1, before)


def elements_between(plan: LanePlan, between: Between) -> tuple[PathElement, ...]:
    """The passive elements of a stretch.

    Raises:
        ProbePointError: a place is not on the lane, or a conditioner's stage lies in the stretch.
    """
    flat: list[PathElement | None] = []
    for number, span in enumerate(plan.spans):
        flat += span.elements
        if number < len(plan.stages):
            flat.append(None)
    first, last = between
    if not 1 <= first <= last <= len(flat):
        raise ProbePointError(f"lane {plan.name} has no elements {first} to {last}; it has elements 1 to {len(flat)}")
    chosen = flat[first - 1 : last]
    if None in chosen:
        stage = first + chosen.index(None)
        raise ProbePointError(
            f"element {stage} of lane {plan.name} is a conditioner channel, and no network leads through it; "
            "choose elements on one side of it"
        )
    return tuple(element for element in chosen if element is not None)


def words_of_elements(elements: tuple[PathElement, ...]) -> str:
    """What elements are, in the words that a kept measurement has for them."""
    return stretch_words((element.record.name, element.length_m) for element in elements)


def element_matrix(element: PathElement, f_hz: Floats) -> TwoPort:
    """The two-port of one element at `f_hz` (Hz, shape (n,))."""
    if isinstance(element.record, ComponentRecord):
        return element.record.chain_matrix(f_hz, element.parts)
    return line(element.record.line_constants(f_hz, element.parts), element.length_m or 0.0)


def stretch_s_parameters(
    elements: tuple[PathElement, ...],
    f_hz: Floats,
    reference_ohm: float,
    known: dict[PathElement, TwoPort] | None = None,
) -> SParameters:
    """S-parameters of elements one after the other.

    Args:
        elements: the elements.
        f_hz: Hz, shape (n,), above 0.
        reference_ohm: of the probes, ohm.
        known: two-ports of elements at these frequencies, added to; None: none are kept.
    """
    if any(map(converts, elements)):
        return s_parameters(differential_in_a_row(elements, f_hz), reference_ohm)
    known = {} if known is None else known
    matrices = []
    for element in elements:
        if element not in known:
            known[element] = element_matrix(element, f_hz)
        matrices.append(known[element])
    return s_parameters(cascade(through(f_hz.size), *matrices), reference_ohm)
