"""Plated through vias of a pair, with the stub that is left below the exit layer."""

import math
from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import quantity, reference
from workbench.parts.imperfections import STUBS, IdealValues
from workbench.parts.lines.dielectric import SPEED_OF_LIGHT_M_PER_S, Dielectric
from workbench.parts.record import ComponentRecord, Name, Parts, Problem
from workbench.parts.twoport import LineConstants, TwoPort, cascade, input_admittance_s, line, shunt

FREE_SPACE_OHM = 376.730313412
FREE_SPACE_F_PER_M = 8.8541878188e-12
PAD_THICKNESS_M = 35e-6


class Via(ComponentRecord, kw_only=True):
    """A differential via: barrel as a short line, stub as an open line across the pair at its exit."""

    section: ClassVar[str | None] = "vias"
    ideal_values: ClassVar[IdealValues] = {STUBS: {"stub_m": 0.0}}

    name: Name
    dielectric: Annotated[str, reference("dielectrics", "Dielectric", "The laminate that the barrel passes through.")]
    drill_m: Annotated[float, quantity("m", "Drill", "Finished barrel diameter.", ge=1e-5, le=5e-3)]
    pad_m: Annotated[float, quantity("m", "Pad", "Pad diameter on the layers that connect.", ge=1e-5, le=1e-2)]
    antipad_m: Annotated[float, quantity("m", "Antipad", "Diameter of the clearance in the planes.", ge=1e-5, le=2e-2)]
    through_m: Annotated[
        float, quantity("m", "Through length", "Barrel length between the two layers that it joins.", ge=0.0, le=2e-2)
    ]
    stub_m: Annotated[
        float, quantity("m", "Stub", "Barrel length left beyond the exit layer; 0 if back-drilled.", ge=0.0, le=2e-2)
    ]

    def chain_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """Barrel, then the open stub across the pair, at `f_hz` (Hz, shape (n,)).

        The first notch stands where the stub is a quarter wave: ``c / (4 stub sqrt(er))``.
        """
        constants = self._constants(f_hz, parts)
        pad = shunt(2j * np.pi * f_hz * self.pad_capacitance_f(parts))
        barrel = cascade(pad, line(constants, self.through_m), pad)
        if self.stub_m == 0.0:
            return barrel
        open_end: Complexes = np.zeros(f_hz.size, np.complex128)
        return cascade(barrel, shunt(input_admittance_s(line(constants, self.stub_m), open_end)))

    def impedance_ohm(self, parts: Parts) -> float:
        """Differential impedance of the two barrels in ohm: twice that of one barrel in its clearance.

        Each barrel with the planes around it is taken as a coaxial line from drill to antipad (D. M. Pozar, Microwave
        Engineering, table 2.1). Coupling between the two barrels is left out: common practice, no source, for a pair
        whose barrels have a clearance each.
        """
        permittivity = parts.get("dielectric", Dielectric).permittivity
        shape = math.log(self.antipad_m / self.drill_m) / (2.0 * math.pi)
        return 2.0 * FREE_SPACE_OHM / math.sqrt(permittivity) * shape

    def pad_capacitance_f(self, parts: Parts) -> float:
        """Differential capacitance in F of the pads on one layer: the same coaxial line, pad to antipad, as thick as
        finished outer copper (35 um, common practice, no source); the two legs' pads are in series."""
        permittivity = parts.get("dielectric", Dielectric).permittivity
        per_metre = 2.0 * math.pi * FREE_SPACE_F_PER_M * permittivity / math.log(self.antipad_m / self.pad_m)
        return per_metre * PAD_THICKNESS_M / 2.0

    def problems(self) -> tuple[Problem, ...]:
        """Drill, pad and antipad must grow in this order."""
        if not self.drill_m <= self.pad_m:
            return (Problem("pad_m", "the pad is smaller than the drill", "make pad_m at least drill_m"),)
        if not self.pad_m < self.antipad_m:
            return (Problem("antipad_m", "the antipad is no larger than the pad", "make antipad_m larger than pad_m"),)
        return ()

    def line_impedance_ohm(self, parts: Parts) -> float | None:
        """The barrels' impedance in ohm; see `impedance_ohm`."""
        return self.impedance_ohm(parts)

    def notch_hz(self, parts: Parts) -> float | None:
        """Where the stub is a quarter wave long, Hz; None without a stub."""
        if self.stub_m == 0.0:
            return None
        permittivity = parts.get("dielectric", Dielectric).permittivity
        return SPEED_OF_LIGHT_M_PER_S / (4.0 * self.stub_m * math.sqrt(permittivity))

    def flight_time_s(self, parts: Parts) -> float:
        """Time of flight along the barrel in s."""
        permittivity = parts.get("dielectric", Dielectric).permittivity
        return self.through_m * math.sqrt(permittivity) / SPEED_OF_LIGHT_M_PER_S

    def _constants(self, f_hz: Floats, parts: Parts) -> LineConstants:
        dielectric = parts.get("dielectric", Dielectric)
        omega = 2.0 * np.pi * f_hz
        slowness = math.sqrt(dielectric.permittivity) / SPEED_OF_LIGHT_M_PER_S
        impedance = self.impedance_ohm(parts)
        relative = dielectric.relative_permittivity(f_hz) / dielectric.permittivity
        return LineConstants(
            z_ohm_per_m=1j * omega * slowness * impedance,
            y_s_per_m=1j * omega * slowness / impedance * relative,
        )
