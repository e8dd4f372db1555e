"""The worst that a line code can send: the sequence that closes the eye furthest, and the drift behind capacitors.

Both are exact, by dynamic programming over the code's states (R. Bellman, Dynamic Programming, 1957): the worst way
into a state is the worst of the ways into the states before it.
"""

from typing import NamedTuple

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.chain import Integers
from workbench.parts.twoport import Floats


class WorstSequence(NamedTuple):
    """A sequence of the code that makes a sample as small as it can be.

    Attributes:
        sample_v: that sample, V, without noise and jitter; its symbol is the upper one.
        symbols: levels -1.0 and +1.0 in the order they are sent, whole words of the code, shape (n,).
        decided: which of them the sample belongs to.
    """

    sample_v: float
    symbols: Floats
    decided: int


def worst_samples_v(machine: Machine, cursors_v: Floats, main: int) -> Floats:
    """The least sample of an upper symbol that the code can send, at each phase, V, shape (P,).

    Args:
        machine: the code.
        cursors_v: V, shape (P, K), the newest symbol first.
        main: the column of the symbol that is decided on.
    """
    return np.asarray(_least(machine, cursors_v, main)[0].min(axis=0))


def worst_sequence(machine: Machine, cursors_v: Floats, main: int) -> WorstSequence:
    """The sequence behind the least sample at one phase.

    Args:
        machine: the code.
        cursors_v: V, shape (K,), the newest symbol first.
        main: the column of the symbol that is decided on.
    """
    value, taken = _least(machine, cursors_v[None, :], main)
    state = int(value[:, 0].argmin())
    sent: list[float] = []
    for edges in reversed(taken):
        edge = int(edges[state, 0])
        sent.append(float(machine.symbol[edge]))
        state = int(machine.source[edge])
    symbols = sent[::-1]
    lead = _into(machine, state)
    tail = _out_of(machine, int(value[:, 0].argmin()))
    whole = np.array([*lead, *symbols, *tail])
    return WorstSequence(float(value.min()), whole, len(lead) + cursors_v.size - 1 - main)


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


def _into(machine: Machine, state: int) -> list[float]:
    """Symbols from a word's beginning to a state."""
    sent: list[float] = []
    while machine.place[state]:
        edge = int(np.nonzero(machine.target == state)[0][0])
        sent.append(float(machine.symbol[edge]))
        state = int(machine.source[edge])
    return sent[::-1]


def _out_of(machine: Machine, state: int) -> list[float]:
    """Symbols from a state to its word's end."""
    sent: list[float] = []
    while machine.place[state]:
        edge = int(np.nonzero(machine.source == state)[0][0])
        sent.append(float(machine.symbol[edge]))
        state = int(machine.target[edge])
    return sent


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
