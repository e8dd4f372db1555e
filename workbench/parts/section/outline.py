"""From a cross-section to edges: the sides of metal and the borders of dielectrics, with what lies on either side.

Points are complex, x + j y in m; the lower plane is y = 0. An edge runs from `start` to `end`. Metal lies on the left
of a conductor's edges, so that `right` is the material outside.
"""

import math
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

from workbench.parts.section.geometry import CrossSection, Mask, Trace

BORDER, GROUND = -2, -1
"""What an edge belongs to where it is no trace: the border of two dielectrics, or grounded metal."""
METAL = -1
OUTWARD_HEIGHTS, OUTWARD_SPACINGS = 40.0, 4.0
"""How far borders reach out: in heights over one plane, in spacings between two."""
_SLIVER = 0.05


class Edge(NamedTuple):
    """A straight side.

    Attributes:
        start, end: its ends, m.
        owner: number of the trace that it bounds, or GROUND, or BORDER.
        left, right: material on either side; METAL, or a number into `Outline.permittivities`.
        first_m, last_m: size of the first and the last panel, m; None where panels grow to that end.
        start_angle, end_angle: the metal's angle where the edge ends in a corner of it; None elsewhere.
    """

    start: complex
    end: complex
    owner: int
    left: int
    right: int
    first_m: float | None
    last_m: float | None
    start_angle: float | None = None
    end_angle: float | None = None


class Outline(NamedTuple):
    """All edges, or their right half.

    Attributes:
        edges: every edge; of a `mirrored` outline those at x >= 0.
        permittivities: what the edges' materials name; the last is air's.
        signals: how many traces the edges name.
        spacing_m: distance between the planes, m; None over one.
        mirrored: whether the same edges stand mirrored at x <= 0, their traces being others.
    """

    edges: tuple[Edge, ...]
    permittivities: tuple[float, ...]
    signals: int
    spacing_m: float | None
    mirrored: bool = False


def outline_of(section: CrossSection, panel_m: float, mask_panel_m: float) -> Outline:
    """The right half of a section's edges; its signals are numbered from the middle outward.

    Args:
        section: what is to be solved.
        panel_m: the smallest panel at corners of metal, m.
        mask_panel_m: the smallest panel at corners of the mask's surface, m.
    """
    air = len(section.permittivities)
    heights, materials = _stack(section, air)
    edges: list[Edge] = []
    signal = -section.pairs
    for trace in section.traces():
        owner = GROUND if trace.grounded else signal
        signal += not trace.grounded
        edges += _trace_edges(section, trace, owner, (heights, materials), panel_m)
    for number, height in enumerate(heights):
        if materials[number] != materials[number + 1]:
            edges += _border(section, height, materials[number + 1], materials[number], panel_m)
    if section.mask is not None:
        edges += _mask_edges(section, section.mask, air, mask_panel_m)
    return Outline(
        tuple(_right_half(edges)), (*section.permittivities, 1.0), section.pairs, section.spacing_m, mirrored=True
    )


def _right_half(edges: Iterable[Edge]) -> Iterator[Edge]:
    """What lies at x >= 0; an edge that crosses the middle is cut there, and its panels grow towards the cut."""
    for edge in edges:
        if max(edge.start.real, edge.end.real) <= 0.0:
            continue
        if edge.start.real < 0.0:
            yield edge._replace(start=complex(0.0, edge.start.imag), first_m=None, start_angle=None)
        elif edge.end.real < 0.0:
            yield edge._replace(end=complex(0.0, edge.end.imag), last_m=None, end_angle=None)
        else:
            yield edge


def _stack(section: CrossSection, air: int) -> tuple[list[float], list[int]]:
    """Heights of the borders between layers, and the materials from below upward: one more than heights."""
    materials = [layer.material for layer in section.below]
    above = [layer.material for layer in section.above]
    if not above:
        above = [section.mask.material if section.mask is not None else air]
    heights, at = [], 0.0
    for layer in (*section.below, *section.above):
        at += layer.height_m
        heights.append(at)
    # The border at the feet is the sum itself: an equal height found twice by adding could differ in its last digit.
    heights[len(section.below) - 1] = section.foot_m
    return heights[: len(materials) + len(above) - 1], materials + above


def _trace_edges(
    section: CrossSection, trace: Trace, owner: int, stack: tuple[list[float], list[int]], panel_m: float
) -> Iterator[Edge]:
    """A trapezoid's sides, metal on their left; split where layers meet them."""
    heights, materials = stack
    foot, top, inset = section.foot_m, section.foot_m + section.thickness_m, section.inset_m
    left, right = trace.left_m, trace.left_m + trace.width_m
    at_foot = math.atan2(section.thickness_m, inset)
    at_top = math.pi - at_foot

    def below(y: float) -> int:
        return sum(height < y for height in heights)

    def above(y: float) -> int:
        return sum(height <= y for height in heights)

    yield Edge(
        complex(left, foot), complex(right, foot), owner, METAL, materials[below(foot)], panel_m, panel_m, at_foot,
        at_foot,
    )  # fmt: skip
    levels = [foot, *(height for height in heights if foot < height < top), top]
    for low, high in pairwise(levels):
        yield Edge(
            complex(right - _inset_at(section, low), low), complex(right - _inset_at(section, high), high), owner,
            METAL, materials[above(low)], panel_m, panel_m, at_foot if low == foot else None,
            at_top if high == top else None,
        )  # fmt: skip
    yield Edge(
        complex(right - inset, top), complex(left + inset, top), owner, METAL, materials[above(top)], panel_m, panel_m,
        at_top, at_top,
    )  # fmt: skip
    for high, low in pairwise(levels[::-1]):
        yield Edge(
            complex(left + _inset_at(section, high), high), complex(left + _inset_at(section, low), low), owner, METAL,
            materials[above(low)], panel_m, panel_m, at_top if high == top else None,
            at_foot if low == foot else None,
        )  # fmt: skip


