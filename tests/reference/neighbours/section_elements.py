"""Finite elements for cross-sections, written apart from the program: nine-node quadrilaterals on blocks.

A section is cut into rows and columns of blocks; the lines between columns may lean, so that etched sides and a mask's
surface are block sides. Elements double from the corners of blocks, where the field may be singular, to their middle.
The capacitance matrix is the energy of the potentials, an upper bound that falls as the mesh is refined; what lies
around is a grounded box. Any one unit of length; capacitances over eps0.
"""

from typing import NamedTuple

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import splu

_AT, _WEIGHT = np.polynomial.legendre.leggauss(3)


class Blocks(NamedTuple):
    """Block corners and what the blocks are made of.

    Attributes:
        x: of line j at level k, shape (levels, lines).
        y: of each level.
        permittivity: of each block, shape (levels - 1, lines - 1); at metal it does not matter.
        metal: number of the conductor that a block is, -1 where it is none; same shape.
    """

    x: np.ndarray
    y: np.ndarray
    permittivity: np.ndarray
    metal: np.ndarray


def capacitances(blocks: Blocks, *, least: float, count: int) -> np.ndarray:
    """Capacitance matrix over eps0, shape (count, count).

    Args:
        blocks: the section; its outermost lines and levels are grounded.
        least: how large the smallest element at a corner is.
        count: how many conductors there are.
    """
    rows = [_cuts(size, least) for size in np.diff(blocks.y)]
    columns = [_cuts(float(size), least) for size in np.diff(blocks.x[0])]
    y = np.concatenate([[0.0], *(k + cut[1:] for k, cut in enumerate(rows))])
    x = np.concatenate([[0.0], *(j + cut[1:] for j, cut in enumerate(columns))])
    across, up = _halved(x), _halved(y)
    points = _places(blocks, across, up)
    # Places count blocks: the middle of an element, cut down to a whole number, is its block's.
    block_x, block_y = (0.5 * (x[1:] + x[:-1])).astype(int), (0.5 * (y[1:] + y[:-1])).astype(int)
    permittivity = blocks.permittivity[block_y[:, None], block_x]
    metal = blocks.metal[block_y[:, None], block_x]
    stiffness = _stiffness(points, permittivity * (metal < 0), x.size - 1, y.size - 1)
    held = np.full((up.size, across.size), -2)
    for number in range(count):
        for j, i in zip(*np.nonzero(metal == number), strict=True):
            held[2 * j : 2 * j + 3, 2 * i : 2 * i + 3] = number
    held[[0, -1], :] = -1
    held[:, [0, -1]] = -1
    return _energies(stiffness, held.ravel(), count)


def _energies(stiffness, held: np.ndarray, count: int) -> np.ndarray:
    diagonal = stiffness.diagonal()
    free = np.flatnonzero((held == -2) & (diagonal > 0.0))
    given = np.array([(held == number).astype(float) for number in range(count)]).T
    solution = given.copy()
    factor = splu(stiffness[free][:, free].tocsc())
    solution[free] = factor.solve(-(stiffness[free] @ given))
    return solution.T @ (stiffness @ solution)


def _cuts(size: float, least: float) -> np.ndarray:
    """Borders of a block's elements, from 0 to 1, twice as large from each end on."""
    parts, step, rest = [], least, size
    while rest - 2.0 * step > step:
        parts.append(step)
        rest -= 2.0 * step
        step *= 2.0
    middle = max(1, round(rest / step))
    whole = np.array([*parts, *[rest / middle] * middle, *parts[::-1]])
    cuts = np.concatenate([[0.0], np.cumsum(whole)]) / size
    cuts[-1] = 1.0
    return cuts


def _halved(cuts: np.ndarray) -> np.ndarray:
    found = np.empty(2 * cuts.size - 1)
    found[::2], found[1::2] = cuts, 0.5 * (cuts[1:] + cuts[:-1])
    return found


def _places(blocks: Blocks, across: np.ndarray, up: np.ndarray) -> np.ndarray:
    levels, lines = np.arange(blocks.y.size), np.arange(blocks.x.shape[1])
    y = np.interp(up, levels, blocks.y)
    at_levels = np.array([np.interp(across, lines, row) for row in blocks.x])
    x = np.array([np.interp(up, levels, column) for column in at_levels.T]).T
    return np.stack([x, np.broadcast_to(y[:, None], x.shape)], axis=-1)


