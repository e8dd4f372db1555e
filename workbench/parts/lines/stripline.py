"""A pair of traces between two planes, edge-coupled, by its cross-section."""

import math
from collections.abc import Iterator
from typing import Annotated, ClassVar, NamedTuple

import msgspec
import numpy as np

from workbench.arrays import Floats
from workbench.facts import quantity, reference
from workbench.parts.lines.dielectric import SPEED_OF_LIGHT_M_PER_S, Dielectric
from workbench.parts.lines.elliptic import complementary_ratio
from workbench.parts.lines.foil import PERMEABILITY_H_PER_M, Foil
from workbench.parts.record import Name, Parts, Problem, RunRecord
from workbench.parts.section.geometry import CrossSection, Layer
from workbench.parts.section.lines import Etch, remark_on
from workbench.parts.section.spectrum import common_beside, pair_constants
from workbench.parts.twoport import LineConstants

FREE_SPACE_OHM = 376.730313412
_OFFSET, _ERROR_PER_OCTAVE = 2.0, 0.021
"""From that on a pair is off the middle by so much that it is told, and what the formula is off then."""
_RECESSION = 1e-4


class StripSection(NamedTuple):
    """A cross-section, all in m: trace width, gap, trace thickness, distances from trace to the planes."""

    width_m: float
    gap_m: float
    thickness_m: float
    below_m: float
    above_m: float

    def receded(self, n_m: float) -> "StripSection":
        """Every metal surface moved into its metal by `n_m` (m)."""
        return StripSection(
            self.width_m - 2.0 * n_m,
            self.gap_m + 2.0 * n_m,
            self.thickness_m - 2.0 * n_m,
            self.below_m + 2.0 * n_m,
            self.above_m + 2.0 * n_m,
        )


