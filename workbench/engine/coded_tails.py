"""The lower tail of a received sample whose symbols a line code ties together, exact far down, as `tails` is."""

from typing import NamedTuple

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.chain import Integers, mean_square_step
from workbench.engine.coded_chain import (
    CodedStates,
    Terms,
    coded_states,
    log_mean,
    log_moved,
    summed_at,
    transformed,
    upper_share,
)
from workbench.engine.samples import NRZ, Sample, Split, known_mean_v, known_shift_v, noise_square, split_of
from workbench.engine.tails import FULL_DEPTHS, Piece, Tail, Transform, continued, inverse, joined
from workbench.engine.tilts import FULL, Accuracy, Ladder, interpolated, window_of
from workbench.parts.twoport import Floats

ONE_TAP = (0.0, 1.0, 0.0)
_RUNGS = 14
_NEAR = Accuracy(depth=17.0, trusted=1e-4, bin_per_sigma=0.6, precise=False)
"""About one error ratio, in single precision: within 0.2 mV of 0.5 V and 0.001 UI of double precision."""
_AIM = 0.8
"""Where a single tilt aims, as a share of the depth that is asked for."""
_LEFT_OUT = 1e-4
"""Cursors so old that all of them together are below this share of the largest are left out: a balanced code makes even
less of them."""
_SMALL_EDGE_PER_SIGMA = 0.05


class CodedSample(NamedTuple):
    """Samples at P phases of a line code, ready for their tails.

    Attributes:
        states: the code with the symbols that boundaries depend on.
        terms: cursors and displaced boundaries.
        variance: of the Gaussian part, V^2, shape (P,).
        ladder: the cumulant function at rising tilts: where to look.
        oldest: how many columns count.
        small: from this column on cursors go in together.
    """

    states: CodedStates
    terms: Terms
    variance: Floats
    ladder: Ladder
    oldest: int
    small: int

    def rows(self, phases: Integers) -> "CodedSample":
        """Some of the phases."""
        displaced = {
            j: known._replace(change_v=known.change_v[..., phases], spread_v=known.spread_v[..., phases])
            for j, known in self.terms.displaced.items()
        }
        terms = Terms(self.terms.cursors_v[phases], self.terms.given, displaced)
        return self._replace(terms=terms, variance=self.variance[phases], ladder=self.ladder.rows(phases))


def coded_sample(sample: Sample, machine: Machine) -> CodedSample:
    """Get samples ready.

    Older cursors that are small next to the Gaussian part go in with the weight and the first two moments that their
    sum has at the tilt, by the code's state; all others, and the boundaries that jitter moves, go in one by one.

    Args:
        sample: what is received; two-level symbols.
        machine: the line code.
    """
    taps, kinds = (sample.edges.taps, sample.edges.kinds) if sample.edges is not None else (ONE_TAP, 1)
    oldest = _oldest(sample, machine)
    states = coded_states(machine, taps, kinds)
    terms, variance = _terms(sample, oldest)
    small = min(_last_large(split_of(sample)), oldest)
    return CodedSample(states, terms, variance, _ladder(sample, machine, states, terms, variance), oldest, small)


def coded_tail(coded: CodedSample, depths: tuple[float, ...] = FULL_DEPTHS) -> Tail:
    """The lower tail at every phase, given the sample's known symbols.

    Args:
        coded: the samples.
        depths: ``-ln P`` of the tails at which the result has full relative accuracy.
    """
    pieces = [_piece(coded, depth, FULL) for depth in depths]
    return continued(pieces[0] if len(pieces) == 1 else joined(pieces), coded.ladder, FULL)


def coded_tail_near(coded: CodedSample, error_ratio: float) -> Tail:
    """The lower tail about one error ratio: cheaper than all of it, and as good there."""
    piece = _piece(coded, -_AIM * float(np.log(error_ratio)), _NEAR)
    return continued(piece, coded.ladder, _NEAR)


def _oldest(sample: Sample, machine: Machine) -> int:
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


def _last_large(split: Split) -> int:
    """The column up to which cursors go in one by one."""
    chained = [link.symbols.stop for link in split.links]
    return max((*split.large, *chained)) + 1


