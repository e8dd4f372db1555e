"""The distribution of a received sample, exact far down its tail.

Independent terms multiply their moment generating functions; symbols and the displacements of their boundaries are not
independent, so near the main cursor a product of transfer matrices over the last symbols takes the place of the product
of scalars (`chain`).

The tail follows from the inverse Laplace integral along ``s = theta + j u``: an exponential tilt theta moves the
integral's mass to the tail, so that 1e-18 is as good as 1e-3 (H. E. Daniels, "Saddlepoint approximations in
statistics", Ann. Math. Statist. 25, 1954, 631-650; here the whole integral is summed, not approximated).
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats, Integers
from workbench.engine.tails.chain import Chain, chain_product, phasors, unit
from workbench.engine.tails.rest import Cumulants, tilted
from workbench.engine.tails.samples import Sample, Split, Treated, treated
from workbench.engine.tails.tilts import (
    FULL,
    LOCAL,
    VALLEY,
    Accuracy,
    Ladder,
    TailWindow,
    aimed,
    ladder_of,
    leaping,
    window_of,
)

LOG_FLOOR = -80.0
"""Natural logarithm of the smallest probability that is kept."""
FULL_DEPTHS = (2.5, 11.0, 28.0)
"""Tilts, as ``-ln P`` of the tail they aim at, that together are accurate from the median to 1e-18."""

_ROOT_FLOOR = float(np.sqrt(-LOG_FLOOR))
_AIM = 0.65
"""Where a single tilt aims, as a share of the depth that is asked for: the tail is needed from there to the median."""
_MANY_RUNGS = 60
"""Where a distribution falls apart its tail leaps from one hump to the next within a narrow stretch of tilts."""
LOST_AIMS = (0.2, 0.6, 1.0)
"""Shares of the depth that is asked for: where tilts about it show both humps and nothing between, three in full."""
_LEAST_PER_BIN = 1.0
_FLATTEST = -0.1
"""Where a tail goes on beyond what is known, ``sqrt(-ln P)`` falls by no less than that for each sigma of all."""
_JOINED_BINS = 768
_ABOVE_WRAP = 1e3
_ABOVE_BOUND = 1.0
"""Chernoff's bound ``P(X <= v) <= exp(-depth)`` holds for what the ladder knows, which is nearly all."""
WANTED_DEPTHS = tuple(decades * float(np.log(10.0)) for decades in (6.0, 9.0, 12.0, 15.0, 18.0))
"""``-ln P`` of what a picture draws contours of."""


class Tail(NamedTuple):
    """Natural logarithm of ``P(sample <= v)`` at each phase: levels `v` and `log_p`, shape (P, N) each, v rising."""

    v: Floats
    log_p: Floats


def lower_tail(sample: Sample, depths: tuple[float, ...] = FULL_DEPTHS) -> Tail:
    """The lower tail at every phase.

    Args:
        sample: what is received.
        depths: ``-ln P`` of the tails at which the result has full relative accuracy; it holds for some six decades
            around each. Further out the last trusted values are continued.
    """
    return tail_of(treated(sample), depths)


def tail_of(seen: Treated, depths: tuple[float, ...] = FULL_DEPTHS) -> Tail:
    """The `lower_tail` of a sample whose treatment is known."""
    sample, split, chain = seen
    ladder = ladder_of(sample, split, chain)
    pieces = [_piece(chain, split, ladder, depth, FULL) for depth in depths]
    whole = pieces[0] if len(pieces) == 1 else joined(pieces)
    tail = continued(whole, ladder, FULL)
    leaps = np.flatnonzero(leaping(ladder))
    if leaps.size:
        there = seen.rows(leaps)
        finer = ladder_of(*there, _MANY_RUNGS, exact=True)
        fill_valleys(tail, leaps, whole.rows(leaps).trusting(FULL), finer, WANTED_DEPTHS, _valleys(there, finer))
    return tail


