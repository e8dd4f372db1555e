"""A received sample as a sum of independent and of chained terms.

The sample is ``sum a_j c_j + noise + sum D_j x_j``: symbols a_j times the pulse's cursors c_j, Gaussian noise, and for
each symbol boundary the driven step D_j times what its displacement in time changes. What is small goes in together,
through its cumulants; what is large goes in by itself.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Bools, Floats, Integers
from workbench.engine.tails.boundaries import Displaced, Taps, mean_square_step, windows_of
from workbench.engine.tails.chain import Batch, Chain, Link
from workbench.engine.tails.rest import Rest, known_levels, rest_of

NRZ = (-1.0, 1.0)

_QUIETEST = 3e-4
"""Noise is taken as at least this share of the largest cursor, which no receiver undercuts: what has none at all is a
staircase, and neither a tilt nor a Fourier sum can tell its steps."""
_LEAST_NOISE_V = 1e-9
"""Far below the noise of any resistor: where nothing of a signal arrives, the sample is not a point without a width."""
_TINY_PER_SIGMA = 0.05
"""What is below this share of the Gaussian part's sigma, at every phase, goes in with it."""
_TINY_TOGETHER = 3e-5
"""What all together is below this share of the largest goes in with the Gaussian part too: no level can tell."""
_SMALL_PER_SIGMA = 0.2
"""What is below this share of the sigma of all that is smaller goes in as cumulants at the tilt."""
_SMALL_EDGE_PER_SIGMA = 0.2
_TWO_PARTS_PER_SIGMA = 1.0
"""Below this share a boundary's displacement counts in two parts, however many it has."""
_MOST_PARTS = 1600
"""Parts of all displacements of all kinds together: after a nearly closed stage, without noise, so many boundaries
count that all their parts would take ten seconds."""
_MOST_BENT_PARTS = 400
"""The same of those that bend, whose parts are narrow: merged ones still tell how the step bends."""
_BENT_PER_SIGMA, _BENT = 0.25, 5e-3
"""A boundary that at its furthest misses its slope by less than that, of the Gaussian part's sigma or of the largest
cursor, goes on as it begins."""


class Far(NamedTuple):
    """What edges do that are displaced as far as their jitter reaches, for a unit driven step, shape (P, K) each.

    Attributes:
        square_v2: mean square of the change, V^2, as the largest change leaves it if that counts as many sigma.
        bend_v: by how much the change misses what the slope at no displacement says, V.
    """

    square_v2: Floats
    bend_v: Floats


class EdgeShifts(NamedTuple):
    """What displacements of the symbol boundaries do to the sample.

    Attributes:
        slope_v_per_s: slope of the response to a unit driven step at boundary j, shape (P, K).
        square_s2: mean square of the displacement, s^2.
        displaced: for boundaries, shape (J,), what their displacement does to the sample for a unit step.
        taps: (before, main, after) transmit taps that make a boundary's driven step from its transitions.
        kinds: how many kinds of displacement there are, by the symbols before the boundary.
        coarse: the same as `displaced` with each kind's parts made two before they are looked up, for boundaries that
            are small; None: they are made two after.
        far: what is known of large displacements; None: they go on as small ones begin.
    """

    slope_v_per_s: Floats
    square_s2: float
    displaced: Callable[[Integers], Displaced]
    taps: Taps = (0.0, 1.0, 0.0)
    kinds: int = 1
    coarse: Callable[[Integers], Displaced] | None = None
    far: Far | None = None

    @property
    def unit_square_v2(self) -> Floats:
        """Mean square of what each boundary's displacement changes for a unit driven step, V^2, shape (P, K)."""
        return self.far.square_v2 if self.far is not None else self.square_s2 * self.slope_v_per_s**2

    def mapped(self, change: Callable[[Displaced], Displaced]) -> "EdgeShifts":
        """The same with another look at what displacements do."""

        def through(probe: Callable[[Integers], Displaced]) -> Callable[[Integers], Displaced]:
            return lambda boundaries: change(probe(boundaries))

        coarse = None if self.coarse is None else through(self.coarse)
        return self._replace(displaced=through(self.displaced), coarse=coarse)


class Sample(NamedTuple):
    """One received sample at P phases.

    Attributes:
        cursors_v: shape (P, K), the newest symbol first.
        given: levels of symbols that are known, by column: one for all phases, or shape (P,).
        noise_v: rms Gaussian noise, shape (P,).
        edges: displaced boundaries; boundary j is where symbol j starts. None without jitter.
        levels: symbol levels.
    """

    cursors_v: Floats
    given: Mapping[int, float | Floats]
    noise_v: Floats
    edges: EdgeShifts | None = None
    levels: tuple[float, ...] = NRZ


