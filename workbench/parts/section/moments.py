"""Exact integrals of a logarithm and of its derivative over a straight panel.

With w the place of the point seen from the panel, in half panels (w = (z - centre) / half), and s from -1 to 1 along
it: ``M_k = int s^k ln|w - s| ds`` and ``N_k = int s^k / (w - s) ds`` (elementary; by parts and by
``N_k = w N_(k-1) - (1 - (-1)^k) / k``). Both logarithms come from one complex w: angles found one by one have a false
jump on slanted panels, where rounding decides on which side of the branch cut a collinear point lies.
"""

import math

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.section.panels import rule

NEAR_ALONG, NEAR_ACROSS = 3.6, 2.6
"""Nearer than this, in half panels, Gauss' rule is not good enough."""
REACH = math.hypot(NEAR_ALONG, NEAR_ACROSS)
_ON_PANEL = 1e-9


def potentials(w: Complexes, order: int) -> Floats:
    """Integral of each node's polynomial times ``ln|w - s|``, shape (m, q), for points `w`, shape (m,)."""
    ends, powers = _powers(w, order + 1)
    moments = np.empty((order, w.size))
    for k in range(order):
        sign = 1.0 if k % 2 else -1.0
        moments[k] = (ends[1].real - sign * ends[0].real + powers[k + 1].real) / (k + 1)
    return np.asarray(moments.T @ rule(order).basis)


def fields(w: Complexes, order: int) -> Complexes:
    """Integral of each node's polynomial times ``1 / (w - s)``, shape (m, q); on the panel the principal value."""
    _, powers = _powers(w, order)
    found = np.array(powers[:order])
    on_panel = (np.abs(w.imag) < _ON_PANEL) & (np.abs(w.real) < 1.0)
    found[:, on_panel] = found[:, on_panel].real
    return np.asarray(found.T @ rule(order).basis)


def _powers(w: Complexes, count: int) -> tuple[tuple[Complexes, Complexes], list[Complexes]]:
    """``ln(w + 1)`` and ``ln(w - 1)``, and N_0 to N_count."""
    # A collinear point has an imaginary part of 0.0 or -0.0, and w - 1 would keep the sign where w + 1 loses it: the
    # two logarithms would then lie on two sides of the cut.
    w = w + 0.0j
    below, above = np.log(w + 1.0), np.log(w - 1.0)
    powers = [below - above]
    for k in range(1, count + 1):
        powers.append(w * powers[-1] - (1.0 - (-1.0) ** k) / k)
    return (below, above), powers
