"""The lower tail of a received sample whose symbols a line code ties together, exact far down, as `density` is."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from workbench.arrays import Bools, Floats, Integers
from workbench.codes.machine import Machine
from workbench.engine.coded.along import AxisPoints, transformed
from workbench.engine.coded.chain import Begun, Moves, Terms, given_share, log_mean, moves_of
from workbench.engine.coded.leaning import told_apart
from workbench.engine.coded.past import past_of
from workbench.engine.coded.states import Moving, steps_of
from workbench.engine.tails.boundaries import Displaced, mean_square_step
from workbench.engine.tails.chain import unit
from workbench.engine.tails.density import (
    LOST_AIMS,
    WANTED_DEPTHS,
    Piece,
    Tail,
    Transform,
    continued,
    fill_valleys,
    inverse,
    joined,
    phases_missed,
    replace_if_known,
)
from workbench.engine.tails.samples import NRZ, Sample, bent, known_mean_v, known_shift_v, noise_square, sample_rows
from workbench.engine.tails.tilts import (
    FULL,
    LOCAL,
    NEXT,
    VALLEY,
    Accuracy,
    Ladder,
    aimed,
    interpolated,
    leaping,
    window_of,
)

ONE_TAP = (0.0, 1.0, 0.0)
_RUNGS = 10
_MANY_RUNGS, _FINER_DEPTH = 40, 1.5
"""Where a distribution falls apart: as `density` has it."""
_AIM = 0.9
"""Where the first tilt aims, as a share of the depth that is asked for."""
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
_LOOKED_FOR_EDGE, _SKETCHED_EDGE = 0.05, 0.15
"""The same where tails are only looked for, and in a picture of the moment."""
_TWO_PARTS_PER_SIGMA = 1.0
"""Below this share of the Gaussian part's sigma a boundary's displacement counts in two parts, however many it has."""
_DEPTHS = (3.0, 9.0), (12.0, 22.0), (30.0, 42.0)
"""Tilts, as ``-ln P`` of the tail they aim at, that together light up nearly everything from the median to 1e-18, and
how far down each is read."""
_READ_PER_DEPTH = 1.5
"""A single piece is read down to so many times the depth that it aims at."""
_PAST_FOURTH, _SKETCHED_FOURTH = 0.02, 1.0
"""What older symbols may add to a tail's logarithm beyond their first two moments; in a picture of the moment."""
_LIKELY_PER_SIGMA = 3.0
"""Tilts steeper than that, over the Gaussian part's rms, are rare: there next to no symbol has a choice any more."""
_GENTLEST = 0.3
"""The least tilt of the ladder, over the rms of all."""


class CodedSample(NamedTuple):
    """Samples at P phases of a line code, ready for their tails.

    Attributes:
        moves: the columns that count one by one.
        begun: the older ones, by the code's state.
        log_share: natural logarithm of the known symbols' probability, shape (P,).
        variance: of the Gaussian part, V^2, shape (P,).
        mean: of the sample as its known symbols leave it, V, shape (P,).
        sigma: rms of all that it consists of, V, shape (P,).
        moved: variance of the displacements that are not in the Gaussian part, V^2, shape (P,).
    """

    moves: Moves
    begun: Begun
    log_share: Floats
    variance: Floats
    mean: Floats
    sigma: Floats
    moved: Floats

    def rows(self, phases: Integers) -> "CodedSample":
        """Some of the phases, which an array of shape (k,) numbers."""
        some = (column[phases] for column in (self.log_share, self.variance, self.mean, self.sigma, self.moved))
        return CodedSample(self.moves.rows(phases), self.begun.rows(phases), *some)


def coded_sample(
    sample: Sample,
    machine: Machine,
    steepest: float | None = None,
    *,
    least_edge: float | None = None,
    sketch: bool = False,
) -> CodedSample:
    """Get samples ready.

    Args:
        sample: what is received; two-level symbols.
        machine: the line code.
        steepest: the steepest tilt, 1/V, that will be asked for; None: not known yet.
        least_edge: boundaries whose displacement does less, in rms of the Gaussian part, go in with that; None: as many
            as hardly change the tail at the steepest tilt.
        sketch: for a picture of the moment: fewer columns and boundaries count one by one.
    """
    taps = sample.edges.taps if sample.edges is not None else ONE_TAP
    oldest = oldest_column(sample, machine)
    if steepest is None:
        steepest = _LIKELY_PER_SIGMA / float(np.sqrt(noise_square(sample).min()))
        looked_for = _SKETCHED_EDGE if sketch else _LOOKED_FOR_EDGE
        least_edge = looked_for if least_edge is None else least_edge
    elif least_edge is None:
        least_edge = _least_edge(sample, steepest)
    displaced, variance, moved = _displacements(sample, oldest, least_edge, steepest)
    if sample.edges is not None:
        displaced, leaning_v = told_apart(displaced, sample)
        sample = sample._replace(cursors_v=sample.cursors_v + leaning_v)
    moving = {j: Moving(taps, one.weight.shape[0]) for j, one in displaced.items()}
    lost = _SKETCHED_FOURTH if sketch else _PAST_FOURTH
    columns = _columns(sample, machine, moving, steepest=steepest, oldest=oldest, lost=lost)
    steps = steps_of(machine, moving, columns)
    mean_v, square = past_of(machine).moments(sample.cursors_v[:, columns:oldest])
    begun = Begun(machine.stationary(), mean_v, square)
    free = [j for j in range(oldest) if j not in sample.given]
    return CodedSample(
        moves=moves_of(Terms(sample.cursors_v, sample.given, displaced, taps), steps, begun),
        begun=begun,
        log_share=np.log(given_share(machine, sample.given)) + np.zeros(variance.size),
        variance=variance,
        mean=known_mean_v(sample) + known_shift_v(sample),
        sigma=np.sqrt(variance + moved + (sample.cursors_v[:, free] ** 2).sum(axis=1)),
        moved=moved,
    )


