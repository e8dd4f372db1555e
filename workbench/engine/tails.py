"""The distribution of a received sample, exact far down its tail.

The sample is ``sum a_j c_j + noise + sum D_j x_j``: symbols a_j times the pulse's cursors c_j, Gaussian noise, and for
each symbol boundary the driven step D_j times what its displacement in time changes. Independent terms multiply their
moment generating functions; symbols and the displacements of their boundaries are not independent, so near the main
cursor a product of transfer matrices over the last symbols takes the place of the product of scalars.

The tail follows from the inverse Laplace integral along ``s = theta + j u``: an exponential tilt theta moves the
integral's mass to the tail, so that 1e-18 is as good as 1e-3 (H. E. Daniels, "Saddlepoint approximations in
statistics", Ann. Math. Statist. 25, 1954, 631-650; here the whole integral is summed, not approximated).
"""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from workbench.engine.chain import Chain, chain_product, driven_steps, log_chained, phasors
from workbench.parts.twoport import Complexes, Floats

NRZ = (-1.0, 1.0)
LOG_FLOOR = -80.0
_ROOT_FLOOR = float(np.sqrt(-LOG_FLOOR))
"""Natural logarithm of the smallest probability that is kept."""
FULL_DEPTHS = (2.5, 11.0, 28.0)
"""Tilts, as ``-ln P`` of the tail they aim at, that together are accurate from the median to 1e-18."""

_SMALL_PER_SIGMA = 0.3
_SMALL_EDGE_PER_SIGMA = 0.8
_LADDER_STEPS = 20
_JOINED_BINS = 768
_SMALLEST_BINS = 64
_LARGEST_BINS = 1024
_BLOCK = 32
_ABOVE_WRAP = 1e3


class _Accuracy(NamedTuple):
    """How finely one piece of a tail is computed.

    A piece's window ends where its tilted tail has fallen by ``exp(-depth)``; values below `trusted` of its largest are
    not used. A bin is `bin_per_sigma` of the Gaussian part: at 0.6 what the transform leaves out is below 1e-6.
    """

    depth: float
    trusted: float
    bin_per_sigma: float


_FULL = _Accuracy(depth=17.0, trusted=1e-6, bin_per_sigma=0.6)
_LOCAL = _Accuracy(depth=10.0, trusted=1e-3, bin_per_sigma=0.8)
"""About one error ratio: 0.1 % in probability, which is far below a microvolt per millivolt of noise."""


class Edges(NamedTuple):
    """What displacements of the symbol boundaries do to the sample.

    Attributes:
        slope_v_per_s: slope of the response to a unit driven step at boundary j, shape (P, K).
        moments: mean square (s^2) and mean fourth power (s^4) of the displacement.
        weight: of each part of the displacement's mixture, shape (C,).
        displaced: for a boundary j, the change of the sample for a unit step displaced to each part's mean and the rms
            change about it, V, shape (C, P) each.
        taps: (before, main, after) transmit taps that make a boundary's driven step from its transitions.
    """

    slope_v_per_s: Floats
    moments: tuple[float, float]
    weight: Floats
    displaced: Callable[[int], tuple[Floats, Floats]]
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
    split = _split(sample)
    chain = _chain(sample, split)
    ladder = _ladder(sample, split, chain)
    accuracy = _LOCAL if len(depths) == 1 else _FULL
    pieces = [_piece(chain, split, ladder, depth, accuracy) for depth in depths]
    joined = pieces[0] if len(pieces) == 1 else _joined(pieces)
    return _continued(joined, ladder, accuracy)


class _Piece(NamedTuple):
    """A stretch of the tail: levels, ln P, and how far each stands above its rounding noise, shape (P, N) each."""

    v: Floats
    log_p: Floats
    trust: Floats


def _piece(chain: Chain, split: "_Split", ladder: "_Ladder", depth: float, accuracy: _Accuracy) -> _Piece:
    theta = _interpolate(ladder.depth, ladder.theta, depth)
    window = _window(split, ladder, theta, depth, accuracy)
    log_p, trust = _inverse(_transform(chain, split, window, theta), window, theta)
    return _Piece(window.v, log_p, trust)


