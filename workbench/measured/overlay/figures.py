"""What stands beside the model: a measured curve on the model's axis, or single figures."""

from typing import NamedTuple

from workbench.arrays import Floats
from workbench.measured.overlay.alignment import Alignment, CurveDifference

AS_MEASURED = Alignment(0.0, 1.0, 0.0)


class OverlayFigure(NamedTuple):
    """One number measured and modelled, in `unit`."""

    label: str
    unit: str
    measured: float
    model: float

    @property
    def apart(self) -> float:
        """Measured less modelled."""
        return self.measured - self.model


class Overlay(NamedTuple):
    """A measured curve and the model's on one axis.

    Attributes:
        name: the measurement's.
        probe: the probe point, or the places between the probes.
        x_label, x_unit, y_label, y_unit: of the axes.
        x: shape (n,); empty where only figures were measured.
        y_measured: as aligned, shape (n,).
        y_model: shape (n,).
        alignment: what was done to the measured curve.
        difference: measured minus model; None without a curve.
        figures: single numbers measured and modelled.
        notes: sentences on what was left out or assumed.
    """

    name: str
    probe: str
    x_label: str
    x_unit: str
    y_label: str
    y_unit: str
    x: Floats
    y_measured: Floats
    y_model: Floats
    alignment: Alignment
    difference: CurveDifference | None
    figures: tuple[OverlayFigure, ...]
    notes: tuple[str, ...]
