"""A two-dimensional moment method for strips, written apart from the program: charge on small cells, point matching.

The potential of a line charge is taken exactly: between two planes by the conformal map of the parallel-plate region
(P. M. Morse, H. Feshbach, Methods of Theoretical Physics, 1953, section 10.2), over a grounded slab by the image series
(P. Silvester, Proc. IEE 115(1), 1968, 43-48). Cells are graded towards corners by the cosine rule. Lengths in any one
unit; impedances in ohm, of one trace: the odd mode's is half the differential impedance of a pair.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

EPS0 = 8.8541878188e-12
LIGHT = 299_792_458.0


class Cells(NamedTuple):
    """Cells of a trace's outline: centres, lengths, and 1 where a cell lies flat, 0 where it stands."""

    x: np.ndarray
    y: np.ndarray
    size: np.ndarray
    flat: np.ndarray


class Planes(NamedTuple):
    """A strip between planes in air."""

    width: float
    thickness: float
    below: float
    above: float
    gap: float | None = None

    def receded(self, n: float) -> "Planes":
        gap = None if self.gap is None else self.gap + 2 * n
        return Planes(self.width - 2 * n, self.thickness - 2 * n, self.below + 2 * n, self.above + 2 * n, gap)


class Slab(NamedTuple):
    """A strip on a grounded slab, air above."""

    width: float
    thickness: float
    height: float
    gap: float | None = None

    def receded(self, n: float) -> "Slab":
        gap = None if self.gap is None else self.gap + 2 * n
        return Slab(self.width - 2 * n, self.thickness - 2 * n, self.height + 2 * n, gap)


def planes_ohm(section: Planes, *, cells: int = 60, odd: bool = True) -> float:
    """Impedance in air of a strip between planes; of a pair's odd or even mode where there is a gap."""
    outline = _outline(section.gap, section.width, section.below, section.thickness, cells)
    q = np.pi / (section.below + section.thickness + section.above)

    def kernel(x, y, xs, ys, own):
        # 1/2 ln (cosh - cos(sum)) / (cosh - cos(difference)); near the charge the latter is q^2 r^2 / 2.
        above = np.cosh(q * (x - xs)) - np.cos(q * (y + ys))
        below = np.cosh(q * (x - xs)) - np.cos(q * (y - ys))
        return 0.5 * np.log(above / np.where(own, 0.5 * q**2, below))

    ones = np.ones_like(outline.x)
    return 1.0 / (LIGHT * _capacitance(outline, kernel, ones, section.gap, odd))


def slab_ohm(section: Slab, permittivity: float, *, cells: int = 60, odd: bool = True) -> tuple[float, float]:
    """Impedance and effective permittivity of a strip on a slab; of a pair's odd or even mode where there is a gap."""
    air, filled = (_slab_capacitance(section, er, cells, odd) for er in (1.0, permittivity))
    return 1.0 / (LIGHT * np.sqrt(air * filled)), filled / air


def odd_growth(ohm_of: Callable[[object], float], section, step: float) -> float:
    """How the impedance in air grows as every metal surface recedes, ohm per unit of length (central difference)."""
    return (ohm_of(section.receded(step)) - ohm_of(section.receded(-step))) / (2.0 * step)


def slab_squares(section: Slab, *, cells: int = 200) -> float:
    """Resistance per surface resistance of one trace and its share of the plane in air: ``int J^2 / (int J)^2``.

    In skin effect the current on a smooth conductor is spread as the charge. An odd pair has half of the plane each.
    """
    outline = _outline(section.gap, section.width, section.height, section.thickness, cells)

    def kernel(x, y, xs, ys, own):
        r2 = np.where(own, 1.0, (x - xs) ** 2 + (y - ys) ** 2)
        return -0.5 * np.log(r2) + 0.5 * np.log((x - xs) ** 2 + (y + ys) ** 2)

    charge = _charges(outline, kernel, np.ones_like(outline.x), section.gap, odd=True)
    on_trace = float((charge**2 / outline.size).sum())
    reach = 40.0 * (section.height + section.width + (section.gap or 0.0))
    x = np.linspace(-reach, reach, 80_001)
    mirror = 0.0 if section.gap is None else -1.0
    on_plane = np.zeros_like(x)
    for q, at, up in zip(charge, outline.x, outline.y, strict=True):
        on_plane += q * up / np.pi * (1.0 / ((x - at) ** 2 + up**2) + mirror / ((x + at) ** 2 + up**2))
    share = 1.0 if section.gap is None else 0.5
    return (on_trace + share * float(np.trapezoid(on_plane**2, x))) / float(charge.sum()) ** 2