def _joined(pieces: list[_Piece]) -> _Piece:
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
    return _Piece(v, log_p, trust)


def negated(sample: Sample) -> Sample:
    """The sample times -1: its lower tail is the upper tail of the original."""
    edges = sample.edges
    if edges is not None:
        displaced = edges.displaced

        def flipped(boundary: int) -> tuple[Floats, Floats]:
            change, spread = displaced(boundary)
            return -change, spread

        edges = edges._replace(displaced=flipped)
    return sample._replace(cursors_v=-sample.cursors_v, edges=edges)


class _Split(NamedTuple):
    """Columns treated one by one, boundaries treated by matrices, and the cumulants of all the rest."""

    large: list[int]
    boundaries: range
    variance: Floats
    fourth: Floats
    edge_variance: Floats


def _split(sample: Sample) -> _Split:
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
    chained = _symbols_of(boundaries, sample, columns)
    small_cursors[chained.start : chained.stop] = False
    variance = sample.noise_v**2 + kappa2 * square[:, small_cursors].sum(axis=1) + edge_variance[:, apart].sum(axis=1)
    fourth = kappa4 * (square[:, small_cursors] ** 2).sum(axis=1) + edge_fourth[:, apart].sum(axis=1)
    return _Split(np.nonzero(~small_cursors)[0].tolist(), boundaries, variance, fourth, edge_variance.sum(axis=1))


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


def _symbols_of(boundaries: range, sample: Sample, columns: int) -> range:
    if not boundaries or sample.edges is None:
        return range(0)
    before, _, after = sample.edges.taps
    first = boundaries.start - (1 if before else 0)
    last = boundaries.stop + (1 if after else 0)
    return range(max(first, 0), min(last, columns - 1) + 1)


class _Ladder(NamedTuple):
    """Cumulant function of the sample, its symbols and displacements taken as independent, at rising tilts.

    ``theta`` (negative), ``slope`` = K'(theta) and ``depth`` = theta K' - K, shape (P, steps); `mean`, `sigma`: (P,).
    """

    theta: Floats
    slope: Floats
    depth: Floats
    mean: Floats
    sigma: Floats


def _ladder(sample: Sample, split: _Split, chain: Chain | None) -> _Ladder:
    """The ladder, with chained boundaries exactly as they are; without a chain they count as Gaussian."""
    chained = chain.symbols if chain is not None else range(0)
    free = [j for j in split.large if j not in sample.given and j not in chained]
    known = {j: level for j, level in sample.given.items() if j not in chained}
    levels = np.array(sample.levels)
    kappa2 = float(np.mean(levels**2))
    mean = np.asarray(sum(level * sample.cursors_v[:, j] for j, level in sample.given.items()) + 0.0 * split.variance)
    fixed = np.asarray(sum(level * sample.cursors_v[:, j] for j, level in known.items()) + 0.0 * split.variance)
    all_free = [j for j in split.large if j not in sample.given]
    gaussian = split.variance + (split.edge_variance if not chained and split.boundaries else 0.0)
    symbols = kappa2 * (sample.cursors_v[:, all_free] ** 2).sum(axis=1)
    sigma = np.sqrt(split.variance + symbols + (split.edge_variance if split.boundaries else 0.0))
    theta = _rungs(gaussian, sigma)
    cumulant, slope = _independent(sample.cursors_v[:, free], levels, theta)
    cumulant += theta * fixed[:, None] + 0.5 * theta**2 * gaussian[:, None]
    slope += fixed[:, None] + theta * gaussian[:, None]
    if chain is not None and chained:
        together = log_chained(chain, theta)
        cumulant += together
        slope += np.gradient(together, axis=1) / np.gradient(theta, axis=1)
    depth = np.maximum.accumulate(theta * slope - cumulant, axis=1)
    return _Ladder(theta, np.minimum.accumulate(slope, axis=1), depth, mean, sigma)


