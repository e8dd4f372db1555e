"""The worst that a line code can send: the sequence that closes the eye furthest, and the drift through capacitors.

Both are exact, by dynamic programming over the code's states (R. Bellman, Dynamic Programming, 1957): the worst way
into a state is the worst of the ways into the states before it.
"""

from dataclasses import replace
from functools import lru_cache
from math import isclose
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.codes.machine import Machine
from workbench.engine.coded.counting import oldest_column
from workbench.engine.tails.samples import Sample

_TELLING, _EVERY = 64, 4
"""So many of the newest symbols tell about which phase the worst leaves most, looked for at every so many phases."""


class WorstSequence(NamedTuple):
    """A sequence of the code that makes a sample of either symbol as bad as it can be.

    Attributes:
        sample_v: the least sample of an upper symbol, V, without noise and jitter.
        symbols: levels -1.0 and +1.0 in the order they are sent, whole words of the code, shape (n,); the code may
            send them over and over.
        upper: which of them the least sample of an upper symbol belongs to.
        lower: which of them the greatest sample of a lower symbol belongs to.
    """

    sample_v: float
    symbols: Floats
    upper: int
    lower: int

    @property
    def bits(self) -> str:
        """The symbols as zeros and ones."""
        return "".join("1" if symbol > 0.0 else "0" for symbol in self.symbols)


def worst_samples_v(machine: Machine, cursors_v: Floats, main: int) -> Floats:
    """The least sample of an upper symbol that the code can send, at each phase, V, shape (P,).

    Args:
        machine: the code.
        cursors_v: V, shape (P, K), the newest symbol first.
        main: the column of the symbol that is decided on.
    """
    return np.asarray(_least(machine, cursors_v, main)[-1].min(axis=0))


def worst_of(sample: Sample, machine: Machine) -> tuple[float, WorstSequence]:
    """The height that the worst sequence leaves at the phase where it is largest, V, and that sequence.

    About which phase that is the newer symbols tell; there and beside it all count that count at all.

    Args:
        sample: two-level symbols at the phases of one unit interval, the upper one known.
        machine: the line code.
    """
    main = next(iter(sample.given))
    cursors_v = sample.cursors_v[:, : oldest_column(sample, machine)]
    best = _EVERY * int(worst_samples_v(machine, cursors_v[::_EVERY, :_TELLING], main).argmax())
    near = np.arange(max(best - _EVERY + 1, 0), min(best + _EVERY, cursors_v.shape[0]))
    least = _least(machine, cursors_v[near], main)
    least_v = least[-1].min(axis=0)
    phase = int(least_v.argmax())
    telling = cursors_v[near[phase]]
    upper = _way_back(machine, [one[:, phase] for one in least], telling, main)
    return 2.0 * float(least_v[phase]), _both_ways(machine, upper, telling, main)


def worst_sequence(machine: Machine, cursors_v: Floats, main: int) -> WorstSequence:
    """The sequence after the least sample of an upper symbol, then that after the greatest of a lower one.

    Args:
        machine: the code.
        cursors_v: V, shape (K,), the newest symbol first.
        main: the column of the symbol that is decided on.
    """
    return _both_ways(machine, _way(machine, cursors_v, main), cursors_v, main)


def _both_ways(machine: Machine, upper: "_Way", cursors_v: Floats, main: int) -> WorstSequence:
    lower = _mirrored(machine, upper) or _way(replace(machine, symbol=-machine.symbol), cursors_v, main)
    between, back = _onward(machine, upper.end, lower.start), _onward(machine, lower.end, upper.start)
    first = np.array([*upper.sent, *between])
    return WorstSequence(
        sample_v=upper.sample_v,
        symbols=np.concatenate([first, -np.array(lower.sent), back]),
        upper=upper.decided,
        lower=first.size + lower.decided,
    )


class _Way(NamedTuple):
    """Symbols sent from a word's beginning to the newest that counts, and the states before and after them."""

    sample_v: float
    sent: list[float]
    decided: int
    start: int
    end: int


def _mirrored(machine: Machine, way: _Way) -> _Way | None:
    """The same way through the opposite symbols, where the code has it: its states are then each other's mirrors."""
    other = mirrored_states(machine)
    return None if other is None else way._replace(start=int(other[way.start]), end=int(other[way.end]))


@lru_cache(maxsize=16)
def mirrored_states(machine: Machine) -> Integers | None:
    """The state from which each state's opposite symbols follow, shape (states,); None where the code has no mirror."""
    onward = {
        (int(source), float(symbol)): (int(target), float(chance))
        for source, target, symbol, chance in zip(
            machine.source, machine.target, machine.symbol, machine.chance, strict=True
        )
    }
    for first in np.nonzero(machine.place == machine.place[0])[0].tolist():
        found = _paired(onward, {0: first})
        if found is not None and len(found) == machine.states:
            return np.array([found[state] for state in range(machine.states)])
    return None


