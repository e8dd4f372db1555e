"""Which symbols and boundaries of a sample count one by one, and what of it goes in with the Gaussian part."""

from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np

from workbench.arrays import Bools, Floats, Integers
from workbench.codes.machine import Machine
from workbench.engine.coded.states import Moving
from workbench.engine.tails.boundaries import Displaced, mean_square_step
from workbench.engine.tails.samples import NRZ, Sample, bent, noise_square

_LEFT_OUT = 1e-4
"""Cursors so old that all of them together are below this share of the largest are left out: a balanced code makes even
less of them."""
_TOLD_EDGE = 0.3
"""Where older symbols tell what a boundary does it hangs together with their cursors: so much less counts there, except
in what is only drawn."""
_EDGE_PER_TILT, _LEAST_EDGES = 0.1, (0.03, 0.2)
"""Boundaries whose displacement does less than that over the tilt go in with the Gaussian part, within these limits."""
_LOST_LEVEL = 2e-5
"""Nor do the smallest count whose variance moves the level by less than that share of the largest cursor in all."""
_MOST_MOVED = 80
"""Nor do more than the so many largest: without loss and noise hundreds would, for what no level shows."""
_LOST_PER_TILT = 0.03
"""Where hardly any noise makes the tail (at a transmitter) they are that small next to the tilt, whatever the noise."""
_TWO_PARTS_PER_SIGMA = 1.0
"""Below this share of the Gaussian part's sigma a boundary's displacement counts in two parts, however many it has."""


def oldest_column(sample: Sample, machine: Machine) -> int:
    """How many columns count: what all older ones can add is less than a share of the largest.

    A sum of cursors times symbols is at most the sum of the cursors' sizes, and (summed by parts) at most the bound of
    the code's running sum times the sum of their differences: a slow tail adds next to nothing to a balanced code.
    """
    padded = np.pad(sample.cursors_v, ((0, 0), (0, 1)))
    changes = machine.sum_bound * np.abs(np.diff(padded, axis=1)) if np.isfinite(machine.sum_bound) else np.inf
    most = np.minimum(_from_here(np.abs(sample.cursors_v)), _from_here(changes + 0.0 * sample.cursors_v))
    counts = np.nonzero(most.max(axis=0) > _LEFT_OUT * np.abs(sample.cursors_v).max())[0]
    return int(counts[-1]) + 1


def _from_here(size: Floats) -> Floats:
    """The sum over each column and all older ones."""
    return np.cumsum(size[:, ::-1], axis=1)[:, ::-1]


def columns_that_count(
    sample: Sample, machine: Machine, moving: Mapping[int, Moving], *, steepest: float, oldest: int, lost: float
) -> int:
    """How many columns count one by one: of what is older, mean and variance are enough.

    What a small cursor c adds beyond them to the logarithm of a tail at tilt theta is ``(theta c)^4 / 12``; of a
    balanced code it is the change from one cursor to the next that counts, times half the bound of its running sum.

    Args:
        sample: what is received.
        machine: the line code.
        moving: how each boundary that does moves.
        steepest: the steepest tilt, 1/V, that will be asked for.
        oldest: how many columns count at all.
        lost: what the older ones may add to a tail's logarithm.
    """
    size = np.abs(sample.cursors_v[:, :oldest])
    if np.isfinite(machine.sum_bound):
        padded = np.pad(sample.cursors_v[:, : oldest + 1], ((0, 0), (0, 1)))
        size = np.minimum(size, machine.sum_bound / 2.0 * np.abs(np.diff(padded, axis=1))[:, :oldest])
    fourth = np.minimum((steepest * size) ** 4 / 12.0, steepest * size)
    counts = np.nonzero(_from_here(fourth).max(axis=0) > lost)[0]
    reached = max((j - one.windows.newer + one.windows.symbols for j, one in moving.items()), default=0)
    return min(max(int(counts[-1]) + 1 if counts.size else 0, reached, max(sample.given) + 1), oldest)


