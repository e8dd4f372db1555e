"""Two-port algebra of the differential mode.

Signs and normalisation, once for the whole program:

* time dependence exp(+j w t); all voltages and currents differential; frequencies in Hz, shape (n,);
* chain (ABCD) matrices: ``[V1, I1] = [[A, B], [C, D]] [V2, -I2]``, so that elements in a row multiply;
* a matrix is kept as ``chain * exp(attenuation_np)``: the real factor is carried apart, so that no line is too long
  for floating point;
* S-parameters for display: power waves with one real reference resistance at both ports, default 100 ohm.

Formulas: D. A. Frickey, IEEE Trans. MTT 42(2), 1994, 205-211 (conversions; derivable in a few lines).
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats

REFERENCE_OHM = 100.0


class LineConstants(NamedTuple):
    """A line per metre: series impedance `z_ohm_per_m` and shunt admittance `y_s_per_m`, complex, shape (n,)."""

    z_ohm_per_m: Complexes
    y_s_per_m: Complexes


class Propagation(NamedTuple):
    """A line's propagation constant (1/m) and characteristic impedance (ohm), complex, shape (n,)."""

    gamma_per_m: Complexes
    impedance_ohm: Complexes


class TwoPort(NamedTuple):
    """A reciprocal or active two-port at n frequencies.

    Attributes:
        chain: scaled chain matrices, complex, shape (2, 2, n): rows and columns first, frequency last.
        attenuation_np: natural logarithm of the factor taken out, real, shape (n,); the true matrix is
            ``chain * exp(attenuation_np)``.
    """

    chain: Complexes
    attenuation_np: Floats


class SParameters(NamedTuple):
    """S-parameters with one real reference at both ports, complex, shape (n,) each."""

    s11: Complexes
    s12: Complexes
    s21: Complexes
    s22: Complexes


def propagation(constants: LineConstants) -> Propagation:
    """Propagation constant ``sqrt(Z Y)`` and characteristic impedance ``sqrt(Z / Y)`` of a line.

    Where Y is zero (0 Hz) the impedance is not defined and not needed; 0 stands there.
    """
    gamma = np.sqrt(constants.z_ohm_per_m * constants.y_s_per_m)
    # sqrt(ZY) has two branches; a passive line's wave decays, so its real part is not negative.
    gamma = np.where(gamma.real < 0.0, -gamma, gamma)
    safe = np.where(gamma == 0.0, 1.0, gamma)
    impedance = np.where(gamma == 0.0, 0.0, constants.z_ohm_per_m / safe)
    return Propagation(gamma, impedance)


def line(constants: LineConstants, length_m: float, known: Propagation | None = None) -> TwoPort:
    """A line of some length.

    Args:
        constants: the line per metre, shape (n,).
        length_m: length in m, not negative.
        known: the line's `propagation`, where the caller has it already.
    """
    gamma, impedance = known if known is not None else propagation(constants)
    at_rest = gamma == 0.0
    gamma_length = gamma * length_m
    # cosh and sinh with exp(Re g l) taken out: half of exp(j b l), and half of exp(-j b l) that fades on its way back.
    forward, angle = np.empty(gamma.size, np.complex128), gamma_length.imag
    forward.real, forward.imag = 0.5 * np.cos(angle), 0.5 * np.sin(angle)
    back = np.exp(-2.0 * gamma_length.real) * np.conj(forward)
    chain = np.empty((2, 2, gamma.size), np.complex128)
    chain[0, 0] = chain[1, 1] = forward + back
    sinh = forward - back
    chain[0, 1] = impedance * sinh
    chain[1, 0] = sinh / np.where(at_rest, 1.0, impedance)
    if at_rest.any():
        chain[0, 1, at_rest] = constants.z_ohm_per_m[at_rest] * length_m
        chain[1, 0, at_rest] = constants.y_s_per_m[at_rest] * length_m
    return TwoPort(chain, gamma_length.real.copy())


def series(impedance_ohm: Complexes) -> TwoPort:
    """An impedance in the path, ohm, shape (n,)."""
    chain = np.zeros((2, 2, impedance_ohm.size), np.complex128)
    chain[0, 0] = chain[1, 1] = 1.0
    chain[0, 1] = impedance_ohm
    return TwoPort(chain, np.zeros(impedance_ohm.size))


def shunt(admittance_s: Complexes) -> TwoPort:
    """An admittance across the pair, S, shape (n,)."""
    chain = np.zeros((2, 2, admittance_s.size), np.complex128)
    chain[0, 0] = chain[1, 1] = 1.0
    chain[1, 0] = admittance_s
    return TwoPort(chain, np.zeros(admittance_s.size))


def through(n: int) -> TwoPort:
    """Nothing at all, at n frequencies."""
    return shunt(np.zeros(n, np.complex128))


def cascade(first: TwoPort, *rest: TwoPort) -> TwoPort:
    """Two-ports in a row, in the order of the signal."""
    chain, attenuation = first
    for other in rest:
        a, b = chain, other.chain
        product = np.empty_like(a)
        product[0, 0] = a[0, 0] * b[0, 0] + a[0, 1] * b[1, 0]
        product[0, 1] = a[0, 0] * b[0, 1] + a[0, 1] * b[1, 1]
        product[1, 0] = a[1, 0] * b[0, 0] + a[1, 1] * b[1, 0]
        product[1, 1] = a[1, 0] * b[0, 1] + a[1, 1] * b[1, 1]
        chain, attenuation = product, attenuation + other.attenuation_np
    return TwoPort(chain, attenuation)


def reversed_two_port(two_port: TwoPort) -> TwoPort:
    """The same reciprocal two-port seen from its other end: A and D change places, in the same memory."""
    return TwoPort(two_port.chain[::-1, ::-1].swapaxes(0, 1), two_port.attenuation_np)


def s_parameters(two_port: TwoPort, reference_ohm: float = REFERENCE_OHM) -> SParameters:
    """S-parameters of a reciprocal two-port (AD - BC = 1) between `reference_ohm` (ohm) at both ports."""
    (a, b), (c, d) = two_port.chain
    b_ratio, c_ratio = b / reference_ohm, c * reference_ohm
    total = a + b_ratio + c_ratio + d
    transmission = 2.0 * np.exp(-two_port.attenuation_np) / total
    return SParameters(
        s11=(a + b_ratio - c_ratio - d) / total,
        s12=transmission,
        s21=transmission.copy(),
        s22=(-a + b_ratio - c_ratio + d) / total,
    )


def input_admittance_s(two_port: TwoPort, load_s: Complexes) -> Complexes:
    """Admittance (S, shape (n,)) into port 1 with an admittance `load_s` across port 2."""
    (a, b), (c, d) = two_port.chain
    return np.asarray((c + d * load_s) / (a + b * load_s))


def voltage_transfer(two_port: TwoPort, source_ohm: Complexes | float, load_s: Complexes) -> Complexes:
    """Voltage across the load over the source's open voltage, complex, shape (n,).

    Args:
        two_port: what lies between.
        source_ohm: the source's internal impedance, ohm.
        load_s: the load's admittance, S, shape (n,).
    """
    (a, b), (c, d) = two_port.chain
    total = a + b * load_s + source_ohm * (c + d * load_s)
    return np.asarray(np.exp(-two_port.attenuation_np) / total, np.complex128)
