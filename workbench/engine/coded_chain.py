"""A line code between the cursors: sums over every sequence that the code can send.

Independent symbols multiply the exponentials of their cursors; coded ones multiply transfer matrices over the code's
states, from the oldest cursor to the newest. A state here is one of the code's with the last few symbols, which the
displaced boundaries between symbols depend on.
"""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.chain import Displaced, driven_step
from workbench.engine.samples import NRZ, Integers
from workbench.parts.twoport import Complexes, Floats

Taps = tuple[float, float, float]


class CodedStates(NamedTuple):
    """The code with the symbols remembered that a boundary needs.

    Attributes:
        source: state before each transition, shape (E,), the transitions in the order of the states behind.
        first: where the transitions into each state begin, shape (S,).
        chance: probability of each transition, shape (E,).
        kind: which of `kinds` each is, shape (E,).
        kinds: the (symbol, driven step) pairs that occur.
        start: probability of each state at an instant picked at random, shape (S,).
        ahead: by how many symbols the boundary that a transition settles lies behind its symbol, 0 or 1.
    """

    source: Integers
    first: Integers
    chance: Floats
    kind: Integers
    kinds: tuple[tuple[float, float], ...]
    start: Floats
    ahead: int


def coded_states(machine: Machine, taps: Taps) -> CodedStates:
    """A code's states for transmit taps (before, main, after)."""
    before, _, after = taps
    reached = _remembering(machine, 1 + bool(before) + bool(after))
    number = {state: at for at, state in enumerate(reached)}
    rows = []
    for (state, past), at in number.items():
        for edge in np.nonzero(machine.source == state)[0]:
            window = (*past, float(machine.symbol[edge]))
            target = number[int(machine.target[edge]), window[1:]]
            rows.append((target, at, float(machine.chance[edge]), window[-1], round(driven_step(window, taps), 9)))
    rows.sort()
    kinds = tuple(dict.fromkeys((symbol, step) for _, _, _, symbol, step in rows))
    behind = np.array([row[0] for row in rows])
    return CodedStates(
        source=np.array([row[1] for row in rows]),
        first=np.searchsorted(behind, np.arange(len(number))),
        chance=np.array([row[2] for row in rows]),
        kind=np.array([kinds.index((row[3], row[4])) for row in rows]),
        kinds=kinds,
        start=np.array(list(reached.values())),
        ahead=int(bool(before)),
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
        displaced: what the displacement of boundary j does, for the boundaries that are large enough to count.
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
        cursors_v: shape (P, K), the newest symbol first.
        given: levels of known symbols, by column; the probability that they are so is divided out.
        theta: shape (P, R).
    """
    flows = {}
    for level in NRZ:
        flow = np.zeros((machine.states, machine.states))
        some = machine.symbol == level
        np.add.at(flow, (machine.target[some], machine.source[some]), machine.chance[some])
        flows[level] = flow
    value = np.repeat(machine.stationary()[:, None], theta.size, axis=1)
    out = np.zeros(theta.size)
    for column in range(cursors_v.shape[1] - 1, -1, -1):
        turned = (theta * cursors_v[:, column, None]).ravel()
        known = given.get(column)
        levels = NRZ if known is None else (known,)
        scale = np.abs(turned) if known is None else known * turned
        value = np.asarray(sum(flows[level] @ value * np.exp(level * turned - scale) for level in levels))
        most = value.sum(axis=0)
        value = value / most
        out += scale + np.log(most)
    share = np.prod([0.5 for _ in given])
    return np.asarray((out - np.log(share)).reshape(theta.shape))


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
        factor = factor[states.kind] * states.chance[:, None]
        mean, square = mean[states.kind], square[states.kind]
        new = [
            np.add.reduceat(factor * part, states.first, axis=0)
            for part in (weight, first + mean * weight, second + 2.0 * mean * first + square * weight)
        ]
        most = new[0].max(axis=0)
        sums = Sums(new[0] / most, new[1] / most, new[2] / most, sums.log_scale + log_scale + np.log(most))
    return sums


def _moments(
    states: CodedStates, terms: Terms, theta: Floats, column: int
) -> tuple[Floats, Floats, Floats, Floats]:
    """Tilted weight, mean and mean square of what each kind of transition adds, (C, P), and the scale's ln, (P,)."""
    cursor, known = terms.cursors_v[:, column], terms.given.get(column)
    displaced = terms.displaced.get(column + states.ahead)
    logs, means, squares = [], [], []
    for symbol, step in states.kinds:
        log_weight, mean, variance = theta * symbol * cursor, symbol * cursor, 0.0 * theta
        if displaced is not None and step:
            part_log, part_mean, variance = _displaced_moments(displaced, step, theta)
            log_weight, mean = log_weight + part_log, mean + part_mean
        logs.append(log_weight if known is None or known == symbol else np.full(theta.size, -np.inf))
        means.append(mean)
        squares.append(mean**2 + variance)
    log_weight = np.array(logs)
    scale = log_weight.max(axis=0)
    return np.exp(log_weight - scale), np.array(means), np.array(squares), scale


def _displaced_moments(displaced: Displaced, step: float, theta: Floats) -> tuple[Floats, Floats, Floats]:
    """Logarithm of the moment generating function of a step's displacement, its tilted mean and variance, (P,) each."""
    mean, variance = step * displaced.change_v, (step * displaced.spread_v) ** 2
    exponent = theta * mean + 0.5 * theta**2 * variance
    most = exponent.max(axis=0)
    weight = displaced.weight[:, None] * np.exp(exponent - most)
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
        moved *= factors.astype(kind)[states.kind]
        moved *= chance
        value = np.add.reduceat(moved, states.first, axis=0)
        log_scale = log_scale + scale
    return np.asarray(value.sum(axis=0)), log_scale


def _factors(states: CodedStates, terms: Terms, s: Complexes, column: int) -> tuple[Complexes, Floats]:
    """What each kind of transition multiplies, (C, P, U), over a factor whose logarithm is the second result, (P,)."""
    cursor, known = terms.cursors_v[:, column, None], terms.given.get(column)
    displaced = terms.displaced.get(column + states.ahead)
    turned = s * cursor
    scale = np.abs(turned[:, 0].real) if known is None else known * turned[:, 0].real
    found = []
    moved: dict[float, Complexes] = {}
    for symbol, step in states.kinds:
        if known is not None and known != symbol:
            found.append(np.zeros_like(s))
            continue
        factor = np.exp(symbol * turned - scale[:, None])
        if displaced is not None and step:
            if step not in moved:
                moved[step] = _displaced_factor(displaced, step, s)
            factor = factor * moved[step]
        found.append(factor)
    return np.array(found), scale


def _displaced_factor(displaced: Displaced, step: float, s: Complexes) -> Complexes:
    out = np.zeros_like(s)
    for weight, change, spread in zip(displaced.weight, displaced.change_v, displaced.spread_v, strict=True):
        out += weight * np.exp(s * (step * change)[:, None] + 0.5 * s**2 * ((step * spread) ** 2)[:, None])
    return out


def upper_share(states: CodedStates, level: float) -> float:
    """Probability that a symbol has a level."""
    sent = np.array([symbol for symbol, _ in states.kinds])[states.kind]
    return float((states.start[states.source] * states.chance)[sent == level].sum())