def sample_rows(sample: Sample, phases: Integers) -> Sample:
    """The sample at some of its phases, which an array of shape (k,) numbers."""
    edges = sample.edges
    if edges is not None:

        def some(known: Displaced) -> Displaced:
            return known._replace(change_v=known.change_v[..., phases], spread_v=known.spread_v[..., phases])

        far = None if edges.far is None else Far(*(column[phases] for column in edges.far))
        edges = edges.mapped(some)._replace(slope_v_per_s=edges.slope_v_per_s[phases], far=far)
    return sample._replace(
        cursors_v=sample.cursors_v[phases],
        given={j: level if isinstance(level, float) else level[phases] for j, level in sample.given.items()},
        noise_v=sample.noise_v[phases],
        edges=edges,
    )


def negated(sample: Sample) -> Sample:
    """The sample times -1: its lower tail is the upper tail of the original."""
    edges = sample.edges
    if edges is not None:
        edges = edges.mapped(lambda known: known._replace(change_v=-known.change_v))
    return sample._replace(cursors_v=-sample.cursors_v, edges=edges)


def side_by_side(samples: Sequence[Sample]) -> Sample:
    """Samples of the same kind as the phases of one, which is faster than one after the other."""
    first = samples[0]
    edges = first.edges
    all_edges = [sample.edges for sample in samples if sample.edges is not None]
    if edges is not None:
        slope = np.concatenate([edges.slope_v_per_s for edges in all_edges])
        coarse = [edges.coarse for edges in all_edges if edges.coarse is not None]
        far = [edges.far for edges in all_edges if edges.far is not None]
        edges = edges._replace(
            slope_v_per_s=slope,
            displaced=_together([edges.displaced for edges in all_edges]),
            coarse=_together(coarse) if len(coarse) == len(all_edges) else None,
            far=Far(*map(np.concatenate, zip(*far, strict=True))) if len(far) == len(all_edges) else None,
        )
    sizes = [sample.noise_v.size for sample in samples]
    return first._replace(
        cursors_v=np.concatenate([sample.cursors_v for sample in samples]),
        given={
            j: np.concatenate([np.full(n, sample.given[j]) for n, sample in zip(sizes, samples, strict=True)])
            for j in first.given
        },
        noise_v=np.concatenate([sample.noise_v for sample in samples]),
        edges=edges,
    )


def _together(probes: Sequence[Callable[[Integers], Displaced]]) -> Callable[[Integers], Displaced]:
    """What displacements do, looked up for the phases of several samples."""

    def displaced(boundaries: Integers) -> Displaced:
        each = [probe(boundaries) for probe in probes]
        change, spread = (np.concatenate(columns, axis=-1) for columns in list(zip(*each, strict=True))[1:])
        return Displaced(each[0].weight, change, spread)

    return displaced


def known_mean_v(sample: Sample) -> Floats:
    """What the known symbols put the sample's mean at, without displacements, V, shape (P,)."""
    start = np.zeros(sample.noise_v.size)
    return np.asarray(sum((level * sample.cursors_v[:, column] for column, level in sample.given.items()), start))


def known_shift_v(sample: Sample) -> Floats:
    """What the displacements of edges between known symbols add to the sample's mean, V, shape (P,).

    Only kinds of displacement have a mean that counts: it is taken over those that the known older symbols leave.
    """
    edges, phases = sample.edges, sample.noise_v.size
    between = [j for j in sample.given if j + 1 in sample.given]
    if edges is None or edges.kinds == 1 or not between:
        return np.zeros(phases)
    older = edges.kinds.bit_length() - 1
    displaced = edges.displaced(np.array(between))
    change = (displaced.weight[:, :, None] * displaced.change_v).sum(axis=2)
    shift = np.zeros(phases)
    for j, by_kind in zip(between, change, strict=True):
        level = known_levels(sample.given, range(j, j + 2 + older), phases)
        chance = np.ones((edges.kinds, phases))
        for i in range(older):
            unlike = (np.arange(edges.kinds) >> i & 1)[:, None]
            like = np.where(np.isnan(level[2 + i]), 0.5, level[2 + i] == level[1])
            chance *= np.where(unlike, 1.0 - like, like)
        shift += (level[0] - level[1]) * (chance * by_kind).sum(axis=0)
    return shift