class StriplinePair(RunRecord, tag="stripline-pair", tag_field="kind", kw_only=True):
    """An edge-coupled pair between two planes.

    Rectangular traces in one dielectric go by published formulas; etched sides or a second dielectric are solved
    (`workbench.parts.section`), quasi-static, which between two planes is exact below their first mode but for what two
    dielectrics of unequal speed add.
    """

    section: ClassVar[str | None] = "lines"

    name: Name
    dielectric: Annotated[str, reference("dielectrics", "Dielectric", "The laminate around the traces.")]
    foil: Annotated[str, reference("foils", "Foil", "The copper of traces and planes.")]
    width_m: Annotated[float, quantity("m", "Width", "Width of each trace.", ge=1e-6, le=1e-2)]
    gap_m: Annotated[float, quantity("m", "Gap", "Distance between the two traces, edge to edge.", ge=1e-6, le=1e-2)]
    thickness_m: Annotated[float, quantity("m", "Thickness", "Thickness of the traces.", ge=1e-6, le=1e-3)]
    below_m: Annotated[
        float, quantity("m", "Below", "Dielectric from the traces to the lower plane.", ge=1e-6, le=1e-2)
    ]
    above_m: Annotated[
        float, quantity("m", "Above", "Dielectric from the traces to the upper plane.", ge=1e-6, le=1e-2)
    ]
    etch_m: Etch = 0.0
    upper_dielectric: (
        Annotated[
            str,
            reference("dielectrics", "Upper dielectric", "What lies around and over the traces; none: as below them."),
        ]
        | None
    ) = None

    @property
    def solved(self) -> bool:
        """Whether the cross-section is solved, because the formulas don't know what it has."""
        return self.etch_m > 0.0 or self.upper_dielectric is not None

    def plain_section(self) -> StripSection:
        """The cross-section that the formulas know, in m."""
        return StripSection(self.width_m, self.gap_m, self.thickness_m, self.below_m, self.above_m)

    def cross_section(self, parts: Parts) -> CrossSection:
        """The cross-section of one pair: foot below, the traces in the upper dielectric."""
        dielectrics = self._dielectrics(parts)
        return CrossSection(
            width_m=self.width_m,
            gap_m=self.gap_m,
            thickness_m=self.thickness_m,
            etch_m=self.etch_m,
            below=(Layer(self.below_m),),
            above=(Layer(self.thickness_m + self.above_m, len(dielectrics) - 1),),
            permittivities=tuple(dielectric.permittivity for dielectric in dielectrics),
        )

    def _dielectrics(self, parts: Parts) -> tuple[Dielectric, ...]:
        lower = parts.get("dielectric", Dielectric)
        return (lower,) if self.upper_dielectric is None else (lower, parts.get("upper_dielectric", Dielectric))

    def line_constants(self, f_hz: Floats, parts: Parts) -> LineConstants:
        """Constants of the differential mode at `f_hz` (Hz, shape (n,)), by formula or, where `solved`, by the solver.

        External inductance and capacitance from the odd-mode impedance in air (`odd_mode_air_ohm`), the capacitance
        filled with the dielectric; internal impedance by the incremental-inductance rule: H. A. Wheeler, "Formulas for
        the skin effect", Proc. IRE 30, 1942, 412-424.
        """
        dielectric, foil = parts.get("dielectric", Dielectric), parts.get("foil", Foil)
        if self.solved:
            return pair_constants(self.cross_section(parts), f_hz, self._dielectrics(parts), foil)
        section = self.plain_section()
        omega = 2.0 * np.pi * f_hz
        air_ohm = odd_mode_air_ohm(section)
        step_m = _RECESSION * min(section.thickness_m, section.width_m, section.gap_m)
        growth_ohm_per_m = (odd_mode_air_ohm(section.receded(step_m)) - air_ohm) / step_m
        internal = foil.internal_impedance(
            f_hz,
            rest_ohm_per_m=2.0 / (foil.conductivity_s_per_m * section.width_m * section.thickness_m),
            squares_per_m=2.0 * growth_ohm_per_m / (PERMEABILITY_H_PER_M * SPEED_OF_LIGHT_M_PER_S),
        )
        inductance = 2.0 * air_ohm / SPEED_OF_LIGHT_M_PER_S
        permittivity = dielectric.relative_permittivity(f_hz)
        return LineConstants(
            z_ohm_per_m=internal + 1j * omega * inductance,
            y_s_per_m=1j * omega * permittivity / (2.0 * air_ohm * SPEED_OF_LIGHT_M_PER_S),
        )

    def common_constants(self, f_hz: Floats, parts: Parts) -> LineConstants | None:
        """Those of the common mode at `f_hz` (Hz, shape (n,)), beside the differential ones as the solver has both."""
        section = self.cross_section(parts)
        if section.problem() is not None:
            return None
        own = self.line_constants(f_hz, parts)
        return common_beside(own, section, f_hz, self._dielectrics(parts), parts.get("foil", Foil))

    def problems(self) -> tuple[Problem, ...]:
        """Dimensions that no section can have; the formulas take any."""
        fault = self._with_one_dielectric(1.0).problem() if self.solved else None
        if fault is None:
            return ()
        return (Problem(fault.field, fault.sentence, "change it or the other dimensions of the section"),)

    def _with_one_dielectric(self, permittivity: float) -> CrossSection:
        spacing_m = self.thickness_m + self.above_m
        return CrossSection(
            width_m=self.width_m, gap_m=self.gap_m, thickness_m=self.thickness_m, etch_m=self.etch_m,
            below=(Layer(self.below_m),), above=(Layer(spacing_m),), permittivities=(permittivity,),
        )  # fmt: skip

    def remarks(self, parts: Parts) -> tuple[str, ...]:
        """What the formula would say where the section is solved."""
        if not self.solved:
            return ()
        permittivity = parts.get("dielectric", Dielectric).permittivity
        features = [
            *(["etched sides"] if self.etch_m > 0.0 else []),
            *(["two dielectrics"] if self.upper_dielectric is not None else []),
        ]
        plain = msgspec.structs.replace(self._with_one_dielectric(permittivity), etch_m=0.0)
        formula_ohm = 2.0 * odd_mode_air_ohm(self.plain_section()) / math.sqrt(permittivity)
        return (remark_on(self.cross_section(parts), plain, formula_ohm, features),)

    def cautions(self, parts: Parts, f_max_hz: float) -> tuple[str, ...]:
        """Where Cohn's thickness correction and, up to `f_max_hz` (Hz), the single mode leave their ranges."""
        section = self.plain_section()
        spacing_m = section.below_m + section.thickness_m + section.above_m
        found = [] if self.solved else list(_out_of_range(section, spacing_m))
        permittivity = max(dielectric.permittivity for dielectric in self._dielectrics(parts))
        cutoff_hz = SPEED_OF_LIGHT_M_PER_S / (2.0 * spacing_m * math.sqrt(permittivity))
        if f_max_hz > cutoff_hz:
            found.append(f"above {cutoff_hz / 1e9:.0f} GHz the planes carry modes that the model leaves out")
        return tuple(found)


def _out_of_range(section: StripSection, spacing_m: float) -> Iterator[str]:
    """Where the formulas are used beyond what they were checked for."""
    if section.thickness_m / spacing_m > 0.25:
        yield (
            f"the traces are {section.thickness_m / spacing_m:.2f} of the plane spacing thick; the stripline formula "
            f"holds below 0.25"
        )
    low, high = sorted((section.below_m, section.above_m))
    if high / low > _OFFSET:
        yield (
            f"the traces lie {high / low:.1f} times nearer to one plane than to the other: the formula for offset "
            f"traces makes the impedance up to {_offset_error(high / low):.0%} too high"
        )


def _offset_error(ratio: float) -> float:
    """The largest that the formula's impedance is too high, as a share, found with a moment method up to 8:1."""
    return _ERROR_PER_OCTAVE * math.log2(ratio)


