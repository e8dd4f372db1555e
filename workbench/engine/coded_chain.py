"""A line code between the cursors: sums over every sequence that the code can send.

Independent symbols multiply the exponentials of their cursors; coded ones multiply transfer matrices over the code's
states, from the oldest cursor to the newest. A state here is one of the code's with the last few symbols, which the
displaced boundaries between symbols depend on.
"""

from collections.abc import Mapping
from typing import NamedTuple, TypeVar

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.chain import Displaced, Integers, Taps, Windows, phasors, windows_of
from workbench.engine.samples import NRZ
from workbench.parts.twoport import Complexes, Floats

ArrayT = TypeVar("ArrayT", Floats, Complexes)


class Into(NamedTuple):
    """Transitions gathered by the states that they lead into.

    `first` is the first transition into each state, shape (S,); `others` are, for the second one, the third and so on,
    the states that have such a one and its number. Few states have many: that is faster than summing stretches.
    """

    first: Integers
    others: tuple[tuple[Integers, Integers], ...]

    def summed(self, moved: ArrayT) -> ArrayT:
        """Sums over the transitions into each state, (E, ...) to (S, ...)."""
        out = moved[self.first]
        for states, transitions in self.others:
            out[states] += moved[transitions]
        return out


def gathered(target: Integers, states: int) -> Into:
    """Transitions, in the order of their `target`, by state."""
    first = np.searchsorted(target, np.arange(states))
    count = np.diff(np.append(first, target.size))
    others = [(np.nonzero(count > n)[0], first[count > n] + n) for n in range(1, int(count.max()))]
    return Into(first, tuple(others))


class CodedStates(NamedTuple):
    """The code with the symbols remembered that a boundary needs.

    Attributes:
        source: state before each transition, shape (E,), the transitions in the order of the states behind.
        into: the transitions by the state behind.
        chance: probability of each transition, shape (E,).
        sort: which of `sorts` each is, shape (E,).
        sorts: the pairs that occur of a symbol and what the window of symbols makes the boundary do.
        start: probability of each state at an instant picked at random, shape (S,).
        windows: what each combination of symbols about a boundary makes it do.
    """

    source: Integers
    into: Into
    chance: Floats
    sort: Integers
    sorts: tuple[tuple[float, int], ...]
    start: Floats
    windows: Windows


def coded_states(machine: Machine, taps: Taps, kinds: int = 1) -> CodedStates:
    """A code's states for transmit taps (before, main, after) and as many kinds of displacement."""
    windows = windows_of(NRZ, taps, kinds)
    does = {tuple(NRZ[level] for level in levels): int(which)
            for levels, which in zip(windows.levels, windows.which, strict=True)}  # fmt: skip
    reached = _remembering(machine, windows.symbols - 1)
    number = {state: at for at, state in enumerate(reached)}
    rows = []
    for (state, past), at in number.items():
        for edge in np.nonzero(machine.source == state)[0]:
            window = (*past, float(machine.symbol[edge]))
            target = number[int(machine.target[edge]), window[1:]]
            rows.append((target, at, float(machine.chance[edge]), window[-1], does[window]))
    rows.sort()
    sorts = tuple(dict.fromkeys((symbol, which) for *_, symbol, which in rows))
    behind = np.array([row[0] for row in rows])
    return CodedStates(
        source=np.array([row[1] for row in rows]),
        into=gathered(behind, len(number)),
        chance=np.array([row[2] for row in rows]),
        sort=np.array([sorts.index((row[3], row[4])) for row in rows]),
        sorts=sorts,
        start=np.array(list(reached.values())),
        windows=windows,
    )


def _remembering(machine: Machine, length: int) -> dict[tuple[int, tuple[float, ...]], float]:
    """Every state with the last `length` symbols that may lead into it, and its probability."""
    reached: dict[tuple[int, tuple[float, ...]], float] = {
        (state, ()): float(share) for state, share in enumerate(machine.stationary())
    }
    for _ in range(length):
        after: dict[tuple[int, tuple[float, ...]], float] = {}
        for (state, past), share in reached.items():
            for edge in np.nonzero(machine.source == state)[0]:
                key = int(machine.target[edge]), (*past, float(machine.symbol[edge]))
                after[key] = after.get(key, 0.0) + share * float(machine.chance[edge])
        reached = after
    return reached


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


class Sums(NamedTuple):
    """Tilted sums over all sequences up to some column, by state: their weight and first two moments in V, (S, P) each.

    `log_scale` is the natural logarithm of what was taken out, shape (P,).
    """

    weight: Floats
    first: Floats
    second: Floats
    log_scale: Floats


