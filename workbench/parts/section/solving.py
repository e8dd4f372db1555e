"""Solve a discretised section: C, what every permittivity does to it, C in air, L, and the squares of the current.

Unknown is the density of total charge over eps0 at the nodes. On metal the potential is given; on a border of two
dielectrics the normal flux is continuous, which with the mean field E_n of both sides reads
``s + kappa E_n = 0``, ``kappa = 2 (eL - eR) / (eL + eR)``, n from R to L. Permittivities stand only there and in the
free charge, eps times density on metal, so that one more solution of the transposed border system gives the derivative
of C by every permittivity exactly. Metal is eliminated first: that alone is the section in air.

A section is its own mirror image, so that its even and odd voltages are solved apart, each on the right half.
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.parts.section import kernel
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.outline import Outline, outline_of
from workbench.parts.section.panels import Panels, panels_of
from workbench.parts.section.parity import Parity, solve_parity, whole
from workbench.parts.section.squares import squares

EPS0_F_PER_M = 8.8541878188e-12
MU0_H_PER_M = 1.25663706127e-6



class Fineness(NamedTuple):
    """How a section is cut into panels.

    Attributes:
        order: nodes a panel.
        parts: smallest panels in the smallest dimension.
        mask: smallest panels in the mask's thickness.
    """

    order: int
    parts: float
    mask: float = 4.0

    def times(self, finer: float) -> "Fineness":
        """All panels at corners smaller by a factor."""
        return Fineness(self.order, self.parts * finer, self.mask * finer)


USUAL, BARE = Fineness(2, 16.0), Fineness(3, 32.0)
"""The latter where bare traces meet air beside a laminate: dielectrics that differ so much need more at the corner."""


class Solution(NamedTuple):
    """What follows from a section, per metre; k signals from left to right, m materials as the section numbers them.

    Attributes:
        capacitance: Maxwell's matrix, F/m, shape (k, k).
        by_permittivity: its derivative by the relative permittivity of each material, F/m, shape (m + 1, k, k); the
            last is air's. Times the permittivities they add up to the capacitance.
        in_air: the matrix with every dielectric taken away, F/m, shape (k, k).
        inductance: external, H/m, shape (k, k).
        squares_per_m: resistance over the surface resistance of smooth metal, planes and guards included, 1/m, (k, k).
        asymmetry: largest difference of the capacitance from its transpose over its largest entry, before it was made
            symmetric; it falls with the error, but says nothing of a single pair.
        nodes: how many unknowns it stands for.
    """

    capacitance: Floats
    by_permittivity: Floats
    in_air: Floats
    inductance: Floats
    squares_per_m: Floats
    asymmetry: float
    nodes: int


class Charges(NamedTuple):
    """The solved densities, for drawing: panels, density at 1 V on each signal, shape (n, k), planes' spacing in m."""

    panels: Panels
    density: Floats
    spacing_m: float | None


def solve(section: CrossSection, fineness: Fineness | None = None) -> Solution:
    """Solve a section.

    Args:
        section: what is to be solved.
        fineness: of the panels; None for what holds impedance and coupling within 0.1 %.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    return solve_outline(*discretised(section, fineness))[0]


def charges(section: CrossSection) -> Charges:
    """The densities on every border and side of a section.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    return solve_outline(*discretised(section))[1]


def fineness_for(section: CrossSection) -> Fineness:
    """What holds a section's impedance and coupling within 0.1 % of the truth."""
    return USUAL if section.above or section.mask is not None else BARE


def discretised(section: CrossSection, fineness: Fineness | None = None) -> tuple[Outline, Panels]:
    """The right half of a section's outline and its panels; `fineness` as for `solve`.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    problem = section.problem()
    if problem is not None:
        raise ValueError(problem.sentence)
    order, parts, mask_parts = fineness if fineness is not None else fineness_for(section)
    mask = section.mask
    mask_m = min(mask.on_laminate_m, mask.on_trace_m) / mask_parts if mask is not None else 0.0
    outline = outline_of(section, section.least_m / parts, mask_m)
    return outline, panels_of(outline, order)


def solve_outline(outline: Outline, panels: Panels) -> tuple[Solution, Charges]:
    """Solve any outline by its panels, mirrored or not."""
    metal, border = panels.metal_and_border()
    sources = [panels, panels.mirrored()] if outline.mirrored else [panels]
    at_metal = [kernel.potential(panels.nodes[metal], each, outline.spacing_m) for each in sources]
    normals = panels.normals()[border]
    at_border = [kernel.normal_field(panels.nodes[border], normals, each, outline.spacing_m) for each in sources]
    signs = (1.0, -1.0) if outline.mirrored else (0.0,)
    parities = [solve_parity(outline, panels, _summed(at_metal, sign), _summed(at_border, sign)) for sign in signs]
    capacitance = whole([each.capacitance for each in parities])
    in_air = EPS0_F_PER_M * _symmetric(whole([each.in_air for each in parities]))
    currents = [each.bare @ np.linalg.inv(each.in_air) for each in parities]
    solution = Solution(
        EPS0_F_PER_M * _symmetric(capacitance),
        EPS0_F_PER_M * _symmetric(whole([each.slopes for each in parities])),
        in_air,
        MU0_H_PER_M * EPS0_F_PER_M * np.linalg.inv(in_air),
        _symmetric(whole(squares(panels, metal, currents, signs, outline.spacing_m))),
        float(np.abs(capacitance - capacitance.T).max() / np.abs(capacitance).max()),
        panels.nodes.size * len(sources),
    )
    return solution, _charges(outline, panels, parities)


def _summed(matrices: list[Floats], sign: float) -> Floats:
    return matrices[0] if len(matrices) == 1 else np.asarray(matrices[0] + sign * matrices[1])


def _symmetric(matrices: Floats) -> Floats:
    return np.asarray(0.5 * (matrices + np.swapaxes(matrices, -1, -2)))


def _charges(outline: Outline, panels: Panels, parities: list[Parity]) -> Charges:
    if not outline.mirrored:
        return Charges(panels, parities[0].density, outline.spacing_m)
    even, odd = (each.density for each in parities)
    own, other = 0.5 * (even + odd), 0.5 * (even - odd)
    density = np.block([[own[:, ::-1], other], [other[:, ::-1], own]])
    return Charges(panels.mirrored().joined(panels), density, outline.spacing_m)
