"""Published formulas of single and coupled microstrip: impedances, effective permittivities, dispersion.

Lengths over the substrate height: u the width, g the gap, t the thickness. fn is frequency times height in GHz mm.

E. Hammerstad, O. Jensen, "Accurate models for microstrip computer-aided design", IEEE MTT-S Digest 1980, 407-409.
M. Kirschning, R. H. Jansen, "Accurate wide-range design equations for the frequency-dependent characteristic of
parallel coupled microstrip lines", IEEE Trans. MTT 32(1), 1984, 83-90; symbols Q1 to Q10 and P1 to P15 are theirs.
"""

import math
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats

FREE_SPACE_OHM = 376.730313412


class Static(NamedTuple):
    """Impedance in ohm and effective permittivity at low frequency."""

    impedance_ohm: float
    permittivity: float


def single_microstrip(u: float, er: float) -> Static:
    """One strip of zero thickness (Hammerstad and Jensen)."""
    effective = _effective(u, _width_exponent(u), er)
    return Static(_in_air_ohm(u) / math.sqrt(effective), effective)


def widening(u: float, t: float, er: float) -> float:
    """By how much a strip of thickness t acts wider, over the height (Hammerstad and Jensen)."""
    if t <= 0.0:
        return 0.0
    in_air = t / math.pi * math.log(1.0 + 4.0 * math.e / (t / math.tanh(math.sqrt(6.517 * u)) ** 2))
    return 0.5 * (1.0 + 1.0 / math.cosh(math.sqrt(er - 1.0))) * in_air


def odd_mode(u: float, g: float, er: float) -> Static:
    """Odd mode of a pair of zero thickness (Kirschning and Jansen)."""
    single = single_microstrip(u, er)
    e0 = single.permittivity
    effective = (0.5 * (er + 1.0) + _odd_a(u, er, e0) - e0) * math.exp(-_odd_c(u, er) * g ** _odd_d(u)) + e0
    load = single.impedance_ohm / FREE_SPACE_OHM * math.sqrt(e0) * _q10(u, g)
    return Static(single.impedance_ohm * math.sqrt(e0 / effective) / (1.0 - load), effective)


def even_mode(u: float, g: float, er: float) -> Static:
    """Even mode of a pair of zero thickness (Kirschning and Jansen)."""
    single = single_microstrip(u, er)
    v = u * (20.0 + g**2) / (10.0 + g**2) + g * math.exp(-g)
    effective = _effective(v, _width_exponent(v), er)
    load = single.impedance_ohm / FREE_SPACE_OHM * math.sqrt(single.permittivity) * _q4(u, g)
    return Static(single.impedance_ohm * math.sqrt(single.permittivity / effective) / (1.0 - load), effective)


def odd_permittivity(u: float, g: float, er: float, fn: Floats, static: float) -> Floats:
    """Effective permittivity of the odd mode at `fn` (GHz mm, shape (n,)), from its `static` value.

    Args:
        u: width over height.
        g: gap over height.
        er: permittivity of the substrate.
        fn: frequency times height, GHz mm.
        static: effective permittivity at low frequency.
    """
    p15 = _p15(u, g, er, fn)
    growth = _p1(u, fn) * _p2(er) * ((_p3(u, fn) * _p4(er) + 0.1844) * fn * p15) ** 1.5763
    return np.asarray(er - (er - static) / (1.0 + growth))


def single_permittivity(u: float, er: float, fn: Floats, static: float) -> Floats:
    """Effective permittivity of one strip at `fn` (GHz mm, shape (n,)), from its `static` value.

    M. Kirschning, R. H. Jansen, Electronics Letters 18(6), 1982, 272-273.
    """
    growth = _p1(u, fn) * _p2(er) * ((_p3(u, fn) * _p4(er) + 0.1844) * fn) ** 1.5763
    return np.asarray(er - (er - static) / (1.0 + growth))


def _in_air_ohm(u: float) -> float:
    f = 6.0 + (2.0 * math.pi - 6.0) * math.exp(-((30.666 / u) ** 0.7528))
    return FREE_SPACE_OHM / (2.0 * math.pi) * math.log(f / u + math.sqrt(1.0 + (2.0 / u) ** 2))


