"""A port's termination against frequency: what its return loss says besides its resistance.

A data sheet prints the magnitude alone. It is taken as that of the port's resistance with a capacitance across it that
changes slowly with frequency, which is what pads, protection and package mostly are (common practice, no source).
"""

import math
from typing import Annotated

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity
from workbench.parts.record import Record
from workbench.parts.twoport import REFERENCE_OHM


class ReturnLossPoint(Record, kw_only=True):
    """A point of a port's return loss."""

    frequency_hz: Annotated[float, quantity("Hz", "Frequency", "Where it is stated.", ge=1e6, le=1e12)]
    return_loss_db: Annotated[
        float, quantity("dB", "Return loss", "Of the port in differential 100 ohm.", gt=0.0, le=60.0)
    ]


ReturnLoss = Annotated[
    tuple[ReturnLossPoint, ...],
    choice("Return loss", "Against frequency, in place of the capacitance; empty: the capacitance counts."),
]


class PortCurve(msgspec.Struct, frozen=True):
    """The capacitance across a port: F, at rising frequencies in Hz; a straight line between them, kept beyond."""

    f_hz: tuple[float, ...]
    capacitance_f: tuple[float, ...]

    def admittance_s(self, f_hz: Floats) -> Complexes:
        """What lies across the resistance at `f_hz` (Hz, shape (n,)), S, shape (n,)."""
        return np.asarray(2j * np.pi * f_hz * np.interp(f_hz, self.f_hz, self.capacitance_f), np.complex128)


def port_curve(points: tuple[ReturnLossPoint, ...], resistance_ohm: float) -> PortCurve | None:
    """What a port has across its resistance so that its return loss is as stated; None where none is stated.

    With ``g`` the reference's and ``G`` the port's conductance a susceptance b leaves
    ``|s11|^2 = ((g - G)^2 + b^2) / ((g + G)^2 + b^2)``. Where the resistance alone reflects more than is stated, b is
    0.

    Args:
        points: its return loss, in any order.
        resistance_ohm: its resistance, ohm.
    """
    if not points:
        return None
    reference, own = 1.0 / REFERENCE_OHM, 1.0 / resistance_ohm
    found = {}
    for point in points:
        power = 10.0 ** (-point.return_loss_db / 10.0)
        square = (power * (reference + own) ** 2 - (reference - own) ** 2) / (1.0 - power)
        found[point.frequency_hz] = math.sqrt(max(square, 0.0)) / (2.0 * math.pi * point.frequency_hz)
    f_hz, capacitance_f = zip(*sorted(found.items()), strict=True)
    return PortCurve(f_hz, capacitance_f)
