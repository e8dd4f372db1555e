"""The lower tail of a received sample whose symbols a line code ties together, exact far down, as `tails` is."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.coded.chain import Along, Terms, log_mean, tilted_at, transformed
from workbench.engine.coded.states import CodedStates, bare_states, coded_states
from workbench.engine.tails.chain import Displaced, Integers, mean_square_step
from workbench.engine.tails.density import (
    FULL_DEPTHS,
    Piece,
    Tail,
    Transform,
    continued,
    inverse,
    joined,
    phases_missed,
    replace_rows,
)
from workbench.engine.tails.samples import NRZ, Sample, Split, known_mean_v, known_shift_v, noise_square, split_of
from workbench.engine.tails.tilts import FULL, LOCAL, Accuracy, Ladder, interpolated, window_of
from workbench.parts.twoport import Floats

ONE_TAP = (0.0, 1.0, 0.0)
_RUNGS = 16
_AIM = 0.8
"""Where the first tilt aims, as a share of the depth that is asked for."""
_LEFT_OUT = 1e-4
"""Cursors so old that all of them together are below this share of the largest are left out: a balanced code makes even
less of them."""
_SMALL_EDGE_PER_SIGMA = 0.05
_TWO_PARTS_PER_SIGMA = 1.0
"""Below this share of the Gaussian part's sigma a boundary's displacement counts in two parts, however many it has."""


class CodedSample(NamedTuple):
    """Samples at P phases of a line code, ready for their tails.

    Attributes:
        states: the code with the symbols that boundaries depend on.
        bare: the code's states alone.
        terms: cursors and displaced boundaries.
        variance: of the Gaussian part, V^2, shape (P,).
        mean: of the sample as its known symbols leave it, V, shape (P,).
        sigma: rms of all that it consists of, V, shape (P,).
        oldest: how many columns count.
        small: from this column on cursors go in together.
    """

    states: CodedStates
    bare: CodedStates
    terms: Terms
    variance: Floats
    mean: Floats
    sigma: Floats
    oldest: int
    small: int

    def rows(self, phases: Integers) -> "CodedSample":
        """Some of the phases."""
        displaced = {
            j: known._replace(change_v=known.change_v[..., phases], spread_v=known.spread_v[..., phases])
            for j, known in self.terms.displaced.items()
        }
        terms = Terms(self.terms.cursors_v[phases], self.terms.given, displaced)
        variance, mean, sigma = (column[phases] for column in (self.variance, self.mean, self.sigma))
        return self._replace(terms=terms, variance=variance, mean=mean, sigma=sigma)


def coded_sample(sample: Sample, machine: Machine) -> CodedSample:
    """Get samples ready.

    Older cursors that are small next to the Gaussian part go in with the weight and the first two moments that their
    sum has at the tilt, by the code's state; all others, and the boundaries that jitter moves, go in one by one.

    Args:
        sample: what is received; two-level symbols.
        machine: the line code.
    """
    taps, kinds = (sample.edges.taps, sample.edges.kinds) if sample.edges is not None else (ONE_TAP, 1)
    oldest = oldest_column(sample, machine)
    terms, variance, moved = _terms(sample, oldest)
    free = [j for j in range(oldest) if j not in sample.given]
    return CodedSample(
        states=coded_states(machine, taps, kinds),
        bare=bare_states(machine),
        terms=terms,
        variance=variance,
        mean=known_mean_v(sample) + known_shift_v(sample),
        sigma=np.sqrt(variance + moved + (sample.cursors_v[:, free] ** 2).sum(axis=1)),
        oldest=oldest,
        small=min(_last_large(split_of(sample)), oldest),
    )


def coded_tail(coded: CodedSample, depths: tuple[float, ...] = FULL_DEPTHS) -> Tail:
    """The lower tail at every phase, given the sample's known symbols.

    Args:
        coded: the samples.
        depths: ``-ln P`` of the tails at which the result has full relative accuracy.
    """
    ladder = _ladder(coded)
    pieces = [_piece(coded, ladder, depth, FULL) for depth in depths]
    return continued(pieces[0] if len(pieces) == 1 else joined(pieces), ladder, FULL)


def coded_tail_near(coded: CodedSample, error_ratio: float) -> Tail:
    """The lower tail about one error ratio: cheaper than all of it, and as good there.

    As in `tails.tail_near`, phases where one tilt misses the level that is asked for get a second one.
    """
    wanted, ladder = float(np.log(error_ratio)), _ladder(coded)
    piece = _piece(coded, ladder, _AIM * -wanted, LOCAL)
    near = continued(piece, ladder, LOCAL)
    missed = phases_missed(piece, wanted)
    if missed.size:
        there = ladder.rows(missed)
        both = joined([piece.rows(missed), _piece(coded.rows(missed), there, -wanted, LOCAL)])
        replace_rows(near, missed, continued(both, there, LOCAL))
        lost = missed[phases_missed(both, wanted)]
        if lost.size:
            replace_rows(near, lost, coded_tail(coded.rows(lost)))
    return near


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


def _last_large(split: Split) -> int:
    """The column up to which cursors go in one by one."""
    chained = [link.symbols.stop for link in split.links]
    return max((*split.large, *chained)) + 1


def _terms(sample: Sample, oldest: int) -> tuple[Terms, Floats, Floats]:
    """What goes in through the code's states, and variances, V^2, (P,): of what is Gaussian, of what is displaced."""
    variance = noise_square(sample)
    given = {j: float(level) for j, level in sample.given.items()}
    edges = sample.edges
    if edges is None:
        return Terms(sample.cursors_v, given, {}), variance, 0.0 * variance
    square = mean_square_step(NRZ, edges.taps) * edges.square_s2 * edges.slope_v_per_s[:, :oldest] ** 2
    largest, gaussian = square.max(axis=0), float(variance.min())
    counts = largest > _SMALL_EDGE_PER_SIGMA**2 * gaussian
    few = counts & (largest <= _TWO_PARTS_PER_SIGMA**2 * gaussian)
    displaced = _one_by_one(edges.displaced, np.nonzero(counts & ~few)[0])
    displaced |= _one_by_one(edges.coarse or edges.displaced, np.nonzero(few)[0])
    terms = Terms(sample.cursors_v, given, displaced)
    return terms, variance + square[:, ~counts].sum(axis=1), square[:, counts].sum(axis=1)