def coded_tail(sample: Sample, machine: Machine, ladder: Ladder) -> Tail:
    """The lower tail at every phase, given the sample's known symbols, from about the median to 1e-18.

    Phases where the tilts miss one of the decades between get another, aimed at that.

    Args:
        sample: what is received; two-level symbols.
        machine: the line code.
        ladder: where to look.
    """
    whole = joined([_piece(sample, machine, ladder, *depths, drawn=True) for depths in _DEPTHS])
    for wanted in WANTED_DEPTHS:
        missed = phases_missed(whole, -wanted)
        if missed.size:
            more = _piece(sample_rows(sample, missed), machine, ladder.rows(missed), wanted, wanted, drawn=True)
            for column, better in zip(whole, joined([whole.rows(missed), more]), strict=True):
                column[missed] = better
    tail = continued(whole, ladder, LOCAL)
    leaps = np.flatnonzero(leaping(ladder))
    if leaps.size:
        along = ladder.rows(leaps)
        valley = _valleys(sample_rows(sample, leaps), machine, along, drawn=True)
        fill_valleys(tail, leaps, whole.rows(leaps).trusting(LOCAL), along, WANTED_DEPTHS, valley)
    return tail


def coded_tail_near(sample: Sample, machine: Machine, ladder: Ladder, error_ratio: float) -> Tail:
    """The lower tail about one error ratio: cheaper than all of it, and as good there.

    As in `density.tail_near`, phases where one tilt misses the level that is asked for get a second one.
    """
    wanted = float(np.log(error_ratio))
    piece = _piece(sample, machine, ladder, _AIM * -wanted, -wanted)
    near = continued(piece, ladder, LOCAL)
    missed = np.union1d(phases_missed(piece, wanted), np.flatnonzero(leaping(ladder)))
    if missed.size:
        there = sample_rows(sample, missed)
        steepest = float(np.abs(interpolated(ladder.depth, ladder.theta, -wanted)).max())
        finer = ladder_of(coded_sample(there, machine, steepest), _FINER_DEPTH * -wanted, _MANY_RUNGS, exact=True)
        both = joined([_piece(there, machine, finer, share * -wanted, -wanted) for share in (_AIM, 1.0)])
        replace_if_known(near, missed, both, finer, LOCAL)
        lost = phases_missed(both, wanted)
        if lost.size:
            some, along = sample_rows(there, lost), finer.rows(lost)
            pieces = [_piece(some, machine, along, share * -wanted, -wanted, accuracy=FULL) for share in LOST_AIMS]
            whole = joined(pieces)
            replace_if_known(near, missed[lost], whole, along, FULL)
            valley = _valleys(some, machine, along, drawn=False)
            fill_valleys(near, missed[lost], whole.trusting(FULL), along, (-wanted,), valley)
    return near


def _valleys(
    sample: Sample, machine: Machine, ladder: Ladder, *, drawn: bool
) -> Callable[[Integers, float], Piece]:
    """Makes pieces of some phases' tails where both humps are as bright."""

    def piece(phases: Integers, depth: float) -> Piece:
        some = sample_rows(sample, phases)
        return _piece(some, machine, ladder.rows(phases), depth, depth, accuracy=VALLEY, drawn=drawn)

    return piece


def coded_tail_at(sample: Sample, machine: Machine, ladder: Ladder, depth: float) -> Tail:
    """The lower tail about one depth, ``-ln P``, alone."""
    return continued(_piece(sample, machine, ladder, depth, _READ_PER_DEPTH * depth), ladder, LOCAL)


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


def _columns(
    sample: Sample, machine: Machine, moving: dict[int, Moving], *, steepest: float, oldest: int, lost: float
) -> int:
    """How many columns count one by one: of what is older, mean and variance are enough.

    What a small cursor c adds beyond them to the logarithm of a tail at tilt theta is ``(theta c)^4 / 12``; of a
    balanced code it is the change from one cursor to the next that counts, times half the bound of its running sum.
    """
    size = np.abs(sample.cursors_v[:, :oldest])
    if np.isfinite(machine.sum_bound):
        padded = np.pad(sample.cursors_v[:, : oldest + 1], ((0, 0), (0, 1)))
        size = np.minimum(size, machine.sum_bound / 2.0 * np.abs(np.diff(padded, axis=1))[:, :oldest])
    fourth = np.minimum((steepest * size) ** 4 / 12.0, steepest * size)
    counts = np.nonzero(_from_here(fourth).max(axis=0) > lost)[0]
    reached = max((j - one.windows.newer + one.windows.symbols for j, one in moving.items()), default=0)
    return min(max(int(counts[-1]) + 1 if counts.size else 0, reached, max(sample.given) + 1), oldest)