def _inset_at(section: CrossSection, y: float) -> float:
    return section.inset_m * min((y - section.foot_m) / section.thickness_m, 1.0)


def _reach_m(section: CrossSection) -> float:
    if section.spacing_m is not None:
        return OUTWARD_SPACINGS * section.spacing_m
    return OUTWARD_HEIGHTS * (section.foot_m + section.thickness_m)


def _border(section: CrossSection, y: float, upper: int, lower: int, panel_m: float) -> Iterator[Edge]:
    """A level border of two layers, from left to right, cut where traces stand in it."""
    traces = section.traces()
    reach = _reach_m(section)
    cuts = [traces[0].left_m - reach]
    if section.foot_m <= y <= section.foot_m + section.thickness_m:
        inset = _inset_at(section, y)
        for trace in traces:
            cuts += [trace.left_m + inset, trace.left_m + trace.width_m - inset]
        size = panel_m
    else:
        # No metal ends on it: it needs panels only as fine as the metal is far.
        size = min(abs(y - section.foot_m), abs(y - section.foot_m - section.thickness_m))
        for trace in traces:
            cuts += [trace.left_m, trace.left_m + trace.width_m]
    cuts.append(traces[-1].left_m + traces[-1].width_m + reach)
    touching = section.foot_m <= y <= section.foot_m + section.thickness_m
    spans = list(zip(cuts[::2], cuts[1::2], strict=True)) if touching else list(pairwise(cuts))
    for number, (start, end) in enumerate(spans):
        first = None if number == 0 else size
        last = None if number == len(spans) - 1 else size
        yield Edge(complex(start, y), complex(end, y), BORDER, upper, lower, first, last)


def _mask_edges(section: CrossSection, mask: Mask, air: int, panel_m: float) -> Iterator[Edge]:
    points = mask_surface(section, mask)
    level = len({point.imag for point in points}) == 1
    # A level surface has no corners: it needs panels only as fine as the metal is far.
    size = points[0].imag - section.foot_m - section.thickness_m if level else panel_m
    for number, (start, end) in enumerate(pairwise(points)):
        first = None if number == 0 else size
        last = None if number == len(points) - 2 else size
        yield Edge(start, end, BORDER, air, mask.material, first, last)


def mask_surface(section: CrossSection, mask: Mask) -> list[complex]:
    """The mask's surface from left to right: level on the laminate, a bump over each trace, bumps that meet merged.

    Beside a trace the mask is as thick as on it. Where the bumps of two traces meet, the gap is full up to there; what
    is left of a valley narrower than a twentieth of the mask counts as full too.
    """
    traces, reach = section.traces(), _reach_m(section)
    floor = section.foot_m + mask.on_laminate_m
    top = section.foot_m + section.thickness_m + mask.on_trace_m
    ends = complex(traces[0].left_m - reach, floor), complex(traces[-1].left_m + traces[-1].width_m + reach, floor)
    sliver = _SLIVER * min(mask.on_laminate_m, mask.on_trace_m)
    if top - floor <= sliver:
        over = [x for trace in traces for x in (trace.left_m, trace.left_m + trace.width_m)]
        return [complex(x, max(top, floor)) for x in (ends[0].real, *over, ends[1].real)]
    # The lean of a bump's side: from beside the foot to beside the top's corner.
    lean = section.inset_m / (top - section.foot_m)
    at_floor, at_top = lean * mask.on_laminate_m - mask.on_trace_m, section.inset_m - mask.on_trace_m
    points = [ends[0]]
    for number, trace in enumerate(traces):
        left, right = trace.left_m, trace.left_m + trace.width_m
        if number == 0:
            points += [complex(left + at_floor, floor), complex(left + at_top, top)]
        if number == len(traces) - 1:
            points += [complex(right - at_top, top), complex(right - at_floor, floor)]
            continue
        following = traces[number + 1].left_m
        valley = following - right + 2.0 * at_floor
        mouth = following - right + 2.0 * at_top
        if valley > sliver:
            points += [
                complex(right - at_top, top), complex(right - at_floor, floor),
                complex(following + at_floor, floor), complex(following + at_top, top),
            ]  # fmt: skip
        elif mouth > sliver and lean > 0.0:
            depth = 0.5 * mouth / lean
            points += [
                complex(right - at_top, top), complex(0.5 * (right + following), top - min(depth, top - floor)),
                complex(following + at_top, top),
            ]  # fmt: skip
    return [*points, ends[1]]
