"""A receiver's package: what lies between its pins and the die pad."""

import math
from functools import lru_cache

import msgspec
import numpy as np

from workbench.arrays import Floats
from workbench.parts.lines.dielectric import SPEED_OF_LIGHT_M_PER_S
from workbench.parts.lines.line_by_loss import constants_by_loss
from workbench.parts.twoport import TwoPort, cascade, line, s_parameters, shunt

_PERMITTIVITY = 4.0
"""Sets no more than how the delay is told as a length; common practice, no source."""
_HALVINGS = 40


class Package(msgspec.Struct, frozen=True, kw_only=True):
    """A capacitance at the pins, a lossy line, a capacitance at the pad.

    The line loses what makes the loss of the whole between 100 ohm ends that which is stated, half of it in metal and
    half in dielectric.

    Attributes:
        pin_capacitance_f, pad_capacitance_f: across the pair, F.
        impedance_ohm: of the line, ohm differential.
        loss_db: of the whole at `frequency_hz` (Hz), dB.
        frequency_hz: as above.
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
        return _with_line(self, _line_loss_db(self), f_hz)


def _with_line(package: Package, line_loss_db: float, f_hz: Floats) -> TwoPort:
    length_m = package.delay_s * SPEED_OF_LIGHT_M_PER_S / math.sqrt(_PERMITTIVITY)
    half_db_per_m = 0.5 * line_loss_db / length_m
    constants = constants_by_loss(
        f_hz, impedance_ohm=package.impedance_ohm, permittivity=_PERMITTIVITY, frequency_hz=package.frequency_hz,
        conductor_loss_db_per_m=half_db_per_m, dielectric_loss_db_per_m=half_db_per_m,
    )  # fmt: skip
    jw = 2j * np.pi * f_hz
    pin, pad = shunt(jw * package.pin_capacitance_f), shunt(jw * package.pad_capacitance_f)
    return cascade(pin, line(constants, length_m), pad)


@lru_cache(maxsize=32)
def _line_loss_db(package: Package) -> float:
    """The line's loss in dB, by bisection; 0 where the capacitances alone lose as much as the whole should."""
    at_hz = np.array([package.frequency_hz])
    low_db, high_db = 0.0, package.loss_db + 6.0
    for _ in range(_HALVINGS):
        middle_db = 0.5 * (low_db + high_db)
        whole = s_parameters(_with_line(package, middle_db, at_hz)).s21
        if -20.0 * math.log10(abs(complex(whole[0]))) > package.loss_db:
            high_db = middle_db
        else:
            low_db = middle_db
    return 0.5 * (low_db + high_db) if low_db > 0.0 else 0.0
