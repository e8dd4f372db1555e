"""A two-dimensional moment method for strips, written apart from the program: charge on small cells, point matching.

The potential of a line charge is taken exactly: between two planes by the conformal map of the parallel-plate region
(P. M. Morse, H. Feshbach, Methods of Theoretical Physics, 1953, section 10.2: ln tanh), over a grounded slab by the
image series (P. Silvester, Proc. IEE 115(1), 1968, 43-48). Cells are graded towards corners.
"""

import numpy as np

EPS0 = 8.8541878188e-12
LIGHT = 299_792_458.0


def _edge(a: float, b: float, cells: int) -> np.ndarray:
    """Cell borders from a to b, fine at both ends (the cosine rule that edge singularities ask for)."""
    return a + (b - a) * 0.5 * (1.0 - np.cos(np.pi * np.arange(cells + 1) / cells))


def _box(x0: float, y0: float, width: float, thickness: float, cells: int) -> tuple[np.ndarray, ...]:
    """Cells of a rectangle's outline, or of a flat strip where thickness is 0: centres (x, y), lengths, directions."""
    xs, side = _edge(x0, x0 + width, cells), max(cells // 2, 8)
    middle, size = 0.5 * (xs[1:] + xs[:-1]), np.diff(xs)
    along = np.ones_like(size)
    if thickness == 0.0:
        return middle, np.full_like(middle, y0), size, along
    ys = _edge(y0, y0 + thickness, side)
    tall, height = 0.5 * (ys[1:] + ys[:-1]), np.diff(ys)
    x = np.concatenate([middle, middle, np.full(side, x0), np.full(side, x0 + width)])
    y = np.concatenate([np.full(cells, y0), np.full(cells, y0 + thickness), tall, tall])
    return x, y, np.concatenate([size, size, height, height]), np.concatenate([along, along, 0 * height, 0 * height])


def _capacitance(cells, potential, gap: float, odd: bool) -> float:
    """Capacitance per metre of one trace at 1 V, its mirror image at x < 0 at -1 V (gap < 0: no second trace)."""
    x, y, size, along = cells
    # The source cell is integrated by Gauss's rule; where source and observer are the same cell, ln r by hand.
    nodes, weights = np.polynomial.legendre.leggauss(4)
    sources = 0.5 * size[None, :] * nodes[:, None]
    matrix = np.zeros((x.size, x.size))
    for node, weight in zip(sources, weights, strict=True):
        xs, ys = x + node * along, y + node * (1.0 - along)
        r2 = (x[:, None] - xs) ** 2 + (y[:, None] - ys) ** 2
        own = np.eye(x.size, dtype=bool)
        free = -0.5 * np.log(np.where(own, 1.0, r2))
        value = free + potential(x[:, None], y[:, None], xs, ys)
        if gap >= 0.0:
            mirrored = potential(x[:, None], y[:, None], -xs, ys) - 0.5 * np.log(
                (x[:, None] + xs) ** 2 + (y[:, None] - ys) ** 2
            )
            value = value - mirrored if odd else value + mirrored
        matrix += 0.5 * weight * value
    matrix[np.diag_indices(x.size)] += 1.0 - np.log(size / 2.0)
    return float(np.linalg.solve(matrix / (2.0 * np.pi * EPS0), np.ones(x.size)).sum())


def between_planes(*, width, thickness, below, above, gap=-1.0, cells=60, odd=True) -> float:
    """Impedance in air, ohm, of one trace between planes; with `gap` the odd (or even) mode of a pair."""
    b = below + thickness + above

    def rest(x, y, xs, ys):
        # Potential between planes at 0 and b, less the free-space -ln r that is integrated apart.
        dx, q = np.abs(x - xs), np.pi / b
        minus = np.cosh(q * dx) - np.cos(q * (y - ys))
        plus = np.cosh(q * dx) - np.cos(q * (y + ys))
        r2 = (x - xs) ** 2 + (y - ys) ** 2
        safe = np.where(r2 > 0.0, r2, 1.0)
        near = np.where(r2 > 0.0, minus / safe, 0.5 * q**2)
        return 0.5 * np.log(plus / near)

    x0 = gap / 2.0 if gap >= 0.0 else -width / 2.0
    return 1.0 / (LIGHT * _capacitance(_box(x0, below, width, thickness, cells), rest, gap, odd))


def over_slab(*, width, thickness, height, permittivity, gap=-1.0, cells=60, odd=True, images=200):
    """Impedance (ohm) and effective permittivity of a trace on a slab; with `gap` the odd (or even) mode of a pair."""

    def of(er):
        kappa = (er - 1.0) / (er + 1.0)

        def rest(x, y, xs, ys):
            dx2, up = (x - xs) ** 2, y + ys - 2.0 * height
            value = np.zeros(np.broadcast_shapes(dx2.shape, up.shape))
            if kappa > 0.0:
                # On the slab's face the first image coincides with the charge itself: its cell is done with ln r.
                value += 0.5 * kappa * np.log(np.maximum(dx2 + up**2, 1e-40))
            factor = 1.0 - kappa**2
            for n in range(1, images):
                value += 0.5 * factor * np.log(dx2 + (up + 2.0 * n * height) ** 2)
                factor *= -kappa
                if abs(factor) < 1e-9:
                    break
            return value

        return rest

    x0 = gap / 2.0 if gap >= 0.0 else -width / 2.0
    box = _box(x0, height, width, thickness, cells)
    air = _capacitance(box, of(1.0), gap, odd)
    filled = _slab_capacitance(box, of(permittivity), gap, odd, height, permittivity)
    return 1.0 / (LIGHT * np.sqrt(air * filled)), filled / air


def _slab_capacitance(box, rest, gap, odd, height, er) -> float:
    """As `_capacitance`; cells on the slab's face see their own image too, so that ln r counts 1 - kappa times."""
    x, y, size, along = box
    kappa = (er - 1.0) / (er + 1.0)
    on_face = (y == height) & (along == 1.0)

    def corrected(xo, yo, xs, ys):
        value = rest(xo, yo, xs, ys)
        if xo.shape[0] == x.size and np.array_equal(np.sign(xs), np.sign(x)):
            own = np.diag(on_face)
            value = np.where(own, value - 0.5 * kappa * np.log(np.maximum((xo - xs) ** 2 + (yo + ys - 2 * height) ** 2, 1e-40))
                             - kappa * (1.0 - np.log(size / 2.0))[None, :], value)
        return value

    return _capacitance(box, corrected, gap, odd)
