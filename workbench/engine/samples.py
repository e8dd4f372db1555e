"""A received sample as a sum of independent and of chained terms.

The sample is ``sum a_j c_j + noise + sum D_j x_j``: symbols a_j times the pulse's cursors c_j, Gaussian noise, and for
each symbol boundary the driven step D_j times what its displacement in time changes. What is small goes in together,
through its cumulants; what is large goes in by itself.
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from workbench.engine.chain import Chain, Displaced, driven_steps
from workbench.parts.twoport import Floats

Integers = npt.NDArray[np.int64]

NRZ = (-1.0, 1.0)

_SMALL_PER_SIGMA = 0.3
"""What is below this share of the Gaussian part's sigma, at every phase, goes in with it."""
_SMALL_EDGE_PER_SIGMA = 0.4
_PLAIN_EDGE_PER_SIGMA = 0.6
"""Below this share the displacement of a chained boundary counts as one Gaussian, given its step."""


class Edges(NamedTuple):
    """What displacements of the symbol boundaries do to the sample.

    Attributes:
        slope_v_per_s: slope of the response to a unit driven step at boundary j, shape (P, K).
        moments: mean square (s^2) and mean fourth power (s^4) of the displacement.
        displaced: for a boundary j, what its displacement does to the sample for a unit step.
        taps: (before, main, after) transmit taps that make a boundary's driven step from its transitions.
    """

    slope_v_per_s: Floats
    moments: tuple[float, float]
    displaced: Callable[[int], Displaced]
    taps: tuple[float, float, float] = (0.0, 1.0, 0.0)


class Sample(NamedTuple):
    """One received sample at P phases.

    Attributes:
        cursors_v: shape (P, K), the newest symbol first.
        given: levels of symbols that are known, by column.
        noise_v: rms Gaussian noise, shape (P,).
        edges: displaced boundaries; boundary j is where symbol j starts. None without jitter.
        levels: symbol levels.
    """

    cursors_v: Floats
    given: dict[int, float]
    noise_v: Floats
    edges: Edges | None = None
    levels: tuple[float, ...] = NRZ


def sample_rows(sample: Sample, phases: Integers) -> Sample:
    """The sample at some of its phases."""
    edges = sample.edges
    if edges is not None:
        displaced = edges.displaced

        def some(boundary: int) -> Displaced:
            known = displaced(boundary)
            return known._replace(change_v=known.change_v[:, phases], spread_v=known.spread_v[:, phases])

        edges = edges._replace(slope_v_per_s=edges.slope_v_per_s[phases], displaced=some)
    return sample._replace(cursors_v=sample.cursors_v[phases], noise_v=sample.noise_v[phases], edges=edges)


def negated(sample: Sample) -> Sample:
    """The sample times -1: its lower tail is the upper tail of the original."""
    edges = sample.edges
    if edges is not None:
        displaced = edges.displaced

        def flipped(boundary: int) -> Displaced:
            known = displaced(boundary)
            return known._replace(change_v=-known.change_v)

        edges = edges._replace(displaced=flipped)
    return sample._replace(cursors_v=-sample.cursors_v, edges=edges)


class Split(NamedTuple):
    """Columns treated one by one, boundaries treated by matrices, and the cumulants of all the rest.

    At a `plain` boundary the displacement counts as one Gaussian, given its step.
    """

    large: list[int]
    boundaries: range
    plain: frozenset[int]
    variance: Floats
    fourth: Floats
    edge_variance: Floats

    def rows(self, phases: Integers) -> "Split":
        """The split at some phases."""
        return self._replace(
            variance=self.variance[phases], fourth=self.fourth[phases], edge_variance=self.edge_variance[phases]
        )