def _one_by_one(look_up: Callable[[Integers], Displaced], boundaries: Integers) -> dict[int, Displaced]:
    """What each boundary's displacement does."""
    if not boundaries.size:
        return {}
    every = look_up(boundaries)
    return {int(j): every.some(slice(at, at + 1)) for at, j in enumerate(boundaries)}


def _ladder(coded: CodedSample) -> Ladder:
    """The cumulant function at rising tilts, next to exact: it says where to look.

    Only what symbols older than the displaced boundaries have to do with these is left out.
    """
    theta = _rungs(coded.variance, coded.sigma)
    terms, still = coded.terms, coded.terms.still()
    cumulant = log_mean(coded.bare, still, theta, _oldest_first(coded.oldest))
    if terms.displaced:
        newest = coded.states.windows.newer
        near = _oldest_first(min(max(terms.displaced) - newest + coded.states.windows.symbols, coded.oldest))
        cumulant += log_mean(coded.states, terms, theta, near) - log_mean(coded.bare, still, theta, near)
    gaussian = coded.variance[:, None]
    slope = np.gradient(cumulant, axis=1) / np.gradient(theta, axis=1) + theta * gaussian
    cumulant = cumulant + 0.5 * theta**2 * gaussian
    depth = np.maximum.accumulate(theta * slope - cumulant, axis=1)
    return Ladder(theta, np.minimum.accumulate(slope, axis=1), depth, coded.mean, coded.sigma)


def _oldest_first(columns: int) -> range:
    return range(columns - 1, -1, -1)


def _rungs(gaussian: Floats, sigma: Floats) -> Floats:
    """Tilts from slight to where the Gaussian part alone is past the deepest tail."""
    steepest, gentlest = 11.0 / np.maximum(np.sqrt(gaussian), 1e-3 * sigma), 0.05 / sigma
    steps = np.linspace(0.0, 1.0, _RUNGS)
    return np.asarray(-gentlest[:, None] * np.exp(steps * np.log(np.maximum(steepest / gentlest, 2.0))[:, None]))


def _piece(coded: CodedSample, ladder: Ladder, depth: float, accuracy: Accuracy) -> Piece:
    states, terms, variance = coded.states, coded.terms, coded.variance
    theta = interpolated(ladder.depth, ladder.theta, depth)
    begun = tilted_at(states, terms, theta, range(coded.oldest - 1, coded.small - 1, -1))
    window = window_of(variance + begun.variance.min(axis=0), ladder, theta, depth, accuracy)
    half = window.v.shape[1] // 2
    along = Along(theta, np.pi / (half * window.bin_v), half, accuracy.precise)
    value, log_scale = transformed(states, terms, begun, _oldest_first(coded.small), along)
    # The Gaussian part, and the window's own beginning as the origin of levels; the tilt's share of both apart.
    u = along.u
    turn = (variance * theta - window.low)[:, None] * u
    gaussian = np.exp(1j * turn - 0.5 * variance[:, None] * u**2)
    share = float(np.prod([states.upper_share(level) for level in terms.given.values()]))
    log_scale = log_scale + 0.5 * variance * theta**2 - np.log(share)
    log_p, trust = inverse(Transform((value * gaussian).T, log_scale), window, theta)
    return Piece(window.v, log_p, trust)
