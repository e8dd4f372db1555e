"""Probe points: their names, and where they lie on a lane's path.

"transmitter" is the driving end's pins, "pins" the receiving end's, "receiver" after the receiver's equalization,
"U7 input" and "U7 output" the two sides of a stage, "after 3" the boundary after the third element.
"""

import re
from typing import NamedTuple

from workbench.engine.lane.path import LanePlan
from workbench.errors import ProbePointError

RECEIVER = "receiver"
PINS = "pins"
TRANSMITTER = "transmitter"


class Probe(NamedTuple):
    """A resolved probe point: after `elements` elements of span number `span` (None: across its load)."""

    name: str
    span: int
    elements: int | None
    equalized: bool = False


def probe_names(plan: LanePlan) -> tuple[str, ...]:
    """Every probe point of a lane, in the signal's order."""
    names = [TRANSMITTER]
    place = 0
    for number, span in enumerate(plan.spans):
        for _ in span.elements[: len(span.elements)]:
            place += 1
            names.append(f"after {place}")
        if number < len(plan.stages):
            place += 1
            names += [f"{plan.stages[number].ref} input", f"{plan.stages[number].ref} output"]
    return (*names, PINS, RECEIVER)


def resolve_probe(plan: LanePlan, name: str) -> Probe:
    """Where a named probe point lies.

    Raises:
        ProbePointError: the lane has no such point; the message lists those it has.
    """
    last = len(plan.spans) - 1
    if name == RECEIVER:
        return Probe(name, last, None, equalized=True)
    if name == PINS:
        # Before the package, where there is one: after the last element, loaded by all that follows.
        packaged = plan.spans[last].load.packaged
        return Probe(name, last, len(plan.spans[last].elements) if packaged else None)
    if name == TRANSMITTER:
        return Probe(name, 0, 0)
    for number, stage in enumerate(plan.stages):
        if name == f"{stage.ref} input":
            return Probe(name, number, None)
        if name == f"{stage.ref} output":
            return Probe(name, number + 1, 0)
    found = re.fullmatch(r"after (\d+)", name)
    probe = _boundary(plan, name, int(found[1])) if found else None
    if probe is None:
        raise ProbePointError(f"lane {plan.name} has no probe point {name!r}; it has {', '.join(probe_names(plan))}")
    return probe


def _boundary(plan: LanePlan, name: str, place: int) -> Probe | None:
    """After element number `place` (from 1); after a stage it is that stage's output."""
    if place < 1:
        return None
    left = place
    for number, span in enumerate(plan.spans):
        if left <= len(span.elements):
            return Probe(name, number, left)
        left -= len(span.elements) + 1
        if left < 0:
            return None
    return None
