"""What of a picture is known, and on which axes it stands: no widget here.

Axes must not move while a study runs. Positions are all there from the start; margins and reaches are not, so the axes
for them end at round values that most of what is still to come stays within.
"""

import math
from collections.abc import Sequence

from workbench.studies.presentation import CurvePicture, Point

LOWEST_GUARDS = -20.0
"""What lies lower is drawn at the edge: how far a closed eye is from opening says nothing about where to stand."""
_STEP_GUARDS, _LEAST_GUARDS = 2.5, 1.0
_ROUND = (1.0, 1.5, 2.0, 3.0, 5.0, 7.5, 10.0)


def is_known(point: Point | None) -> bool:
    """Whether there is a margin to draw; a margin of zero is one."""
    return point is not None and point.margin_guards is not None


def stretches(points: Sequence[Point | None], *, known: bool) -> tuple[range, ...]:
    """Where neighbouring points are known, or where they are not: the places, stretch by stretch."""
    found: list[range] = []
    for place, point in enumerate(points):
        if is_known(point) is not known:
            continue
        if found and found[-1].stop == place:
            found[-1] = range(found[-1].start, place + 1)
        else:
            found.append(range(place, place + 1))
    return tuple(found)


def drawn_stretches(picture: CurvePicture, line: int) -> tuple[tuple[int, ...], ...]:
    """The places that a line joins: never across a position that may still turn out otherwise."""
    points = picture.lines[line].points
    if picture.common:
        return tuple(map(tuple, stretches(points, known=True)))
    return (tuple(place for place, point in enumerate(points) if is_known(point)),)


def unknown_spans(picture: CurvePicture, line: int) -> tuple[tuple[float, float], ...]:
    """Between which x nothing is known of a line: from the last known position to the next, or to the axis's end."""
    if not picture.common:
        return ()
    x = picture.x
    return tuple(
        (x[max(gap.start - 1, 0)], x[min(gap.stop, len(x) - 1)])
        for gap in stretches(picture.lines[line].points, known=False)
    )


def guards_range(picture: CurvePicture) -> tuple[float, float]:
    """From which margin to which the axis goes, guard bands; zero and the guard band are always on it."""
    values = [
        max(point.margin_guards, LOWEST_GUARDS)
        for line in picture.lines
        for point in line.points
        if point is not None and point.margin_guards is not None
    ]
    low, high = min((*values, 0.0)), max((*values, _LEAST_GUARDS))
    return math.floor(low / _STEP_GUARDS) * _STEP_GUARDS, math.ceil(high / _STEP_GUARDS) * _STEP_GUARDS


def x_range(picture: CurvePicture) -> tuple[float, float]:
    """From which x to which the axis goes; what is looked for up to where it fails ends at a round value."""
    first, last = picture.x[0], picture.x[-1]
    if picture.common or last <= 0.0:
        return first, last
    decade = 10.0 ** math.floor(math.log10(last))
    return min(first, 0.0), next(decade * size for size in _ROUND if decade * size >= last * (1.0 - 1e-9))