def _width_exponent(u: float) -> float:
    first = math.log((u**4 + (u / 52.0) ** 2) / (u**4 + 0.432)) / 49.0
    return 1.0 + first + math.log(1.0 + (u / 18.1) ** 3) / 18.7


def _effective(u: float, a: float, er: float) -> float:
    b = 0.564 * ((er - 0.9) / (er + 3.0)) ** 0.053
    return (er + 1.0) / 2.0 + (er - 1.0) / 2.0 * math.pow(1.0 + 10.0 / u, -a * b)


def _odd_a(u: float, er: float, e0: float) -> float:
    return 0.7287 * (e0 - 0.5 * (er + 1.0)) * (1.0 - math.exp(-0.179 * u))


def _odd_c(u: float, er: float) -> float:
    b = 0.747 * er / (0.15 + er)
    return b - (b - 0.207) * math.exp(-0.414 * u)


def _odd_d(u: float) -> float:
    return 0.593 + 0.694 * math.exp(-0.562 * u)


def _q2(g: float) -> float:
    return 1.0 + 0.7519 * g + 0.189 * math.pow(g, 2.31)


def _q4(u: float, g: float) -> float:
    q1 = 0.8695 * math.pow(u, 0.194)
    q3 = 0.1975 + math.pow(16.6 + (8.4 / g) ** 6, -0.387) + math.log(g**10 / (1.0 + (g / 3.4) ** 10)) / 241.0
    near = math.exp(-g)
    return 2.0 * q1 / _q2(g) / (near * math.pow(u, q3) + (2.0 - near) * math.pow(u, -q3))


def _q10(u: float, g: float) -> float:
    q5 = 1.794 + 1.14 * math.log(1.0 + 0.638 / (g + 0.517 * g**2.43))
    q6 = 0.2305 + math.log(g**10 / (1.0 + (g / 5.8) ** 10)) / 281.3 + math.log(1.0 + 0.598 * g**1.154) / 5.1
    q7 = (10.0 + 190.0 * g**2) / (1.0 + 82.3 * g**3)
    q8 = math.exp(-6.5 - 0.95 * math.log(g) - (g / 0.15) ** 5)
    q9 = math.log(q7) * (q8 + 1.0 / 16.5)
    return (_q2(g) * _q4(u, g) - q5 * math.exp(math.log(u) * q6 * u**-q9)) / _q2(g)


def _p1(u: float, fn: Floats) -> Floats:
    return np.asarray(0.27488 + (0.6315 + 0.525 / (1.0 + 0.0157 * fn) ** 20) * u - 0.065683 * math.exp(-8.7513 * u))


def _p2(er: float) -> float:
    return 0.33622 * (1.0 - math.exp(-0.03442 * er))


def _p3(u: float, fn: Floats) -> Floats:
    return np.asarray(0.0363 * math.exp(-4.6 * u) * (1.0 - np.exp(-((fn / 38.7) ** 4.97))))


def _p4(er: float) -> float:
    return 1.0 + 2.751 * (1.0 - math.exp(-((er / 15.916) ** 8)))


def _p15(u: float, g: float, er: float, fn: Floats) -> Floats:
    p8 = 0.7168 * (1.0 + 1.076 / (1.0 + 0.0576 * (er - 1.0)))
    p9 = p8 - 0.7913 * (1.0 - np.exp(-((fn / 20.0) ** 1.424))) * math.atan(2.481 * (er / 8.0) ** 0.946)
    p10 = 0.242 * (er - 1.0) ** 0.55
    p11 = 0.6366 * (np.exp(-0.3401 * fn) - 1.0) * math.atan(1.263 * (u / 3.0) ** 1.629)
    p12 = p9 + (1.0 - p9) / (1.0 + 1.183 * u**1.376)
    p13 = 1.695 * p10 / (0.414 + 1.605 * p10)
    p14 = 0.8928 + 0.1072 * (1.0 - np.exp(-0.42 * (fn / 20.0) ** 3.215))
    return np.asarray(np.abs(1.0 - 0.8928 * (1.0 + p11) * p12 * math.exp(-p13 * g**1.092) / p14))
