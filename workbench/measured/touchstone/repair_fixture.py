"""Fixture removal: what a probe, test board or cable adds, de-embedded by its own measured or computed network."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.errors import NetworkError
from workbench.parts.networks.curve import curve_of, two_port_at, with_capacitor
from workbench.parts.networks.waves import chain_of, scattering_of
from workbench.parts.twoport import TwoPort, cascade
from workbench.quantity import show

NEXT_TO_NOTHING = 0.03
"""Below this transmission (30 dB) a fixture's removal multiplies errors of the measurement by more than 33."""


class WithPorts(NamedTuple):
    """A two-port: frequencies in Hz, shape (n,), matrices, shape (2, 2, n), references of both ends in ohm."""

    f_hz: Floats
    s: Complexes
    left_ohm: float
    right_ohm: float


class Removed(NamedTuple):
    """What is left without the fixtures, and sentences where removing them divided by next to nothing."""

    network: WithPorts
    warnings: tuple[str, ...]


def removed(whole: WithPorts, *, left: WithPorts | None = None, right: WithPorts | None = None) -> Removed:
    """A two-port without the fixtures at its ends: their chain matrices' inverses before and after its own.

    Fixtures of another spacing are read between their points. Beyond their band they are not known.

    Args:
        whole: what was measured, fixtures included.
        left: the fixture that the signal enters by, in the signal's direction.
        right: the fixture that it leaves by, in the signal's direction.

    Raises:
        NetworkError: the measurement reaches beyond a fixture's band.
    """
    warnings: list[str] = []
    bare = chain_of(whole.s, whole.left_ohm, whole.right_ohm)
    left_ohm, right_ohm = whole.left_ohm, whole.right_ohm
    if left is not None:
        bare, left_ohm = cascade(_undone(whole, left, "left", warnings), bare), left.right_ohm
    if right is not None:
        bare, right_ohm = cascade(bare, _undone(whole, right, "right", warnings)), right.left_ohm
    s = scattering_of(bare, left_ohm, right_ohm)
    return Removed(WithPorts(whole.f_hz, s, left_ohm, right_ohm), tuple(warnings))


def _undone(whole: WithPorts, fixture: WithPorts, side: str, warnings: list[str]) -> TwoPort:
    """The inverse of the fixture at the measurement's points; what is doubtful about it goes to `warnings`."""
    low_hz, high_hz = float(fixture.f_hz[0]), float(fixture.f_hz[-1])
    if whole.f_hz[0] < low_hz * (1.0 - 1e-9) or whole.f_hz[-1] > high_hz * (1.0 + 1e-9):
        raise NetworkError(
            f"the {side} fixture is known from {show(low_hz, 'Hz')} to {show(high_hz, 'Hz')} only; measure it over the "
            f"whole band, or cut the measurement to its band"
        )
    if np.array_equal(whole.f_hz, fixture.f_hz):
        two_port = chain_of(fixture.s, fixture.left_ohm, fixture.right_ohm)
    else:
        curve = curve_of(fixture.f_hz, fixture.s, fixture.left_ohm, fixture.right_ohm)
        two_port = with_capacitor(curve, two_port_at(curve, whole.f_hz), whole.f_hz)
    s = scattering_of(two_port, fixture.left_ohm, fixture.right_ohm)
    passed = np.abs(s[1, 0])
    faint = passed < NEXT_TO_NOTHING
    if faint.any():
        warnings.append(
            f"the {side} fixture lets through {passed.min():.2g} at {show(float(whole.f_hz[passed.argmin()]), 'Hz')}, "
            f"less than {NEXT_TO_NOTHING:g} at {int(faint.sum())} of {faint.size} points: there the removal divides by "
            f"next to nothing, and what is left is mostly noise"
        )
    return _inverse(two_port, s)


def _inverse(two_port: TwoPort, s: Complexes) -> TwoPort:
    """The inverse of chain matrices whose determinant is ``S12 / S21``: taken from `s`, where nothing cancels."""
    (a, b), (c, d) = two_port.chain
    determinant = s[0, 1] / np.where(s[1, 0] == 0.0, 1e-300, s[1, 0])
    return TwoPort(np.array([[d, -b], [-c, a]]) / determinant, two_port.attenuation_np)
