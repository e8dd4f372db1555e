"""How strongly a pair couples to the pair beside it: by the gap between them, or by levels that somebody states."""

from collections.abc import Callable
from typing import Annotated, ClassVar, NamedTuple

import numpy as np

from workbench.facts import quantity
from workbench.parts.record import Name, Parts, Record, RunRecord
from workbench.parts.section.figures import Coupling
from workbench.parts.section.neighbours import coupling_at, coupling_near
from workbench.parts.twoport import propagation


class Ratios(NamedTuple):
    """First-order coupling of two equal pairs' differential modes.

    `inductive` is kL, mutual over own inductance, `capacitive` kC, less the mutual over own capacitance: the saturated
    near end is (kL + kC)/4 of the aggressor, the far end grows with (kC - kL)/2.
    """

    inductive: float
    capacitive: float

    def near_end(self) -> float:
        """What a long run brings to the aggressor's own end, over its level: (kL + kC)/4."""
        return abs(self.inductive + self.capacitive) / 4.0

    def far_end(self, phase_rad: float) -> float:
        """What a run that turns the phase by so many radians brings to its far end, over the aggressor's level."""
        return abs(self.capacitive - self.inductive) / 2.0 * phase_rad


class CouplingRecord(Record, kw_only=True):
    """What stands between neighbouring pairs of a bundle."""

    section: ClassVar[str | None] = None

    name: Name

    def ratios(self, line: RunRecord, parts: Parts, away: int) -> Ratios | None:
        """Coupling of a pair to the one `away` places further; None where this line kind tells none.

        Args:
            line: what both runs are made of.
            parts: what the line refers to.
            away: 1 for the next pair, 2 for the next but one.
        """
        raise NotImplementedError

    def sketched_ratios(self, line: RunRecord, parts: Parts, away: int) -> Ratios | None:
        """The same while it is changed at every move of a pointer: quick, within some 0.1 %."""
        return self.ratios(line, parts, away)


class SpacingCoupling(CouplingRecord, kw_only=True, tag="spacing", tag_field="kind"):
    """Pairs at a distance: the cross-section is solved with its neighbours."""

    section: ClassVar[str | None] = "couplings"

    gap_m: Annotated[float, quantity("m", "Gap", "From pair to pair, copper to copper.", ge=2e-5, le=0.05)]
    guard_m: Annotated[
        float, quantity("m", "Guard", "Width of a grounded trace in the middle of the gap; 0: none.", ge=0.0, le=0.01)
    ] = 0.0

    def ratios(self, line: RunRecord, parts: Parts, away: int) -> Ratios | None:
        """Solved by boundary elements (`parts.section`); None for a line that has no cross-section."""
        return self._by(coupling_at, line, parts, away)

    def sketched_ratios(self, line: RunRecord, parts: Parts, away: int) -> Ratios | None:
        """Between gaps that were solved; see `parts.section.neighbours`."""
        return self._by(coupling_near, line, parts, away)

    def _by(self, coupled: Callable[..., Coupling], line: RunRecord, parts: Parts, away: int) -> Ratios | None:
        section = line.cross_section(parts)
        if section is None:
            return None
        found = coupled(section, gap_m=self.gap_m, guard_m=self.guard_m, away=away)
        return Ratios(found.inductive, found.capacitive)


class LevelCoupling(CouplingRecord, kw_only=True, tag="by-level", tag_field="kind"):
    """Pairs whose near-end and far-end crosstalk is known as levels at one frequency and length."""

    section: ClassVar[str | None] = "couplings"

    next_db: Annotated[
        float, quantity("dB", "Near end", "Loss from the aggressor to the near end, long run.", ge=6.0, le=200.0)
    ]
    fext_db: Annotated[
        float, quantity("dB", "Far end", "Loss from the aggressor to the far end over the length.", ge=6.0, le=200.0)
    ]
    frequency_hz: Annotated[float, quantity("Hz", "Frequency", "Where the far end holds.", ge=1e6, le=1e11)]
    length_m: Annotated[float, quantity("m", "Length", "Coupled length that the far end holds for.", gt=0.0, le=10.0)]

    def ratios(self, line: RunRecord, parts: Parts, away: int) -> Ratios | None:
        """From NEXT = (kL + kC)/4 of a long run and FEXT = 2 pi f T (kL - kC)/2 (any text on coupled lines).

        The far end of a line whose dielectric is not the same all round is negative: kL is the larger. Pairs further
        away than the next count as not coupled.
        """
        if away > 1:
            return Ratios(0.0, 0.0)
        gamma = propagation(line.line_constants(np.array([self.frequency_hz]), parts)).gamma_per_m[0]
        far = 10.0 ** (-self.fext_db / 20.0) / (float(gamma.imag) * self.length_m)
        near = 2.0 * 10.0 ** (-self.next_db / 20.0)
        return Ratios(near + far, near - far)
