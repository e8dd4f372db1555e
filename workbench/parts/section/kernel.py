"""What a charge on the panels does at a point: potential and field, planes included by their images.

Over one plane a line charge has one image. Between two planes the images add up to
``G = (1/4 pi) ln[(sinh^2 k dx + sin^2 k(y + y')) / (sinh^2 k dx + sin^2 k(y - y'))]``, k = pi / 2b (the parallel-plate
region mapped onto a half plane: P. M. Morse, H. Feshbach, Methods of Theoretical Physics, 1953, section 10.2). Charge
is total charge over eps0, so that a potential comes in V m per m of charge and needs no permittivity.

Far panels are summed by their rule; near ones, and near images, by exact moments of the logarithm.
"""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.section import moments
from workbench.parts.section.panels import Indices, Panels, rule


class _Distances(NamedTuple):
    """Of m points from n nodes, shape (m, n) each.

    Attributes:
        along: difference in x, m.
        below, sums: difference and sum of heights, m; between planes the sines of k times these.
        direct, image: square of the distance, m^2; between planes the kernel's two terms, times ``4 exp(-2 k |dx|)``.
        fall: between planes ``exp(-2 k |dx|)``; not used over one.
    """

    along: Floats
    below: Floats
    sums: Floats
    direct: Floats
    image: Floats
    fall: Floats


class _Near(NamedTuple):
    """Pairs of a point and a panel that it, or its image, is near to.

    Attributes:
        sign: 1 for the charge itself, -1 for an image.
        seen_from: the point, or its image where it is the charge's image that is near, shape (m,).
        row, panel: numbers of point and panel, shape (m,).
        w: the place in half panels from the panel's middle, shape (m,).
    """

    sign: float
    seen_from: Complexes
    row: Indices
    panel: Indices
    w: Complexes

    def apart(self, panels: Panels) -> Complexes:
        """Vectors from the panel's nodes to the point, shape (m, q); 1 from a node to itself."""
        found = self.seen_from[:, None] - panels.nodes.reshape(-1, panels.order)[self.panel]
        found[found == 0.0] = 1.0
        return found


def potential(points: Complexes, panels: Panels, spacing_m: float | None) -> Floats:
    """Potential at `points` (m, complex, shape (m,)) of unit charge density at each node: shape (m, n), m.

    Args:
        points: where.
        panels: what carries the charge.
        spacing_m: distance between the planes, m; None over one.
    """
    far = _distances(points, panels.nodes, spacing_m)
    matrix = np.asarray(np.log(far.image / far.direct) * (panels.weight_m / (4.0 * math.pi)))
    size, weights = np.abs(panels.half), rule(panels.order).weight
    logs = np.log(size)
    blocks = matrix.reshape(points.size, panels.centre.size, panels.order)
    for near in _near(points, panels, spacing_m):
        apart = near.apart(panels)
        by_rule = 0.5 * np.log(apart.real**2 + apart.imag**2) - logs[near.panel, None]
        missing = moments.potentials(near.w, panels.order) - by_rule * weights
        blocks[near.row, near.panel] -= near.sign / (2.0 * math.pi) * missing * size[near.panel, None]
    return matrix


def normal_field(points: Complexes, normals: Complexes, panels: Panels, spacing_m: float | None) -> Floats:
    """Field along `normals` at `points`: shape (m, n); where a point lies on a panel, the mean of both sides.

    Args:
        points: where, m, complex, shape (m,).
        normals: unit vectors, complex, shape (m,).
        panels: what carries the charge.
        spacing_m: distance between the planes, m; None over one.
    """
    far = _distances(points, panels.nodes, spacing_m)
    inverse, inverse_image = 1.0 / far.direct, 1.0 / far.image
    across, upward = inverse - inverse_image, far.below * inverse
    if spacing_m is None:
        upward -= far.sums * inverse_image
        across *= far.along
        scale = 1.0 / (2.0 * math.pi)
    else:
        # coth(x + jy) = (sgn(x)(1 - q^2) - 2jq sin 2y) / D with q = exp(-2|x|), D = (1 - q)^2 + 4q sin^2 y.
        k = math.pi / (2.0 * spacing_m)
        sines = np.sin(k * points.imag)[:, None], np.sin(k * panels.nodes.imag)
        cosines = np.cos(k * points.imag)[:, None], np.cos(k * panels.nodes.imag)
        straight, round_ = cosines[0] * cosines[1], sines[0] * sines[1]
        upward *= straight + round_
        upward -= far.sums * (straight - round_) * inverse_image
        upward *= 4.0 * far.fall
        across *= np.copysign(1.0 - far.fall * far.fall, far.along)
        scale = k / (2.0 * math.pi)
    matrix = normals.real[:, None] * across + normals.imag[:, None] * upward
    matrix *= panels.weight_m * scale
    blocks = matrix.reshape(points.size, panels.centre.size, panels.order)
    size, weights = np.abs(panels.half), rule(panels.order).weight
    for near in _near(points, panels, spacing_m):
        apart = near.apart(panels)
        # Of a node on itself the rule's matrix has nothing, since its numerator is 0; here it would have 1.
        by_rule = np.where(apart == 1.0, 0.0, 1.0 / apart) * (weights * size[near.panel, None])
        missing = moments.fields(near.w, panels.order) * (size / panels.half)[near.panel, None] - by_rule
        seen = missing if near.sign > 0.0 else missing.conj()
        normal = normals[near.row, None]
        along = seen.real * normal.real - seen.imag * normal.imag
        blocks[near.row, near.panel] += near.sign / (2.0 * math.pi) * along
    return np.asarray(matrix)


