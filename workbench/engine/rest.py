"""Terms of a sample that are small next to its Gaussian part: they go in together, as cumulants at the tilt in use.

Far down a tail the tilt makes up the symbols' minds: a small cursor has then hardly any spread left, and a boundary
moves only where the worst sequence has a transition. So each term counts with its own moment generating function at
the tilt, which is exact for the weight of the tail, and only its course along ``u`` is taken for that of its first four
cumulants there.
"""

from collections.abc import Mapping
from itertools import product
from typing import NamedTuple

import numpy as np

from workbench.engine.chain import Displaced, driven_step
from workbench.parts.twoport import Floats


class Cumulants(NamedTuple):
    """Logarithm of a moment generating function at tilts theta and its first four derivatives there, shape (P,) each.

    Units: none, V, V^2, V^3, V^4.
    """

    log_mean: Floats
    mean_v: Floats
    variance: Floats
    third: Floats
    fourth: Floats


class Rest(NamedTuple):
    """Small cursors and small displacements.

    Attributes:
        cursors_v: shape (P, n).
        boundaries: what each small boundary's displacement does, by column.
        around: cursors (shape (P,)) of the symbols that the small boundaries depend on, by column; 0 beyond the window.
        given: levels of known symbols, by column.
        levels: symbol levels.
        taps: (before, main, after) transmit taps.
    """

    cursors_v: Floats
    boundaries: Mapping[int, Displaced]
    around: Mapping[int, Floats]
    given: Mapping[int, float]
    levels: tuple[float, ...]
    taps: tuple[float, float, float]

    def rows(self, phases: np.ndarray) -> "Rest":
        """The rest at some phases."""
        return self._replace(
            cursors_v=self.cursors_v[phases],
            boundaries={
                j: known._replace(change_v=known.change_v[:, phases], spread_v=known.spread_v[:, phases])
                for j, known in self.boundaries.items()
            },
            around={j: cursor[phases] for j, cursor in self.around.items()},
        )


def tilted(rest: Rest, theta: Floats) -> Cumulants:
    """Cumulants of all the rest at tilts theta, shape (P,).

    The symbols about a boundary are taken as independent of each other, each tilted by its own cursor.
    """
    chances = {j: _chances(rest, j, theta) for j in rest.around}
    parts = [_of_cursors(rest, theta)]
    for boundary, displaced in rest.boundaries.items():
        parts.append(_of_boundary(_steps(rest, boundary, chances), displaced, theta))
    return Cumulants(*(np.asarray(sum(terms)) for terms in zip(*parts, strict=True)))


def window_of_symbols(boundary: int, taps: tuple[float, float, float]) -> range:
    """The symbols that decide a boundary's driven step, oldest first."""
    before, _, after = taps
    return range(boundary + 1 + bool(after), boundary - 1 - bool(before), -1)


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


def _chances(rest: Rest, column: int, theta: Floats) -> dict[float, Floats]:
    """Probability of each level of a symbol, tilted, shape (P,)."""
    if column in rest.given:
        return {rest.given[column]: np.ones(theta.size)}
    turned = theta * rest.around[column] * np.array(rest.levels)[:, None]
    power = np.exp(turned - turned.max(axis=0))
    return dict(zip(rest.levels, power / power.sum(axis=0), strict=True))


def _steps(rest: Rest, boundary: int, chances: Mapping[int, dict[float, Floats]]) -> dict[float, Floats]:
    """Probability of each driven step at a boundary, shape (P,)."""
    columns = window_of_symbols(boundary, rest.taps)
    found: dict[float, Floats] = {}
    for levels in product(*(chances[column] for column in columns)):
        step = round(driven_step(levels, rest.taps), 9)
        chance = np.prod([chances[column][level] for column, level in zip(columns, levels, strict=True)], axis=0)
        found[step] = found[step] + chance if step in found else chance
    return found


def _of_boundary(steps: dict[float, Floats], displaced: Displaced, theta: Floats) -> Cumulants:
    """Cumulants of a mixture of Gaussians: a part for each driven step and each part of the displacement."""
    step = np.array(list(steps))[:, None, None]
    chance = np.array(list(steps.values()))[:, None, :] * displaced.weight[:, None]
    mean, variance = step * displaced.change_v, (step * displaced.spread_v) ** 2
    exponent = theta * mean + 0.5 * theta**2 * variance
    most = exponent.max(axis=(0, 1))
    weight = chance * np.exp(exponent - most)
    total = weight.sum(axis=(0, 1))
    weight /= total
    centre = mean + theta * variance
    first = (weight * centre).sum(axis=(0, 1))
    aside = centre - first
    second = (weight * (aside**2 + variance)).sum(axis=(0, 1))
    third = (weight * (aside**3 + 3.0 * aside * variance)).sum(axis=(0, 1))
    fourth = (weight * (aside**4 + 6.0 * aside**2 * variance + 3.0 * variance**2)).sum(axis=(0, 1))
    return Cumulants(np.log(total) + most, first, second, third, fourth - 3.0 * second**2)
