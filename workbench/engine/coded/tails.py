"""The lower tail of a received sample whose symbols a line code ties together, exact far down, as `density` is."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.codes.machine import Machine
from workbench.engine.coded.along import AxisPoints, transformed
from workbench.engine.coded.chain import Begun, Moves, Terms, given_share, log_mean, moves_of
from workbench.engine.coded.counting import columns_that_count, displacements, least_edge_of, oldest_column
from workbench.engine.coded.leaning import told_apart
from workbench.engine.coded.past import past_of
from workbench.engine.coded.states import Moving, steps_of
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
from workbench.engine.tails.samples import Sample, known_mean_v, known_shift_v, noise_square, sample_rows
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
_LOOKED_FOR_EDGE, _SKETCHED_EDGE = 0.05, 0.15
"""Boundaries whose displacement does less than that share of the noise go in with it: where tails are only looked for,
and in a picture of the moment."""
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
        least_edge = least_edge_of(sample, steepest)
    displaced, variance, moved = displacements(sample, oldest, least_edge, steepest)
    if sample.edges is not None:
        displaced, leaning_v = told_apart(displaced, sample)
        sample = sample._replace(cursors_v=sample.cursors_v + leaning_v)
    moving = {j: Moving(taps, one.weight.shape[0]) for j, one in displaced.items()}
    lost = _SKETCHED_FOURTH if sketch else _PAST_FOURTH
    columns = columns_that_count(sample, machine, moving, steepest=steepest, oldest=oldest, lost=lost)
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
    coded = coded_sample(sample, machine, steepest, least_edge=least_edge_of(sample, steepest, drawn=drawn))
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
