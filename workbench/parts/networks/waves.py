"""Scattering matrices of any number of ports: other references, other modes, and a two-port's chain matrix.

Power waves with real references, ports first and frequency last: shape (ports, ports, n). With twice the reference for
the difference and half for the sum, waves of modes are those of ports turned by 45 degrees. Formulas: K. Kurokawa, IEEE
Trans. MTT 13(2), 1965, 194-202 (references); D. E. Bockelman, W. R. Eisenstadt, IEEE Trans. MTT 43(7), 1995, 1530-1539
(modes); D. A. Frickey, IEEE Trans. MTT 42(2), 1994, 205-211 (chain matrices).
"""

from collections.abc import Sequence

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.twoport import TwoPort

_LEAST = 1e-300


def renormalized(s: Complexes, from_ohm: Sequence[float], to_ohm: Sequence[float]) -> Complexes:
    """Scattering matrices with other reference resistances.

    Args:
        s: shape (ports, ports, n).
        from_ohm: the reference of each port in ohm.
        to_ohm: those wanted, in ohm.
    """
    old, new = np.asarray(from_ohm, np.float64), np.asarray(to_ohm, np.float64)
    if np.array_equal(old, new):
        return s
    mismatch = np.diag((new - old) / (new + old))
    scale = (new + old) / (2.0 * np.sqrt(old * new))
    stacked = np.moveaxis(s, -1, 0)
    back = np.eye(old.size) - mismatch @ stacked
    # X back = s - mismatch, asked for as the transposed system.
    turned = np.linalg.solve(np.swapaxes(back, 1, 2), np.swapaxes(stacked - mismatch, 1, 2))
    found = np.swapaxes(turned, 1, 2) * scale[:, None] / scale[None, :]
    return np.ascontiguousarray(np.moveaxis(found, 0, -1))


TO_MODES: Floats = np.sqrt(0.5) * np.array(
    [[1.0, -1.0, 0.0, 0.0], [0.0, 0.0, 1.0, -1.0], [1.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 1.0]]
)
"""From the waves of ports (left +, left -, right +, right -) to those of modes (D left, D right, C left, C right)."""


def modes_of(s: Complexes) -> Complexes:
    """Four single-ended ports (left +, left -, right +, right -) as modes (D left, D right, C left, C right).

    Both have shape (4, 4, n); the references of a pair must be equal, those of its modes are twice and half of them.
    """
    return np.asarray(np.einsum("ia,abn,jb->ijn", TO_MODES, s, TO_MODES, optimize=True))


def ports_of(modes: Complexes) -> Complexes:
    """The inverse of `modes_of`, both of shape (4, 4, n)."""
    return np.asarray(np.einsum("ia,ijn,jb->abn", TO_MODES, modes, TO_MODES, optimize=True))


def chain_of(s: Complexes, left_ohm: float, right_ohm: float, extra_np: Floats | float = 0.0) -> TwoPort:
    """The chain matrix of a two-port.

    Args:
        s: its scattering matrices, shape (2, 2, n); where nothing at all is transmitted, 1e-300 stands for it.
        left_ohm: reference of the first port, ohm.
        right_ohm: that of the second, ohm.
        extra_np: natural logarithm of a factor that was left out of both transmissions, shape (n,).
    """
    s11, s12, s22 = s[0, 0], s[0, 1], s[1, 1]
    s21 = np.where(np.abs(s[1, 0]) < _LEAST, _LEAST, s[1, 0])
    size = np.abs(s21)
    both = s12 * s21 * np.exp(-2.0 * np.asarray(extra_np))
    turn = size / (2.0 * s21)
    chain = np.empty_like(s)
    chain[0, 0] = ((1.0 + s11) * (1.0 - s22) + both) * turn * np.sqrt(left_ohm / right_ohm)
    chain[0, 1] = ((1.0 + s11) * (1.0 + s22) - both) * turn * np.sqrt(left_ohm * right_ohm)
    chain[1, 0] = ((1.0 - s11) * (1.0 - s22) - both) * turn / np.sqrt(left_ohm * right_ohm)
    chain[1, 1] = ((1.0 - s11) * (1.0 + s22) + both) * turn * np.sqrt(right_ohm / left_ohm)
    return TwoPort(chain, extra_np - np.log(size))


def scattering_of(two_port: TwoPort, left_ohm: float, right_ohm: float) -> Complexes:
    """The scattering matrices of a chain matrix, shape (2, 2, n), for real references at either end in ohm.

    The transmission backwards takes the determinant as it is, so that networks that are not reciprocal come back too.
    """
    (a, b), (c, d) = two_port.chain
    root = np.sqrt(left_ohm * right_ohm)
    shrink = np.exp(-two_port.attenuation_np)
    total = a * right_ohm + b + c * left_ohm * right_ohm + d * left_ohm
    s = np.empty_like(two_port.chain)
    s[0, 0] = (a * right_ohm + b - c * left_ohm * right_ohm - d * left_ohm) / total
    s[1, 1] = (-a * right_ohm + b - c * left_ohm * right_ohm + d * left_ohm) / total
    s[1, 0] = 2.0 * root * shrink / total
    s[0, 1] = 2.0 * root * (a * d - b * c) * np.exp(two_port.attenuation_np) / total
    return s
