"""The code's chain along the imaginary axis: what turns on its ways, given their chances at a tilt."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats, Integers
from workbench.engine.coded.chain import Begun, ColumnMove, Mixtures, Moves, ended, ways_by
from workbench.engine.coded.states import ColumnStep
from workbench.engine.tails.chain import unit

_AT_ONCE = 1 << 9
"""Points of all phases together that are summed together: what a hundred states make of them stays in the cache."""

_STRETCH = 32
"""So many points of a phase are summed before it is asked whether anything is left."""
_FADED = 1e-8
"""No more is left than double precision tells; single tells ten times less."""


class AxisPoints(NamedTuple):
    """Where functions are evaluated: ``theta + j m step`` for m from 0 to points - 1.

    Attributes:
        theta: tilt of each phase, 1/V, shape (P,).
        u: the points along the imaginary axis, 1/V, shape (P, U).
        precise: double precision; single is ample for the few decades about one error ratio.
    """

    theta: Floats
    u: Floats
    precise: bool

    @classmethod
    def evenly(cls, theta: Floats, step: Floats, points: int, *, precise: bool) -> "AxisPoints":
        """So many points ``theta + j m step``, of tilts and steps in 1/V, shape (P,)."""
        return cls(theta, step[:, None] * np.arange(points), precise)

    @property
    def points(self) -> int:
        """How many points there are."""
        return int(self.u.shape[1])

    def real(self, x: Floats) -> Floats:
        """Reals in the precision of the line, the same shape."""
        return np.asarray(x, np.float64 if self.precise else np.float32)

    def turned(self, x: Floats) -> Complexes:
        """``exp(j u x)``, shape (..., P, U), of x (..., P)."""
        return unit(self.real(x[..., None] * self.u))

    def fall(self, variance: Floats) -> Floats:
        """``exp(-u^2 variance / 2)``, shape (..., P, U), of a variance (..., P)."""
        exponent = self.real(-0.5 * variance)[..., None] * self.real(self.u**2)
        np.exp(exponent, out=exponent)
        return exponent

    def rows(self, phases: Integers) -> "AxisPoints":
        """Some of the phases, which an array of shape (k,) numbers."""
        return self._replace(theta=self.theta[phases], u=self.u[phases])

    def points_of(self, stretch: slice) -> "AxisPoints":
        """A stretch of the points."""
        return self._replace(u=self.u[:, stretch])


def transformed(moves: Moves, begun: Begun, along: AxisPoints, noise: Floats) -> tuple[Complexes, Floats]:
    """Moment generating function along a line, times the known symbols' probability.

    What is older than the moves counts along u with its first two moments at the tilt.

    Args:
        moves: the sample.
        begun: what stands before it.
        along: the line.
        noise: variance of the Gaussian part that is to be counted with it, V^2, shape (P,).

    Returns:
        The function over its value at the tilt, with the noise's fall along u, shape (P, U), as far as anything is left
        of it; and the natural logarithm of its value at the tilt without the noise, shape (P,).
    """
    fall = np.exp(-0.5 * noise[:, None] * along.u**2)
    least = _FADED if along.precise else 10.0 * _FADED
    chances = _chances(moves, begun, along)
    value = np.zeros(along.u.shape, np.complex128 if along.precise else np.complex64)
    there = np.arange(along.theta.size)
    for first in range(0, along.points, _STRETCH):
        stretch = slice(first, first + _STRETCH)
        value[there, stretch] = _along(moves, begun, chances, along.rows(there).points_of(stretch), there)
        left = np.abs(value[there, stretch]) * fall[there, stretch]
        there = there[left[:, -_STRETCH // 4 :].max(axis=1) > least]
        if not there.size:
            break
    less_v = -np.sum([move.cursor_v for move in moves.moves], axis=0)
    return value * (fall * along.turned(less_v)), chances.log_total


def _along(moves: Moves, begun: Begun, chances: "_Chances", along: AxisPoints, of: Integers) -> Complexes:
    """The function over its value at the tilt, but for the turn that all ways share, at phases numbered by `of`."""
    parts = []
    turns = int(np.ceil(along.theta.size * along.points / _AT_ONCE))
    for rows in np.array_split(np.arange(along.theta.size), turns):
        some, phases = along.rows(rows), of[rows]
        value = _begun(begun.rows(phases), some)
        room = _Room(moves.moves, value)
        for move, back in zip(moves.moves, chances.back, strict=True):
            value = _stepped(move.rows(phases), value, back[:, phases], some, room)
        parts.append(np.einsum("spu,sp->pu", value, chances.share[:, phases]))
    return np.concatenate(parts)


class _Chances(NamedTuple):
    """The code as a chain at one tilt a phase.

    Attributes:
        back: probability of each way, given the state that it leads into, for each move, shape (E, P).
        share: of each state at the end, shape (S, P).
        log_total: natural logarithm of the sum over all sequences, shape (P,).
    """

    back: list[Floats]
    share: Floats
    log_total: Floats


def _chances(moves: Moves, begun: Begun, along: AxisPoints) -> _Chances:
    theta = along.theta[:, None]
    weight, scale = begun.weight(theta)
    back = []
    for move in moves.moves:
        ways, more = ways_by(move, weight, theta)
        weight, scale = move.step.into.summed(ways), scale + more
        ways /= np.maximum(weight, np.finfo(float).tiny)[move.step.target]
        back.append(along.real(ways[:, :, 0]))
    total, share = ended(moves, weight, theta)
    return _Chances(back, along.real(share[:, :, 0]), (total + scale)[:, 0])


def _begun(begun: Begun, along: AxisPoints) -> Complexes:
    """What the older symbols are along u, over their value at the tilt, by state, shape (S, P, U)."""
    value = along.turned(begun.mean_v + along.theta * begun.variance)
    value *= along.fall(begun.variance)
    return value


class _Room:
    """Memory for one step at a time: asking for it anew at every column would take as long as the sums."""

    def __init__(self, moves: list[ColumnMove], value: Complexes) -> None:
        ways = max(move.step.source.size for move in moves)
        states = max(move.step.into.first.size for move in moves)
        self._ways = np.empty((ways, *value.shape[1:]), value.dtype)
        self._states = np.empty((states, *value.shape[1:]), value.dtype)

    def moved(self, value: Complexes, step: ColumnStep) -> Complexes:
        """What stands in the state before each transition, (E, P, U)."""
        return np.take(value, step.source, axis=0, out=self._ways[: step.source.size], mode="clip")

    def summed(self, moved: Complexes, step: ColumnStep) -> Complexes:
        """Sums over the transitions into each state, (S, P, U)."""
        out = self._states[: step.into.first.size]
        np.take(moved, step.into.first, axis=0, out=out, mode="clip")
        for states, transitions in step.into.others:
            out[states] += moved[transitions]
        return out


def _stepped(move: ColumnMove, value: Complexes, back: Floats, along: AxisPoints, room: _Room) -> Complexes:
    """One column on, (S, P, U) to (S, P, U); a factor ``exp(j u cursor)`` is left out, which all ways share."""
    twice = along.turned(2.0 * move.cursor_v)
    moved = room.moved(value, move.step)
    factors = None if move.mixtures is None else _mixed_along(move.mixtures, along)
    for group in move.step.groups:
        row = None if move.mixtures is None else move.mixtures.row.get(group.which)
        if factors is not None and row is not None:
            moved[group.rows] *= factors[row] if group.symbol < 0.0 else factors[row] * twice
        elif group.symbol > 0.0:
            moved[group.rows] *= twice
    real = moved.view(back.dtype)
    np.multiply(real, back[:, :, None], out=real)
    return room.summed(moved, move.step)


def _mixed_along(mixtures: Mixtures, along: AxisPoints) -> Complexes:
    """A boundary's moment generating functions along u, over their values at the tilt, shape (W, P, U)."""
    centre = along.theta * mixtures.variance
    exponent = along.theta * (mixtures.mean_v + 0.5 * centre)
    weight = mixtures.weight[:, :, None] * np.exp(exponent - exponent.max(axis=1, keepdims=True))
    weight /= weight.sum(axis=1, keepdims=True)
    turned = along.turned(mixtures.mean_v + centre)
    fall = along.fall(mixtures.variance)
    fall *= along.real(weight)[..., None]
    turned *= fall
    return np.asarray(turned.sum(axis=1))
