"""A line code between the cursors: sums over every sequence that the code can send.

Independent symbols multiply the exponentials of their cursors; coded ones multiply transfer matrices over the code's
states, from the oldest cursor to the newest. At a real tilt that is a Markov chain: each way into a state has its
probability there. Along the imaginary axis only what turns on these ways is summed, which never exceeds 1.

Far down a tail the ways' weights fit into no floating point number. So what is counted is how far a way lies beside the
least way into its state, which dynamic programming finds and which is the same at every tilt: these weights never
exceed 1 either, and that of the least way stays 1 whatever the tilt.
"""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.codes.machine import Machine
from workbench.engine.coded.states import STILL, ColumnStep, Moving
from workbench.engine.tails.boundaries import Displaced, Taps

_FORBIDDEN = 1e3
"""A way against a known symbol is taken to lie so many times the sum of all cursors aside."""
_SINGLE_HOLDS = 32
"""After so many columns what is summed in single precision is brought back near 1."""


class Terms(NamedTuple):
    """What a sample consists of, as far as symbols count one by one.

    Attributes:
        cursors_v: shape (P, K), the newest symbol first.
        given: levels of known symbols, by column; one for all phases, or shape (P,).
        displaced: what the displacement of boundary j does, for the boundaries that are large enough to count: a
            mixture for each kind, `Displaced` of one boundary.
        taps: (before, main, after) transmit taps.
    """

    cursors_v: Floats
    given: Mapping[int, float | Floats]
    displaced: Mapping[int, Displaced]
    taps: Taps

    def rows(self, phases: Integers) -> "Terms":
        """Some of the phases, which an array of shape (k,) numbers."""
        displaced = {
            j: known._replace(change_v=known.change_v[..., phases], spread_v=known.spread_v[..., phases])
            for j, known in self.displaced.items()
        }
        given = {j: level if isinstance(level, float) else level[phases] for j, level in self.given.items()}
        return self._replace(cursors_v=self.cursors_v[phases], given=given, displaced=displaced)


class Mixtures(NamedTuple):
    """A boundary's displacement by what the window makes it do, W ways in C parts: (W, C), in V (W, C, P), in V^2.

    `row` is each way's place among them, by the number that the windows have for it.
    """

    weight: Floats
    mean_v: Floats
    variance: Floats
    row: Mapping[int, int]

    @property
    def least_v(self) -> Floats:
        """The least mean of each way's parts, V, shape (W, P)."""
        return np.asarray(self.mean_v.min(axis=1))

    def added_v(self, step: ColumnStep) -> Floats:
        """What each transition of a step adds at least, V, shape (E, P)."""
        out: Floats = np.zeros((step.source.size, self.mean_v.shape[-1]))
        for group in step.groups:
            if group.which in self.row:
                out[group.rows] = self.least_v[self.row[group.which]]
        return out

    def rows(self, phases: Integers) -> "Mixtures":
        """Some of the phases, which an array of shape (k,) numbers."""
        return self._replace(mean_v=self.mean_v[..., phases], variance=self.variance[..., phases])


class ColumnMove(NamedTuple):
    """One column of a sample.

    Attributes:
        step: the code's transitions.
        cursor_v: shape (P,).
        chance: of each transition, 0 against a known symbol, shape (E, 1) or (E, P).
        aside_v: how far the least way by each transition lies above the least into the same state, shape (E, P).
        mixtures: of the boundary that this column's symbols decide on, if it moves.
    """

    step: ColumnStep
    cursor_v: Floats
    chance: Floats
    aside_v: Floats
    mixtures: Mixtures | None

    def rows(self, phases: Integers) -> "ColumnMove":
        """Some of the phases, which an array of shape (k,) numbers."""
        return ColumnMove(
            self.step,
            self.cursor_v[phases],
            self.chance if self.chance.shape[1] == 1 else self.chance[:, phases],
            self.aside_v[:, phases],
            None if self.mixtures is None else self.mixtures.rows(phases),
        )


class Begun(NamedTuple):
    """What older symbols than those of the moves add, by the state that they lead to, shape (S, P) each.

    The states' probabilities, (S,), and mean, V, and variance, V^2, of the sum.
    """

    share: Floats
    mean_v: Floats
    variance: Floats

    def rows(self, phases: Integers) -> "Begun":
        """Some of the phases, which an array of shape (k,) numbers."""
        return self._replace(mean_v=self.mean_v[:, phases], variance=self.variance[:, phases])

    def weight(self, theta: Floats) -> tuple[Floats, Floats]:
        """Weight of each state at tilts (P, R), beside its mean, over a factor, (S, P, R), and the factor's logarithm.

        The factor's is of shape (P, R).
        """
        exponent = 0.5 * theta**2 * self.variance[:, :, None]
        most = exponent.max(axis=0)
        return self.share[:, None, None] * np.exp(exponent - most), most


class Moves(NamedTuple):
    """All columns, oldest first, and the least sum into each state after the newest, V, shape (S, P)."""

    moves: list[ColumnMove]
    least_v: Floats

    def rows(self, phases: Integers) -> "Moves":
        """Some of the phases, which an array of shape (k,) numbers."""
        return Moves([move.rows(phases) for move in self.moves], self.least_v[:, phases])


