"""Cables: lines by loss that are bought by the metre."""

import math
from typing import ClassVar

from workbench.parts.crosstalk import StatedCrosstalk, StatedLevels, StatedSlope, level_problems
from workbench.parts.lines.dielectric import SPEED_OF_LIGHT_M_PER_S
from workbench.parts.lines.line_by_loss import RunByLoss
from workbench.parts.record import Crosstalk, Problem, Record


class Cable(RunByLoss, kw_only=True):
    """A twinaxial cable given by its impedance, permittivity and loss per metre.

    Its crosstalk is that of a whole assembly from end to end, as long as its run.
    """

    section: ClassVar[str | None] = "cables"

    crosstalk: StatedLevels = ()
    crosstalk_slope: StatedSlope = 1.0

    def problems(self) -> tuple[Problem, ...]:
        """Those of its loss, and levels of crosstalk whose frequencies don't rise."""
        return (*super().problems(), *level_problems(self.crosstalk))

    def tells_crosstalk(self) -> bool:
        """Whether levels are stated."""
        return bool(self.crosstalk)

    def crosstalk_from(self, other: Record, *, away: int, against: bool, length_m: float | None) -> Crosstalk | None:
        """By the stated levels from the next pair, `length_m` (m) long."""
        del other
        if away > 1 or not self.tells_crosstalk():
            return None
        delay_s = (length_m or 0.0) * math.sqrt(self.permittivity) / SPEED_OF_LIGHT_M_PER_S
        return StatedCrosstalk(self.crosstalk, self.crosstalk_slope, delay_s, against)
