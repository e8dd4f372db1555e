"""One parity of a section: its right half with equal or opposite voltages on the left, or a section without mirror."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.parts.section.outline import Outline
from workbench.parts.section.panels import Panels


class Parity(NamedTuple):
    """What is solved, over eps0; k signals (of the right half, from the middle outward), m materials, n nodes.

    Attributes:
        capacitance: free charge of each signal per volt on each, shape (k, k).
        slopes: its derivative by each permittivity, shape (m, k, k).
        in_air: the same without dielectrics, shape (k, k).
        bare: density on metal without dielectrics, per volt, shape (metal nodes, k).
        density: with dielectrics, on all nodes, shape (n, k).
    """

    capacitance: Floats
    slopes: Floats
    in_air: Floats
    bare: Floats
    density: Floats


class _Border(NamedTuple):
    """The part of borders: density on metal and on borders, and what they take off the slopes."""

    on_metal: Floats
    on_border: Floats
    correction: Floats


def solve_parity(outline: Outline, panels: Panels, at_metal: Floats, at_border: Floats) -> Parity:
    """Solve one parity.

    Args:
        outline: whose panels these are.
        panels: of n nodes.
        at_metal: potential at the nodes on metal by every node's density, shape (metal nodes, n).
        at_border: normal field at the nodes on borders by every node's density, shape (border nodes, n).
    """
    owner = panels.owner
    metal, border = panels.metal_and_border()
    given = (owner[metal, None] == np.arange(outline.signals)).astype(float)
    found = np.linalg.solve(at_metal[:, metal], np.concatenate([given, at_metal[:, border]], axis=1))
    bare, by_border = found[:, : outline.signals], found[:, outline.signals :]
    permittivities = np.array(outline.permittivities)
    outside = panels.right[metal]
    taken = given.T * panels.weight_m[metal]
    free = taken * permittivities[outside]
    by_material = taken * (outside == np.arange(permittivities.size)[:, None])[:, None, :]
    density = np.zeros((owner.size, outline.signals))
    density[metal] = bare
    slopes = by_material @ bare
    if border.size:
        part = _with_borders(panels, permittivities, at_border, (bare, by_border), free)
        density[metal], density[border] = part.on_metal, part.on_border
        slopes = by_material @ part.on_metal - part.correction
    return Parity(free @ density[metal], slopes, taken @ bare, bare, density)


def _with_borders(
    panels: Panels, permittivities: Floats, at_border: Floats, found: tuple[Floats, Floats], free: Floats
) -> _Border:
    """Eliminate the metal from the borders' equations, solve them and their transpose."""
    metal, border = panels.metal_and_border()
    bare, by_border = found
    left, right = panels.left[border], panels.right[border]
    e_left, e_right = permittivities[left], permittivities[right]
    kappa = 2.0 * (e_left - e_right) / (e_left + e_right)
    from_metal = at_border[:, metal]
    reduced = at_border[:, border] - from_metal @ by_border
    outer = from_metal @ bare
    system = kappa[:, None] * reduced
    system[np.diag_indices(border.size)] += 1.0
    on_border = np.linalg.solve(system, -kappa[:, None] * outer)
    on_metal = bare - by_border @ on_border
    adjoint = np.linalg.solve(system.T, -(free @ by_border).T)
    field = outer + reduced @ on_border
    number = np.arange(permittivities.size)[:, None]
    slope = 4.0 * (e_right * (left == number) - e_left * (right == number)) / (e_left + e_right) ** 2
    return _Border(on_metal, on_border, (adjoint.T * slope[:, None, :]) @ field)


def whole(parities: list[Floats]) -> Floats:
    """Matrices of all signals from left to right, from those of the even and the odd parity, shape (..., k, k) each.

    A single one is that of a section without a mirror, and stays as it is.
    """
    if len(parities) == 1:
        return parities[0]
    even, odd = parities
    own, other = 0.5 * (even + odd), 0.5 * (even - odd)
    left = np.concatenate([own[..., ::-1, ::-1], other[..., ::-1, :]], axis=-1)
    return np.concatenate([left, np.concatenate([other[..., :, ::-1], own], axis=-1)], axis=-2)