def _slab_capacitance(section: Slab, er: float, cells: int, odd: bool) -> float:
    outline = _outline(section.gap, section.width, section.height, section.thickness, cells)
    kappa, height = (er - 1.0) / (er + 1.0), section.height
    on_face = (outline.y == height) & (outline.flat == 1.0)

    def kernel(x, y, xs, ys, own):
        r2, up = (x - xs) ** 2 + (y - ys) ** 2, y + ys - 2.0 * height
        value = -0.5 * np.log(np.where(own, 1.0, r2))
        # On the slab's face the first image coincides with the charge itself.
        value += 0.5 * kappa * np.log(np.where(own & on_face, 1.0, (x - xs) ** 2 + up**2))
        factor, n = 1.0 - kappa**2, 1
        while abs(factor) > 1e-9:
            value += 0.5 * factor * np.log((x - xs) ** 2 + (up + 2.0 * n * height) ** 2)
            factor, n = -kappa * factor, n + 1
        return value

    return _capacitance(outline, kernel, np.where(on_face, 1.0 - kappa, 1.0), section.gap, odd)


def _capacitance(outline: Cells, kernel, singular, gap: float | None, odd: bool) -> float:
    """Capacitance per metre of one trace at 1 V, the other (if any) its mirror image in x = 0 at -1 V or 1 V."""
    return float(2.0 * np.pi * EPS0 * _charges(outline, kernel, singular, gap, odd).sum())


def _charges(outline: Cells, kernel, singular, gap: float | None, odd: bool) -> np.ndarray:
    """Charge per metre of each cell over 2 pi eps0, at 1 V.

    `kernel` is 2 pi eps0 times the potential of a unit charge; on the charge's own cell it leaves out ``-ln r`` times
    `singular`, which is integrated by hand here. Other cells are integrated by Gauss's rule.
    """
    x, y, size, flat = outline
    own, no = np.eye(x.size, dtype=bool), np.zeros((x.size, x.size), bool)
    matrix = np.diag(singular * (1.0 - np.log(size / 2.0)))
    for node, weight in zip(*np.polynomial.legendre.leggauss(4), strict=True):
        shift = 0.5 * size * node
        xs, ys = x + shift * flat, y + shift * (1.0 - flat)
        value = kernel(x[:, None], y[:, None], xs, ys, own)
        if gap is not None:
            value = value + (-1.0 if odd else 1.0) * kernel(x[:, None], y[:, None], -xs, ys, no)
        matrix += 0.5 * weight * value
    return np.linalg.solve(matrix, np.ones(x.size))


def _outline(gap: float | None, width: float, y0: float, thickness: float, cells: int) -> Cells:
    """Cells of a rectangle at height y0, or of a flat strip where its thickness is 0."""
    x0 = -width / 2.0 if gap is None else gap / 2.0
    x, size = _cosine(x0, x0 + width, cells)
    flat = Cells(x, np.full(cells, y0), size, np.ones(cells))
    if thickness == 0.0:
        return flat
    side = cells // 2
    y, tall = _cosine(y0, y0 + thickness, side)
    edges = [Cells(np.full(side, at), y, tall, np.zeros(side)) for at in (x0, x0 + width)]
    faces = [flat, flat._replace(y=np.full(cells, y0 + thickness))]
    return Cells(*(np.concatenate(parts) for parts in zip(*faces, *edges, strict=True)))


def _cosine(a: float, b: float, cells: int) -> tuple[np.ndarray, np.ndarray]:
    borders = a + (b - a) * 0.5 * (1.0 - np.cos(np.pi * np.arange(cells + 1) / cells))
    return 0.5 * (borders[1:] + borders[:-1]), np.diff(borders)
