"""A pair of traces on an outer layer, edge-coupled, by its cross-section."""

import math
from typing import Annotated, ClassVar, NamedTuple

import msgspec
import numpy as np

from workbench.arrays import Floats
from workbench.facts import quantity, reference
from workbench.parts.lines.coupled_microstrip import FREE_SPACE_OHM, Static, odd_mode, odd_permittivity, widening
from workbench.parts.lines.dielectric import SPEED_OF_LIGHT_M_PER_S, Dielectric
from workbench.parts.lines.foil import PERMEABILITY_H_PER_M, Foil
from workbench.parts.record import Name, Parts, Problem, RunRecord
from workbench.parts.section.figures import differential
from workbench.parts.section.geometry import CrossSection, Layer, Mask
from workbench.parts.section.kept import solved
from workbench.parts.section.lines import Etch, remark_on
from workbench.parts.section.spectrum import common_beside, pair_constants
from workbench.parts.twoport import LineConstants

_RECESSION = 1e-4


class SurfaceSection(NamedTuple):
    """A cross-section, all in m: trace width, gap, trace thickness, height over the plane."""

    width_m: float
    gap_m: float
    thickness_m: float
    height_m: float

    def receded(self, n_m: float) -> "SurfaceSection":
        """Every metal surface moved into its metal by `n_m` (m)."""
        return SurfaceSection(
            self.width_m - 2.0 * n_m, self.gap_m + 2.0 * n_m, self.thickness_m - 2.0 * n_m, self.height_m + 2.0 * n_m
        )