def plane_squares(points: Complexes, sources: Complexes, spacing_m: float | None) -> Floats:
    """``int J_m J_n dx`` over the planes of the currents that unit charges at two places draw there: shape (m, n), 1/m.

    Over one plane the current under a charge at height y is Poisson's kernel, and two of them fold into the kernel of
    both heights. Between two planes it is the inverse transform of ``sinh k(b - y1) sinh k(b - y2) / sinh^2 kb``,
    summed over its double poles in closed form, for the lower plane, and the same upside down for the upper one.

    Args:
        points, sources: where the charges are, m, complex, shapes (m,) and (n,).
        spacing_m: distance between the planes, m; None over one.
    """
    apart = np.abs(points.real[:, None] - sources.real)
    both = points.imag[:, None] + sources.imag
    if spacing_m is None:
        return np.asarray(both / (apart**2 + both**2) / math.pi)
    b = spacing_m
    fall = np.exp(-math.pi / b * apart)
    theta = math.pi / b * points.imag[:, None], math.pi / b * sources.imag
    cosines, sines = tuple(map(np.cos, theta)), tuple(map(np.sin, theta))
    straight, cross = cosines[0] * cosines[1], sines[0] * sines[1]
    forth, back = sines[0] * cosines[1], cosines[0] * sines[1]
    # With T(c) = sum_(n > 0) exp(-n pi (x - j c) / b): c Im T + x Re T, for the difference of the heights ...
    cosine = straight + cross
    below = 1.0 - 2.0 * fall * cosine + fall * fall
    coincide = below < 1e-12
    value = (points.imag[:, None] - sources.imag) * (forth - back) + apart * (cosine - fall)
    total = np.where(coincide, b / math.pi, fall * value / np.where(coincide, 1.0, below))
    # ... less half of it for their sum, and for what the sum lacks of 2b, whose cosine is the same and sine opposite.
    cosine = straight - cross
    value = (both - b) * (forth + back) + apart * (cosine - fall)
    total -= fall * value / (1.0 - 2.0 * fall * cosine + fall * fall)
    return np.asarray(total / (b * b))


def _distances(points: Complexes, nodes: Complexes, spacing_m: float | None) -> _Distances:
    along = points.real[:, None] - nodes.real
    if spacing_m is None:
        below, sums = points.imag[:, None] - nodes.imag, points.imag[:, None] + nodes.imag
        squared = along * along
        direct, image = squared + below * below, squared + sums * sums
        itself, fall = 1.0, np.ones(1)
    else:
        k = math.pi / (2.0 * spacing_m)
        cross = np.multiply.outer(np.sin(k * points.imag), np.cos(k * nodes.imag))
        back = np.multiply.outer(np.cos(k * points.imag), np.sin(k * nodes.imag))
        below, sums = cross - back, cross + back
        fall = np.exp(-2.0 * k * np.abs(along))
        squared, four = (1.0 - fall) ** 2, 4.0 * fall
        direct, image = squared + four * below * below, squared + four * sums * sums
        itself = (2.0 * k) ** 2
    # Of a node from itself: what leaves its own logarithm at 0.
    direct[direct == 0.0] = itself
    return _Distances(along, below, sums, direct, image, fall)


def _near(points: Complexes, panels: Panels, spacing_m: float | None) -> Iterator[_Near]:
    """Points near a panel, then those near its images, each as the point's own image sees the panel."""
    if points.size == 0:
        return
    size, height = np.abs(panels.half), panels.centre.imag
    lowest, highest = points.imag.min(), points.imag.max()
    # A mirrored panel is near few points, and most panels are too far from a plane for a point to be near their image.
    level = (points.real.min() - panels.centre.real < moments.REACH * size) & (
        panels.centre.real - points.real.max() < moments.REACH * size
    )
    images = [(1.0, points, np.flatnonzero(level))]
    images.append((-1.0, points.conj(), np.flatnonzero(level & (height + lowest < moments.REACH * size))))
    if spacing_m is not None:
        far = 2.0 * spacing_m - height - highest
        images.append((-1.0, points.conj() + 2j * spacing_m, np.flatnonzero(level & (far < moments.REACH * size))))
    for sign, seen_from, among in images:
        if among.size == 0:
            continue
        w = (seen_from[:, None] - panels.centre[among]) * (1.0 / panels.half[among])
        near = (np.abs(w.real) < moments.NEAR_ALONG) & (np.abs(w.imag) < moments.NEAR_ACROSS)
        row, column = np.nonzero(near)
        if row.size:
            yield _Near(sign, seen_from[row], row, among[column], w[row, column])
