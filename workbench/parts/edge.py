"""A driver's edge: a straight ramp, or a step as it was measured or is printed as a table."""

from collections.abc import Iterator
from functools import lru_cache
from typing import Annotated

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import quantity
from workbench.parts.record import Problem, Record

RAMP_PER_RISE_TIME = 1.0 / 0.6
"""A linear ramp passes from 20 to 80 % in 0.6 of its length."""
MOST_POINTS = 256
_CLOSE = 1e-6


class EdgePoint(Record, kw_only=True):
    """A point of a step: where it stands after so much time."""

    time_s: Annotated[float, quantity("s", "Time", "After the step's first point.", ge=0.0, le=1e-6)]
    level: Annotated[
        float, quantity("", "Level", "Share of the whole transition: 0 before it, 1 after it.", ge=-1.0, le=2.0)
    ]


Edge = tuple[EdgePoint, ...]


def ramp_gain(f_hz: Floats, rise_time_s: float) -> Complexes:
    """What a straight ramp makes of a sudden step: its start stands where the step's instant is.

    Args:
        f_hz: Hz, shape (n,).
        rise_time_s: 20 to 80 %, s.

    Returns:
        ``sinc(f Tr)`` with half the ramp's delay, complex, shape (n,).
    """
    ramp_s = rise_time_s * RAMP_PER_RISE_TIME
    return np.asarray(np.sinc(f_hz * ramp_s) * np.exp(-1j * np.pi * f_hz * ramp_s))


def edge_gain(edge: Edge, f_hz: Floats) -> Complexes:
    """What a step of straight pieces makes of a sudden one: the transform of its slope, exactly.

    A piece that rises by d within T about its middle t adds ``d sinc(f T) exp(-j w t)``. The step's first point stands
    where the sudden step's instant is.

    Args:
        edge: its points, time rising.
        f_hz: Hz, shape (n,).

    Returns:
        Complex, shape (n,).
    """
    time_s, level = _arrays(edge)
    length_s, middle_s, rise = np.diff(time_s), 0.5 * (time_s[1:] + time_s[:-1]), np.diff(level)
    total = np.zeros(f_hz.size, np.complex128)
    for length, middle, part in zip(length_s.tolist(), middle_s.tolist(), rise.tolist(), strict=True):
        if part:
            total += part * np.sinc(f_hz * length) * np.exp(-2j * np.pi * f_hz * middle)
    return total


def length_s(edge: Edge) -> float:
    """Length of the straight ramp that is as steep as the step's steepest piece, s."""
    time_s, level = _arrays(edge)
    return float(1.0 / np.abs(np.diff(level) / np.diff(time_s)).max())


def rise_of(edge: Edge) -> float:
    """From where the step first passes 20 % to where it first passes 80 %, s."""
    time_s, level = _arrays(edge)
    passed = [_first_at(time_s, level, share) for share in (0.2, 0.8)]
    return max(passed[1] - passed[0], 0.0)


def edge_problems(edge: Edge) -> Iterator[Problem]:
    """What is wrong with a step; nothing with one of no points."""
    if not edge:
        return
    time_s, level = _arrays(edge)
    if len(edge) < 2:
        yield Problem("edge", "one point is no step", "give at least two, or none")
    elif len(edge) > MOST_POINTS:
        yield Problem("edge", f"it has {len(edge):,} points", f"keep {MOST_POINTS:,} at most")
    elif time_s[0] != 0.0 or (np.diff(time_s) <= 0.0).any():
        yield Problem("edge", "its times do not rise from 0 s on", "sort them, and begin at 0 s")
    elif abs(level[0]) > _CLOSE or abs(level[-1] - 1.0) > _CLOSE:
        yield Problem("edge", "it does not lead from level 0 to level 1", "write shares of the whole transition")


@lru_cache(maxsize=64)
def _arrays(edge: Edge) -> tuple[Floats, Floats]:
    return np.array([one.time_s for one in edge]), np.array([one.level for one in edge])


def _first_at(time_s: Floats, level: Floats, share: float) -> float:
    at = int(np.argmax(level >= share))
    before = max(at - 1, 0)
    span = level[at] - level[before]
    part = (share - level[before]) / span if span > 0.0 else 0.0
    return float(time_s[before] + part * (time_s[at] - time_s[before]))