def split_of(sample: Sample) -> Split:
    """Small cursors and edges go in together, as cumulants: next to those below they hardly differ from Gaussian."""
    cursors = sample.cursors_v
    columns = cursors.shape[1]
    levels = np.array(sample.levels)
    kappa2 = float(np.mean(levels**2))
    kappa4 = float(np.mean(levels**4)) - 3.0 * kappa2**2
    square = cursors**2
    edge_variance, edge_fourth = _edge_cumulants(sample)
    both = np.concatenate([kappa2 * square, edge_variance], axis=1)
    size = np.sqrt(both.max(axis=0))
    size[columns:] *= _SMALL_PER_SIGMA / _SMALL_EDGE_PER_SIGMA
    size[list(sample.given)] = np.inf
    order = np.argsort(size, kind="stable")
    below = np.cumsum(both[:, order], axis=1).min(axis=0) - both[:, order].max(axis=0)
    gaussian = float((sample.noise_v**2).min()) + np.maximum(below, 0.0)
    fits = np.nonzero(size[order] <= _SMALL_PER_SIGMA * np.sqrt(gaussian))[0]
    small = np.zeros(2 * columns, bool)
    small[order[: int(fits[-1]) + 1 if fits.size else 0]] = True
    small[columns:] |= size[columns:] == 0.0
    small_cursors, small_edges = small[:columns], small[columns:]
    significant = np.nonzero(~small_edges)[0]
    boundaries = range(int(significant[0]), int(significant[-1]) + 1) if significant.size else range(0)
    apart = np.ones(columns, bool)
    apart[boundaries.start : boundaries.stop] = False
    chained = symbols_of(boundaries, sample, columns)
    small_cursors[chained.start : chained.stop] = False
    variance = sample.noise_v**2 + kappa2 * square[:, small_cursors].sum(axis=1) + edge_variance[:, apart].sum(axis=1)
    fourth = kappa4 * (square[:, small_cursors] ** 2).sum(axis=1) + edge_fourth[:, apart].sum(axis=1)
    edge_size = np.sqrt(edge_variance.max(axis=0))
    limit = _PLAIN_EDGE_PER_SIGMA * np.sqrt(float(variance.min()))
    plain = frozenset(j for j in boundaries if edge_size[j] <= limit)
    large = np.nonzero(~small_cursors)[0].tolist()
    return Split(large, boundaries, plain, variance, fourth, edge_variance.sum(axis=1))


def _edge_cumulants(sample: Sample) -> tuple[Floats, Floats]:
    """Variance and fourth cumulant that each boundary's displacement adds to first order, shape (P, K) each.

    The driven step is taken as independent of the other symbols, which holds for what is small.
    """
    if sample.edges is None:
        return np.zeros_like(sample.cursors_v), np.zeros_like(sample.cursors_v)
    steps = np.array(driven_steps(sample.levels, sample.edges.taps))
    square_s2, fourth_s4 = sample.edges.moments
    slope_square = sample.edges.slope_v_per_s**2
    variance = float(np.mean(steps**2)) * square_s2
    fourth = float(np.mean(steps**4)) * fourth_s4 - 3.0 * variance**2
    return variance * slope_square, fourth * slope_square**2


def symbols_of(boundaries: range, sample: Sample, columns: int) -> range:
    """The columns of the symbols that a range of boundaries depends on."""
    if not boundaries or sample.edges is None:
        return range(0)
    before, _, after = sample.edges.taps
    first = boundaries.start - (1 if before else 0)
    last = boundaries.stop + (1 if after else 0)
    return range(max(first, 0), min(last, columns - 1) + 1)


def chain_of(sample: Sample, split: Split) -> Chain:
    """What the transfer matrices and scalar products multiply."""
    edges = sample.edges
    symbols = symbols_of(split.boundaries, sample, sample.cursors_v.shape[1])
    displaced: dict[int, Displaced] = {}
    if edges is not None:
        for j in split.boundaries:
            known = edges.displaced(j)
            displaced[j] = known.as_one() if j in split.plain else known
    return Chain(
        cursors_v={j: sample.cursors_v[:, j] for j in split.large},
        given=sample.given,
        levels=sample.levels,
        symbols=symbols,
        boundaries=split.boundaries,
        displaced=displaced,
        taps=edges.taps if edges is not None else (0.0, 1.0, 0.0),
    )
