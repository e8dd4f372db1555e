"""Coupling capacitors."""

import math
from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import quantity
from workbench.parts.record import ComponentRecord, Name, Parts
from workbench.parts.twoport import TwoPort, cascade, series, shunt


class Capacitor(ComponentRecord, kw_only=True):
    """A coupling capacitor in each leg: series C and L between the capacitances of its pads."""

    section: ClassVar[str | None] = "capacitors"

    name: Name
    capacitance_f: Annotated[
        float, quantity("F", "Capacitance", "Capacitance of the part in each leg.", gt=0.0, le=1e-3)
    ]
    inductance_h: Annotated[
        float, quantity("H", "Inductance", "Mounted series inductance of each leg.", ge=0.0, le=1e-7)
    ]
    pad_capacitance_f: Annotated[
        float, quantity("F", "Pad capacitance", "Differential capacitance of the pads at each end.", ge=0.0, le=1e-11)
    ]

    def chain_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """Pads, both series legs, pads, at `f_hz` (Hz, shape (n,)); at 0 Hz the legs are a short."""
        del parts
        omega = 2.0 * np.pi * f_hz
        moving = omega > 0.0
        charge = np.where(moving, 2.0 / (1j * np.where(moving, omega, 1.0) * self.capacitance_f), 0.0)
        return self._between_pads(f_hz, charge)

    def fast_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """The same (`f_hz` in Hz, shape (n,)) with the capacitance a short.

        Its droop outlasts any pulse and is reported as baseline wander.
        """
        del parts
        return self._between_pads(f_hz, np.zeros(f_hz.size, np.complex128))

    def _between_pads(self, f_hz: Floats, charge_ohm: Complexes) -> TwoPort:
        omega = 2.0 * np.pi * f_hz
        pads = shunt(np.asarray(1j * omega * self.pad_capacitance_f))
        return cascade(pads, series(np.asarray(charge_ohm + 2j * omega * self.inductance_h)), pads)

    def corner_hz(self, loop_ohm: float) -> float | None:
        """The high-pass corner in Hz with `loop_ohm` (source plus load, differential, ohm) around both legs."""
        return 1.0 / (2.0 * math.pi * loop_ohm * (self.capacitance_f / 2.0))