def moves_of(terms: Terms, steps: Mapping[int, ColumnStep], begun: Begun) -> Moves:
    """A sample's columns, ready for any tilt.

    Args:
        terms: the sample.
        steps: of its columns, oldest first.
        begun: what stands before them.
    """
    beyond_v = _FORBIDDEN * np.abs(terms.cursors_v).sum(axis=1)
    least_v = begun.mean_v
    newer = Moving(terms.taps, 1).windows.newer
    moves = []
    for column, step in steps.items():
        cursor_v = terms.cursors_v[:, column]
        into_v = least_v[step.source]
        into_v += step.symbol[:, None] * cursor_v
        chance = step.chance[:, None]
        known = terms.given.get(column)
        if known is not None:
            against = step.symbol[:, None] != known
            into_v += against * beyond_v
            chance = chance * ~against
        displaced = terms.displaced.get(column + newer)
        mixtures = None if displaced is None else _mixtures(displaced, terms.taps, step)
        if mixtures is not None:
            into_v += mixtures.added_v(step)
        least_v = step.into.least(into_v)
        into_v -= least_v[step.target]
        moves.append(ColumnMove(step, cursor_v, chance, into_v, mixtures))
    return Moves(moves, least_v)


def _mixtures(displaced: Displaced, taps: Taps, step: ColumnStep) -> Mixtures:
    windows = Moving(taps, displaced.weight.shape[0]).windows
    which = sorted({group.which for group in step.groups if group.which != STILL and windows.step[group.which]})
    driven, kind = windows.step[which][:, None, None], windows.kind[which]
    mean_v, rms_v = driven * displaced.change_v[0, kind], driven * displaced.spread_v[0, kind]
    return Mixtures(displaced.weight[kind], mean_v, rms_v**2, {one: row for row, one in enumerate(which)})


def log_mean(moves: Moves, begun: Begun, theta: Floats, *, precise: bool = True) -> Floats:
    """Logarithm of the moment generating function at real tilts, times the known symbols' probability, shape (P, R).

    Minus infinity where what boundaries do spreads the ways over more than floating point holds: at such tilts the tail
    is hundreds of decades down.

    Args:
        moves: the sample.
        begun: what stands before it.
        theta: 1/V, shape (P, R).
        precise: double precision; single halves the memory that is gone through, to six digits.
    """
    weight, scale = begun.weight(theta)
    at = theta if precise else theta.astype(np.float32)
    weight = weight.astype(at.dtype, copy=False)
    for number, move in enumerate(moves.moves, 1):
        ways, more = ways_by(move, weight, at)
        weight, scale = move.step.into.summed(ways), scale + more
        if not precise and number % _SINGLE_HOLDS == 0:
            most = np.maximum(weight.max(axis=0), np.finfo(at.dtype).tiny)
            weight /= most
            scale = scale + np.log(most)
    total, _ = ended(moves, weight, theta)
    return total + scale


def ended(moves: Moves, weight: Floats, theta: Floats) -> tuple[Floats, Floats]:
    """Logarithm of the sum over the states at the end, shape (P, R), and each state's share of it, (S, P, R)."""
    exponent = theta * moves.least_v[:, :, None]
    most = exponent.max(axis=0)
    share = weight * np.exp(exponent - most)
    total = share.sum(axis=0)
    with np.errstate(divide="ignore"):
        return np.log(total) + most, share / np.maximum(total, np.finfo(float).tiny)


def ways_by(move: ColumnMove, weight: Floats, theta: Floats) -> tuple[Floats, Floats | float]:
    """Weight by each transition, (E, P, R), over a factor, and that factor's logarithm."""
    kind = theta.dtype
    ways = move.aside_v.astype(kind, copy=False)[:, :, None] * theta
    np.exp(ways, out=ways)
    ways *= move.chance.astype(kind, copy=False)[:, :, None]
    ways *= weight[move.step.source]
    if move.mixtures is None:
        return ways, 0.0
    logs = _log_mixed(move.mixtures, theta)
    most = np.maximum(logs.max(axis=0), 0.0)
    factors, still = np.exp(logs - most), np.exp(-most)
    for group in move.step.groups:
        row = move.mixtures.row.get(group.which)
        ways[group.rows] *= still if row is None else factors[row]
    return ways, most


def _log_mixed(mixtures: Mixtures, theta: Floats) -> Floats:
    """Logarithm of a boundary's moment generating functions at tilts (P, R), beside its least, shape (W, P, R)."""
    kind = theta.dtype
    exponent = (0.5 * mixtures.variance).astype(kind, copy=False)[..., None] * theta
    exponent += (mixtures.mean_v - mixtures.least_v[:, None]).astype(kind, copy=False)[..., None]
    exponent *= theta
    most = exponent.max(axis=1)
    exponent -= most[:, None]
    np.exp(exponent, out=exponent)
    return np.asarray(np.log(np.einsum("wc,wcpr->wpr", mixtures.weight.astype(kind, copy=False), exponent)) + most)


def given_share(machine: Machine, given: Mapping[int, float | Floats]) -> Floats:
    """Probability that the known symbols are what they are, shape (P,) or (1,).

    Args:
        machine: the code.
        given: levels of known symbols, by column.
    """
    chance: Floats = machine.stationary()[:, None]
    for column in range(max(given), min(given) - 1, -1):
        ways = chance[machine.source] * machine.chance[:, None]
        if column in given:
            ways = ways * (machine.symbol[:, None] == given[column])
        chance = np.zeros((machine.states, ways.shape[1]))
        np.add.at(chance, machine.target, ways)
    return np.asarray(chance.sum(axis=0))
