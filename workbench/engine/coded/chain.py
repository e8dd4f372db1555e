"""A line code between the cursors: sums over every sequence that the code can send.

Independent symbols multiply the exponentials of their cursors; coded ones multiply transfer matrices over the code's
states, from the oldest cursor to the newest. At a real tilt that is a Markov chain: each way into a state has its
probability there, computed in logarithms, since far down a tail the ways' weights fit into no floating point number.
Along the imaginary axis only what turns on these ways is summed, which never exceeds 1.
"""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from workbench.engine.coded.states import CodedStates
from workbench.engine.tails.chain import Displaced, phasors
from workbench.parts.twoport import Complexes, Floats

_NEVER = -1e200
"""Logarithm of the weight of what is known not to be so; still a number, so that nothing turns into none."""


class Terms(NamedTuple):
    """What a sample consists of.

    Attributes:
        cursors_v: shape (P, K), the newest symbol first.
        given: levels of known symbols, by column.
        displaced: what the displacement of boundary j does, for the boundaries that are large enough to count: a
            mixture for each kind, `Displaced` of one boundary.
    """

    cursors_v: Floats
    given: Mapping[int, float]
    displaced: Mapping[int, Displaced]

    def repeated(self, times: int) -> "Terms":
        """Every phase so many times in a row."""
        displaced = {
            j: Displaced(known.weight, np.repeat(known.change_v, times, -1), np.repeat(known.spread_v, times, -1))
            for j, known in self.displaced.items()
        }
        return Terms(np.repeat(self.cursors_v, times, axis=0), self.given, displaced)

    def still(self) -> "Terms":
        """The same without displacements."""
        return self._replace(displaced={})


class Tilted(NamedTuple):
    """All sequences up to some column at one real tilt a phase, by the state they end in, shape (S, P) each.

    Natural logarithm of their weight; mean, V, and variance, V^2, of what they add.
    """

    log_weight: Floats
    mean_v: Floats
    variance: Floats


class Along(NamedTuple):
    """Where functions are evaluated: ``theta + j m step`` for m from 0 to points - 1.

    Attributes:
        theta: tilt of each phase, 1/V, shape (P,).
        step: step of each phase along the imaginary axis, 1/V, shape (P,).
        points: how many there are.
        precise: double precision; single is ample for the few decades about one error ratio.
    """

    theta: Floats
    step: Floats
    points: int
    precise: bool

    @property
    def u(self) -> Floats:
        """The points along the imaginary axis, 1/V, shape (P, U)."""
        return self.step[:, None] * np.arange(self.points)


class _Added(NamedTuple):
    """What each sort of transition adds in one column at real tilts.

    Attributes:
        log_weight: natural logarithm of its weight, shape (C, P).
        parts: by what the window makes the boundary do: weights (sum 1), means, V, and variances, V^2, (parts, P) each.
        cursor_v: of the column, shape (P,).
    """

    log_weight: Floats
    parts: Mapping[int, tuple[Floats, Floats, Floats]]
    cursor_v: Floats


def log_mean(states: CodedStates, terms: Terms, theta: Floats, columns: range) -> Floats:
    """Logarithm of the moment generating function at real tilts, given the known symbols, shape (P, R).

    Args:
        states: the code.
        terms: the sample.
        theta: 1/V, shape (P, R).
        columns: the columns, oldest first.
    """
    repeated, tilts = terms.repeated(theta.shape[1]), theta.ravel()
    logs = _begun(states, tilts)
    for column in columns:
        logs = states.into.log_summed(_ways(states, logs, _added(states, repeated, tilts, column)))
    share = np.prod([states.upper_share(level) for column, level in terms.given.items() if column in columns])
    return np.asarray((_total(logs) - np.log(share)).reshape(theta.shape))


def tilted_at(states: CodedStates, terms: Terms, theta: Floats, columns: range) -> Tilted:
    """All sequences over columns, from the oldest to the newest.

    Args:
        states: the code.
        terms: the sample.
        theta: tilt of each phase, 1/V, shape (P,).
        columns: the columns, oldest first.
    """
    nothing = np.zeros((states.start.size, theta.size))
    at = Tilted(_begun(states, theta), nothing, nothing)
    for column in columns:
        added = _added(states, terms, theta, column)
        logs, back = _stepped(states, at.log_weight, added)
        more, spread = _moments(states, added)
        mean = at.mean_v[states.source] + more[states.sort]
        new = states.into.summed(np.asarray(back * mean))
        aside = at.variance[states.source] + spread[states.sort] + (mean - new[states.target]) ** 2
        at = Tilted(logs, new, states.into.summed(np.asarray(back * aside)))
    return at


