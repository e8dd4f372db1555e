"""A line code's states as the sums over its sequences need them: with the symbols that a moved boundary hangs on.

Where no boundary moves the code's own states do. Before one that does, its older symbols are remembered beside the
state, and after it they are forgotten: so each column of a sample has its own step from states to states.
"""

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple, TypeVar

import numpy as np

from workbench.arrays import Complexes, Floats, Integers
from workbench.codes.machine import Machine
from workbench.engine.tails.boundaries import Taps, Windows, windows_of
from workbench.engine.tails.samples import NRZ

ArrayT = TypeVar("ArrayT", Floats, Complexes)
Rows = Integers | slice

STILL = -1
"""What a transition makes the boundary do where none is looked at."""


class Into(NamedTuple):
    """Transitions gathered by the states that they lead into.

    `first` is the first transition into each state, shape (S,); `others` are, for the second one, the third and so on,
    the states that have such a one and its number. Few states have many: that is faster than summing stretches.
    """

    first: Integers
    others: tuple[tuple[Rows, Integers], ...]

    def summed(self, moved: ArrayT) -> ArrayT:
        """Sums over the transitions into each state, (E, ...) to (S, ...)."""
        # Not a matrix product: its library would start threads that wait for each other where others work too.
        out = moved[self.first]
        for states, transitions in self.others:
            out[states] += moved[transitions]
        return out

    def least(self, moved: Floats) -> Floats:
        """The least of the transitions into each state, shape (E, ...) to (S, ...)."""
        out = moved[self.first]
        for states, transitions in self.others:
            out[states] = np.minimum(out[states], moved[transitions])
        return out


class TransitionGroup(NamedTuple):
    """Transitions next to each other that send the same symbol and make the boundary do the same."""

    rows: slice
    symbol: float
    which: int


class ColumnStep(NamedTuple):
    """The transitions of one column.

    Attributes:
        source, target: state before and after each, shape (E,).
        into: the transitions by the state after.
        chance: each transition's probability, shape (E,).
        symbol: the level it sends, shape (E,).
        groups: the transitions by what they add.
    """

    source: Integers
    target: Integers
    into: Into
    chance: Floats
    symbol: Floats
    groups: tuple[TransitionGroup, ...]


class Moving(NamedTuple):
    """How a boundary moves: transmit taps (before, main, after) and as many kinds of displacement."""

    taps: Taps
    kinds: int

    @property
    def windows(self) -> Windows:
        """What each combination of symbols about a boundary makes it do."""
        return windows_of(NRZ, self.taps, self.kinds)


def steps_of(machine: Machine, moving: Mapping[int, Moving], columns: int) -> dict[int, ColumnStep]:
    """The step of every column, oldest first.

    Args:
        machine: the code.
        moving: how each boundary that does moves; the symbols that they hang on are all among the columns.
        columns: how many there are.
    """
    held = np.zeros(columns + 1, np.int64)
    decided: dict[int, Moving] = {}
    for boundary, how in moving.items():
        windows = how.windows
        newest = boundary - windows.newer
        decided[newest] = how
        behind = np.arange(1, windows.symbols)
        held[newest + behind] = np.maximum(held[newest + behind], windows.symbols - behind)
    return {
        column: _step(machine, decided.get(column), int(held[column + 1]), int(held[column]))
        for column in range(columns - 1, -1, -1)
    }


Remembered = dict[tuple[int, tuple[float, ...]], int]


@lru_cache(maxsize=64)
def _remembering(machine: Machine, length: int) -> Remembered:
    """Every state with the last `length` symbols that may lead into it, numbered."""
    if length == 0:
        return {(state, ()): state for state in range(machine.states)}
    reached = sorted({
        (int(target), (*past, float(symbol)))
        for state, past in _remembering(machine, length - 1)
        for source, target, symbol in zip(machine.source, machine.target, machine.symbol, strict=True)
        if source == state
    })  # fmt: skip
    return {key: number for number, key in enumerate(reached)}


@lru_cache(maxsize=256)
def _step(machine: Machine, moving: Moving | None, before: int, behind: int) -> ColumnStep:
    """From states that remember so many symbols to states that remember so many; the window decides if it `moving`."""
    sources, targets = _remembering(machine, before), _remembering(machine, behind)
    does = _decisions(moving)
    leaving = [np.nonzero(machine.source == state)[0] for state in range(machine.states)]
    rows = []
    for (state, past), source in sources.items():
        for edge in leaving[state]:
            window = (*past, float(machine.symbol[edge]))
            target = targets[int(machine.target[edge]), window[len(window) - behind :]]
            which = does[window[len(window) - moving.windows.symbols :]] if moving is not None else STILL
            rows.append((which, window[-1], target, source, float(machine.chance[edge])))
    rows.sort()
    decided, symbols, into, out_of, chance = (np.array(column) for column in zip(*rows, strict=True))
    return ColumnStep(out_of, into, _gathered(into, len(targets)), chance, symbols, _groups(decided, symbols))


def _decisions(moving: Moving | None) -> dict[tuple[float, ...], int]:
    if moving is None:
        return {}
    windows = moving.windows
    return {
        tuple(NRZ[level] for level in levels): int(which)
        for levels, which in zip(windows.levels, windows.which, strict=True)
    }


def _groups(which: Integers, symbol: Floats) -> tuple[TransitionGroup, ...]:
    """Transitions in their order, cut where they change."""
    cuts = np.nonzero((np.diff(which) != 0) | (np.diff(symbol) != 0.0))[0] + 1
    starts, stops = [0, *cuts.tolist()], [*cuts.tolist(), which.size]
    return tuple(
        TransitionGroup(slice(start, stop), float(symbol[start]), int(which[start]))
        for start, stop in zip(starts, stops, strict=True)
    )


def _gathered(target: Integers, states: int) -> Into:
    """Transitions by the state that they lead into."""
    order = np.argsort(target, kind="stable")
    first = np.searchsorted(target[order], np.arange(states))
    count = np.diff(np.append(first, target.size))
    others = [
        (_rows(np.nonzero(count > n)[0]), order[first[count > n] + n]) for n in range(1, int(count.max()))
    ]  # fmt: skip
    return Into(order[first], tuple(others))


def _rows(states: Integers) -> Rows:
    """The same as a slice where they stand next to each other."""
    if states.size and states[-1] - states[0] + 1 == states.size:
        return slice(int(states[0]), int(states[-1]) + 1)
    return states