class Split(NamedTuple):
    """What is treated how.

    Attributes:
        large: columns treated one by one.
        links: neighbouring boundaries treated by matrices, with their symbols.
        small: columns that the rest holds.
        rest: small cursors and displacements.
        variance: of the Gaussian part, noise and what is tiny, V^2, shape (P,).
        rest_edge_variance: of the rest's displacements, V^2, shape (P,).
        edge_variance: of all displacements, V^2, shape (P,).
    """

    large: list[int]
    links: tuple[Link, ...]
    small: list[int]
    rest: Rest
    variance: Floats
    rest_edge_variance: Floats
    edge_variance: Floats

    def rows(self, phases: Integers) -> "Split":
        """The split at some phases, which an array of shape (k,) numbers."""
        return self._replace(
            rest=self.rest.rows(phases),
            variance=self.variance[phases],
            rest_edge_variance=self.rest_edge_variance[phases],
            edge_variance=self.edge_variance[phases],
        )


def split_of(sample: Sample) -> Split:
    """What is small next to all that is smaller still hardly differs from Gaussian, at the tilt in use."""
    columns = sample.cursors_v.shape[1]
    kappa2 = float(np.mean(np.array(sample.levels) ** 2))
    symbol_variance = kappa2 * sample.cursors_v**2
    edge_variance = _edge_variance(sample)
    tiny, small = _classes(sample, symbol_variance, edge_variance)
    links = _links(np.nonzero(~(tiny | small)[columns:])[0], sample, columns)
    apart = np.ones(columns, bool)
    for link in links:
        apart[link.boundaries.start : link.boundaries.stop] = False
        for kind in (tiny, small):
            kind[link.symbols.start : link.symbols.stop] = False
    tiny_edges, small_edges = tiny[columns:] & apart, small[columns:] & apart
    variance = noise_square(sample) + symbol_variance[:, tiny[:columns]].sum(axis=1)
    small_columns = np.nonzero(small[:columns])[0].tolist()
    return Split(
        large=np.nonzero(~(tiny | small)[:columns])[0].tolist(),
        links=links,
        small=small_columns,
        rest=_rest(sample, small_columns, np.nonzero(small_edges)[0]),
        variance=variance + edge_variance[:, tiny_edges].sum(axis=1),
        rest_edge_variance=edge_variance[:, small_edges].sum(axis=1),
        edge_variance=edge_variance.sum(axis=1),
    )


def _classes(sample: Sample, symbol_variance: Floats, edge_variance: Floats) -> tuple[Bools, Bools]:
    """Which columns, and after them which boundaries, are tiny, and which are small; shape (2 K,) each."""
    columns = symbol_variance.shape[1]
    both = np.concatenate([symbol_variance, edge_variance], axis=1)
    size = np.sqrt(both.max(axis=0))
    bend_v = _bend_v(sample)
    size[columns:] += np.where(bend_v > _BENT * np.abs(sample.cursors_v).max(), bend_v, 0.0)
    size[columns:] *= _SMALL_PER_SIGMA / _SMALL_EDGE_PER_SIGMA
    size[list(sample.given)] = np.inf
    order = np.argsort(size, kind="stable")
    below = np.cumsum(both[:, order], axis=1).min(axis=0) - both[:, order].max(axis=0)
    sigma = np.sqrt(float(noise_square(sample).min()) + np.maximum(below, 0.0))
    found = []
    for share in (_TINY_PER_SIGMA, _SMALL_PER_SIGMA):
        fits = np.nonzero(size[order] <= share * sigma)[0]
        under = np.zeros(2 * columns, bool)
        under[order[: int(fits[-1]) + 1 if fits.size else 0]] = True
        under[columns:] |= size[columns:] == 0.0
        found.append(under)
    tiny, under = found
    reach = np.cumsum(np.sqrt(both.max(axis=0))[order])
    tiny[order[(reach <= _TINY_TOGETHER * reach[-1]) & np.isfinite(size[order])]] = True
    return tiny, under & ~tiny


def noise_square(sample: Sample) -> Floats:
    """Square of the noise that is counted, V^2, shape (P,)."""
    least_v = np.maximum(_QUIETEST * np.abs(sample.cursors_v).max(axis=1), _LEAST_NOISE_V)
    return np.asarray(np.maximum(sample.noise_v, least_v) ** 2)


def _rest(sample: Sample, columns: list[int], boundaries: Integers) -> Rest:
    edges = sample.edges
    if edges is None or not boundaries.size:
        return Rest(sample.cursors_v[:, columns], sample.levels)
    windows = windows_of(sample.levels, edges.taps, edges.kinds)
    return rest_of(
        sample.cursors_v,
        sample.levels,
        small=columns,
        around=boundaries[:, None] - windows.newer + np.arange(windows.symbols)[::-1],
        given=sample.given,
        windows=windows,
        displaced=(edges.coarse or edges.displaced)(boundaries).in_two(),
    )


