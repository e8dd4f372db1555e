"""The worst that a line code can send: the sequence that closes the eye furthest, and the drift behind capacitors.

Both are exact, by dynamic programming over the code's states (R. Bellman, Dynamic Programming, 1957): the worst way
into a state is the worst of the ways into the states before it.
"""

from typing import NamedTuple

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.tails.chain import Integers
from workbench.parts.twoport import Floats


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
    return np.asarray(_least(machine, cursors_v, main)[0].min(axis=0))


def worst_sequence(machine: Machine, cursors_v: Floats, main: int) -> WorstSequence:
    """The sequence behind the least sample of an upper symbol, then that behind the greatest of a lower one.

    Args:
        machine: the code.
        cursors_v: V, shape (K,), the newest symbol first.
        main: the column of the symbol that is decided on.
    """
    upper = _way(machine, cursors_v, main)
    lower = _way(machine._replace(symbol=-machine.symbol), cursors_v, main)
    between, back = _onward(machine, upper.end, lower.start), _onward(machine, lower.end, upper.start)
    first = np.array([*upper.sent, *between])
    return WorstSequence(
        sample_v=upper.sample_v,
        symbols=np.concatenate([first, -np.array(lower.sent), back]),
        upper=upper.decided,
        lower=first.size + lower.decided,
    )


class _Way(NamedTuple):
    """Symbols sent from a word's beginning to the newest that counts, and the states before and behind them."""

    sample_v: float
    sent: list[float]
    decided: int
    start: int
    end: int


def _way(machine: Machine, cursors_v: Floats, main: int) -> _Way:
    """The way through the code to the least sample of an upper symbol."""
    value, taken = _least(machine, cursors_v[None, :], main)
    state = end = int(value[:, 0].argmin())
    edges: list[int] = []
    for by in reversed(taken):
        edges.append(int(by[state, 0]))
        state = int(machine.source[edges[-1]])
    while machine.place[state]:
        edges.append(int(np.nonzero(machine.target == state)[0][0]))
        state = int(machine.source[edges[-1]])
    sent = [float(machine.symbol[edge]) for edge in reversed(edges)]
    return _Way(float(value.min()), sent, len(sent) - 1 - main, state, end)


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


def _least(machine: Machine, cursors_v: Floats, main: int) -> tuple[Floats, list[Integers]]:
    """The least sum into each state, (S, P), and for each column, oldest first, the transition taken, (S, P)."""
    value = np.zeros((machine.states, cursors_v.shape[0]))
    order = np.argsort(machine.target, kind="stable")
    source, target, symbol = machine.source[order], machine.target[order], machine.symbol[order]
    first = np.searchsorted(target, np.arange(machine.states))
    taken: list[Integers] = []
    for column in range(cursors_v.shape[1] - 1, -1, -1):
        into = value[source] + symbol[:, None] * cursors_v[:, column]
        if column == main:
            into[symbol < 0.0] = np.inf
        value = np.minimum.reduceat(into, first, axis=0)
        # Into few states leads more than one transition: the last that reaches the least is as good as any.
        reaches = np.where(into <= value[target], np.arange(source.size)[:, None], -1)
        taken.append(order[np.maximum.reduceat(reaches, first, axis=0)])
    return value, taken


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