def _terms(sample: Sample, oldest: int) -> tuple[Terms, Floats]:
    """What goes in through the code's states, and the variance of what is Gaussian, V^2, shape (P,)."""
    variance = noise_square(sample)
    given = {j: float(level) for j, level in sample.given.items()}
    edges = sample.edges
    if edges is None:
        return Terms(sample.cursors_v, given, {}), variance
    square = mean_square_step(NRZ, edges.taps) * edges.square_s2 * edges.slope_v_per_s[:, :oldest] ** 2
    counts = square.max(axis=0) > _SMALL_EDGE_PER_SIGMA**2 * float(variance.min())
    boundaries = np.nonzero(counts)[0]
    every = edges.displaced(boundaries)
    displaced = {int(j): every.some(slice(at, at + 1)) for at, j in enumerate(boundaries)}
    return Terms(sample.cursors_v, given, displaced), variance + square[:, ~counts].sum(axis=1)


def _ladder(sample: Sample, machine: Machine, states: CodedStates, terms: Terms, variance: Floats) -> Ladder:
    """The cumulant function at rising tilts, next to exact: it says where to look."""
    oldest = _oldest(sample, machine)
    cursors = sample.cursors_v[:, :oldest]
    moved = np.zeros(variance.size)
    if sample.edges is not None:
        edges = sample.edges
        square = mean_square_step(NRZ, edges.taps) * edges.square_s2
        moved = square * (edges.slope_v_per_s[:, list(terms.displaced)] ** 2).sum(axis=1)
    free = [j for j in range(oldest) if j not in sample.given]
    sigma = np.sqrt(variance + moved + (cursors[:, free] ** 2).sum(axis=1))
    theta = _rungs(variance, sigma)
    cumulant = log_mean(machine, cursors, terms.given, theta)
    if terms.displaced:
        cumulant += log_moved(states, machine, terms, theta)
    slope = np.gradient(cumulant, axis=1) / np.gradient(theta, axis=1) + theta * variance[:, None]
    cumulant = cumulant + 0.5 * theta**2 * variance[:, None]
    depth = np.maximum.accumulate(theta * slope - cumulant, axis=1)
    mean = known_mean_v(sample) + known_shift_v(sample)
    return Ladder(theta, np.minimum.accumulate(slope, axis=1), depth, mean, sigma)


def _rungs(gaussian: Floats, sigma: Floats) -> Floats:
    """Tilts from slight to where the Gaussian part alone is past the deepest tail."""
    steepest, gentlest = 11.0 / np.maximum(np.sqrt(gaussian), 1e-3 * sigma), 0.05 / sigma
    steps = np.linspace(0.0, 1.0, _RUNGS)
    return np.asarray(-gentlest[:, None] * np.exp(steps * np.log(np.maximum(steepest / gentlest, 2.0))[:, None]))


def _piece(coded: CodedSample, depth: float, accuracy: Accuracy) -> Piece:
    states, terms, variance, ladder = coded.states, coded.terms, coded.variance, coded.ladder
    theta = interpolated(ladder.depth, ladder.theta, depth)
    begun = summed_at(states, terms, theta, range(coded.oldest - 1, coded.small - 1, -1))
    weight = begun.weight.sum(axis=0)
    spread = begun.second.sum(axis=0) / weight - (begun.first.sum(axis=0) / weight) ** 2
    window = window_of(variance + np.maximum(spread, 0.0), ladder, theta, depth, accuracy)
    half = window.v.shape[1] // 2
    step = np.pi / (half * window.bin_v)
    s = theta[:, None] + 1j * (step[:, None] * np.arange(half))
    columns = range(coded.small - 1, -1, -1)
    value, log_scale = transformed(states, terms, begun, s, columns, precise=accuracy.precise)
    # The Gaussian part, and the window's own beginning as the origin of levels; the tilt's share of both apart.
    gaussian = np.exp(0.5 * variance[:, None] * (s**2 - theta[:, None] ** 2) - 1j * s.imag * window.low[:, None])
    share = float(np.prod([upper_share(states, level) for level in terms.given.values()]))
    log_scale = log_scale + 0.5 * variance * theta**2 - np.log(share)
    log_p, trust = inverse(Transform((value * gaussian).T, log_scale), window, theta)
    return Piece(window.v, log_p, trust)
