"""Where to look for a tail: the cumulant function at rising tilts, and the window in level that a tilt lights up."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Bools, Floats, Integers
from workbench.engine.tails.chain import Chain, log_chained
from workbench.engine.tails.samples import Sample, Split, known_mean_v, known_shift_v

_LADDER_STEPS = 20
NEXT = 1e-5
"""How much further on, as a share, a tilt is whose cumulants tell an exact slope."""
_LEAP, _DEEPEST = 1.6, 45.0
_NO_PHASES = np.zeros(0, np.int64)
_SMALLEST_BINS = 64
_BLOCK = 32


class Accuracy(NamedTuple):
    """How finely one piece of a tail is computed.

    A piece's window ends where its tilted tail has fallen by ``exp(-depth)``; values below `trusted` of its largest are
    not used. A bin is `bin_per_sigma` of the Gaussian part: at 0.6 what the transform leaves out is below 1e-6. There
    are at most `most_bins`. Between two humps a tail may lie by `valley` in its logarithm below Chernoff's bound.
    """

    depth: float
    trusted: float
    bin_per_sigma: float
    precise: bool
    most_bins: int = 1024
    valley: float = 25.0


FULL = Accuracy(depth=17.0, trusted=1e-6, bin_per_sigma=0.6, precise=True)
LOCAL = Accuracy(depth=10.0, trusted=1e-3, bin_per_sigma=0.8, precise=False)
"""About one error ratio: 0.1 % in probability, which is far below a microvolt per millivolt of noise."""
VALLEY = Accuracy(depth=36.0, trusted=1e-12, bin_per_sigma=0.36, precise=True, most_bins=8192, valley=45.0)
"""Between two humps that no tilt lights up: both are as bright, and what lies between is read 27 nepers below them."""


class Ladder(NamedTuple):
    """Cumulant function of the sample, its symbols and displacements taken as independent, at rising tilts.

    ``theta`` (negative), ``slope`` = K'(theta) and ``depth`` = theta K' - K, shape (P, steps); `mean`, `sigma`: (P,).
    """

    theta: Floats
    slope: Floats
    depth: Floats
    mean: Floats
    sigma: Floats

    def rows(self, phases: Integers) -> "Ladder":
        """The ladder at some phases, which an array of shape (k,) numbers."""
        return Ladder(*(column[phases] for column in self))


def ladder_of(
    sample: Sample, split: Split, chain: Chain | None, rungs: int = _LADDER_STEPS, *, exact: bool = False
) -> Ladder:
    """So many rungs of the ladder, chained boundaries exactly as they are; without a chain they count as Gaussian.

    Their slope is what the rungs beside say, or `exact`: where a tail leaps from one hump of the distribution to the
    next, that within a narrow stretch of tilts, the former blurs the leap; such phases get the latter anyway.

    Args:
        sample: the samples.
        split: what goes in exactly and what as the rest.
        chain: what is chained, if anything is.
        rungs: how many.
        exact: take the slopes from the chain at each rung itself.
    """
    all_free = [j for j in (*split.large, *split.small) if j not in sample.given]
    chained = {j for link in chain.links for j in link.symbols} if chain is not None else set()
    free = [j for j in all_free if j not in chained]
    known = {j: level for j, level in sample.given.items() if j not in chained}
    levels = np.array(sample.levels)
    kappa2 = float(np.mean(levels**2))
    shift = known_shift_v(sample)
    mean = known_mean_v(sample) + shift
    # What is chained brings its own mean.
    fixed = known_mean_v(sample._replace(given=known)) + (0.0 if chained else shift)
    gaussian = split.variance + (split.rest_edge_variance if chained or not split.links else split.edge_variance)
    symbols = kappa2 * (sample.cursors_v[:, all_free] ** 2).sum(axis=1)
    sigma = np.sqrt(split.variance + symbols + split.edge_variance)
    theta = _rungs(gaussian, sigma, rungs)
    cumulant, slope = _independent(sample.cursors_v[:, free], levels, theta)
    cumulant += theta * fixed[:, None] + 0.5 * theta**2 * gaussian[:, None]
    slope += fixed[:, None] + theta * gaussian[:, None]
    if chain is not None and chained:
        together, rising = _chained(chain, theta, exact=exact)
        depth = theta * (slope + rising) - cumulant - together
        leaps = np.flatnonzero(_leaps(theta, depth).any(axis=1)) if not exact else _NO_PHASES
        if leaps.size:
            together[leaps], rising[leaps] = _chained(chain.at(leaps), theta[leaps], exact=True)
        cumulant += together
        slope += rising
    depth = np.maximum.accumulate(theta * slope - cumulant, axis=1)
    return Ladder(theta, np.minimum.accumulate(slope, axis=1), depth, mean, sigma)


def leaping(ladder: Ladder) -> Bools:
    """At which phases the tail leaps from one hump of the distribution to the next, shape (P,)."""
    return np.asarray(_leaps(ladder.theta, ladder.depth).any(axis=1))


def _leaps(theta: Floats, depth: Floats) -> Bools:
    """From which rungs to the next, (P, steps - 1), the depth rises by far more than with the tilt's square."""
    before = np.maximum(depth[:, :-1], 1.0)
    usual = (theta[:, 1:] / theta[:, :-1]) ** 2 * before
    return np.asarray((depth[:, 1:] > _LEAP * usual) & (before < _DEEPEST))


