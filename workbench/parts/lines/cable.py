"""Cables: lines by loss that are bought by the metre."""

from typing import ClassVar

from workbench.parts.lines.line_by_loss import RunByLoss


class Cable(RunByLoss, kw_only=True):
    """A twinaxial cable given by its impedance, permittivity and loss per metre."""

    section: ClassVar[str | None] = "cables"