def tail_near(sample: Sample, error_ratio: float) -> Tail:
    """The lower tail about one error ratio: cheaper, and as good there as `lower_tail`.

    Where a distribution falls apart into separate humps, one tilt may miss the level that is asked for; those phases
    get a second tilt, aimed at the level itself.
    """
    wanted = float(np.log(error_ratio))
    seen = treated(sample)
    ladder = ladder_of(*seen)
    piece = _piece(seen.chain, seen.split, ladder, _AIM * -wanted, LOCAL)
    near = continued(piece, ladder, LOCAL)
    missed = np.union1d(phases_missed(piece, wanted), np.flatnonzero(leaping(ladder)))
    if missed.size:
        there = seen.rows(missed)
        finer = ladder_of(*there, _MANY_RUNGS, exact=True)
        both = joined([_piece(there.chain, there.split, finer, share * -wanted, LOCAL) for share in (_AIM, 1.0)])
        replace_if_known(near, missed, both, finer, LOCAL)
        lost = phases_missed(both, wanted)
        if lost.size:
            some, along = there.rows(lost), finer.rows(lost)
            pieces = [_piece(some.chain, some.split, along, share * -wanted, FULL) for share in LOST_AIMS]
            whole = joined(pieces)
            replace_if_known(near, missed[lost], whole, along, FULL)
            fill_valleys(near, missed[lost], whole.trusting(FULL), along, (-wanted,), _valleys(some, along))
    return near


def _valleys(seen: Treated, ladder: Ladder) -> "ValleyMaker":
    """Makes pieces of some phases' tails where both humps are as bright."""

    def piece(phases: Integers, depth: float) -> Piece:
        some = seen.rows(phases)
        return _piece(some.chain, some.split, ladder.rows(phases), depth, VALLEY)

    return piece


def fill_valleys(  # noqa: PLR0917 - a tail's rows with what is known of them
    tail: Tail, phases: Integers, known: "Piece", ladder: Ladder, depths: tuple[float, ...], valley: "ValleyMaker"
) -> None:
    """Put what lies between two humps of a distribution, where no tilt lights it up, into some of a tail's rows.

    Args:
        tail: is changed.
        phases: numbers of its rows, shape (k,).
        known: what is known of them.
        ladder: of the same rows.
        depths: ``-ln P`` of the levels that are asked for.
        valley: makes the piece about a depth, of some of these rows that an array of shape (k,) numbers.
    """
    for depth in depths:
        missed = phases_missed(known, -depth, VALLEY)
        if missed.size:
            there = joined([known.rows(missed), valley(missed, depth).trusting(VALLEY)])
            replace_if_known(tail, phases[missed], there, ladder.rows(missed), VALLEY)


ValleyMaker = Callable[[Integers, float], "Piece"]


def replace_if_known(tail: Tail, phases: Integers, piece: "Piece", ladder: Ladder, accuracy: Accuracy) -> None:
    """Put a piece's tails in the place of some of a tail's, but for those of which nothing is to be trusted.

    Args:
        tail: is changed.
        phases: numbers of its rows, shape (k,).
        piece: what takes their place, row by row.
        ladder: of the same rows.
        accuracy: what is trusted, and how far it is continued.
    """
    known = np.flatnonzero((piece.trust > accuracy.trusted).sum(axis=1) > 1)
    if known.size:
        replace_rows(tail, phases[known], continued(piece.rows(known), ladder.rows(known), accuracy))


def phases_missed(piece: "Piece", wanted: float, accuracy: Accuracy = LOCAL) -> Integers:
    """The phases, shape (k,), where the `wanted` ln P does not lie between trusted values next to each other."""
    missed = []
    for phase in range(piece.v.shape[0]):
        trusted = np.nonzero(piece.trust[phase] > accuracy.trusted)[0]
        above = int(np.searchsorted(piece.log_p[phase, trusted], wanted))
        inside = 0 < above < trusted.size
        if not inside or trusted[above] - trusted[above - 1] > 2:
            missed.append(phase)
    return np.array(missed, np.int64)


