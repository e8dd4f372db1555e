"""Terms of a sample that are small next to its Gaussian part: they go in together, as cumulants at the tilt in use.

Far down a tail the tilt makes up the symbols' minds: a small cursor has then hardly any spread left, and a boundary
moves only where the worst sequence has a transition. So each term counts with its own moment generating function at
the tilt, which is exact for the weight of the tail, and only its course along ``u`` is taken for that of its first four
cumulants there.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.engine.tails.boundaries import Displaced, Levels, Windows


class Cumulants(NamedTuple):
    """Logarithm of a moment generating function at tilts theta and its first four derivatives there, shape (P,) each.

    Units: none, V, V^2, V^3, V^4.
    """

    log_mean: Floats
    mean_v: Floats
    variance: Floats
    third: Floats
    fourth: Floats


class Moved(NamedTuple):
    """J small boundaries.

    Attributes:
        windows: the combinations of symbols about one.
        around_v: cursors of these symbols, oldest first, shape (w, J, P); 0 beyond the window in time.
        known: their levels where they are given, else nan; shape (w, J, P).
        displaced: what the displacements do.
    """

    windows: Windows
    around_v: Floats
    known: Floats
    displaced: Displaced


class Rest(NamedTuple):
    """Small cursors, shape (P, n), of symbols with equally likely `levels`, and small displacements if any."""

    cursors_v: Floats
    levels: Levels
    moved: Moved | None = None

    def rows(self, phases: Integers) -> "Rest":
        """The rest at some phases, which an array of shape (k,) numbers."""
        moved = self.moved
        if moved is not None:
            weight, change, spread = moved.displaced
            some = Displaced(weight, change[..., phases], spread[..., phases])
            around_v, known = moved.around_v[..., phases], moved.known[..., phases]
            moved = moved._replace(around_v=around_v, known=known, displaced=some)
        return self._replace(cursors_v=self.cursors_v[phases], moved=moved)


def known_levels(given: Mapping[int, float | Floats], columns: Sequence[int], phases: int) -> Floats:
    """Levels of the symbols in some columns where they are given, else nan; shape (J, P)."""
    found = np.full((len(columns), phases), np.nan)
    for row, column in enumerate(columns):
        if column in given:
            found[row] = given[column]
    return found


def rest_of(
    cursors_v: Floats,
    levels: Levels,
    *,
    small: list[int],
    around: Integers,
    given: Mapping[int, float | Floats],
    windows: Windows,
    displaced: Displaced,
) -> Rest:
    """The rest of a sample.

    Args:
        cursors_v: all cursors, V, shape (P, K).
        levels: symbol levels.
        small: the columns that are small.
        around: columns of the symbols about each small boundary, oldest first, shape (J, w).
        given: levels of known symbols, by column.
        windows: their combinations.
        displaced: what the small boundaries' displacement does.
    """
    inside = (around >= 0) & (around < cursors_v.shape[1])
    around_v = np.where(inside, cursors_v[:, np.where(inside, around, 0)], 0.0)
    around_v = around_v.transpose(2, 1, 0)
    known = known_levels(given, around.T.ravel().tolist(), cursors_v.shape[0]).reshape(around_v.shape)
    moved = Moved(windows, around_v, known, displaced)
    return Rest(cursors_v[:, small], levels, moved)


def tilted(rest: Rest, theta: Floats) -> Cumulants:
    """Cumulants of all the rest at tilts theta, shape (P,).

    The symbols about a boundary are taken as independent of each other, each tilted by its own cursor.
    """
    found = _of_cursors(rest, theta)
    if rest.moved is None:
        return found
    return Cumulants(*(one + other for one, other in zip(found, _of_boundaries(rest, rest.moved, theta), strict=True)))


def _of_cursors(rest: Rest, theta: Floats) -> Cumulants:
    levels = np.array(rest.levels)[:, None, None]
    turned = theta[:, None] * rest.cursors_v * levels
    most = turned.max(axis=0, initial=0.0)
    power = np.exp(turned - most)
    total = power.sum(axis=0)
    power /= total
    mean = (levels * power).sum(axis=0)
    aside = levels - mean
    second, third, fourth = ((aside**n * power).sum(axis=0) for n in (2, 3, 4))
    cursors = rest.cursors_v
    return Cumulants(
        (np.log(total / levels.size) + most).sum(axis=1),
        (cursors * mean).sum(axis=1),
        (cursors**2 * second).sum(axis=1),
        (cursors**3 * third).sum(axis=1),
        (cursors**4 * (fourth - 3.0 * second**2)).sum(axis=1),
    )


def _chances(moved: Moved, levels: Levels, theta: Floats) -> Floats:
    """Probability, tilted, of each step and kind at each boundary, shape (J, S, P)."""
    level = np.array(levels)[:, None, None, None]
    turned = level * (theta * moved.around_v)
    power = np.exp(turned - turned.max(axis=0))
    each = np.where(np.isnan(moved.known), power / power.sum(axis=0), level == moved.known)
    windows = moved.windows
    combined = np.ones((windows.which.size, *each.shape[2:]))
    for place in range(windows.symbols):
        combined *= each[windows.levels[:, place], place]
    alike = windows.which == np.arange(windows.step.size)[:, None]
    return np.asarray(np.einsum("sw,wjp->jsp", alike.astype(float), combined))


def _of_boundaries(rest: Rest, moved: Moved, theta: Floats) -> Cumulants:
    """Cumulants of mixtures of Gaussians: a part for each driven step and kind and each part of the displacement."""
    windows, displaced = moved.windows, moved.displaced
    step = windows.step[:, None, None]
    weight = _chances(moved, rest.levels, theta)[:, :, None] * displaced.weight[windows.kind, :, None]
    mean = step * displaced.change_v[:, windows.kind]
    variance = (step * displaced.spread_v[:, windows.kind]) ** 2
    centre = theta * variance
    exponent = theta * (mean + 0.5 * centre)
    most = exponent.max(axis=(1, 2), keepdims=True)
    weight *= np.exp(exponent - most)
    total = weight.sum(axis=(1, 2), keepdims=True)
    weight /= total
    centre += mean

    def summed(part: Floats) -> Floats:
        return np.asarray(np.einsum("jscp,jscp->jp", weight, part))

    first = summed(centre)
    aside = centre - first[:, None, None]
    square = aside**2
    second = summed(square + variance)
    third = summed(aside * (square + 3.0 * variance))
    fourth = summed(square * (square + 6.0 * variance) + 3.0 * variance**2)
    log_mean = np.log(total[:, 0, 0]) + most[:, 0, 0]
    columns = (log_mean, first, second, third, fourth - 3.0 * second**2)
    return Cumulants(*(column.sum(axis=0) for column in columns))
