"""Steps at any instants, as samples of a band-limited wave.

A step between two samples is spread over the six next to it with a smooth kernel, the samples are summed up, and the
filter that follows divides by the kernel's spectrum: the method of nonuniform fast Fourier transforms (A. Dutt,
V. Rokhlin, SIAM J. Sci. Comput. 14(6), 1993, 1368-1393) with the kernel of A. H. Barnett, J. Magland, L. af Klinteberg
(SIAM J. Sci. Comput. 41(5), 2019, C479-C504). Instants are rounded to 1/8192 sample. Up to a quarter of the sampling
rate a step's spectrum is right to 2e-4 of itself, up to `USABLE` to 1e-3; little of a lane's pulse is left there.
"""

import numpy as np

from workbench.arrays import Complexes, Floats, Samples

WIDTH = 6
USABLE = 0.34
"""Highest frequency that the samples carry, over the sampling rate."""
_BETA = 0.976 * np.pi * WIDTH * (1.0 - USABLE)
_PLACES = 8192
_NODES = 40



def _kernel(x: Floats) -> Floats:
    """At distances `x` in samples: ``exp(beta (sqrt(1 - (2x/w)^2) - 1))``, zero beyond w/2."""
    inside = np.maximum(1.0 - (2.0 * x / WIDTH) ** 2, 0.0)
    return np.asarray(np.where(np.abs(x) <= WIDTH / 2.0, np.exp(_BETA * (np.sqrt(inside) - 1.0)), 0.0))


def _table() -> Floats:
    """Shares of a step on the samples next to it, by its place between two, shape (places, width); rows sum to 1."""
    place = (np.arange(_PLACES) + 0.5) / _PLACES
    weights = _kernel(np.arange(WIDTH) - (WIDTH / 2 - 1) - place[:, None])
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


_TABLE = np.ascontiguousarray(_table().T.astype(np.float32))
"""Shape (width, places)."""


def correction(f_per_rate: Floats) -> Complexes:
    """What turns the spectrum of summed samples into that of true steps, at frequencies over the sampling rate.

    Args:
        f_per_rate: shape (n,), from 0 to 0.5.

    Returns:
        ``sinc(x) exp(-j pi x)`` (a sum is no integral) over the kernel's spectrum, complex, shape (n,).
    """
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    x = (node + 1.0) * WIDTH / 4.0
    shape = weight * _kernel(x)
    spectrum = np.cos(2.0 * np.pi * np.outer(f_per_rate, x)) @ (shape / shape.sum())
    return np.asarray(np.sinc(f_per_rate) * np.exp(-1j * np.pi * f_per_rate) / spectrum)


class EdgeTrain:
    """Samples of a wave that is a sum of steps; each `push` goes on where the last one ended.

    Args:
        per_ui: samples a UI.
        reach_ui: how far, in UI, a step may lie before the block that it is pushed with, or after it.
        level: the wave's level before the first step.
    """

    def __init__(self, per_ui: int, reach_ui: float, level: float = 0.0) -> None:
        self._per_ui, self._level, self._reached = per_ui, level, level
        self.delay_ui = int(np.ceil(reach_ui + WIDTH / per_ui))
        """By how much, in UI, the samples lag behind the block that was pushed."""
        self._left = np.zeros(0, np.float32)

    def push(self, start_ui: float, length_ui: int, time_ui: Floats, step: Floats) -> Samples:
        """The samples of `length_ui` UI from `start_ui` less `delay_ui` on.

        Args:
            start_ui: where the block starts, UI.
            length_ui: how many UI it has.
            time_ui: instants of its steps, UI, shape (n,); in any order.
            step: their heights, shape (n,).

        Returns:
            Shape (length_ui * per_ui,).
        """
        size = length_ui * self._per_ui
        place = (time_ui - (start_ui - self.delay_ui)) * self._per_ui
        at = place.astype(np.intp)
        row = ((place - at) * _PLACES).astype(np.intp)
        at -= WIDTH // 2 - 1
        step = step.astype(np.float32)
        rises = np.zeros(size + (2 * self.delay_ui + 1) * self._per_ui, np.float32)
        rises[: self._left.size] = self._left
        # Two steps next to the same sample must not overwrite each other.
        apart = bool((np.diff(at) > 0).all())
        for shares in _TABLE:
            share = shares[row] * step
            if apart:
                rises[at] += share
            else:
                np.add.at(rises, at, share)
            at += 1
        self._left = rises[size:].copy()
        rises[0] += np.float32(self._level)
        wave = np.cumsum(rises[:size], out=rises[:size])
        # Shares in single precision add up to their step but for rounding, which must not pile up from block to block.
        self._reached += float(step.sum(dtype=np.float64))
        self._level = self._reached - float(self._left.sum(dtype=np.float64))
        return wave
