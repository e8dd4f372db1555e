"""Edges cut into panels with Legendre nodes, graded towards their ends.

Towards a corner the charge grows as a power of the distance; panels that shrink by a constant factor follow it with few
nodes. All corners of metal get the same smallest panel: where edges of unequal panels meet at the end of a border on
metal, the error is several times larger; and on a thin trace, only panels that face one another tell how much of the
charge is on its foot and how much on its top, which have different dielectrics before them.
"""

from functools import cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from workbench.arrays import Complexes, Floats
from workbench.parts.section.outline import BORDER, Outline

Indices = npt.NDArray[np.intp]

_GROWTH = 3.0
_MIDDLE = 3.0
"""A middle panel larger than this many of its neighbours is split."""


class Panels(NamedTuple):
    """A discretised outline; p panels of q nodes, n = p q nodes, those of panel k at k q to k q + q - 1.

    Attributes:
        nodes: where the charge is known, m, complex, shape (n,).
        weight_m: the length that each node stands for, m, shape (n,).
        centre, half: of each panel: its middle and the vector to its end, m, complex, shape (p,).
        owner: of each node: the trace that it lies on, GROUND or BORDER, shape (n,).
        left, right: of each node: the materials on either side, shape (n,).
        corner: metal's angle (radian) at the corner that a panel ends in, 0 where it ends in none, shape (p,).
        order: q.
    """

    nodes: Complexes
    weight_m: Floats
    centre: Complexes
    half: Complexes
    owner: Indices
    left: Indices
    right: Indices
    corner: Floats
    order: int

    def normals(self) -> Complexes:
        """Unit vectors from the right to the left of each node's edge, complex, shape (n,)."""
        return np.repeat(1j * self.half / np.abs(self.half), self.order)

    def metal_and_border(self) -> tuple[Indices, Indices]:
        """Numbers of the nodes on metal, and of those on borders of dielectrics; shape (k,) each."""
        return np.flatnonzero(self.owner != BORDER), np.flatnonzero(self.owner == BORDER)

    def joined(self, other: "Panels") -> "Panels":
        """These panels and then the other's, of the same order."""
        return Panels(
            np.concatenate([self.nodes, other.nodes]),
            np.concatenate([self.weight_m, other.weight_m]),
            np.concatenate([self.centre, other.centre]),
            np.concatenate([self.half, other.half]),
            np.concatenate([self.owner, other.owner]),
            np.concatenate([self.left, other.left]),
            np.concatenate([self.right, other.right]),
            np.concatenate([self.corner, other.corner]),
            self.order,
        )

    def mirrored(self) -> "Panels":
        """The same panels, in the same order, at -x."""
        return self._replace(nodes=-self.nodes.conj(), centre=-self.centre.conj(), half=-self.half.conj())


class Rule(NamedTuple):
    """Gauss' rule on -1 to 1: nodes and weights, shape (q,), and the powers' coefficients of each node's polynomial.

    ``basis[k, a]`` multiplies the k-th power in the polynomial that is 1 at node a and 0 at the others.
    """

    at: Floats
    weight: Floats
    basis: Floats


@cache
def rule(order: int) -> Rule:
    """The rule of `order` nodes.

    Nodes are eigenvalues of the three-term recurrence of Legendre's polynomials, weights twice the squared first
    components of its eigenvectors: G. H. Golub and J. H. Welsch, "Calculation of Gauss quadrature rules", Mathematics
    of Computation 23, 1969, 221-230. (numpy has the rule in a package whose import takes longer than a section.)
    """
    k = np.arange(1.0, order)
    beside = k / np.sqrt(4.0 * k**2 - 1.0)
    at, vectors = np.linalg.eigh(np.diag(beside, 1) + np.diag(beside, -1))
    weight = 2.0 * vectors[0] ** 2
    return Rule(at, weight, np.linalg.inv(np.vander(at, increasing=True)))


def panels_of(outline: Outline, order: int) -> Panels:
    """All edges of an outline in panels of `order` nodes."""
    starts: list[complex] = []
    ends: list[complex] = []
    edges: list[int] = []
    corners: list[float] = []
    for number, edge in enumerate(outline.edges):
        length = abs(edge.end - edge.start)
        at = np.concatenate([[0.0], np.cumsum(sizes(length, edge.first_m, edge.last_m))])
        at *= 1.0 / at[-1]
        points = edge.start + (edge.end - edge.start) * at
        points[-1] = edge.end
        starts += points[:-1].tolist()
        ends += points[1:].tolist()
        edges += [number] * (at.size - 1)
        found = [0.0] * (at.size - 1)
        found[0] = edge.start_angle or found[0]
        found[-1] = edge.end_angle or found[-1]
        corners += found
    first, last = np.array(starts), np.array(ends)
    centre, half = 0.5 * (first + last), 0.5 * (last - first)
    at, weight, _ = rule(order)
    nodes = (centre[:, None] + half[:, None] * at).ravel()
    weights = (np.abs(half)[:, None] * weight).ravel()
    sides = np.array([(edge.owner, edge.left, edge.right) for edge in outline.edges])
    owner, left, right = np.repeat(sides[edges], order, axis=0).T
    return Panels(nodes, weights, centre, half, owner, left, right, np.array(corners), order)


def sizes(length_m: float, first_m: float | None, last_m: float | None) -> list[float]:
    """Panel sizes (m) along an edge of `length_m`, growing from both ends, or from the one whose size is given (m).

    An edge that is too short for its smallest panels is one panel, or two where only one end has a corner.
    """
    if first_m is None or last_m is None:
        small = first_m if first_m is not None else last_m
        found = _growing(length_m, small if small is not None else 0.1 * length_m)
        return found if first_m is not None else found[::-1]
    ends: list[float] = []
    size, rest = min(first_m, last_m), length_m
    while rest >= 3.0 * size:
        ends.append(size)
        rest -= 2.0 * size
        size *= _GROWTH
    parts = 2 if ends and rest > _MIDDLE * ends[-1] else 1
    return [*ends, *[rest / parts] * parts, *ends[::-1]]


def _growing(length_m: float, size_m: float) -> list[float]:
    found: list[float] = []
    rest = length_m
    while rest > size_m * (1.0 + _GROWTH):
        found.append(size_m)
        rest -= size_m
        size_m *= _GROWTH
    return [*found, rest]