def _rungs(gaussian: Floats, sigma: Floats) -> Floats:
    """Tilts from slight to where the Gaussian part alone is past the deepest tail."""
    steepest = 11.0 / np.maximum(np.sqrt(gaussian), 1e-3 * sigma)
    steps = np.linspace(0.0, 1.0, _LADDER_STEPS)
    gentlest = 0.05 / sigma
    return np.asarray(-gentlest[:, None] * np.exp(steps * np.log(np.maximum(steepest / gentlest, 2.0))[:, None]))


def _independent(cursors: Floats, levels: Floats, theta: Floats) -> tuple[Floats, Floats]:
    """Cumulant function of independent symbols and its slope, shape (P, steps) each."""
    turned = theta[:, :, None] * cursors[:, None, :]
    most = np.abs(turned) * np.abs(levels).max()
    powers = [np.exp(level * turned - most) for level in levels]
    total = np.sum(powers, axis=0)
    moment = np.sum([level * power for level, power in zip(levels, powers, strict=True)], axis=0) / total
    return (np.log(total / levels.size) + most).sum(axis=2), (cursors[:, None, :] * moment).sum(axis=2)


def _interpolate(x: Floats, y: Floats, at: float) -> Floats:
    return np.array([np.interp(at, x[phase], y[phase]) for phase in range(x.shape[0])])


class _Window(NamedTuple):
    """The levels of each phase's grid: `v` of shape (P, N), rising; first level `low`, step `bin_v`, shape (P,)."""

    v: Floats
    low: Floats
    bin_v: Floats


def _window(split: _Split, ladder: _Ladder, theta: Floats, depth: float, accuracy: _Accuracy) -> _Window:
    """Where the tilted tail ``exp(theta v) P(v)`` is worth computing.

    Its logarithm is ``theta v - depth(v)`` to first order, which the ladder knows.
    """
    peak = _interpolate(ladder.depth, ladder.slope, depth)
    fall = ladder.depth - depth - theta[:, None] * (ladder.slope - peak[:, None])
    sigma_gaussian = np.sqrt(split.variance)
    low, high = np.empty(theta.size), np.empty(theta.size)
    for phase in range(theta.size):
        deeper = ladder.slope[phase] <= peak[phase]
        low[phase] = np.interp(accuracy.depth, fall[phase, deeper], ladder.slope[phase, deeper])
        nearer = ~deeper
        beyond = peak[phase] + (accuracy.depth + depth) / -theta[phase]
        inside = np.interp(accuracy.depth, fall[phase, nearer][::-1], ladder.slope[phase, nearer][::-1], right=beyond)
        high[phase] = inside
    low -= sigma_gaussian
    high += sigma_gaussian
    width = np.maximum(high - low, 1e-9)
    wanted = float((width / np.maximum(accuracy.bin_per_sigma * sigma_gaussian, width / _LARGEST_BINS)).max())
    bins = _BLOCK * int(np.ceil(np.clip(wanted, _SMALLEST_BINS, _LARGEST_BINS) / _BLOCK))
    bin_v = width / bins
    return _Window(low[:, None] + bin_v[:, None] * np.arange(bins), low, bin_v)


def _chain(sample: Sample, split: _Split) -> Chain:
    edges = sample.edges
    symbols = _symbols_of(split.boundaries, sample, sample.cursors_v.shape[1])
    displaced = {j: edges.displaced(j) for j in split.boundaries} if edges is not None else {}
    return Chain(
        cursors_v={j: sample.cursors_v[:, j] for j in split.large},
        given=sample.given,
        levels=sample.levels,
        symbols=symbols,
        boundaries=split.boundaries,
        weight=edges.weight if edges is not None else np.ones(1),
        displaced=displaced,
        taps=edges.taps if edges is not None else (0.0, 1.0, 0.0),
    )


class _Transform(NamedTuple):
    """Moment generating function along ``theta + j u`` times exp(-j u low), u from 0 up, shape (P, N/2), over a factor.

    `log_scale` is the factor's natural logarithm, shape (P,).
    """

    value: Complexes
    log_scale: Floats


