"""Where look points lie on a path, and how they follow when the path changes: no widget."""

import re
from collections.abc import Sequence
from typing import NamedTuple

from workbench.board.model import Fixture, Placement, Run, Stage
from workbench.engine.lane.probe import PINS, RECEIVER, TRANSMITTER


class LookSpot(NamedTuple):
    """A look point by name, and the boundary it lies at; one more than the last is behind the receiver's equalizer."""

    name: str
    boundary: int


def look_spots(path: Sequence[Placement]) -> tuple[LookSpot, ...]:
    """One look point a boundary, from the transmitter's pins to behind the receiver's equalization."""
    last = len(path)
    inner = [LookSpot(_inner_name(path, number), number) for number in range(1, last)]
    return (LookSpot(TRANSMITTER, 0), *inner, LookSpot(PINS, last), LookSpot(RECEIVER, last + 1))


def boundary_of(path: Sequence[Placement], look: str) -> int | None:
    """The boundary that a look point lies at, also where it goes by another name; None where the path has none."""
    for spot in look_spots(path):
        if spot.name == look:
            return spot.boundary
    refs = [placement.device if isinstance(placement, Stage) else None for placement in path]
    found = re.fullmatch(r"after (\d+)", look)
    if found and 1 <= int(found[1]) <= len(path):
        return int(found[1])
    for side, beyond in ((" input", 0), (" output", 1)):
        if look.endswith(side) and look.removesuffix(side) in refs:
            return refs.index(look.removesuffix(side)) + beyond
    return None


def carried_looks(old: Sequence[Placement], new: Sequence[Placement], looks: Sequence[str]) -> tuple[str, ...]:
    """The look points after an edit of the path: a stage's stay with it, the others with the boundary they were at."""
    names = {spot.boundary: spot.name for spot in look_spots(new)}
    carried = []
    for look in looks:
        place = boundary_of(old, look)
        of_stage = look.endswith((" input", " output")) and boundary_of(new, look) is not None
        if of_stage or look in (TRANSMITTER, PINS, RECEIVER):
            carried.append(look)
        elif place is not None:
            carried.append(names[_carried(old, new, place)])
    return tuple(dict.fromkeys(carried))


def carried_place(old: Sequence[Placement], new: Sequence[Placement], at: int) -> int:
    """The number that a placement has after an edit of the path, -1 and the path's length being the ends."""
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


def _carried(old: Sequence[Placement], new: Sequence[Placement], place: int) -> int:
    before, behind = _common(old, new)
    if place <= before or len(old) == len(new):
        return min(place, len(new))
    if len(old) - place <= behind:
        return len(new) - (len(old) - place)
    # It went with what was taken out: the nearest boundary between what is the same before and behind.
    return min(max(place, before), len(new) - behind)


def _common(old: Sequence[Placement], new: Sequence[Placement]) -> tuple[int, int]:
    """How many placements two paths share at their beginning, and how many of the rest at their end."""
    least = min(len(old), len(new))
    before = next((n for n in range(least) if _entry(old[n]) != _entry(new[n])), least)
    behind = next((n for n in range(least - before) if _entry(old[-1 - n]) != _entry(new[-1 - n])), least - before)
    return before, behind


def _entry(placement: Placement) -> tuple[object, ...]:
    match placement:
        case Run(line=name):
            return ("run", name)
        case Fixture(part=name):
            return ("fixture", name)
        case Stage(device=ref, channel=channel):
            return ("stage", ref, channel)


def _inner_name(path: Sequence[Placement], boundary: int) -> str:
    before, after = path[boundary - 1], path[boundary]
    refs = [placement.device for placement in path if isinstance(placement, Stage)]
    if isinstance(before, Stage) and refs.count(before.device) == 1:
        return f"{before.device} output"
    if isinstance(after, Stage) and refs.count(after.device) == 1:
        return f"{after.device} input"
    return f"after {boundary}"