def transformed(
    states: CodedStates, terms: Terms, begun: Tilted, columns: range, along: Along
) -> tuple[Complexes, Floats]:
    """Moment generating function along a line, symbols of `columns` one by one.

    Args:
        states: the code.
        terms: the sample.
        begun: sums over the older columns at the tilts; their course along u is that of their first two moments.
        columns: the columns, oldest first.
        along: the line.

    Returns:
        The function over its value at the tilt, shape (P, U), and that value's natural logarithm, shape (P,).
    """
    u = along.u
    real, kind = (np.float64, np.complex128) if along.precise else (np.float32, np.complex64)
    value = np.exp(1j * begun.mean_v[:, :, None] * u - 0.5 * begun.variance[:, :, None] * u**2).astype(kind)
    logs = begun.log_weight
    for column in columns:
        added = _added(states, terms, along.theta, column)
        logs, back = _stepped(states, logs, added)
        turns = _turns(states, added, along).astype(kind)
        moved = value[states.source]
        moved *= turns[states.sort]
        moved *= back.astype(real)[:, :, None]
        value = states.into.summed(moved)
    total = _total(logs)
    share = np.exp(logs - total)[:, :, None].astype(real)
    return np.asarray((value * share).sum(axis=0)), total


def _begun(states: CodedStates, theta: Floats) -> Floats:
    return np.repeat(np.log(states.start)[:, None], theta.size, axis=1)


def _total(logs: Floats) -> Floats:
    """Logarithm of the sum over the states, shape (P,)."""
    most = logs.max(axis=0)
    return np.asarray(np.log(np.exp(logs - most).sum(axis=0)) + most)


def _ways(states: CodedStates, logs: Floats, added: _Added) -> Floats:
    """Logarithm of the weight that comes by each transition, shape (E, P)."""
    out = logs[states.source]
    out += states.log_chance[:, None]
    out += added.log_weight[states.sort]
    return out


def _stepped(states: CodedStates, logs: Floats, added: _Added) -> tuple[Floats, Floats]:
    """Logarithm of each state's weight, (S, P), and the probability of each way, given where it leads, (E, P)."""
    ways = _ways(states, logs, added)
    new = states.into.log_summed(ways)
    return new, np.exp(ways - new[states.target])


def _added(states: CodedStates, terms: Terms, theta: Floats, column: int) -> _Added:
    cursor, known = terms.cursors_v[:, column], terms.given.get(column)
    displaced = terms.displaced.get(column + states.windows.newer)
    logs: dict[int, Floats] = {}
    parts: dict[int, tuple[Floats, Floats, Floats]] = {}
    if displaced is not None:
        for which in {which for _, which in states.sorts if states.windows.step[which]}:
            logs[which], parts[which] = _tilted_parts(states, displaced, which, theta)
    turned, never = theta * cursor, np.full(theta.size, _NEVER)
    log_weight = np.array([
        never if known not in (None, symbol) else symbol * turned + logs.get(which, 0.0)
        for symbol, which in states.sorts
    ])  # fmt: skip
    return _Added(log_weight, parts, cursor)


def _tilted_parts(
    states: CodedStates, displaced: Displaced, which: int, theta: Floats
) -> tuple[Floats, tuple[Floats, Floats, Floats]]:
    """A boundary's mixture for what its window makes it do, tilted: logarithm of its weight, (P,), and its parts."""
    step, kind = float(states.windows.step[which]), int(states.windows.kind[which])
    some = displaced.weight[kind] > 0.0
    mean, variance = step * displaced.change_v[0, kind, some], (step * displaced.spread_v[0, kind, some]) ** 2
    exponent = theta * (mean + 0.5 * theta * variance)
    most = exponent.max(axis=0)
    weight = displaced.weight[kind, some, None] * np.exp(exponent - most)
    total = weight.sum(axis=0)
    return np.log(total) + most, (weight / total, mean + theta * variance, variance)


def _moments(states: CodedStates, added: _Added) -> tuple[Floats, Floats]:
    """Mean and variance of what each sort of transition adds, (C, P) each."""
    moved = {}
    for which, (weight, mean, variance) in added.parts.items():
        centre = (weight * mean).sum(axis=0)
        moved[which] = centre, (weight * (variance + (mean - centre) ** 2)).sum(axis=0)
    none = np.zeros_like(added.cursor_v)
    each = [moved.get(which, (none, none)) for _, which in states.sorts]
    means = [symbol * added.cursor_v + mean for (symbol, _), (mean, _) in zip(states.sorts, each, strict=True)]
    return np.array(means), np.array([spread for _, spread in each])


def _turns(states: CodedStates, added: _Added, along: Along) -> Complexes:
    """What each sort of transition multiplies along u, over what it multiplies at the tilt, shape (C, P, U)."""
    u = along.u.T
    moved = {}
    for which, (weight, mean, variance) in added.parts.items():
        turns = phasors(mean, along.step, along.points)
        turns *= weight * np.exp(-0.5 * variance * u[:, None] ** 2)
        moved[which] = turns.sum(axis=1)
    upper = phasors(added.cursor_v, along.step, along.points)
    bare = {1.0: upper, -1.0: upper.conj()}
    every = [bare[symbol] * moved[which] if which in moved else bare[symbol] for symbol, which in states.sorts]
    return np.ascontiguousarray(np.array(every).transpose(0, 2, 1))