def _chained(chain: Chain, theta: Floats, *, exact: bool) -> tuple[Floats, Floats]:
    """Cumulant function of what is chained and its slope, shape (P, steps) each."""
    if not exact:
        together = log_chained(chain, theta, precise=False)
        return together, np.gradient(together, axis=1) / np.gradient(theta, axis=1)
    both = log_chained(chain, np.concatenate([theta, theta * (1.0 + NEXT)], axis=1), precise=True)
    together, beside = np.split(both, 2, axis=1)
    return together, (beside - together) / (theta * NEXT)


def _rungs(gaussian: Floats, sigma: Floats, count: int) -> Floats:
    """Tilts from slight to where the Gaussian part alone is past the deepest tail."""
    steepest = 11.0 / np.maximum(np.sqrt(gaussian), 1e-3 * sigma)
    steps = np.linspace(0.0, 1.0, count)
    gentlest = 0.05 / sigma
    return np.asarray(-gentlest[:, None] * np.exp(steps * np.log(np.maximum(steepest / gentlest, 2.0))[:, None]))


def _independent(cursors: Floats, levels: Floats, theta: Floats) -> tuple[Floats, Floats]:
    """Cumulant function of independent symbols and its slope, shape (P, steps) each."""
    turned = theta[:, :, None] * cursors[:, None, :]
    if levels.size == 2 and levels[1] == -levels[0]:
        # Two levels take one exponential: log cosh and tanh.
        turned *= levels[1]
        size = np.abs(turned)
        power = np.exp(-2.0 * size)
        moment = np.copysign((1.0 - power) / (1.0 + power), turned)
        log_mean = size.sum(axis=2) + np.log1p(power).sum(axis=2) - cursors.shape[1] * np.log(2.0)
        return log_mean, levels[1] * np.einsum("psj,pj->ps", moment, cursors)
    most = np.abs(turned) * np.abs(levels).max()
    powers = [np.exp(level * turned - most) for level in levels]
    total = np.sum(powers, axis=0)
    moment = np.sum([level * power for level, power in zip(levels, powers, strict=True)], axis=0) / total
    return (np.log(total / levels.size) + most).sum(axis=2), (cursors[:, None, :] * moment).sum(axis=2)


def aimed(ladder: Ladder, depth: float) -> Floats:
    """The tilt of each phase that lights up the tail at a depth, 1/V, shape (P,).

    Where the tail leaps over that depth it is the one tilt at which both humps are as bright.
    """
    theta = interpolated(ladder.depth, ladder.theta, depth)
    steps = ladder.depth.shape[1]
    below = np.clip((ladder.depth <= depth).sum(axis=1) - 1, 0, steps - 2)
    rows = np.arange(theta.size)
    near, far = ladder.depth[rows, below], ladder.depth[rows, below + 1]
    level = ladder.slope[rows, below] - ladder.slope[rows, below + 1]
    leaps = (near <= depth) & (depth < far) & _leaps(ladder.theta, ladder.depth)[rows, below] & (level > 0.0)
    bright = -(far - near) / np.where(leaps, level, 1.0)
    return np.where(leaps, np.clip(bright, ladder.theta[rows, below + 1], ladder.theta[rows, below]), theta)


def interpolated(x: Floats, y: Floats, at: float) -> Floats:
    """Each phase's y where its x (rising) equals `at`; x and y of shape (P, n), the result (P,)."""
    return np.array([np.interp(at, x[phase], y[phase]) for phase in range(x.shape[0])])


class TailWindow(NamedTuple):
    """The levels of each phase's grid: `v` of shape (P, N), rising; first level `low`, step `bin_v`, shape (P,)."""

    v: Floats
    low: Floats
    bin_v: Floats


def window_of(variance: Floats, ladder: Ladder, theta: Floats, depth: float, accuracy: Accuracy) -> TailWindow:
    """Where the tilted tail ``exp(theta v) P(v)`` is worth computing.

    Its logarithm is ``theta v - depth(v)`` to first order, which the `ladder` knows.

    Args:
        variance: of the Gaussian part at the tilt, V^2, shape (P,).
        ladder: depth and slope of the tails by tilt, at each phase.
        theta: the tilt of each phase, 1/V, shape (P,).
        depth: how far down the tail is wanted, as a negative natural logarithm.
        accuracy: how far below that the window reaches, and how fine it is.
    """
    peak = interpolated(ladder.depth, ladder.slope, depth)
    fall = ladder.depth - depth - theta[:, None] * (ladder.slope - peak[:, None])
    sigma_gaussian = np.sqrt(variance)
    low, high = np.empty(theta.size), np.empty(theta.size)
    for phase in range(theta.size):
        deeper = ladder.slope[phase] <= peak[phase]
        low[phase] = np.interp(accuracy.depth, fall[phase, deeper], ladder.slope[phase, deeper])
        nearer = ~deeper
        beyond = peak[phase] + (accuracy.depth + depth) / -theta[phase]
        if nearer.any():
            known = fall[phase, nearer][::-1], ladder.slope[phase, nearer][::-1]
            high[phase] = np.interp(accuracy.depth, *known, right=beyond)
        else:
            high[phase] = beyond
    low -= sigma_gaussian
    high += sigma_gaussian
    width = np.maximum(high - low, 1e-9)
    wanted = float((width / np.maximum(accuracy.bin_per_sigma * sigma_gaussian, width / accuracy.most_bins)).max())
    bins = _BLOCK * int(np.ceil(np.clip(wanted, _SMALLEST_BINS, accuracy.most_bins) / _BLOCK))
    bin_v = width / bins
    return TailWindow(low[:, None] + bin_v[:, None] * np.arange(bins), low, bin_v)
