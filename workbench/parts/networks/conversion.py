"""What a measured network turns of one mode into the other, at any frequency, beside both modes' own two-ports."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.fourport import FourPort
from workbench.parts.networks.curve import NetworkCurve, curve_of, faded, lagrange, two_port_at
from workbench.parts.twoport import TwoPort, s_parameters

COUNTS = 0.01
"""A network whose modes turn into one another by less than that (-40 dB) turns nothing: there and back is -80 dB."""


class ModeCurve(NamedTuple):
    """The common mode of a network and what it turns into it and back.

    Attributes:
        common: its two-port, scaled as in `parts.fourport`.
        f_hz: 0 Hz and its points, Hz, shape (n,).
        turned: waves into the common mode, and out of it: shape (2, 2, 2, n), ends out and in after that; without the
            mean delay of both modes where they lead from end to end, 0 at 0 Hz.
        delay_s: that delay, s.
    """

    common: NetworkCurve
    f_hz: Floats
    turned: Complexes
    delay_s: float


def mode_curve(
    f_hz: Floats, modes: Complexes, left_ohm: float, right_ohm: float, differential: NetworkCurve
) -> ModeCurve | None:
    """Make a network's other mode ready; None where next to nothing turns into it.

    Args:
        f_hz: its points, Hz, shape (n,).
        modes: its scattering matrices, D left, D right, C left, C right, shape (4, 4, n).
        left_ohm, right_ohm: differential references of its ends, ohm.
        differential: its differential two-port.
    """
    turned = np.stack([modes[2:, :2], modes[:2, 2:]])
    if np.abs(turned).max() < COUNTS:
        return None
    # A quarter of the differential reference is the common mode's; scaled it is the same.
    common = curve_of(f_hz, np.ascontiguousarray(modes[2:, 2:]), left_ohm, right_ohm)
    delay_s = 0.5 * (differential.delay_s + common.delay_s)
    moving = f_hz > 0.0
    f_hz, turned = f_hz[moving], turned[..., moving]
    turned = turned * _later(f_hz, -delay_s)
    rest = np.zeros((2, 2, 2, 1))
    return ModeCurve(common, np.append(0.0, f_hz), np.concatenate([rest, turned], axis=-1), delay_s)


def _later(f_hz: Floats, delay_s: float) -> Complexes:
    """A delay on what leads from end to end, none on what comes back, shape (2, 2, n)."""
    turn = np.exp(-2j * np.pi * f_hz * delay_s)
    return np.array([[np.ones_like(turn), turn], [turn, np.ones_like(turn)]])


def four_port_at(curve: ModeCurve, differential: TwoPort, f_hz: Floats) -> FourPort:
    """The network in both modes.

    Args:
        curve: its common mode.
        differential: its differential two-port at `f_hz`; in the common mode a capacitor in its path is a short.
        f_hz: Hz, shape (n,).
    """
    one, other = s_parameters(differential), s_parameters(two_port_at(curve.common, f_hz))
    into, out_of = _turned_at(curve, f_hz)
    return FourPort(
        *(
            np.array([[getattr(one, name), out_of[row, column]], [into[row, column], getattr(other, name)]])
            for name, row, column in (("s11", 0, 0), ("s12", 0, 1), ("s21", 1, 0), ("s22", 1, 1))
        )
    )


def _turned_at(curve: ModeCurve, f_hz: Floats) -> Complexes:
    """What turns at any frequencies, shape (2, 2, 2, n): a straight line from 0 Hz to the first point, less and less
    beyond the last."""
    first_hz, top_hz = float(curve.f_hz[1]), float(curve.f_hz[-1])
    found = lagrange(curve.f_hz[1:], curve.turned[..., 1:], np.clip(f_hz, first_hz, top_hz))
    away = np.maximum(f_hz - top_hz, 0.0) / top_hz
    found = found * (faded(away) * np.minimum(f_hz / first_hz, 1.0))
    return np.asarray(found * _later(f_hz, curve.delay_s))