def log_mean(machine: Machine, cursors_v: Floats, given: Mapping[int, float], theta: Floats) -> Floats:
    """Logarithm of the coded symbols' moment generating function at real tilts, shape (P, R).

    Args:
        machine: the code.
        cursors_v: V, shape (P, K), the newest symbol first.
        given: levels of known symbols, by column; the probability that they are so is divided out.
        theta: 1/V, shape (P, R).
    """
    order = np.argsort(machine.target, kind="stable")
    source, chance = machine.source[order], machine.chance[order, None]
    upper = (machine.symbol[order] > 0.0)[:, None]
    into = gathered(machine.target[order], machine.states)
    value: Floats = np.repeat(machine.stationary()[:, None], theta.size, axis=1)
    out: Floats = np.zeros(theta.size)
    for column in range(cursors_v.shape[1] - 1, -1, -1):
        turned = (theta * cursors_v[:, column, None]).ravel()
        known = given.get(column)
        scale = np.abs(turned) if known is None else known * turned
        up, down = (
            np.exp(level * turned - scale) if known in (None, level) else np.zeros(turned.size) for level in (1.0, -1.0)
        )
        # Not a matrix product: its library would start threads that wait for each other where others work too.
        value = into.summed(np.asarray(value[source] * (chance * np.where(upper, up, down)), np.float64))
        most = value.sum(axis=0)
        value = np.asarray(value / most, np.float64)
        out = np.asarray(out + scale + np.log(most), np.float64)
    share = np.prod([0.5 for _ in given])
    return np.asarray((out - np.log(share)).reshape(theta.shape))


def log_moved(states: CodedStates, machine: Machine, terms: Terms, theta: Floats) -> Floats:
    """What displaced boundaries add to the logarithm of the moment generating function at real tilts, shape (P, R).

    With the symbols about them and all newer ones: what older ones have to do with them is left out.

    Args:
        states: the code.
        machine: the same without symbols remembered.
        terms: the sample, with at least one boundary.
        theta: 1/V, shape (P, R).
    """
    near = min(max(terms.displaced) + states.windows.symbols, terms.cursors_v.shape[1])
    rungs = theta.shape[1]
    repeated = Terms(
        np.repeat(terms.cursors_v, rungs, axis=0),
        terms.given,
        {j: known._replace(change_v=np.repeat(known.change_v, rungs, axis=-1),
                           spread_v=np.repeat(known.spread_v, rungs, axis=-1))
         for j, known in terms.displaced.items()},
    )  # fmt: skip
    value, out = np.repeat(states.start[:, None], theta.size, axis=1), np.zeros(theta.size)
    for column in range(near - 1, -1, -1):
        factor, _, _, log_scale = _moments(states, repeated, theta.ravel(), column)
        moved = value[states.source]
        moved *= factor[states.sort]
        moved *= states.chance[:, None]
        value = states.into.summed(moved)
        most = value.max(axis=0)
        value /= most
        out += log_scale + np.log(most)
    share = np.prod([upper_share(states, level) for level in terms.given.values()])
    with_them = (out + np.log(value.sum(axis=0)) - np.log(share)).reshape(theta.shape)
    return np.asarray(with_them - log_mean(machine, terms.cursors_v[:, :near], terms.given, theta))


def summed_at(states: CodedStates, terms: Terms, theta: Floats, columns: range) -> Sums:
    """Sums at real tilts over columns, from the oldest to the newest.

    Args:
        states: the code.
        terms: the sample.
        theta: tilt of each phase, 1/V, shape (P,).
        columns: the columns, oldest first.
    """
    nothing = np.zeros((states.start.size, theta.size))
    sums = Sums(nothing + states.start[:, None], nothing, nothing, np.zeros(theta.size))
    for column in columns:
        factor, mean, square, log_scale = _moments(states, terms, theta, column)
        weight, first, second = (part[states.source] for part in sums[:3])
        factor = np.asarray(factor[states.sort] * states.chance[:, None], np.float64)
        mean, square = mean[states.sort], square[states.sort]
        new = [
            states.into.summed(np.asarray(factor * part, np.float64))
            for part in (weight, first + mean * weight, second + 2.0 * mean * first + square * weight)
        ]
        most = new[0].max(axis=0)
        lifted = sums.log_scale + log_scale + np.log(most)
        sums = Sums(np.asarray(new[0] / most), np.asarray(new[1] / most), np.asarray(new[2] / most), lifted)
    return sums


def _moments(
    states: CodedStates, terms: Terms, theta: Floats, column: int
) -> tuple[Floats, Floats, Floats, Floats]:
    """Tilted weight, mean and mean square of what each sort of transition adds, (C, P), and the scale's ln, (P,)."""
    cursor, known = terms.cursors_v[:, column], terms.given.get(column)
    displaced = terms.displaced.get(column + states.windows.newer)
    logs, means, squares = [], [], []
    for symbol, which in states.sorts:
        log_weight, mean, variance = theta * symbol * cursor, symbol * cursor, 0.0 * theta
        if displaced is not None and states.windows.step[which]:
            part_log, part_mean, variance = _displaced_moments(*_mixture(states, displaced, which), theta)
            log_weight, mean = log_weight + part_log, mean + part_mean
        logs.append(log_weight if known is None or known == symbol else np.full(theta.size, -np.inf))
        means.append(mean)
        squares.append(mean**2 + variance)
    log_weight = np.array(logs)
    scale = log_weight.max(axis=0)
    return np.exp(log_weight - scale), np.array(means), np.array(squares), scale