class MicrostripPair(RunRecord, tag="microstrip-pair", tag_field="kind", kw_only=True):
    """An edge-coupled pair on an outer layer over a plane.

    Rectangular bare traces go by published formulas; etched sides or solder mask are solved (`workbench.parts.section`)
    as a static section, and the formulas' dispersion is put on top.
    """

    section: ClassVar[str | None] = "lines"

    name: Name
    dielectric: Annotated[str, reference("dielectrics", "Dielectric", "The laminate below the traces.")]
    foil: Annotated[str, reference("foils", "Foil", "The copper of traces and plane.")]
    width_m: Annotated[float, quantity("m", "Width", "Width of each trace.", ge=1e-6, le=1e-2)]
    gap_m: Annotated[float, quantity("m", "Gap", "Distance between the two traces, edge to edge.", ge=1e-6, le=1e-2)]
    thickness_m: Annotated[
        float, quantity("m", "Thickness", "Thickness of the traces, plating included.", ge=1e-6, le=1e-3)
    ]
    height_m: Annotated[float, quantity("m", "Height", "Dielectric from the traces to the plane.", ge=1e-6, le=1e-2)]
    etch_m: Etch = 0.0
    mask_m: Annotated[
        float, quantity("m", "Mask", "Thickness of the solder mask on the laminate; 0: no mask.", ge=0.0, le=1e-3)
    ] = 0.0
    mask_on_trace_m: Annotated[
        float,
        quantity("m", "Mask on traces", "Thickness of the mask on the traces; 0: as on the laminate.", ge=0.0, le=1e-3),
    ] = 0.0
    mask_dielectric: (
        Annotated[str, reference("dielectrics", "Mask dielectric", "What the solder mask is made of; none: no mask.")]
        | None
    ) = None

    @property
    def masked(self) -> bool:
        """Whether there is a mask: it needs a thickness and a dielectric."""
        return self.mask_m > 0.0 and self.mask_dielectric is not None

    @property
    def solved(self) -> bool:
        """Whether the cross-section is solved, because the formulas don't know what it has."""
        return self.etch_m > 0.0 or self.masked

    def cross_section(self, parts: Parts) -> CrossSection:
        """The cross-section of one pair: foot on the laminate, mask over all of it."""
        return self._section_in(tuple(dielectric.permittivity for dielectric in self._dielectrics(parts)))

    def _dielectrics(self, parts: Parts) -> tuple[Dielectric, ...]:
        laminate = parts.get("dielectric", Dielectric)
        return (laminate, parts.get("mask_dielectric", Dielectric)) if self.masked else (laminate,)

    def _section_in(self, permittivities: tuple[float, ...]) -> CrossSection:
        mask = Mask(self.mask_m, self.mask_on_trace_m or self.mask_m) if len(permittivities) > 1 else None
        return CrossSection(
            width_m=self.width_m, gap_m=self.gap_m, thickness_m=self.thickness_m, etch_m=self.etch_m,
            below=(Layer(self.height_m),), permittivities=permittivities, mask=mask,
        )  # fmt: skip

    def plain_section(self) -> SurfaceSection:
        """The cross-section that the formulas know, in m."""
        return SurfaceSection(self.width_m, self.gap_m, self.thickness_m, self.height_m)

    def line_constants(self, f_hz: Floats, parts: Parts) -> LineConstants:
        """Constants of the differential mode at `f_hz` (Hz, shape (n,)), by formula or, where `solved`, by the solver.

        Inductance from the static odd mode; capacitance from the dispersive effective permittivity, whose filling
        factor mixes the dielectric's complex permittivity with air; internal impedance by the incremental-inductance
        rule: H. A. Wheeler, "Formulas for the skin effect", Proc. IRE 30, 1942, 412-424.
        """
        dielectric, foil = parts.get("dielectric", Dielectric), parts.get("foil", Foil)
        section, er = self.plain_section(), dielectric.permittivity
        u, g = section.width_m / section.height_m, section.gap_m / section.height_m
        fn = f_hz * 1e-9 * section.height_m * 1e3
        if self.solved:
            filled = self.cross_section(parts)
            # A mask may slow the line beyond what the laminate alone could: then there is nothing left to disperse.
            slow = min(differential(solved(filled)).effective_permittivity, er)
            growth = odd_permittivity(u, g, er, fn, slow) / slow
            return pair_constants(filled, f_hz, self._dielectrics(parts), foil, growth)
        omega = 2.0 * np.pi * f_hz
        static = odd_mode_of(section, er)
        slow_ohm = static.impedance_ohm * math.sqrt(static.permittivity)
        step_m = _RECESSION * min(section.thickness_m, section.width_m, section.gap_m)
        growth_ohm_per_m = (_air_ohm(section.receded(step_m)) - _air_ohm(section)) / step_m
        internal = foil.internal_impedance(
            f_hz,
            rest_ohm_per_m=2.0 / (foil.conductivity_s_per_m * section.width_m * section.thickness_m),
            squares_per_m=2.0 * growth_ohm_per_m / (PERMEABILITY_H_PER_M * SPEED_OF_LIGHT_M_PER_S),
        )
        dispersed = odd_permittivity(u, g, er, fn, static.permittivity)
        filling = (dispersed - 1.0) / (er - 1.0) if er > 1.0 else np.zeros(f_hz.size)
        effective = np.asarray(1.0 + filling * (dielectric.relative_permittivity(f_hz) - 1.0), np.complex128)
        return LineConstants(
            z_ohm_per_m=internal + 2j * omega * slow_ohm / SPEED_OF_LIGHT_M_PER_S,
            y_s_per_m=1j * omega * effective / (2.0 * slow_ohm * SPEED_OF_LIGHT_M_PER_S),
        )

    def common_constants(self, f_hz: Floats, parts: Parts) -> LineConstants | None:
        """Those of the common mode at `f_hz` (Hz, shape (n,)), beside the differential ones as the solver has both."""
        section = self.cross_section(parts)
        if section.problem() is not None:
            return None
        own = self.line_constants(f_hz, parts)
        return common_beside(own, section, f_hz, self._dielectrics(parts), parts.get("foil", Foil))

    def problems(self) -> tuple[Problem, ...]:
        """Far beyond their range the formulas say nothing any more: impedances become negative or overflow."""
        for field, over_height, low, high in (
            ("width_m", self.width_m / self.height_m, 0.03, 30.0),
            ("gap_m", self.gap_m / self.height_m, 0.01, 30.0),
        ):
            if not low <= over_height <= high:
                problem = f"it is {over_height:.2g} of height_m; no formula reaches there"
                return (Problem(field, problem, f"keep it between {low:g} and {high:g} of height_m"),)
        fault = self._section_in((1.0, 1.0) if self.masked else (1.0,)).problem() if self.solved else None
        if fault is None:
            return ()
        return (Problem(fault.field, fault.sentence, "change it or the other dimensions of the section"),)

    def remarks(self, parts: Parts) -> tuple[str, ...]:
        """What the formula would say where the section is solved; a mask that is only half stated."""
        found = []
        if self.solved:
            er = parts.get("dielectric", Dielectric).permittivity
            features = [*(["etched sides"] if self.etch_m > 0.0 else []), *(["solder mask"] if self.masked else [])]
            plain = msgspec.structs.replace(self._section_in((er,)), etch_m=0.0)
            formula_ohm = 2.0 * odd_mode_of(self.plain_section(), er).impedance_ohm
            found.append(remark_on(self.cross_section(parts), plain, formula_ohm, features))
        if self.mask_m > 0.0 and self.mask_dielectric is None:
            found.append("the solder mask has a thickness but no dielectric, and is left out")
        return tuple(found)

    def cautions(self, parts: Parts, f_max_hz: float) -> tuple[str, ...]:
        """Where, up to `f_max_hz` (Hz), the formulas of Kirschning and Jansen leave their range (from memory).

        That of the thickness is where `odd_mode_of` has been held against a moment method.
        """
        u, g = self.width_m / self.height_m, self.gap_m / self.height_m
        er = parts.get("dielectric", Dielectric).permittivity
        fn = f_max_hz * 1e-9 * self.height_m * 1e3
        dispersion = (
            ("width over height", u, 0.1, 10.0),
            ("gap over height", g, 0.1, 10.0),
            ("permittivity", er, 1.0, 18.0),
            ("frequency times height in GHz mm", fn, 0.0, 25.0),
        )
        static = (("thickness over height", self.thickness_m / self.height_m, 0.0, 1.0),)
        ranges = dispersion if self.solved else (*dispersion, *static)
        return tuple(
            f"{what} is {value:.2g}; the coupled microstrip formula holds from {low:g} to {high:g}"
            for what, value, low, high in ranges
            if not low <= value <= high
        )