def _edge_variance(sample: Sample) -> Floats:
    """Variance that each boundary's displacement adds to first order, V^2, shape (P, K)."""
    if sample.edges is None:
        return np.zeros_like(sample.cursors_v)
    square = mean_square_step(sample.levels, sample.edges.taps)
    return np.asarray(square * sample.edges.unit_square_v2)


def _bend_v(sample: Sample) -> Floats:
    """By how much each boundary at its furthest misses what its slope says, the most of any phase, V, shape (K,)."""
    edges = sample.edges
    if edges is None or edges.far is None:
        return np.zeros(sample.cursors_v.shape[1])
    steps = windows_of(sample.levels, edges.taps).step
    return np.asarray(np.abs(steps).max() * edges.far.bend_v.max(axis=0))


def bent(sample: Sample, variance: Floats) -> Bools:
    """Which boundaries are moved further than their slope holds, next to a Gaussian part of `variance` (V^2), (K,)."""
    least_v = max(_BENT_PER_SIGMA * float(np.sqrt(variance.min())), _BENT * float(np.abs(sample.cursors_v).max()))
    return np.asarray(_bend_v(sample) > least_v)


def _links(boundaries: Integers, sample: Sample, columns: int) -> tuple[Link, ...]:
    """Boundaries (rising) gathered into links: those that share a symbol belong together, and what lies between."""
    links: list[Link] = []
    if sample.edges is None:
        return ()
    windows = windows_of(sample.levels, sample.edges.taps, sample.edges.kinds)
    for boundary in boundaries.tolist():
        newest = boundary - windows.newer
        symbols = range(newest, newest + windows.symbols)
        if symbols.start < 0 or symbols.stop > columns:
            continue
        if links and links[-1].symbols.stop > symbols.start:
            before = links.pop()
            symbols = range(before.symbols.start, symbols.stop)
            links.append(Link(symbols, range(before.boundaries.start, boundary + 1)))
        else:
            links.append(Link(symbols, range(boundary, boundary + 1)))
    return tuple(links)


def chain_of(sample: Sample, split: Split) -> Chain:
    """What the transfer matrices and scalar products multiply."""
    edges = sample.edges
    chained = np.array([boundary for link in split.links for boundary in link.boundaries], np.int64)
    batches = _batches(sample, split, edges, chained) if edges is not None and chained.size else []
    return Chain(
        columns=np.array(split.large, np.int64),
        cursors_v=sample.cursors_v[:, split.large].T,
        known=known_levels(sample.given, split.large, sample.noise_v.size),
        levels=sample.levels,
        taps=edges.taps if edges is not None else (0.0, 1.0, 0.0),
        kinds=edges.kinds if edges is not None else 1,
        links=split.links,
        batches=tuple(batches),
    )


def _batches(sample: Sample, split: Split, edges: EdgeShifts, chained: Integers) -> list[Batch]:
    """The chained boundaries, each in no more parts than it takes."""
    variance = split.variance + split.rest_edge_variance
    if edges.far is not None and edges.coarse is not None:
        fine = bent(sample, variance)[chained]
        most = max(_MOST_BENT_PARTS // max(int(fine.sum()) * edges.kinds, 1), 2)
        looks = (edges.displaced, chained[fine]), (edges.coarse, chained[~fine])
        return [Batch(some, look(some).in_parts(most)) for look, some in looks if some.size]
    displaced = edges.displaced(chained)
    size = np.sqrt(_edge_variance(sample)[:, chained].max(axis=0))
    limit = _TWO_PARTS_PER_SIGMA * np.sqrt(float(variance.min()))
    few = size <= limit if displaced.weight.shape[1] > 2 else np.zeros(chained.size, bool)
    many = np.flatnonzero(~few)
    most = max(_MOST_PARTS // max(many.size * edges.kinds, 1), 2)
    batches = [Batch(chained[many], displaced.some(many).in_parts(most))] if many.size else []
    if few.any():
        batches.append(Batch(chained[few], displaced.some(np.nonzero(few)[0]).in_two()))
    return batches


class Treated(NamedTuple):
    """A sample, what of it is treated how, and what is multiplied: found once for all that is asked about it."""

    sample: Sample
    split: Split
    chain: Chain

    def rows(self, phases: Integers) -> "Treated":
        """The same at some of the phases, which an array of shape (k,) numbers."""
        return Treated(sample_rows(self.sample, phases), self.split.rows(phases), self.chain.at(phases))


def treated(sample: Sample) -> Treated:
    """How a sample is treated."""
    split = split_of(sample)
    return Treated(sample, split, chain_of(sample, split))
