"""What is known of the symbols that a line code has sent before, given the state that it is in now.

Old cursors are small and many: of their sum only mean and variance are wanted, and these follow from how symbols of the
code hang together in pairs, which is found once for each code.
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.codes.machine import Machine

_TOLD = 30
"""So many symbols back the state says something about them; of 8b/10b, to one part in two thousand."""
_LAGS = 24
"""Symbols further apart than that hang together as little."""


class Past(NamedTuple):
    """Symbols by how long ago they were sent, 0 for the one that leads into the state.

    Attributes:
        mean: of each, given the state, shape (told, S).
        product: mean product of each with one that is older by a lag, given the state, shape (told, S, lags).
        far: the same for symbols that are older still, by the place in a word that the first leads to, (places, lags).
        place: the place in a word of each state, shape (S,).
    """

    mean: Floats
    product: Floats
    far: Floats
    place: Integers

    def moments(self, cursors_v: Floats) -> tuple[Floats, Floats]:
        """Mean, V, and variance, V^2, of the sum of cursors times symbols, given the state, shape (S, P) each.

        Args:
            cursors_v: V, shape (P, n), the newest first.
        """
        told = min(self.mean.shape[0], cursors_v.shape[1])
        mean = self.mean[:told].T @ cursors_v[:, :told].T
        square = self._square(cursors_v, told) + self._far_square(cursors_v, told)[self.place]
        return mean, np.maximum(square - mean**2, 0.0)

    def _square(self, cursors_v: Floats, told: int) -> Floats:
        """Mean square, twice each pair, of the pairs whose newer symbol the state tells about, shape (S, P)."""
        lags = self.far.shape[1]
        pairs = _pairs(cursors_v[:, : told + lags], lags)[:, :told]
        return np.asarray(np.tensordot(self.product[:told], pairs, axes=((2, 0), (0, 1))))

    def _far_square(self, cursors_v: Floats, told: int) -> Floats:
        """Mean square of all other pairs, by the state's place in a word, shape (places, P)."""
        places, lags = self.far.shape
        pairs = _pairs(cursors_v[:, told:], lags)
        whole = max(-(-pairs.shape[1] // places), 1)
        padded = np.zeros((lags, whole * places, pairs.shape[2]))
        padded[:, : pairs.shape[1]] = pairs
        together = padded.reshape(lags, whole, places, pairs.shape[2]).sum(axis=1)
        place = (np.arange(places)[:, None] - told - np.arange(places)) % places
        return np.asarray(np.tensordot(self.far[place], together, axes=((1, 2), (1, 0))))


def _pairs(cursors_v: Floats, lags: int) -> Floats:
    """Products of each cursor with the one a lag behind it, doubled where these are two, shape (lags, n, P)."""
    columns = np.ascontiguousarray(cursors_v.T)
    out = np.zeros((lags, *columns.shape))
    np.square(columns, out=out[0])
    twice = 2.0 * columns
    for lag in range(1, min(lags, columns.shape[0])):
        np.multiply(twice[:-lag], columns[lag:], out=out[lag, :-lag])
    return out


@lru_cache(maxsize=16)
def past_of(machine: Machine) -> Past:
    """What a code's states tell about the symbols before."""
    share, states = machine.stationary(), machine.states
    weight = share[machine.source] * machine.chance / share[machine.target]
    back: Floats = np.zeros((states, states))
    np.add.at(back, (machine.target, machine.source), weight)
    means = [_into(machine, weight * machine.symbol)]
    for _ in range(max(_TOLD, _LAGS)):
        means.append(back @ means[-1])
    lagged: list[Floats] = [np.ones(states)]
    for older in means[: _LAGS - 1]:
        lagged.append(_into(machine, weight * machine.symbol * older[machine.source]))
    products = [np.stack(lagged, axis=1)]
    for _ in range(_TOLD - 1):
        products.append(back @ products[-1])
    by_place = (machine.place == np.arange(machine.places)[:, None]) * share
    far = by_place @ products[0] / by_place.sum(axis=1, keepdims=True)
    return Past(np.array(means[:_TOLD]), np.array(products), far, machine.place)


def _into(machine: Machine, worth: Floats) -> Floats:
    """What the transitions into each state are worth together, shape (S,)."""
    out: Floats = np.zeros(machine.states)
    np.add.at(out, machine.target, worth)
    return out
