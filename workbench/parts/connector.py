"""Connectors: a short line between the capacitances of its two footprints."""

from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Floats
from workbench.facts import quantity
from workbench.parts.crosstalk import StatedCrosstalk, StatedLevels, StatedSlope, level_problems
from workbench.parts.imperfections import LOSS, IdealValues
from workbench.parts.lines.dielectric import SPEED_OF_LIGHT_M_PER_S
from workbench.parts.lines.line_by_loss import Impedance, StatedAt, constants_by_loss
from workbench.parts.record import ComponentRecord, Crosstalk, Name, Parts, Problem, Record
from workbench.parts.twoport import TwoPort, cascade, line, shunt


class Connector(ComponentRecord, kw_only=True):
    """A connector by impedance, delay and loss; the loss is all conductor loss, its length follows from the delay."""

    section: ClassVar[str | None] = "connectors"
    ideal_values: ClassVar[IdealValues] = {LOSS: {"loss_db": 0.0}}

    name: Name
    impedance_ohm: Impedance
    delay_s: Annotated[float, quantity("s", "Delay", "Time of flight through the mated connector.", gt=0.0, le=1e-8)]
    loss_db: Annotated[float, quantity("dB", "Loss", "Insertion loss at the stated frequency.", ge=0.0, le=20.0)]
    frequency_hz: StatedAt
    entry_capacitance_f: Annotated[
        float, quantity("F", "Entry capacitance", "Differential capacitance of the first footprint.", ge=0.0, le=1e-11)
    ]
    exit_capacitance_f: Annotated[
        float, quantity("F", "Exit capacitance", "Differential capacitance of the second footprint.", ge=0.0, le=1e-11)
    ]
    crosstalk: StatedLevels = ()
    crosstalk_slope: StatedSlope = 1.0

    def problems(self) -> tuple[Problem, ...]:
        """Levels of crosstalk whose frequencies don't rise."""
        return level_problems(self.crosstalk)

    def tells_crosstalk(self) -> bool:
        """Whether levels are stated."""
        return bool(self.crosstalk)

    def crosstalk_from(self, other: Record, *, away: int, against: bool, length_m: float | None) -> Crosstalk | None:
        """By the stated levels from the next pair; `length_m` (m) does not count."""
        del other, length_m
        if away > 1 or not self.tells_crosstalk():
            return None
        return StatedCrosstalk(self.crosstalk, self.crosstalk_slope, self.delay_s, against)

    def chain_matrix(self, f_hz: Floats, parts: Parts) -> TwoPort:
        """Entry capacitance, line by loss, exit capacitance at `f_hz` (Hz, shape (n,))."""
        del parts
        # In air: a metre of it lasts 1/c, so the length that gives the delay is delay * c.
        length_m = self.delay_s * SPEED_OF_LIGHT_M_PER_S
        constants = constants_by_loss(
            f_hz,
            impedance_ohm=self.impedance_ohm,
            permittivity=1.0,
            frequency_hz=self.frequency_hz,
            conductor_loss_db_per_m=self.loss_db / length_m,
            dielectric_loss_db_per_m=0.0,
        )
        omega = 2.0 * np.pi * f_hz
        return cascade(
            shunt(1j * omega * self.entry_capacitance_f),
            line(constants, length_m),
            shunt(1j * omega * self.exit_capacitance_f),
        )

    def flight_time_s(self, parts: Parts) -> float:
        """The connector's delay in s."""
        del parts
        return self.delay_s

    def line_impedance_ohm(self, parts: Parts) -> float | None:
        """The connector's own impedance in ohm."""
        del parts
        return self.impedance_ohm
