"""A receiver's package: what lies between its pins and the die pad."""

import math

import msgspec
import numpy as np

from workbench.arrays import Floats
from workbench.parts.dielectric import SPEED_OF_LIGHT_M_PER_S
from workbench.parts.line_by_loss import constants_by_loss
from workbench.parts.twoport import TwoPort, cascade, line, shunt

_PERMITTIVITY = 4.0
"""Sets no more than how the delay is told as a length; common practice, no source."""


class Package(msgspec.Struct, frozen=True, kw_only=True):
    """A capacitance at the pins, a lossy line, a capacitance at the pad; the loss half in metal and half in dielectric.

    Attributes:
        pin_capacitance_f, pad_capacitance_f: across the pair, F.
        impedance_ohm: of the line, ohm differential.
        loss_db: of the line at `frequency_hz`, dB.
        frequency_hz: Hz.
        delay_s: of the line, s.
    """

    pin_capacitance_f: float
    pad_capacitance_f: float
    impedance_ohm: float
    loss_db: float
    frequency_hz: float
    delay_s: float

    def chain_matrix(self, f_hz: Floats) -> TwoPort:
        """The two-port from the pins to the pad at `f_hz` (Hz, shape (n,)), both capacitances included."""
        length_m = self.delay_s * SPEED_OF_LIGHT_M_PER_S / math.sqrt(_PERMITTIVITY)
        half_db_per_m = 0.5 * self.loss_db / length_m
        constants = constants_by_loss(
            f_hz, impedance_ohm=self.impedance_ohm, permittivity=_PERMITTIVITY, frequency_hz=self.frequency_hz,
            conductor_loss_db_per_m=half_db_per_m, dielectric_loss_db_per_m=half_db_per_m,
        )  # fmt: skip
        jw = 2j * np.pi * f_hz
        return cascade(
            shunt(jw * self.pin_capacitance_f), line(constants, length_m), shunt(jw * self.pad_capacitance_f)
        )