def _shapes() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Derivatives of the nine shape functions at the nine points, shape (9, 9) each, and the points' weights."""
    def line(s):
        return np.array([0.5 * s * (s - 1.0), 1.0 - s * s, 0.5 * s * (s + 1.0)])

    def slope(s):
        return np.array([s - 0.5, -2.0 * s, s + 0.5])

    dx, dy, weights = [], [], []
    for v, wv in zip(_AT, _WEIGHT, strict=True):
        for u, wu in zip(_AT, _WEIGHT, strict=True):
            dx.append(np.outer(line(v), slope(u)).ravel())
            dy.append(np.outer(slope(v), line(u)).ravel())
            weights.append(wu * wv)
    return np.array(dx), np.array(dy), np.array(weights)


def _stiffness(points: np.ndarray, permittivity: np.ndarray, across: int, up: int):
    j, i = np.meshgrid(2 * np.arange(up), 2 * np.arange(across), indexing="ij")
    local = [(dj, di) for dj in range(3) for di in range(3)]
    width = points.shape[1]
    numbers = np.stack([(j + dj) * width + i + di for dj, di in local], axis=-1).reshape(-1, 9)
    place = points.reshape(-1, 2)[numbers]
    du, dv, weights = _shapes()
    total = np.zeros((numbers.shape[0], 9, 9))
    for a, b, weight in zip(du, dv, weights, strict=True):
        xu, yu = (place[:, :, 0] @ a), (place[:, :, 1] @ a)
        xv, yv = (place[:, :, 0] @ b), (place[:, :, 1] @ b)
        area = xu * yv - xv * yu
        gx = (yv[:, None] * a - yu[:, None] * b) / area[:, None]
        gy = (xu[:, None] * b - xv[:, None] * a) / area[:, None]
        scale = (weight * area * permittivity.ravel())[:, None, None]
        total += scale * (gx[:, :, None] * gx[:, None, :] + gy[:, :, None] * gy[:, None, :])
    rows, columns = np.repeat(numbers, 9, axis=1).ravel(), np.tile(numbers, (1, 9)).ravel()
    size = points.shape[0] * points.shape[1]
    return coo_matrix((total.ravel(), (rows, columns)), shape=(size, size)).tocsr()


class Layers(NamedTuple):
    """A section in plain numbers: lengths in any one unit, feet at `height`.

    Attributes:
        traces: left end and width of each foot, and the conductor's number; grounded ones are numbered last.
        height: of the feet over the plane.
        thickness, inset: of the traces; by how much each side leans inward.
        below: permittivity under the feet.
        beside: permittivity at the traces' level; of the mask where there is one.
        above: permittivity over the traces' tops, or over the mask.
        roof: height of the upper plane, or of the box's lid.
        reach: how far the box reaches out on either side of the traces.
        mask: thickness on the laminate and on traces, or None.
    """

    traces: tuple[tuple[float, float, int], ...]
    height: float
    thickness: float
    inset: float
    below: float
    beside: float
    above: float
    roof: float
    reach: float
    mask: tuple[float, float] | None = None


def blocks_of(layers: Layers) -> Blocks:
    """The blocks of a section."""
    h, t, inset, mask = layers.height, layers.thickness, layers.inset, layers.mask
    on_laminate, on_trace = mask if mask is not None else (0.0, 0.0)
    top = h + t + on_trace
    y = np.array([0.0, h, h + on_laminate, h + t, top, layers.roof] if mask else [0.0, h, h + t, layers.roof])
    lines, kinds = [], []
    for at, width, number in layers.traces:
        for foot, side, aside in ((at, 1.0, on_trace), (at + width, -1.0, -on_trace)):
            trace = foot + side * inset * np.clip((y - h) / t, 0.0, 1.0)
            surface = foot - aside + side * inset * np.clip((y - h) / (top - h), 0.0, 1.0)
            pair = [(surface, "side"), (trace, number)] if side > 0.0 else [(trace, "side"), (surface, "gap")]
            for line, kind in pair if mask else [(trace, number if side > 0.0 else "gap")]:
                lines.append(line)
                kinds.append(kind)
    first = layers.traces[0][0] - layers.reach
    last = layers.traces[-1][0] + layers.traces[-1][1] + layers.reach
    x = np.stack([np.full(y.size, first), *lines, np.full(y.size, last)], axis=1)
    kinds = ["gap", *kinds]
    permittivity = np.full((y.size - 1, x.shape[1] - 1), float(layers.above))
    metal = np.full(permittivity.shape, -1, int)
    for k in range(y.size - 1):
        for j, kind in enumerate(kinds):
            level = y[k + 1]
            if level <= h:
                permittivity[k, j] = layers.below
            elif level <= (h + on_laminate if mask else h + t) or (mask and kind != "gap" and level <= top):
                permittivity[k, j] = layers.beside
            if isinstance(kind, int) and h < y[k + 1] <= h + t:
                metal[k, j] = kind
    return Blocks(x, y, permittivity, metal)