def _paired(onward: dict[tuple[int, float], tuple[int, float]], pairs: dict[int, int]) -> dict[int, int] | None:
    """The pairs of mirrored states that follow from one; None where two of them are none."""
    pending = list(pairs)
    while pending:
        state = pending.pop()
        for symbol in (-1.0, 1.0):
            one, other = onward.get((state, symbol)), onward.get((pairs[state], -symbol))
            if one is None and other is None:
                continue
            if one is None or other is None or not isclose(one[1], other[1], abs_tol=1e-9):
                return None
            if one[0] not in pairs:
                pairs[one[0]] = other[0]
                pending.append(one[0])
            elif pairs[one[0]] != other[0]:
                return None
    return pairs


def _way(machine: Machine, cursors_v: Floats, main: int) -> _Way:
    """The way through the code to the least sample of an upper symbol."""
    least = _least(machine, cursors_v[None, :], main)
    return _way_back(machine, [one[:, 0] for one in least], cursors_v, main)


def _way_back(machine: Machine, least: list[Floats], cursors_v: Floats, main: int) -> _Way:
    """The same where the least sums into each state are known, as far back as there are cursors."""
    state = end = int(least[-1].argmin())
    into = _edges_into(machine)
    sent: list[float] = []
    for column, cursor_v in enumerate(cursors_v.tolist()):
        before = least[-2 - column]
        known = [
            (before[source] + symbol * cursor_v, symbol, source)
            for symbol, source in into[state]
            if column != main or symbol > 0.0
        ]
        _, symbol, state = min(known)
        sent.append(symbol)
    while machine.place[state]:
        symbol, state = into[state][0]
        sent.append(symbol)
    return _Way(float(least[-1].min()), sent[::-1], len(sent) - 1 - main, state, end)


@lru_cache(maxsize=16)
def _edges_into(machine: Machine) -> list[list[tuple[float, int]]]:
    """Symbol and state before of the transitions into each state."""
    found: list[list[tuple[float, int]]] = [[] for _ in range(machine.states)]
    for source, target, symbol in zip(machine.source, machine.target, machine.symbol, strict=True):
        found[target].append((float(symbol), int(source)))
    return found


def _onward(machine: Machine, state: int, goal: int) -> list[float]:
    """The fewest symbols from one state to another."""
    ways: dict[int, list[float]] = {state: []}
    reached = [state]
    while goal not in ways:
        here = reached.pop(0)
        for edge in np.nonzero(machine.source == here)[0]:
            there = int(machine.target[edge])
            if there not in ways:
                ways[there] = [*ways[here], float(machine.symbol[edge])]
                reached.append(there)
    return ways[goal]


def _least(machine: Machine, cursors_v: Floats, main: int) -> list[Floats]:
    """The least sum into each state before the oldest column and after each, oldest first, shape (S, P) each."""
    order = np.argsort(machine.target, kind="stable")
    source, target, symbol = machine.source[order], machine.target[order], machine.symbol[order, None]
    first = np.searchsorted(target, np.arange(machine.states))
    least: list[Floats] = [np.zeros((machine.states, cursors_v.shape[0]))]
    for column in range(cursors_v.shape[1] - 1, -1, -1):
        into = least[-1].take(source, axis=0)
        into += symbol * cursors_v[:, column]
        if column == main:
            into[symbol[:, 0] < 0.0] = np.inf
        least.append(np.minimum.reduceat(into, first, axis=0))
    return least


@lru_cache(maxsize=16)
def widest_drift(machine: Machine) -> float:
    """How far, in symbols, a slow high-pass lets the baseline drift at most; infinite for a code without balance.

    With time constants that last many words the drift is the running digital sum now, less its average over the time
    constant. The widest is the largest sum that can be now less the least average that can be kept up, which a cycle of
    states has (R. M. Karp, "A characterization of the minimum cycle mean in a digraph", Discrete Math. 23, 1978).
    """
    sums = _running_sums(machine)
    if sums is None:
        return float("inf")
    upper = float(sums.max() - _least_cycle_mean(machine, sums))
    lower = float(-sums.min() - _least_cycle_mean(machine, -sums))
    return max(upper, lower)


def _running_sums(machine: Machine) -> Floats | None:
    """The running digital sum in each state, up to one constant; None where the states don't fix it."""
    sums: Floats = np.full(machine.states, np.nan)
    sums[0] = 0.0
    pending = [0]
    while pending:
        state = pending.pop()
        for edge in np.nonzero(machine.source == state)[0]:
            target, there = int(machine.target[edge]), sums[state] + machine.symbol[edge]
            if np.isnan(sums[target]):
                sums[target] = there
                pending.append(target)
            elif sums[target] != there:
                return None
    return sums


def _least_cycle_mean(machine: Machine, worth: Floats) -> float:
    """The least mean worth (of the state reached) over any cycle, by Karp's theorem."""
    count = machine.states
    least = np.full((count + 1, count), np.inf)
    least[0, 0] = 0.0
    for step in range(count):
        into = least[step, machine.source] + worth[machine.target]
        np.minimum.at(least[step + 1], machine.target, into)
    last = least[count]
    reached = np.isfinite(last)
    with np.errstate(invalid="ignore"):
        slopes = (last[reached] - least[:count, reached]) / (count - np.arange(count))[:, None]
    slopes[~np.isfinite(least[:count, reached])] = -np.inf
    return float(slopes.max(axis=0).min())
