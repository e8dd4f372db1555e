"""How many squares of metal the current passes per metre: the resistance in skin effect over the surface resistance.

R. F. Harrington, C. Wei, "Losses on multiconductor transmission lines in multilayered dielectric media", IEEE Trans.
MTT 32(7), 1984, 705-710: in skin effect the current on smooth metal lies as the charge does in air, and each square
metre of surface loses the surface resistance times its square.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.section import kernel
from workbench.parts.section.panels import Indices, Panels, rule

_FINENESS, _MOST = 1.0, 400
"""Lengths that stand for one point of charge as the planes see it: in heights over the nearer plane; points a panel."""


class _Points(NamedTuple):
    """Where the planes see charge: p points of panels with q nodes.

    Attributes:
        at: the points, m, complex, shape (p,).
        panel: which of the panels on metal each stands for a part of, shape (p,).
        weight_m: length by which each of its panel's nodes counts, m, shape (p, q).
    """

    at: Complexes
    panel: Indices
    weight_m: Floats

    def charges(self, density: Floats) -> Floats:
        """The charge in each point of densities at the nodes on metal, shape (p, k) of (metal nodes, k)."""
        by_panel = density.reshape(-1, self.weight_m.shape[1], density.shape[1])
        return np.asarray((self.weight_m[:, :, None] * by_panel[self.panel]).sum(axis=1))


def squares(
    panels: Panels,
    metal: Indices,
    densities: Sequence[Floats],
    signs: Sequence[float],
    spacing_m: float | None,
) -> list[Floats]:
    """``int J_i J_j dl`` over traces, guards and planes, 1/m, shape (k, k), for each parity; over the half if mirrored.

    Towards a corner of metal of angle alpha the current grows as ``r^(beta - 1)``, ``beta = pi / (2 pi - alpha)``, so
    that on the panel that ends there the integral of its square is ``beta^2 / (2 beta - 1)`` times the square of its
    integral over the length (elementary).

    Args:
        panels: of the half, or of the whole.
        metal: numbers of its nodes on metal.
        densities: for each parity the current at those nodes per ampere on each signal, 1/m, shape (metal nodes, k).
        signs: of the charge in the mirror, for each parity; 0 where there is no mirror.
        spacing_m: distance between the planes, m; None over one.
    """
    q = panels.order
    weight = panels.weight_m[metal]
    panel = metal[::q] // q
    corner, size = panels.corner[panel], 2.0 * np.abs(panels.half[panel])
    beta = np.pi / (2.0 * np.pi - np.where(corner > 0.0, corner, 0.5 * np.pi))
    at_corner = np.where(corner > 0.0, beta**2 / (2.0 * beta - 1.0) / size, 0.0)[:, None]
    smooth = (np.repeat(corner == 0.0, q) * weight)[:, None]
    points = _points(panels, panel, spacing_m)
    facing = kernel.plane_squares(points.at, points.at, spacing_m)
    mirrored = kernel.plane_squares(points.at, -points.at.conj(), spacing_m) if any(signs) else facing
    found = []
    for density, sign in zip(densities, signs, strict=True):
        by_panel = (weight[:, None] * density).reshape(-1, q, density.shape[1]).sum(axis=1)
        charge = points.charges(density)
        total = (density * smooth).T @ density + (by_panel * at_corner).T @ by_panel
        found.append(total + charge.T @ (facing + sign * mirrored) @ charge)
    return found


def _points(panels: Panels, panel: Indices, spacing_m: float | None) -> _Points:
    """Each panel's charge in as many points as its distance from the planes asks for."""
    centre, half = panels.centre[panel], panels.half[panel]
    away = centre.imag if spacing_m is None else np.minimum(centre.imag, spacing_m - centre.imag)
    parts = np.clip(np.ceil(2.0 * np.abs(half) / (_FINENESS * away)), 1, _MOST).astype(int)
    of = np.repeat(np.arange(panel.size), parts)
    number = np.arange(of.size) - np.repeat(np.cumsum(parts) - parts, parts)
    low, high = -1.0 + 2.0 * number / parts[of], -1.0 + 2.0 * (number + 1) / parts[of]
    # The polynomials of the nodes, integrated over each part.
    powers = np.arange(panels.order)[:, None] + 1
    integrals = ((high**powers - low**powers) / powers).T @ rule(panels.order).basis
    return _Points(centre[of] + half[of] * (0.5 * (low + high)), of, integrals * np.abs(half[of])[:, None])
