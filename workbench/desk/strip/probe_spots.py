"""Where probe points lie on a path, and how they follow when the path changes: no widget."""

import re
from collections.abc import Sequence
from typing import NamedTuple

from workbench.board.model import Component, Element, Run, Stage
from workbench.engine.lane.probe import PINS, RECEIVER, TRANSMITTER


class ProbeSpot(NamedTuple):
    """A probe point by name, and the boundary it lies at; one more than the last is after the receiver's equalizer."""

    name: str
    boundary: int


def probe_spots(path: Sequence[Element]) -> tuple[ProbeSpot, ...]:
    """One probe point a boundary, from the transmitter's pins to after the receiver's equalization."""
    last = len(path)
    inner = [ProbeSpot(_inner_name(path, number), number) for number in range(1, last)]
    return (ProbeSpot(TRANSMITTER, 0), *inner, ProbeSpot(PINS, last), ProbeSpot(RECEIVER, last + 1))


def boundary_of(path: Sequence[Element], probe: str) -> int | None:
    """The boundary that a probe point lies at, also where it goes by another name; None where the path has none."""
    for spot in probe_spots(path):
        if spot.name == probe:
            return spot.boundary
    refs = [element.device if isinstance(element, Stage) else None for element in path]
    found = re.fullmatch(r"after (\d+)", probe)
    if found and 1 <= int(found[1]) <= len(path):
        return int(found[1])
    for side, beyond in ((" input", 0), (" output", 1)):
        if probe.endswith(side) and probe.removesuffix(side) in refs:
            return refs.index(probe.removesuffix(side)) + beyond
    return None


def carried_probes(old: Sequence[Element], new: Sequence[Element], probes: Sequence[str]) -> tuple[str, ...]:
    """The probe points after an edit of the path: a stage's stay with it, the others with the boundary they were at."""
    names = {spot.boundary: spot.name for spot in probe_spots(new)}
    carried = []
    for probe in probes:
        place = boundary_of(old, probe)
        of_stage = probe.endswith((" input", " output")) and boundary_of(new, probe) is not None
        if of_stage or probe in (TRANSMITTER, PINS, RECEIVER):
            carried.append(probe)
        elif place is not None:
            carried.append(names[_carried(old, new, place)])
    return tuple(dict.fromkeys(carried))


def carried_place(old: Sequence[Element], new: Sequence[Element], at: int) -> int:
    """The number that an element has after an edit of the path, -1 and the path's length being the ends."""
    if at < 0:
        return at
    if at >= len(old):
        return len(new)
    before, behind = _common(old, new)
    if at < before:
        return at
    if len(old) - at <= behind:
        return len(new) - (len(old) - at)
    return max(min(at, len(new) - behind - 1), 0)


def _carried(old: Sequence[Element], new: Sequence[Element], place: int) -> int:
    before, behind = _common(old, new)
    if place <= before or len(old) == len(new):
        return min(place, len(new))
    if len(old) - place <= behind:
        return len(new) - (len(old) - place)
    # It went with what was taken out: the nearest boundary between what is the same before and after.
    return min(max(place, before), len(new) - behind)


def _common(old: Sequence[Element], new: Sequence[Element]) -> tuple[int, int]:
    """How many elements two paths share at their beginning, and how many of the rest at their end."""
    least = min(len(old), len(new))
    before = next((n for n in range(least) if _entry(old[n]) != _entry(new[n])), least)
    behind = next((n for n in range(least - before) if _entry(old[-1 - n]) != _entry(new[-1 - n])), least - before)
    return before, behind


def _entry(element: Element) -> tuple[object, ...]:
    match element:
        case Run(line=name):
            return ("run", name)
        case Component(part=name):
            return ("component", name)
        case Stage(device=ref, channel=channel):
            return ("stage", ref, channel)


def _inner_name(path: Sequence[Element], boundary: int) -> str:
    before, after = path[boundary - 1], path[boundary]
    refs = [element.device for element in path if isinstance(element, Stage)]
    if isinstance(before, Stage) and refs.count(before.device) == 1:
        return f"{before.device} output"
    if isinstance(after, Stage) and refs.count(after.device) == 1:
        return f"{after.device} input"
    return f"after {boundary}"
