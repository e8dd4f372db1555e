"""Thin strips between flat layers by the spectral domain, written apart from the program: Galerkin with edge functions.

A pair of strips without thickness on one border of flat dielectrics over a ground plane, open above or under a second
plane. Along the strips' plane a charge of wave number k sees the capacitance of the layers below and above it
(telegraph equations of an electrostatic wave, elementary); the charge on each strip is a sum of Chebyshev polynomials
over the root that its edges have, whose transforms are Bessel functions (T. Itoh, R. Mittra, IEEE Trans. MTT 21(7),
1973, 496-499, for the method). Lengths in any one unit.
"""

from collections.abc import Sequence

import numpy as np
from scipy.special import jv

EPS0 = 8.8541878188e-12
LIGHT = 299_792_458.0
Layers = Sequence[tuple[float, float]]
"""Height and permittivity of each layer, from the strips away."""
_TERMS = 6
_REACH, _STEP = 3000.0, 0.02


def modes_of(width: float, gap: float, below: Layers, above: Layers = (), *, open_above: bool = True) -> np.ndarray:
    """Z0e, e_e, Z0o, e_o of one trace of the pair, ohm and bare numbers.

    Args:
        width, gap: of the strips.
        below: the layers between strips and ground plane.
        above: those above the strips; air after them, or where it is not `open_above` another plane.
        open_above: whether there is no plane above.
    """
    found = []
    for even in (True, False):
        filled = _capacitance(width, gap, below, above, even=even, is_open=open_above)
        in_air = _capacitance(
            width, gap, [(h, 1.0) for h, _ in below], [(h, 1.0) for h, _ in above], even=even, is_open=open_above
        )
        found += [1.0 / (LIGHT * EPS0 * np.sqrt(filled * in_air)), filled / in_air]
    return np.array(found)


def _capacitance(width: float, gap: float, below: Layers, above: Layers, *, even: bool, is_open: bool) -> float:
    """Capacitance of one strip over eps0, with the other at the same or the opposite voltage."""
    scale = min(width, gap, *(h for h, _ in (*below, *above)))
    k = (np.arange(int(_REACH / _STEP)) + 0.5) * _STEP / scale
    seen = k * (_looking(k, below, None) + _looking(k, above, 1.0 if is_open else None))
    centre = 0.5 * (width + gap)
    shapes = np.array([jv(n, 0.5 * k * width) * _pair(k * centre, n, even=even) for n in range(_TERMS)])
    step = k[1] - k[0]
    kernel = (shapes / seen) @ shapes.T * step * 4.0 / np.pi
    # Beyond: Bessel's and the pair's squares at their means, unlike orders of one parity with their sign.
    last = k[-1] + 0.5 * step
    tail = 1.0 / (last * (below[0][1] + (above[0][1] if above else 1.0))) * 2.0 / (np.pi * width) * 4.0 / np.pi
    order = np.arange(_TERMS)
    alike = (order[:, None] - order) % 2 == 0
    kernel += tail * np.where(alike, np.cos(0.5 * np.pi * (order[:, None] - order)), 0.0) * 0.5
    charge = np.linalg.solve(kernel, np.eye(_TERMS)[0])
    return 2.0 * float(charge[0])


def _looking(k: np.ndarray, layers: Layers, beyond: float | None) -> np.ndarray:
    """What layers show a charge of wave number k, over eps0 k; the last one ends in a plane or a half space."""
    seen = None if beyond is None else np.full_like(k, beyond)
    for height, permittivity in reversed(list(layers)):
        swing = np.tanh(k * height)
        if seen is None:
            seen = permittivity / swing
        else:
            seen = permittivity * (seen + permittivity * swing) / (permittivity + seen * swing)
    assert seen is not None
    return seen


def _pair(phase: np.ndarray, order: int, *, even: bool) -> np.ndarray:
    """How both strips' transforms add up: their charges alike or opposite, mirrored about the middle."""
    return np.cos(phase) if (order % 2 == 0) == even else np.sin(phase)