def replace_rows(tail: Tail, phases: Integers, other: Tail) -> None:
    """Put another tail's rows, resampled, in the place of some of a tail's, numbered by shape (k,)."""
    places, given = (np.linspace(0.0, 1.0, some.v.shape[1]) for some in (tail, other))
    for row, phase in enumerate(phases):
        tail.v[phase] = np.interp(places, given, other.v[row])
        tail.log_p[phase] = -(np.interp(tail.v[phase], other.v[row], np.sqrt(-other.log_p[row])) ** 2)


class Piece(NamedTuple):
    """A stretch of the tail: levels, ln P, and how far each stands above its rounding noise, shape (P, N) each."""

    v: Floats
    log_p: Floats
    trust: Floats

    def trusting(self, accuracy: Accuracy) -> "Piece":
        """The piece with nothing trusted that its accuracy does not trust."""
        return self._replace(trust=np.where(self.trust > accuracy.trusted, self.trust, 0.0))

    def within(self, ladder: Ladder, valley: float) -> "Piece":
        """The piece, nothing trusted that can't be: above Chernoff's bound, or far below: then the window missed it."""
        bound = -np.array([
            np.interp(v, slope[::-1], depth[::-1], right=0.0)
            for v, slope, depth in zip(self.v, ladder.slope, ladder.depth, strict=True)
        ])  # fmt: skip
        inside = (self.log_p < bound + _ABOVE_BOUND) & (self.log_p > bound - valley)
        return self._replace(trust=np.where(inside | (self.v < ladder.slope[:, -1:]), self.trust, 0.0))

    def rows(self, phases: Integers) -> "Piece":
        """The piece at some phases, which an array of shape (k,) numbers."""
        return Piece(self.v[phases], self.log_p[phases], self.trust[phases])


def _piece(chain: Chain, split: "Split", ladder: "Ladder", depth: float, accuracy: Accuracy) -> Piece:
    theta = aimed(ladder, depth)
    rest = tilted(split.rest, theta)
    window = window_of(split.variance + rest.variance, ladder, theta, depth, accuracy)
    # What is narrower than the bins that there are is widened to them.
    variance = np.maximum(split.variance, (_LEAST_PER_BIN * window.bin_v) ** 2 - rest.variance)
    gaussian = rest._replace(
        log_mean=rest.log_mean + 0.5 * variance * theta**2,
        mean_v=rest.mean_v + variance * theta,
        variance=rest.variance + variance,
    )
    log_p, trust = inverse(_transform(chain, gaussian, window, theta, accuracy.precise), window, theta)
    return Piece(window.v, log_p, trust).within(ladder, accuracy.valley)


def joined(pieces: list[Piece]) -> Piece:
    """Pieces laid over each other on one grid, the most trusted value at each level."""
    low = np.min([piece.v[:, 0] for piece in pieces], axis=0)
    high = np.max([piece.v[:, -1] for piece in pieces], axis=0)
    v = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, _JOINED_BINS)
    log_p, trust = np.full_like(v, LOG_FLOOR), np.zeros_like(v)
    for piece in pieces:
        for phase in range(v.shape[0]):
            inside = np.interp(v[phase], piece.v[phase], piece.trust[phase], left=0.0, right=0.0)
            root = np.interp(v[phase], piece.v[phase], np.sqrt(-np.clip(piece.log_p[phase], LOG_FLOOR, 0.0)))
            better = inside > trust[phase]
            log_p[phase] = np.where(better, -(root**2), log_p[phase])
            trust[phase] = np.where(better, inside, trust[phase])
    return Piece(v, log_p, trust)


class Transform(NamedTuple):
    """Moment generating function along ``theta + j u`` times exp(-j u low), u from 0 up, shape (N/2, P), over a factor.

    `log_scale` is the factor's natural logarithm, shape (P,).
    """

    value: Complexes
    log_scale: Floats