def _mixture(states: CodedStates, displaced: Displaced, which: int) -> tuple[Floats, Floats, Floats]:
    """Weights (C,), mean changes and variances in V and V^2 (C, P) of one boundary for what its window makes it do."""
    step, kind = float(states.windows.step[which]), int(states.windows.kind[which])
    change, spread = displaced.change_v[0, kind], displaced.spread_v[0, kind]
    return displaced.weight[kind], step * change, (step * spread) ** 2


def _displaced_moments(
    parts: Floats, mean: Floats, variance: Floats, theta: Floats
) -> tuple[Floats, Floats, Floats]:
    """Logarithm of the moment generating function of a mixture, its tilted mean and variance, (P,) each."""
    exponent = theta * mean + 0.5 * theta**2 * variance
    most = exponent.max(axis=0)
    weight = parts[:, None] * np.exp(exponent - most)
    total = weight.sum(axis=0)
    weight /= total
    centre = mean + theta * variance
    first = (weight * centre).sum(axis=0)
    return np.log(total) + most, first, (weight * (variance + (centre - first) ** 2)).sum(axis=0)


def transformed(
    states: CodedStates, terms: Terms, begun: Sums, s: Complexes, columns: range, *, precise: bool
) -> tuple[Complexes, Floats]:
    """Moment generating function along ``s = theta + j u``, symbols of `columns` one by one.

    Args:
        states: the code.
        terms: the sample.
        begun: sums over the older columns at the real tilts; their course along u is that of their first two moments.
        s: shape (P, U), u = 0 first.
        columns: the columns, oldest first.
        precise: double precision; single is ample for the few decades about one error ratio.

    Returns:
        The function with a factor taken out, shape (P, U), and that factor's natural logarithm, shape (P,).
    """
    u, kind = s.imag, np.complex128 if precise else np.complex64
    mean = begun.first / begun.weight
    variance = np.maximum(begun.second / begun.weight - mean**2, 0.0)
    course = np.exp(1j * mean[:, :, None] * u - 0.5 * variance[:, :, None] * u**2)
    value = (begun.weight[:, :, None] * course).astype(kind)
    chance = states.chance.astype(np.float64 if precise else np.float32)[:, None, None]
    log_scale = begun.log_scale
    for column in columns:
        factors, scale = _factors(states, terms, s, column)
        moved = value[states.source]
        moved *= factors.astype(kind)[states.sort]
        moved *= chance
        value = states.into.summed(moved)
        log_scale = log_scale + scale
    return np.asarray(value.sum(axis=0)), log_scale


def _factors(states: CodedStates, terms: Terms, s: Complexes, column: int) -> tuple[Complexes, Floats]:
    """What each sort of transition multiplies, (C, P, U), over a factor whose logarithm is the second result, (P,)."""
    cursor, known = terms.cursors_v[:, column, None], terms.given.get(column)
    displaced = terms.displaced.get(column + states.windows.newer)
    turned = s * cursor
    scale = np.abs(turned[:, 0].real) if known is None else known * turned[:, 0].real
    bare = {symbol: np.exp(symbol * turned - scale[:, None]) for symbol in NRZ if known in (None, symbol)}
    still = np.zeros_like(s)
    moved: dict[int, Complexes] = {}
    found = []
    for symbol, which in states.sorts:
        factor = bare.get(symbol, still)
        if displaced is not None and states.windows.step[which] and factor is not still:
            if which not in moved:
                moved[which] = _displaced_factor(*_mixture(states, displaced, which), s)
            factor = factor * moved[which]
        found.append(factor)
    return np.array(found), scale


def _displaced_factor(parts: Floats, mean: Floats, variance: Floats, s: Complexes) -> Complexes:
    """Moment generating function of a mixture along s, shape (P, U)."""
    some = parts > 0.0
    mean, variance = mean[some], variance[some]
    theta, u = s[:, 0].real, s.imag
    height = parts[some, None] * np.exp(theta * (mean + 0.5 * theta * variance))
    turns = phasors(mean + theta * variance, u[:, 1], u.shape[1])
    turns *= height * np.exp(-0.5 * variance * (u.T[:, None] ** 2))
    return np.asarray(turns.sum(axis=1).T)


def upper_share(states: CodedStates, level: float) -> float:
    """Probability that a symbol has a level."""
    sent = np.array([symbol for symbol, _ in states.sorts])[states.sort]
    return float((states.start[states.source] * states.chance)[sent == level].sum())