def odd_mode_of(section: SurfaceSection, er: float) -> Static:
    """Odd mode of a pair with thickness, on a substrate of permittivity `er`.

    What thickness adds to the capacitance lies in the air above the substrate, whatever the substrate is: it is found
    in air and added to the flat pair's. Without it the effective permittivity, and so the delay, would come out too
    large (by 14 % at a thickness of 0.4 and a gap of 1.7 heights). Against a moment method, for widths and gaps of 0.1
    to 10 heights and thicknesses up to 1: impedance within 2 %, effective permittivity within 4 %.
    """
    u, g = section.width_m / section.height_m, section.gap_m / section.height_m
    in_air = _air_ohm(section)
    flat, flat_in_air = odd_mode(u, g, er), odd_mode(u, g, 1.0).impedance_ohm
    # Capacitances as c times capacitance, 1/ohm.
    filled = math.sqrt(flat.permittivity) / flat.impedance_ohm + 1.0 / in_air - 1.0 / flat_in_air
    return Static(math.sqrt(in_air / filled), filled * in_air)


def _air_ohm(section: SurfaceSection) -> float:
    """Odd-mode impedance in air, ohm: each trace acts wider, and the facing edges are a parallel-plate capacitor.

    R. H. Jansen, "High-speed computation of single and coupled microstrip parameters including dispersion, high-order
    modes, loss and finite strip thickness", IEEE Trans. MTT 26(2), 1978, 75-82, for the widening of a coupled strip
    (from memory). He takes the facing edges as more width as well; as a capacitance of their own they come within
    1.5 % of a moment method, where more width strays by 10 %.
    """
    u, g, t = (x / section.height_m for x in (section.width_m, section.gap_m, section.thickness_m))
    # The virtual ground between the traces is half a gap away.
    facing = 2.0 * t / g
    alone = widening(u, t, 1.0)
    wider = alone * (1.0 - 0.5 * math.exp(-0.69 * alone / facing))
    return 1.0 / (1.0 / odd_mode(u + wider, g, 1.0).impedance_ohm + facing / FREE_SPACE_OHM)
