"""Cables: lines by loss that are bought by the metre."""

from typing import ClassVar

from workbench.arrays import Floats
from workbench.parts.imperfections import LOSS, IdealValues
from workbench.parts.lines.line_by_loss import (
    ConductorLoss,
    DielectricLoss,
    Impedance,
    Permittivity,
    StatedAt,
    constants_by_loss,
    loss_problems,
)
from workbench.parts.record import Name, Parts, Problem, RunRecord
from workbench.parts.twoport import LineConstants


class Cable(RunRecord, kw_only=True):
    """A twinaxial cable given by its impedance, permittivity and loss per metre."""

    section: ClassVar[str | None] = "cables"
    ideal_values: ClassVar[IdealValues] = {LOSS: {"conductor_loss_db_per_m": 0.0, "dielectric_loss_db_per_m": 0.0}}

    name: Name
    impedance_ohm: Impedance
    permittivity: Permittivity
    frequency_hz: StatedAt
    conductor_loss_db_per_m: ConductorLoss
    dielectric_loss_db_per_m: DielectricLoss

    def line_constants(self, f_hz: Floats, parts: Parts) -> LineConstants:
        """Series impedance and shunt admittance per metre at `f_hz` (Hz, shape (n,)); see `constants_by_loss`."""
        del parts
        return constants_by_loss(
            f_hz,
            impedance_ohm=self.impedance_ohm,
            permittivity=self.permittivity,
            frequency_hz=self.frequency_hz,
            conductor_loss_db_per_m=self.conductor_loss_db_per_m,
            dielectric_loss_db_per_m=self.dielectric_loss_db_per_m,
        )

    def problems(self) -> tuple[Problem, ...]:
        """So much dielectric loss may leave no permittivity; see `loss_problems`."""
        return loss_problems(
            permittivity=self.permittivity,
            frequency_hz=self.frequency_hz,
            dielectric_loss_db_per_m=self.dielectric_loss_db_per_m,
        )
