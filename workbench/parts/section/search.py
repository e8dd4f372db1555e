"""The width or gap that gives a differential impedance."""

import math
from typing import Any, Literal

import msgspec

from workbench.parts.section.figures import differential
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.kept import solved

Dimension = Literal["width_m", "gap_m"]
_SMALLEST, _LARGEST = 1e-6, 1e-2
_STEPS = 40
_CLOSE = 1e-6


def differential_ohm(section: CrossSection) -> float:
    """Lossless differential impedance of the leftmost pair, ohm.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    return differential(solved(section)).impedance_ohm


def with_dimension(section: CrossSection, dimension: Dimension, value_m: float) -> CrossSection:
    """The section with another width or gap (m); what lies beside it moves along."""
    changes: dict[str, Any] = {dimension: value_m}
    return msgspec.structs.replace(section, **changes)


def solve_for(section: CrossSection, dimension: Dimension, target_ohm: float) -> CrossSection:
    """The section with the width or the gap that gives a differential impedance of `target_ohm` (ohm).

    The impedance falls with the width and grows with the gap, so that steps outward from the present value bracket the
    answer if there is one; then the secant of the logarithms, kept inside its bracket (regula falsi, Illinois).

    Raises:
        ValueError: the dimensions are no section, or no width or gap gives the impedance; the message says what is
            within reach.
    """
    low = high = getattr(section, dimension)
    at_low = at_high = _error(section, dimension, low, target_ohm)
    rising = dimension == "gap_m"
    grow = (at_low < 0.0) == rising
    while at_low * at_high > 0.0:
        following = (high * 1.6) if grow else (low / 1.6)
        candidate = with_dimension(section, dimension, following)
        if not _SMALLEST <= following <= _LARGEST or candidate.problem() is not None:
            raise ValueError(_out_of_reach(section, dimension, low if not grow else high, target_ohm))
        error = _error(section, dimension, following, target_ohm)
        if grow:
            low, at_low, high, at_high = high, at_high, following, error
        else:
            low, at_low, high, at_high = following, error, low, at_low
    return with_dimension(section, dimension, _between(section, dimension, target_ohm, (low, at_low), (high, at_high)))


def _between(
    section: CrossSection,
    dimension: Dimension,
    target_ohm: float,
    low: tuple[float, float],
    high: tuple[float, float],
) -> float:
    for _ in range(_STEPS):
        if abs(low[1]) < _CLOSE:
            return low[0]
        if abs(high[1]) < _CLOSE:
            return high[0]
        share = low[1] / (low[1] - high[1])
        value = low[0] * math.pow(high[0] / low[0], share)
        error = _error(section, dimension, value, target_ohm)
        if abs(error) < _CLOSE:
            return value
        if error * low[1] > 0.0:
            # The same end replaced twice in a row: the other end's weight is halved, so that it moves too.
            low, high = (value, error), (high[0], 0.5 * high[1])
        else:
            low, high = (low[0], 0.5 * low[1]), (value, error)
    return math.sqrt(low[0] * high[0])


def _error(section: CrossSection, dimension: Dimension, value_m: float, target_ohm: float) -> float:
    return math.log(differential_ohm(with_dimension(section, dimension, value_m)) / target_ohm)


def _out_of_reach(section: CrossSection, dimension: Dimension, value_m: float, target_ohm: float) -> str:
    ohm = differential_ohm(with_dimension(section, dimension, value_m))
    word = dimension.removesuffix("_m")
    return (
        f"no {word} gives {target_ohm:.4g} ohm: at {value_m * 1e6:.4g} um it is {ohm:.4g} ohm, and the {word} can't go "
        f"further"
    )