def _transform(chain: Chain, rest: Cumulants, window: TailWindow, theta: Floats, precise: bool) -> Transform:
    half = window.v.shape[1] // 2
    step = np.pi / (half * window.bin_v)
    value, log_scale = chain_product(chain, theta, step, half, precise)
    u = step * np.arange(half)[:, None]
    square = u**2
    # A fourth cumulant alone would grow where the Gaussian should rule; there the transform is nothing anyway.
    fall = np.minimum(square * (square * (rest.fourth / 24.0) - 0.5 * rest.variance), 0.0)
    turn = square * u * (rest.third / -6.0)
    if not precise:
        fall, turn = fall.astype(np.float32), turn.astype(np.float32)
    value = value * np.exp(fall) * unit(turn) * phasors(rest.mean_v - window.low, step, half, precise)
    return Transform(value, log_scale + rest.log_mean)


def inverse(transform: Transform, window: TailWindow, theta: Floats) -> tuple[Floats, Floats]:
    """ln P on the window, and how far above its rounding noise each value stands (1 is best), shape (P, N) each."""
    half, phases = transform.value.shape
    step = np.pi / (half * window.bin_v)
    s = theta + 1j * (step * np.arange(half)[:, None])
    spectrum = np.zeros((half + 1, phases), np.complex128)
    np.conjugate(transform.value / -s, out=spectrum[:half])
    tilted = np.fft.irfft(spectrum.T, axis=1) * (step * half / np.pi)[:, None]
    relative = tilted / np.maximum(tilted.max(axis=1, keepdims=True), np.finfo(float).tiny)
    log_p = np.log(np.maximum(tilted, np.finfo(float).tiny)) + transform.log_scale[:, None] - theta[:, None] * window.v
    return np.minimum(log_p, 0.0), _unwrapped(relative)


def _unwrapped(relative: Floats) -> Floats:
    """Zero where the periodic grid holds what wrapped around: beyond the least value, counted from the largest."""
    columns = np.arange(relative.shape[1])
    size = np.abs(relative)
    peak, least = size.argmax(axis=1)[:, None], size.argmin(axis=1)[:, None]
    beyond = np.where(least < peak, columns < least, columns > least)
    return np.where(beyond | (relative < _ABOVE_WRAP * size.min(axis=1, keepdims=True)), 0.0, relative)


def continued(piece: Piece, ladder: Ladder, accuracy: Accuracy) -> Tail:
    """Replace what rounding has spoilt: outward along the last trusted slope, inward towards one half at the mean.

    Interpolated in ``sqrt(-ln P)``, which is nearly straight for anything that ends in a Gaussian. Two levels are added
    at each side, so that the tail always reaches from certain to `LOG_FLOOR`.
    """
    phases, bins = piece.v.shape
    v, root = np.empty((phases, bins + 4)), np.empty((phases, bins + 4))
    for phase in range(phases):
        levels, roots = _trusted_stretch(piece, phase, accuracy.trusted)
        slope = (roots[1] - roots[0]) / (levels[1] - levels[0])
        outward = levels[0] + (_ROOT_FLOOR - roots[0]) / min(slope, _FLATTEST / float(ladder.sigma[phase]))
        mean = max(float(ladder.mean[phase]), levels[-1] + 1e-6 * float(ladder.sigma[phase]))
        certain = mean + 6.0 * float(ladder.sigma[phase])
        known_v = np.concatenate([[outward], levels, [mean, certain]])
        half = min(float(np.sqrt(np.log(2.0))), roots[-1])
        known_root = np.concatenate([[_ROOT_FLOOR], roots, [half, 0.0]])
        v[phase] = np.interp(np.linspace(0, 1, bins + 4), np.linspace(0, 1, known_v.size), known_v)
        root[phase] = np.interp(v[phase], known_v, known_root)
    return Tail(v, -(root**2))


def _trusted_stretch(piece: Piece, phase: int, trusted: float) -> tuple[Floats, Floats]:
    root = np.sqrt(-np.clip(piece.log_p[phase], LOG_FLOOR, 0.0))
    good = (piece.trust[phase] > trusted) & (root < _ROOT_FLOOR)
    if good.sum() < 2:
        good = piece.trust[phase] >= np.partition(piece.trust[phase], -2)[-2]
    levels, roots = piece.v[phase, good], np.minimum.accumulate(root[good])
    return levels, roots
