"""How neighbouring pairs couple, at a gap."""

import math
from functools import lru_cache
from typing import Any

import msgspec
import numpy as np

from workbench.arrays import Floats
from workbench.parts.section.figures import Coupling, coupling
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.kept import solved


def beside(section: CrossSection, *, gap_m: float, guard_m: float = 0.0, pairs: int = 2) -> CrossSection:
    """The section with more of the same pairs beside one another.

    Args:
        section: of one pair.
        gap_m: distance from pair to pair, foot to foot, m.
        guard_m: width of a grounded trace in the middle of it, m; 0 for none.
        pairs: how many in all.
    """
    changes: dict[str, Any] = {"pairs": pairs, "between_m": gap_m, "guard_m": guard_m}
    return msgspec.structs.replace(section, **changes)


def coupling_at(section: CrossSection, *, gap_m: float, guard_m: float = 0.0, away: int = 1) -> Coupling:
    """Coupling of a pair to its neighbour (`away` 1), or to the next but one (2) or two (3); solved once and kept.

    A guard counts as ideally grounded along its length, which stitching only approaches.

    Args:
        section: of one pair.
        gap_m: distance from pair to pair, foot to foot, m.
        guard_m: width of a grounded trace in the middle of each gap, m; 0 for none.
        away: how many places further the other pair is; those between are solved with them.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    return coupling(solved(beside(section, gap_m=gap_m, guard_m=guard_m, pairs=away + 1)), 0, away)


_PER_OCTAVE = 4
_NODES = 4
_KEPT_NODES = 256
_NOTHING = 1e-8
"""Couplings below -160 dB are what rounding leaves of none."""


def coupling_near(section: CrossSection, *, gap_m: float, guard_m: float = 0.0, away: int = 1) -> Coupling:
    """As `coupling_at` while a gap is dragged: between gaps a quarter of an octave apart, each solved once.

    A cubic through four of them, of the logarithm of kL and of kC over kL, so that a far end that nearly vanishes is no
    difference of two errors. kL within 0.02 % of the solved one, kC less kL within 0.25 % of kL.

    Args:
        section: of one pair.
        gap_m, guard_m, away: as for `coupling_at`, m.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    place = _PER_OCTAVE * math.log2(gap_m)
    first = math.floor(place) - (_NODES // 2 - 1)
    try:
        nodes = [_node(section, number, guard_m, away) for number in range(first, first + _NODES)]
    except ValueError:  # a node that is no section, beside a gap that may be one
        return coupling_at(section, gap_m=gap_m, guard_m=guard_m, away=away)
    inductive, capacitive, slowness = (np.array(values) for values in zip(*nodes, strict=True))
    # Of pairs side by side the near legs couple the most, which are of unlike polarity: both ratios are negative.
    inductive, capacitive = np.maximum(-inductive, _NOTHING), np.maximum(-capacitive, _NOTHING)
    weights = _cubic(place - first)
    own = -float(np.exp(weights @ np.log(inductive)))
    other = own * float(weights @ (capacitive / inductive))
    return Coupling(own, other, 0.25 * (own + other), 0.5 * (other - own) * float(weights @ slowness))


@lru_cache(maxsize=_KEPT_NODES)
def _node(section: CrossSection, number: int, guard_m: float, away: int) -> tuple[float, float, float]:
    """kL, kC and the slowness (s/m) of both lines at a gap of so many quarter octaves above 1 m."""
    found = coupling_at(section, gap_m=2.0 ** (number / _PER_OCTAVE), guard_m=guard_m, away=away)
    apart = found.capacitive - found.inductive
    slowness = 2.0 * found.forward_s_per_m / apart if apart else 0.0
    return found.inductive, found.capacitive, slowness


def _cubic(x: float) -> Floats:
    """Weights of values at 0, 1, 2 and 3 for the cubic through them at `x`."""
    at = np.arange(_NODES)
    return np.array([np.prod((x - at[at != node]) / (node - at[at != node])) for node in at])
