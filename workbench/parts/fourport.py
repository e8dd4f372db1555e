"""Four-port algebra of a pair: its differential and its common mode, and what turns one into the other.

Waves, not chain matrices: modes that are attenuated unequally destroy each other in a product of chains. The references
are 100 ohm of the differential mode (``V+ - V-``, ``(I+ - I-) / 2``) and 25 ohm of the common one (``(V+ + V-) / 2``,
``I+ + I-``). Counted so, two legs that don't couple look alike to both modes: with the common voltage doubled and its
current halved its two-port is the differential one. All common-mode two-ports here are scaled like that. Modes: D. E.
Bockelman, W. R. Eisenstadt, IEEE Trans. MTT 43(7), 1995, 1530-1539; joining by waves: R. Redheffer, "On the relation of
transmission-line theory to scattering and transfer", J. Math. Phys. 41, 1962, 1-41. All of it is derivable.
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.twoport import LineConstants, SParameters, TwoPort, s_parameters

_DIFFERENTIAL, _COMMON = 0, 1


class FourPort(NamedTuple):
    """Waves of a pair's two ends in both modes, complex, shape (2, 2, n) each: mode out of it, mode into it, frequency.

    Modes are counted differential, common. Attributes:
        s11, s22: reflections at the left and the right end.
        s21, s12: transmissions rightward and leftward.
    """

    s11: Complexes
    s12: Complexes
    s21: Complexes
    s22: Complexes

    @property
    def differential(self) -> SParameters:
        """The differential mode alone, with the common mode matched at both ends; shape (n,) each."""
        return SParameters(*(block[_DIFFERENTIAL, _DIFFERENTIAL] for block in self))

    @property
    def converted(self) -> Complexes:
        """SCD21: the common mode that leaves at the right end for a differential wave into the left, shape (n,)."""
        return np.asarray(self.s21[_COMMON, _DIFFERENTIAL])


def apart(differential: TwoPort, common: TwoPort | None = None) -> FourPort:
    """An element that turns neither mode into the other.

    Args:
        differential: its two-port of that mode.
        common: that of the common mode, scaled; None: as two legs that don't couple.
    """
    one = s_parameters(differential)
    other = one if common is None else s_parameters(common)
    zero = np.zeros_like(one.s11)
    return FourPort(*(np.array([[d, zero], [zero, c]]) for d, c in zip(one, other, strict=True)))


def skewed(angle_rad: Floats, impedance_ohm: Complexes) -> FourPort:
    """What makes the positive leg late by twice an angle against the negative one, and nothing else.

    Its legs are lossless lines, one of the angle, one of minus it; between lines whose modes have the impedances Zd and
    Zc it reflects nothing where `impedance_ohm` is ``sqrt(Zd Zc)`` (Zc scaled).

    Args:
        angle_rad: half the phase between the legs, rad, shape (n,).
        impedance_ohm: as above, as twice that of one leg, ohm, shape (n,).
    """
    cosine, sine = np.cos(angle_rad).astype(np.complex128), 1j * np.sin(angle_rad)
    none = np.zeros(angle_rad.size)
    late, early = (
        s_parameters(TwoPort(np.array([[cosine, impedance_ohm * way], [way / impedance_ohm, cosine]]), none))
        for way in (sine, -sine)
    )
    return FourPort(*(_both(one, other) for one, other in zip(late, early, strict=True)))


def _both(positive: Complexes, negative: Complexes) -> Complexes:
    same, turned = (positive + negative) / 2.0, (positive - negative) / 2.0
    return np.array([[same, turned], [turned, same]])


def joined(first: FourPort, *others: FourPort) -> FourPort:
    """Elements in a row, from left to right, with everything that is reflected between them."""
    found = first
    for other in others:
        ahead, back = _inverse(_less(found.s22, other.s11)), _inverse(_less(other.s11, found.s22))
        rightward, leftward = _times(ahead, found.s21), _times(back, other.s12)
        found = FourPort(
            s11=found.s11 + _times(found.s12, _times(other.s11, rightward)),
            s12=_times(found.s12, leftward),
            s21=_times(other.s21, rightward),
            s22=other.s22 + _times(other.s21, _times(found.s22, leftward)),
        )
    return found


def _less(one: Complexes, other: Complexes) -> Complexes:
    """1 less a product of two matrices."""
    return np.eye(2)[:, :, None] - _times(one, other)


def _times(one: Complexes, other: Complexes) -> Complexes:
    return np.asarray(one[:, 0, None] * other[None, 0] + one[:, 1, None] * other[None, 1])


def _inverse(matrix: Complexes) -> Complexes:
    (a, b), (c, d) = matrix
    return np.asarray(np.array([[d, -b], [-c, a]]) / (a * d - b * c))


def voltage_between(before: FourPort, after: FourPort) -> Complexes:
    """Differential voltage where two four-ports meet, over the open voltage of a matched source at the first's left.

    The far end of the second is matched; complex, shape (n,).
    """
    arriving = _times(_inverse(_less(before.s22, after.s11)), before.s21)
    total = arriving + _times(after.s11, arriving)
    return np.asarray(0.5 * total[_DIFFERENTIAL, _DIFFERENTIAL])


def scaled_common(constants: LineConstants) -> LineConstants:
    """A common mode's constants per metre as they are counted here: voltages doubled, currents halved."""
    return LineConstants(4.0 * constants.z_ohm_per_m, constants.y_s_per_m / 4.0)