def _least_edge(sample: Sample, steepest: float, *, drawn: bool = False) -> float:
    """The least displacement, in rms of the noise, that counts one by one: a tilt makes more of what it does."""
    turned = max(steepest * float(np.sqrt(noise_square(sample).min())), np.finfo(float).tiny)
    told = 1.0 if drawn or sample.edges is None or sample.edges.kinds == 1 else _TOLD_EDGE
    most = max(_LEAST_EDGES[1], _LOST_PER_TILT / turned)
    return told * min(max(_EDGE_PER_TILT / turned, _LEAST_EDGES[0]), most)


class _Counting(NamedTuple):
    """Which boundaries count one by one, shape (K,): those of them that bend, and those that count in fewer parts.

    `square` is what the displacement of each adds, V^2, shape (P, K), `noise` that of the noise, shape (P,).
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


def _displacements(
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


def ladder_of(
    coded: CodedSample, deepest: float, rungs: int = _RUNGS, *, exact: bool = False, precise: bool = True
) -> Ladder:
    """The cumulant function at rising tilts: it says where to look.

    Args:
        coded: the samples.
        deepest: ``-ln P`` of the deepest tail that will be asked for.
        rungs: how many tilts.
        exact: whether slopes are computed and not taken from the rungs beside, as `tilts.ladder_of` has it.
        precise: double precision; single does for a picture of the moment.
    """
    theta = _rungs(coded.variance, coded.sigma, deepest, rungs)
    cumulant = _went_on(theta, log_mean(coded.moves, coded.begun, theta, precise=precise) - coded.log_share[:, None])
    gaussian = coded.variance[:, None]
    if exact:
        beside = theta * (1.0 + NEXT)
        rising = log_mean(coded.moves, coded.begun, beside) - coded.log_share[:, None] - cumulant
        slope = np.where(np.isfinite(rising), rising, 0.0) / (beside - theta) + theta * gaussian
    else:
        slope = np.gradient(cumulant, axis=1) / np.gradient(theta, axis=1) + theta * gaussian
    cumulant = cumulant + 0.5 * theta**2 * gaussian
    depth = np.maximum.accumulate(theta * slope - cumulant, axis=1)
    return Ladder(theta, np.minimum.accumulate(slope, axis=1), depth, coded.mean, coded.sigma)


def _went_on(theta: Floats, cumulant: Floats) -> Floats:
    """The cumulant function, straight on from where it is known no more, which is far beyond what is asked for."""
    for row in np.nonzero(~np.isfinite(cumulant).all(axis=1))[0]:
        last = max(int(np.argmin(np.isfinite(cumulant[row]))) - 1, 1)
        slope = (cumulant[row, last] - cumulant[row, last - 1]) / (theta[row, last] - theta[row, last - 1])
        cumulant[row, last:] = cumulant[row, last] + slope * (theta[row, last:] - theta[row, last])
    return cumulant


def _rungs(gaussian: Floats, sigma: Floats, deepest: float, count: int) -> Floats:
    """Tilts from slight to where the Gaussian part alone is past the deepest tail."""
    steepest = np.sqrt(2.0 * deepest) / np.maximum(np.sqrt(gaussian), 1e-3 * sigma)
    gentlest = _GENTLEST / sigma
    steps = np.linspace(0.0, 1.0, count)
    return np.asarray(-gentlest[:, None] * np.exp(steps * np.log(np.maximum(steepest / gentlest, 2.0))[:, None]))


def _piece(
    sample: Sample,
    machine: Machine,
    ladder: Ladder,
    depth: float,
    reaching: float,
    *,
    accuracy: Accuracy = LOCAL,
    drawn: bool = False,
) -> Piece:
    """The tail about a depth, what is small told at the tilt of the depth that it is to be read down to."""
    theta = aimed(ladder, depth)
    steepest = float(np.abs(interpolated(ladder.depth, ladder.theta, reaching)).max())
    coded = coded_sample(sample, machine, steepest, least_edge=_least_edge(sample, steepest, drawn=drawn))
    variance, begun = coded.variance, coded.begun
    window = window_of(variance + begun.variance.min(axis=0), ladder, theta, depth, accuracy)
    half = window.v.shape[1] // 2
    along = AxisPoints.evenly(theta, np.pi / (half * window.bin_v), half, precise=accuracy.precise)
    value, log_scale = transformed(coded.moves, begun, along, variance)
    # The Gaussian part turns with the tilt, and the window's own beginning is the origin of levels.
    turn = (variance * theta - window.low)[:, None] * along.u
    log_scale = log_scale + 0.5 * variance * theta**2 - coded.log_share
    log_p, trust = inverse(Transform((value * unit(turn)).T, log_scale), window, theta)
    return Piece(window.v, log_p, trust)