def odd_mode_air_ohm(section: StripSection) -> float:
    """Odd-mode impedance of one trace of the pair in air, ohm; the pair's differential impedance is twice that.

    S. B. Cohn, "Shielded coupled-strip transmission line", IRE Trans. MTT 3(5), 1955, 29-38: exact at zero thickness,
    with his correction for thick strips, on the single strip of H. A. Wheeler, "Transmission-line properties of a strip
    line between parallel planes", IEEE Trans. MTT 26(11), 1978, 866-876. A pair off the middle is the mean of the two
    symmetric ones made from its lower and upper half (common practice, no source; the split leaves out the field
    that leans over, so that the impedance comes out high).

    Against a moment method: within 2 % in the middle and up to 2:1; up to 3.8 % too high four times nearer to one plane
    than to the other, 6.2 % at eight times (100 um wide and 300 um apart, 20 um thick, 100 and 400 um from the planes:
    2.9 %, which finite differences say too).
    """
    admittance = 0.0
    for half_m in (section.below_m, section.above_m):
        spacing_m = 2.0 * half_m + section.thickness_m
        admittance += 0.5 / _symmetric_odd_ohm(
            section.width_m / spacing_m, section.gap_m / spacing_m, section.thickness_m / spacing_m
        )
    return 1.0 / admittance


def _symmetric_odd_ohm(width: float, gap: float, thickness: float) -> float:
    """The same for traces in the middle; lengths over the plane spacing."""
    single_thin = single_strip_ohm(width)
    single_thick = thick_single_strip_ohm(width, thickness)
    pair_thin = thin_odd_ohm(width, gap)
    fringe, fringe_thin = _fringe(thickness), 2.0 * math.log(2.0) / math.pi
    # Cohn gives one form for distant and one for near traces. Each leaves some capacitance out, so the lower
    # impedance is nearer the truth: within 2 % of a moment method, where either alone strays by 2 to 5 % outside its
    # own range.
    distant = 1.0 / single_thick + fringe / fringe_thin * (1.0 / pair_thin - 1.0 / single_thin)
    sides = 2.0 / FREE_SPACE_OHM * (thickness / gap - (fringe - fringe_thin))
    near = 1.0 / pair_thin + 1.0 / single_thick - 1.0 / single_thin + sides
    return 1.0 / max(distant, near)


def single_strip_ohm(width: float) -> float:
    """One strip of zero thickness in air, ohm; `width` over the plane spacing. Exact (Cohn 1954)."""
    x = math.pi * width / 2.0
    return FREE_SPACE_OHM / 4.0 * complementary_ratio(math.tanh(x), -_log_cosh(x))


def thin_odd_ohm(width: float, gap: float) -> float:
    """Odd mode of a pair of zero thickness in air, ohm; lengths over the plane spacing. Exact (Cohn 1955)."""
    x, y, apart = math.pi * width / 2.0, math.pi * (width + gap) / 2.0, math.pi * gap / 2.0
    # 1 - (tanh x / tanh y)^2 = sinh(y - x) sinh(y + x) / (cosh x sinh y)^2, without the loss of digits.
    log_complement = 0.5 * (_log_sinh(apart) + _log_sinh(x + y)) - _log_cosh(x) - _log_sinh(y)
    return FREE_SPACE_OHM / 4.0 * complementary_ratio(math.tanh(x) / math.tanh(y), log_complement)


def _log_cosh(x: float) -> float:
    return x + math.log1p(math.exp(-2.0 * x)) - math.log(2.0)


def _log_sinh(x: float) -> float:
    return x + math.log(-math.expm1(-2.0 * x)) - math.log(2.0)


def thick_single_strip_ohm(width: float, thickness: float) -> float:
    """One thick strip in air, ohm; lengths over the plane spacing. Wheeler 1978, within 0.5 %."""
    x = thickness
    m = 2.0 / (1.0 + 2.0 / 3.0 * x / (1.0 - x))
    wider = (
        x / (math.pi * (1.0 - x)) * (1.0 - 0.5 * math.log((x / (2.0 - x)) ** 2 + (0.0796 * x / (width + 1.1 * x)) ** m))
    )
    inverse = 1.0 / (width / (1.0 - x) + wider)
    y = 8.0 / math.pi * inverse
    return FREE_SPACE_OHM / (4.0 * math.pi) * math.log(1.0 + 4.0 / math.pi * inverse * (y + math.sqrt(y * y + 6.27)))


def _fringe(thickness: float) -> float:
    """Cohn's fringing capacitance of a thick edge over the permittivity."""
    a = 1.0 / (1.0 - thickness)
    return (2.0 * a * math.log(a + 1.0) - (a - 1.0) * math.log(a * a - 1.0)) / math.pi
