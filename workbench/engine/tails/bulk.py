"""The probability density of a received sample where it is not rare: humps, gaps between them, and some six decades.

The same moment generating function as in `tails`, summed along the imaginary axis itself: without a tilt every level
has the same absolute accuracy, so that gaps between humps, where no tail is small, come out as empty as they are.
Single precision carries seven decades.
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.engine.tails.chain import chain_product, phasors
from workbench.engine.tails.rest import tilted
from workbench.engine.tails.samples import Sample, Treated

_REACH = 7.0
"""Half the window, in standard deviations: what wraps around from beyond is below anything that is looked at."""
_BIN_PER_SIGMA = 0.6
"""At this many Gaussian sigmas a bin leaves out less than 1e-6."""
_FEWEST_BINS, _MOST_BINS = 256, 512
_BLOCK = 32


class Bulk(NamedTuple):
    """Density at each phase: the levels' edges in V, shape (N + 1,), and 1/V between them, shape (P, N)."""

    edge_v: Floats
    density: Floats

    def between(self, place: Floats, edge_v: Floats) -> Floats:
        """Mean density between levels, at and between phases; no probability is lost or made.

        Between two phases every share of the samples moves evenly from its level at one to its level at the other, so
        that an edge of the eye moves on rather than fades out here and in there.

        Args:
            place: where, as numbers of phases and parts of them, shape (C,).
            edge_v: the levels' edges, V, rising, shape (M + 1,).

        Returns:
            Shape (C, M), 1/V.
        """
        below = np.zeros((self.density.shape[0], self.edge_v.size))
        np.cumsum(self.density, axis=1, out=below[:, 1:])
        below /= below[:, -1:]
        near = np.clip(np.round(place).astype(int), 0, below.shape[0] - 1)
        ahead = np.clip(np.where(place < near, near - 1, near + 1), 0, below.shape[0] - 1)
        pairs = list(zip(near.tolist(), ahead.tolist(), strict=True))
        there = {pair: np.interp(below[pair[0]], below[pair[1]], self.edge_v) for pair in set(pairs)}
        found = np.empty((place.size, edge_v.size))
        for column, (pair, share) in enumerate(zip(pairs, np.abs(place - near).tolist(), strict=True)):
            level_v = self.edge_v + share * (there[pair] - self.edge_v)
            found[column] = np.interp(edge_v, level_v, below[pair[0]], left=0.0, right=1.0)
        return np.asarray(np.diff(found, axis=1) / np.diff(edge_v))


def bulk_of(seen: Treated, *, sketch: bool = False) -> Bulk:
    """The density at every phase, on levels that all phases share.

    Levels are at most `_MOST_BINS`; where the Gaussian part is narrower than they can show, it is widened to that.

    Args:
        seen: what is received.
        sketch: for a picture of the moment: no more levels than a picture shows, displacements in two parts each.
    """
    sample, split, chain = seen
    chain = chain.in_parts(2) if sketch else chain
    still = np.zeros(split.variance.size)
    rest = tilted(split.rest, still)
    levels = levels_of(sample, np.sqrt(split.variance + split.edge_variance), split.variance, sketch=sketch)
    step = np.full(still.size, levels.step)
    value, log_scale = chain_product(chain, still, step, levels.half, precise=False)
    u = step * np.arange(levels.half)[:, None]
    variance = levels.shown(rest.variance + split.variance)
    real = u**2 * (u**2 * (rest.fourth / 24.0) - 0.5 * variance)
    value = value * np.exp(np.minimum(real, 0.0) - 1j * u**3 * (rest.third / 6.0))
    value *= phasors(rest.mean_v, step, levels.half)
    return levels.density(value, log_scale + rest.log_mean)


class Levels(NamedTuple):
    """The levels that a density is found on: the lowest edge, V, the step between, V, and half their number."""

    low_v: float
    bin_v: float
    half: int

    @property
    def step(self) -> float:
        """The step along u, 1/V."""
        return float(np.pi / (self.half * self.bin_v))

    def shown(self, variance: Floats) -> Floats:
        """The Gaussian part's variance, V^2, as wide as the levels can show; the same shape."""
        return np.maximum(variance, (self.bin_v / _BIN_PER_SIGMA) ** 2)

    def density(self, value: Complexes, log_scale: Floats | float = 0.0) -> Bulk:
        """The density of a moment generating function along u, shape (half, P), over a factor."""
        phases = value.shape[1]
        spectrum = np.zeros((self.half + 1, phases), np.complex128)
        spectrum[: self.half] = value
        origin = np.full(phases, -(self.low_v + 0.5 * self.bin_v))
        spectrum[: self.half] *= phasors(origin, np.full(phases, self.step), self.half)
        scale = np.broadcast_to(np.exp(log_scale), phases)[:, None]
        density = np.fft.irfft(np.conjugate(spectrum.T), axis=1) * scale / self.bin_v
        return Bulk(self.low_v + self.bin_v * np.arange(2 * self.half + 1), np.maximum(density, 0.0))


def levels_of(sample: Sample, sigma: Floats, variance: Floats, *, sketch: bool) -> Levels:
    """The levels for a sample.

    Args:
        sample: what is received.
        sigma: rms of all that no symbol's cursor adds, V, shape (P,).
        variance: of the Gaussian part, V^2, shape (P,).
        sketch: no more levels than a picture shows.
    """
    low, high = _window(sample, sigma)
    bins = _bins(high - low, float(np.sqrt(variance.min())), _FEWEST_BINS if sketch else _MOST_BINS)
    return Levels(low, (high - low) / bins, bins // 2)


def _window(sample: Sample, sigma: Floats) -> tuple[float, float]:
    """The lowest and highest level that any phase reaches, V."""
    mean = np.zeros(sigma.size)
    for column, level in sample.given.items():
        mean = mean + level * sample.cursors_v[:, column]
    free = np.abs(sample.cursors_v[:, [j for j in range(sample.cursors_v.shape[1]) if j not in sample.given]])
    levels = np.array(sample.levels)
    # No symbols reach further than all against the sample at once; many small ones together never come so far.
    most = np.abs(levels).max() * free.sum(axis=1) + _REACH * sigma
    usual = _REACH * np.sqrt(sigma**2 + float(np.mean(levels**2)) * (free**2).sum(axis=1))
    reach = np.minimum(most, usual)
    return float((mean - reach).min()), float((mean + reach).max())


def _bins(width_v: float, sigma_v: float, most: int) -> int:
    wanted = width_v / max(_BIN_PER_SIGMA * sigma_v, width_v / most)
    return _BLOCK * int(np.ceil(np.clip(wanted, _FEWEST_BINS, most) / _BLOCK))
