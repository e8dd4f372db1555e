"""What a line's cross-section gives, for text and JSON."""

import msgspec
import numpy as np

from workbench.arrays import Floats
from workbench.errors import WorkbenchError
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.foil import Foil
from workbench.parts.lines.line_by_loss import DB_PER_NEPER
from workbench.parts.record import Parts, RunRecord
from workbench.parts.section.figures import Coupling, common, coupling, differential
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.kept import solved
from workbench.parts.section.neighbours import beside
from workbench.parts.section.spectrum import line_matrices, pair_constants
from workbench.parts.twoport import propagation

Matrix = tuple[tuple[float, ...], ...]


class SectionDimensions(msgspec.Struct, frozen=True):
    """Dimensions as they were solved, m: foot's width, gap in a pair, thickness, etch, and from pair to pair."""

    width_m: float
    gap_m: float
    thickness_m: float
    etch_m: float
    neighbour_gap_m: float | None


class SectionFigures(msgspec.Struct, frozen=True, kw_only=True):
    """Figures of a line's cross-section, alone or beside a neighbour; matrices have the traces from left to right.

    Impedances, permittivity and capacitance hold at the permittivities that the catalogue states; loss, resistance and
    conductance at `frequency_hz`.
    """

    format: str = "link-margin-section"
    version: int = 1
    board: str
    line: str
    dimensions: SectionDimensions
    differential_impedance_ohm: float
    common_impedance_ohm: float
    effective_permittivity: float
    capacitance_f_per_m: Matrix
    inductance_h_per_m: Matrix
    frequency_hz: float
    loss_db_per_m: float
    resistance_ohm_per_m: Matrix
    conductance_s_per_m: Matrix
    backward_coupling: float | None
    forward_coupling_s_per_m: float | None
    line_impedance_ohm: float
    """Of the line as lanes are computed with it: by formula where nothing asks for the solver."""


def cross_section_of(line: RunRecord, parts: Parts) -> CrossSection:
    """A line's cross-section.

    Raises:
        WorkbenchError: the line has none, or its dimensions make none.
    """
    section = line.cross_section(parts)
    if section is None:
        raise WorkbenchError(f"{line.name!r} has no cross-section; name a stripline-pair or a microstrip-pair")
    fault = section.problem()
    if fault is not None:
        raise WorkbenchError(f"{line.name!r} can't be solved: {fault.sentence}; change its dimensions")
    return section


def section_figures(
    board: str, line: RunRecord, parts: Parts, *, frequency_hz: float, neighbour_gap_m: float | None = None
) -> SectionFigures:
    """Solve a line's cross-section and read it.

    Args:
        board: the board's title.
        line: a kind with a cross-section.
        parts: what it refers to.
        frequency_hz: where losses are told, Hz.
        neighbour_gap_m: distance to a second pair of the same line, foot to foot, m; None for the pair alone.

    Raises:
        WorkbenchError: the line has no cross-section, or its dimensions make none.
    """
    single = cross_section_of(line, parts)
    section = single if neighbour_gap_m is None else beside(single, gap_m=neighbour_gap_m)
    fault = section.problem()
    if fault is not None:
        raise WorkbenchError(f"{line.name!r} beside its like can't be solved: {fault.sentence}; change the gap")
    solution = solved(section)
    dielectrics, foil = materials_of(parts, section)
    f_hz = np.array([frequency_hz])
    matrices = line_matrices(section, f_hz, dielectrics, foil)
    pair = propagation(pair_constants(single, f_hz, dielectrics, foil))
    mode, coupled = differential(solution), _coupling(section)
    return SectionFigures(
        board=board,
        line=line.name,
        dimensions=SectionDimensions(
            section.width_m, section.gap_m, section.thickness_m, section.etch_m, neighbour_gap_m
        ),
        differential_impedance_ohm=mode.impedance_ohm,
        common_impedance_ohm=common(solution).impedance_ohm,
        effective_permittivity=mode.effective_permittivity,
        capacitance_f_per_m=_rows(solution.capacitance),
        inductance_h_per_m=_rows(solution.inductance),
        frequency_hz=frequency_hz,
        loss_db_per_m=float(pair.gamma_per_m[0].real) * DB_PER_NEPER,
        resistance_ohm_per_m=_rows(matrices.z_ohm_per_m[:, :, 0].real),
        conductance_s_per_m=_rows(matrices.y_s_per_m[:, :, 0].real),
        backward_coupling=coupled and coupled.backward,
        forward_coupling_s_per_m=coupled and coupled.forward_s_per_m,
        line_impedance_ohm=float(propagation(line.line_constants(f_hz, parts)).impedance_ohm[0].real),
    )


def materials_of(parts: Parts, section: CrossSection) -> tuple[tuple[Dielectric, ...], Foil]:
    """The dielectrics of a section's materials, in their order, and the foil."""
    named = (parts.find(field, Dielectric) for field in ("dielectric", "upper_dielectric", "mask_dielectric"))
    found = tuple(dielectric for dielectric in named if dielectric is not None)
    return found[: len(section.permittivities)], parts.get("foil", Foil)


def _coupling(section: CrossSection) -> Coupling | None:
    return coupling(solved(section)) if section.pairs > 1 else None


def _rows(matrix: Floats) -> Matrix:
    return tuple(tuple(map(float, row)) for row in matrix)
