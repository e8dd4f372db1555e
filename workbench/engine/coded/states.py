"""A line code's states as the sums over its sequences need them: with the symbols that a moved boundary hangs on."""

from typing import NamedTuple, TypeVar

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.tails.chain import Integers, Taps, Windows, windows_of
from workbench.engine.tails.samples import NRZ
from workbench.parts.twoport import Complexes, Floats

ArrayT = TypeVar("ArrayT", Floats, Complexes)
_STILL = Windows(np.array([[0], [1]]), np.zeros(1), np.zeros(1, np.int64), np.zeros(2, np.int64), 0)
"""One symbol, no boundary that moves."""


class Into(NamedTuple):
    """Transitions gathered by the states that they lead into.

    `first` is the first transition into each state, shape (S,); `others` are, for the second one, the third and so on,
    the states that have such a one and its number. Few states have many: that is faster than summing stretches.
    """

    first: Integers
    others: tuple[tuple[Integers, Integers], ...]

    def summed(self, moved: ArrayT) -> ArrayT:
        """Sums over the transitions into each state, (E, ...) to (S, ...)."""
        # Not a matrix product: its library would start threads that wait for each other where others work too.
        out = moved[self.first]
        for states, transitions in self.others:
            out[states] += moved[transitions]
        return out

    def log_summed(self, logs: Floats) -> Floats:
        """Logarithms of the sums over the transitions into each state of what has these logarithms."""
        out = logs[self.first]
        for states, transitions in self.others:
            out[states] = np.logaddexp(out[states], logs[transitions])
        return out


class CodedStates(NamedTuple):
    """The code with the symbols remembered that a boundary needs.

    Attributes:
        source: state before each transition, shape (E,), the transitions in the order of the states behind.
        target: state behind each, shape (E,).
        into: the transitions by the state behind.
        log_chance: natural logarithm of each transition's probability, shape (E,).
        sort: which of `sorts` each is, shape (E,).
        sorts: the pairs that occur of a symbol and what the window of symbols makes the boundary do.
        start: probability of each state at an instant picked at random, shape (S,).
        windows: what each combination of symbols about a boundary makes it do.
    """

    source: Integers
    target: Integers
    into: Into
    log_chance: Floats
    sort: Integers
    sorts: tuple[tuple[float, int], ...]
    start: Floats
    windows: Windows

    def upper_share(self, level: float) -> float:
        """Probability that a symbol has a level."""
        sent = np.array([symbol for symbol, _ in self.sorts])[self.sort]
        return float((self.start[self.source] * np.exp(self.log_chance))[sent == level].sum())


def bare_states(machine: Machine) -> CodedStates:
    """The code's own states, for symbols whose boundaries stand still."""
    return _states_with(machine, _STILL)


def coded_states(machine: Machine, taps: Taps, kinds: int = 1) -> CodedStates:
    """A code's states for transmit taps (before, main, after) and as many kinds of displacement."""
    return _states_with(machine, windows_of(NRZ, taps, kinds))


def _states_with(machine: Machine, windows: Windows) -> CodedStates:
    does = {tuple(NRZ[level] for level in levels): int(which)
            for levels, which in zip(windows.levels, windows.which, strict=True)}  # fmt: skip
    reached = _remembering(machine, windows.symbols - 1)
    number = {state: at for at, state in enumerate(reached)}
    rows = []
    for (state, past), at in number.items():
        for edge in np.nonzero(machine.source == state)[0]:
            window = (*past, float(machine.symbol[edge]))
            behind = number[int(machine.target[edge]), window[1:]]
            rows.append((behind, at, float(machine.chance[edge]), window[-1], does[window]))
    rows.sort()
    sorts = tuple(dict.fromkeys((symbol, which) for *_, symbol, which in rows))
    target = np.array([row[0] for row in rows])
    return CodedStates(
        source=np.array([row[1] for row in rows]),
        target=target,
        into=_gathered(target, len(number)),
        log_chance=np.log([row[2] for row in rows]),
        sort=np.array([sorts.index((row[3], row[4])) for row in rows]),
        sorts=sorts,
        start=np.array(list(reached.values())),
        windows=windows,
    )


def _gathered(target: Integers, states: int) -> Into:
    """Transitions, in the order of their `target`, by state."""
    first = np.searchsorted(target, np.arange(states))
    count = np.diff(np.append(first, target.size))
    others = [(np.nonzero(count > n)[0], first[count > n] + n) for n in range(1, int(count.max()))]
    return Into(first, tuple(others))


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