def least_edge_of(sample: Sample, steepest: float, *, drawn: bool = False) -> float:
    """The least displacement, in rms of the noise, that counts one by one: a tilt makes more of what it does."""
    turned = max(steepest * float(np.sqrt(noise_square(sample).min())), np.finfo(float).tiny)
    told = 1.0 if drawn or sample.edges is None or sample.edges.kinds == 1 else _TOLD_EDGE
    most = max(_LEAST_EDGES[1], _LOST_PER_TILT / turned)
    return told * min(max(_EDGE_PER_TILT / turned, _LEAST_EDGES[0]), most)


class _Counting(NamedTuple):
    """Which boundaries count one by one, and which of these in few parts, shape (K,) each.

    `square` is the variance that the displacement of each adds, V^2, shape (P, K), `noise` that of the noise, (P,).
    """

    counts: Bools
    few: Bools
    square: Floats
    noise: Floats

    @property
    def gaussian(self) -> Floats:
        """Variance of what is not counted one by one, V^2, shape (P,)."""
        return np.asarray(self.noise + self.square[:, ~self.counts].sum(axis=1))

    @property
    def moved(self) -> Floats:
        """Variance of the displacements that are, V^2, shape (P,)."""
        return np.asarray(self.square[:, self.counts].sum(axis=1))


def spread_of(sample: Sample, machine: Machine, *, least_edge: float) -> tuple[Floats, Floats]:
    """Variances of a sample's Gaussian part and of displacements that are not in it, V^2, shape (P,) each.

    Args:
        sample: what is received; two-level symbols.
        machine: the line code.
        least_edge: as for `coded_sample`.
    """
    counting = _counting(sample, oldest_column(sample, machine), least_edge, 0.0)
    return counting.gaussian, counting.moved


def displacements(
    sample: Sample, oldest: int, least_edge: float, steepest: float
) -> tuple[dict[int, Displaced], Floats, Floats]:
    """What boundaries do that count one by one, and variances, V^2, (P,): of what is Gaussian, of what is displaced."""
    found, edges = _counting(sample, oldest, least_edge, steepest), sample.edges
    if edges is None:
        return {}, found.gaussian, found.moved
    displaced = _one_by_one(edges.displaced, np.nonzero(found.counts & ~found.few)[0])
    displaced |= _one_by_one(edges.coarse or edges.displaced, np.nonzero(found.few)[0])
    return displaced, found.gaussian, found.moved


def _counting(sample: Sample, oldest: int, least_edge: float, steepest: float) -> _Counting:
    noise = noise_square(sample)
    edges = sample.edges
    if edges is None:
        none = np.zeros(0, np.bool_)
        return _Counting(none, none, np.zeros((noise.size, 0)), noise)
    square = mean_square_step(NRZ, edges.taps) * edges.unit_square_v2[:, :oldest]
    largest, gaussian = square.max(axis=0), float(noise.min())
    fine = bent(sample, noise)[:oldest]
    # A variance v that goes in with the Gaussian part is half of theta v in level.
    lost_v2 = _LOST_LEVEL * float(np.abs(sample.cursors_v).max()) * 2.0 / steepest if steepest > 0.0 else 0.0
    rising = np.argsort(largest, kind="stable")
    together = np.empty(oldest)
    together[rising] = np.cumsum(square[:, rising], axis=1).max(axis=0)
    together[rising[:-_MOST_MOVED]] = 0.0
    counts = fine | ((largest > least_edge**2 * gaussian) & (together > lost_v2))
    windows = Moving(edges.taps, edges.kinds).windows
    newest = np.arange(oldest) - windows.newer
    counts &= (newest >= 0) & (newest + windows.symbols <= oldest)
    # Where the step bends within the displacement's reach all its parts count, else only those of many kinds do.
    few = counts & ~fine & ((largest <= _TWO_PARTS_PER_SIGMA**2 * gaussian) | (edges.far is not None))
    return _Counting(counts, few, square, noise)


def _one_by_one(look_up: Callable[[Integers], Displaced], boundaries: Integers) -> dict[int, Displaced]:
    """What each boundary's displacement does."""
    if not boundaries.size:
        return {}
    every = look_up(boundaries)
    return {int(j): every.some(slice(at, at + 1)) for at, j in enumerate(boundaries)}