def _transform(chain: Chain, split: _Split, window: _Window, theta: Floats) -> _Transform:
    half = window.v.shape[1] // 2
    step = np.pi / (half * window.bin_v)
    u = step[:, None] * np.arange(half)
    value, log_scale = chain_product(chain, theta, step, half)
    still = 0.5 * split.variance * theta**2
    s_square = (theta[:, None] + 1j * u) ** 2
    cumulants = s_square * (0.5 * split.variance[:, None] + s_square * (split.fourth / 24.0)[:, None])
    # A fourth cumulant alone would grow where the Gaussian should rule; there the transform is nothing anyway.
    np.minimum(cumulants.real, still[:, None], out=cumulants.real)
    value *= np.exp(cumulants - still[:, None])
    value *= phasors(-window.low, step, half)
    return _Transform(value, log_scale + still)


def _inverse(transform: _Transform, window: _Window, theta: Floats) -> tuple[Floats, Floats]:
    """ln P on the window, and how far above its rounding noise each value stands (1 is best), shape (P, N) each."""
    phases, half = transform.value.shape
    step = np.pi / (half * window.bin_v)
    s = theta[:, None] + 1j * (step[:, None] * np.arange(half))
    spectrum = np.zeros((phases, half + 1), np.complex128)
    np.conjugate(transform.value / -s, out=spectrum[:, :half])
    tilted = np.fft.irfft(spectrum, axis=1) * (step * half / np.pi)[:, None]
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


def _continued(piece: _Piece, ladder: _Ladder, accuracy: _Accuracy) -> Tail:
    """Replace what rounding has spoilt: outward along the last trusted slope, inward towards one half at the mean.

    Interpolated in ``sqrt(-ln P)``, which is nearly straight for anything that ends in a Gaussian. Two levels are added
    at each side, so that the tail always reaches from certain to `LOG_FLOOR`.
    """
    phases, bins = piece.v.shape
    v, root = np.empty((phases, bins + 4)), np.empty((phases, bins + 4))
    for phase in range(phases):
        levels, roots = _trusted_stretch(piece, phase, accuracy.trusted)
        slope = (roots[1] - roots[0]) / (levels[1] - levels[0])
        outward = levels[0] + (_ROOT_FLOOR - roots[0]) / min(slope, -1e-9)
        mean = max(float(ladder.mean[phase]), levels[-1] + 1e-6 * float(ladder.sigma[phase]))
        certain = mean + 6.0 * float(ladder.sigma[phase])
        known_v = np.concatenate([[outward], levels, [mean, certain]])
        half = min(float(np.sqrt(np.log(2.0))), roots[-1])
        known_root = np.concatenate([[_ROOT_FLOOR], roots, [half, 0.0]])
        v[phase] = np.interp(np.linspace(0, 1, bins + 4), np.linspace(0, 1, known_v.size), known_v)
        root[phase] = np.interp(v[phase], known_v, known_root)
    return Tail(v, -(root**2))


def _trusted_stretch(piece: _Piece, phase: int, trusted: float) -> tuple[Floats, Floats]:
    root = np.sqrt(-np.clip(piece.log_p[phase], LOG_FLOOR, 0.0))
    good = (piece.trust[phase] > trusted) & (root < _ROOT_FLOOR)
    if good.sum() < 2:
        good = piece.trust[phase] >= np.partition(piece.trust[phase], -2)[-2]
    levels, roots = piece.v[phase, good], np.minimum.accumulate(root[good])
    return levels, roots


def quick_level_v(sample: Sample, error_ratio: float) -> Floats:
    """About where ``P(sample <= v)`` equals `error_ratio`, V, shape (P,): the saddlepoint's leading term.

    ``P = exp(-depth) / (|theta| sigma sqrt(2 pi))`` (Daniels 1954) with sigma from the slope along the ladder. Good
    to a few percent, which is what choosing an equalizer takes; no result is read from it.
    """
    ladder = _ladder(sample, _split(sample), None)
    curvature = np.gradient(ladder.slope, axis=1) / np.gradient(ladder.theta, axis=1)
    spread = np.abs(ladder.theta) * np.sqrt(np.maximum(curvature, 1e-30) * 2.0 * np.pi)
    depth = np.maximum.accumulate(ladder.depth + np.log(np.maximum(spread, 1.0)), axis=1)
    return _interpolate(depth, ladder.slope, -float(np.log(error_ratio)))
