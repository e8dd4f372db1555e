"""What a lane's path is made of once its names are resolved, and how runs on it couple to what lies beside them."""

from typing import NamedTuple

import msgspec
import numpy as np

from workbench.parts.lines.coupling import CouplingRecord, Ratios, SpacingCoupling
from workbench.parts.record import ComponentRecord, Parts, RunRecord
from workbench.parts.twoport import propagation


class PathElement(msgspec.Struct, frozen=True):
    """One passive element.

    Attributes:
        record, parts: its definition and what that refers to.
        length_m: its length, m; None for a component.
        skew_s, mismatch_m: how much later the positive leg's signal leaves it, s, and how much longer that leg is, m.
    """

    record: RunRecord | ComponentRecord
    parts: Parts
    length_m: float | None = None
    skew_s: float = 0.0
    mismatch_m: float = 0.0


class EndLevels(NamedTuple):
    """How strong what an aggressor brings is at the end where it enters and at that where it leaves, over its level."""

    near: float
    far: float


class Along(msgspec.Struct, frozen=True):
    """How runs couple that lie side by side.

    Attributes:
        ratios: how strongly.
        shared_m: for how long, m.
        from_m, aggressor_from_m: where that begins on this lane's run, and on the aggressor's in its own direction, m.
        coupling, away: what the ratios follow from: what lies between the two, and how many places apart they are.
    """

    ratios: Ratios
    shared_m: float
    from_m: float = 0.0
    aggressor_from_m: float = 0.0
    coupling: CouplingRecord | None = None
    away: int = 1

    def at_gap(self, own: PathElement, gap_m: float) -> "Along":
        """The same at another gap, m, beside `own`, the run that it lies beside; as it is where it has no gap."""
        if not isinstance(self.coupling, SpacingCoupling) or not isinstance(own.record, RunRecord):
            return self
        moved = msgspec.structs.replace(self.coupling, gap_m=gap_m)
        ratios = moved.ratios(own.record, own.parts, self.away)
        return self if ratios is None else msgspec.structs.replace(self, ratios=ratios, coupling=moved)

    def end_levels(self, own: PathElement, f_hz: float) -> EndLevels:
        """At a frequency (Hz) beside `own`, the run it lies beside; the near end as of a long run."""
        assert isinstance(own.record, RunRecord)
        gamma = propagation(own.record.line_constants(np.array([f_hz]), own.parts)).gamma_per_m
        return EndLevels(self.ratios.near_end(), self.ratios.far_end(float(gamma[0].imag) * self.shared_m))
