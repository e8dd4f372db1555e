"""Impedance and admittance per metre over frequency: dispersion of the dielectrics, skin effect, roughness.

The section is solved once, at the permittivities that are stated. Over frequency each dielectric's complex permittivity
(wideband Debye) moves the capacitance by its exact derivative: ``C(w) - j G/w = C + sum_m (e_m(w) - e_m) dC/de_m``.
That is first order in how far a permittivity moves (4 % from 1 to 20 GHz for a usual laminate); as the derivatives are
not negative, and every permittivity is causal and passive, so is the sum. Skin effect and roughness are the foil's.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.foil import PERMEABILITY_H_PER_M, Foil
from workbench.parts.section.figures import common, differential
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.kept import solved
from workbench.parts.twoport import LineConstants

_DIFFERENTIAL, _COMMON = (0.5, -0.5), (1.0, 1.0)


class LineMatrices(NamedTuple):
    """Per metre, traces from left to right: impedance, ohm/m, and admittance, S/m, complex, shape (k, k, n)."""

    z_ohm_per_m: Complexes
    y_s_per_m: Complexes


def line_matrices(section: CrossSection, f_hz: Floats, dielectrics: Sequence[Dielectric], foil: Foil) -> LineMatrices:
    """Matrices of all traces.

    Args:
        section: solved at its permittivities.
        f_hz: Hz, shape (n,).
        dielectrics: of each of the section's materials, in their order.
        foil: of all conductors; planes count as lossless at 0 Hz.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    solution = solved(section)
    omega = 2.0 * np.pi * f_hz
    capacitance = _with_dispersion(solution.capacitance, solution.by_permittivity, section, f_hz, dielectrics)
    rest = np.diag(np.full(solution.capacitance.shape[0], rest_ohm_per_m(section, foil)))
    squares = solution.squares_per_m
    skin = 2j * np.pi * PERMEABILITY_H_PER_M / foil.conductivity_s_per_m * (squares**2)[:, :, None] * f_hz
    internal = np.sqrt(rest[:, :, None] ** 2 + skin) * np.where(squares < 0.0, -1.0, 1.0)[:, :, None]
    moving = np.where(f_hz > 0.0, f_hz, 1.0)
    rough = np.where(f_hz > 0.0, foil.roughness.factor(foil.skin_depth_m(moving)), 1.0)
    z = internal * rough + 1j * omega * solution.inductance[:, :, None]
    return LineMatrices(np.asarray(z), np.asarray(1j * omega * capacitance))


def pair_constants(
    section: CrossSection,
    f_hz: Floats,
    dielectrics: Sequence[Dielectric],
    foil: Foil,
    growth: Floats | float = 1.0,
) -> LineConstants:
    """Constants of the differential mode of a single pair.

    Args:
        section: of one pair, solved at its permittivities.
        f_hz: Hz, shape (n,).
        dielectrics: of each of the section's materials, in their order.
        foil: of traces and planes.
        growth: what the capacitance grows by over frequency beyond the quasi-static one, 1 for nothing, shape (n,).

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    found = _mode_constants(section, f_hz, dielectrics, foil, _DIFFERENTIAL)
    return LineConstants(found.z_ohm_per_m, found.y_s_per_m * growth)


def common_beside(
    own: LineConstants, section: CrossSection, f_hz: Floats, dielectrics: Sequence[Dielectric], foil: Foil
) -> LineConstants:
    """Constants of a single pair's common mode, as far from its differential ones as they are in the solved section.

    A line that goes by formulas so keeps its own speed and loss, and in one dielectric both modes travel alike.

    Args:
        own: the line's differential constants, shape (n,).
        section, f_hz, dielectrics, foil: as for `pair_constants`; frequencies in Hz.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    one = pair_constants(section, f_hz, dielectrics, foil)
    other = _mode_constants(section, f_hz, dielectrics, foil, _COMMON)
    moving = np.where(one.y_s_per_m == 0.0, 1.0, one.y_s_per_m)
    return LineConstants(
        own.z_ohm_per_m * (other.z_ohm_per_m / one.z_ohm_per_m), own.y_s_per_m * (other.y_s_per_m / moving)
    )


def _mode_constants(
    section: CrossSection, f_hz: Floats, dielectrics: Sequence[Dielectric], foil: Foil, which: tuple[float, float]
) -> LineConstants:
    """Constants of one mode of a single pair, told by the traces' voltages a unit of it."""
    mode = (differential if which == _DIFFERENTIAL else common)(solved(section))
    weights = np.array(which)
    # What little energy a thin dielectric has may come out below nothing by rounding; the line must stay passive.
    slopes = np.maximum(weights @ solved(section).by_permittivity @ weights, 0.0)
    capacitance = _with_dispersion(np.array(mode.capacitance), slopes, section, f_hz, dielectrics)
    # As much current in each trace as makes a unit of the mode: 1 and -1 where voltages are a half, else a half.
    squared = 0.5 / float(weights @ weights)
    internal = foil.internal_impedance(
        f_hz, rest_ohm_per_m=2.0 * squared * rest_ohm_per_m(section, foil), squares_per_m=mode.squares_per_m
    )
    omega = 2.0 * np.pi * f_hz
    return LineConstants(internal + 1j * omega * mode.inductance, 1j * omega * capacitance)


def rest_ohm_per_m(section: CrossSection, foil: Foil) -> float:
    """Resistance of one trace at 0 Hz, ohm/m."""
    area = (section.width_m - section.inset_m) * section.thickness_m
    return 1.0 / (foil.conductivity_s_per_m * area)


def _with_dispersion(
    capacitance: Floats, slopes: Floats, section: CrossSection, f_hz: Floats, dielectrics: Sequence[Dielectric]
) -> Complexes:
    total = np.broadcast_to(capacitance[..., None], (*capacitance.shape, f_hz.size)).astype(np.complex128)
    for number, (stated, dielectric) in enumerate(zip(section.permittivities, dielectrics, strict=True)):
        total += slopes[number][..., None] * (dielectric.relative_permittivity(f_hz) - stated)
    return total
