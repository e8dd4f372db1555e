"""A line code as a finite-state machine: which symbols may follow which, and how probable each is.

States that nobody can tell apart by what follows them are one. For 8b/10b with equally likely data bytes that leaves 54
states, at most seven at each of a word's ten places, so that sums over every sequence of the code are products of small
matrices.
"""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.codes.eight_ten import WORD, data_codes

_ALIKE = 12
"""Probabilities that agree to this many decimals are the same."""


@dataclass(frozen=True, eq=False)
class Machine:
    """A line code as states and transitions.

    Attributes:
        name: as profiles name the code.
        source, target: state before and after of each transition, shape (E,).
        symbol: the level that a transition sends, -1.0 or +1.0, shape (E,).
        chance: its probability, given the state before, shape (E,).
        place: the place in a word at which each state stands, shape (S,); transitions lead from one place to the next.
        places: how many places a word has.
        sum_bound: how far the sum of any stretch of symbols may be from 0; infinite where nothing bounds it.
    """

    name: str
    source: Integers
    target: Integers
    symbol: Floats
    chance: Floats
    place: Integers
    places: int
    sum_bound: float

    @property
    def states(self) -> int:
        """How many states there are."""
        return int(self.place.size)

    @cache  # noqa: B019 - few machines are ever made, and each is kept anyway
    def stationary(self) -> Floats:
        """Probability of each state at an instant picked at random, all places alike, shape (S,); it sums to 1."""
        flow = np.zeros((self.states, self.states))
        np.add.at(flow, (self.source, self.target), self.chance)
        over_word = np.linalg.matrix_power(flow, self.places)
        first = np.nonzero(self.place == 0)[0]
        at_start = over_word[np.ix_(first, first)]
        left = np.linalg.lstsq(
            np.vstack([at_start.T - np.eye(first.size), np.ones(first.size)]),
            np.append(np.zeros(first.size), 1.0), rcond=None,
        )[0]  # fmt: skip
        share = np.zeros(self.states)
        share[first] = left
        whole = share.copy()
        for _ in range(self.places - 1):
            share = share @ flow
            whole += share
        return np.asarray(whole / self.places)


def independent(name: str = "independent") -> Machine:
    """Independent symbols, both equally likely: one state."""
    both = np.zeros(2, np.int64)
    return Machine(name, both, both, np.array([-1.0, 1.0]), np.array([0.5, 0.5]), np.zeros(1, np.int64), 1, np.inf)


@cache
def eight_ten() -> Machine:
    """8b/10b carrying independent, equally likely data bytes."""
    words = {
        disparity: [(code.minus if disparity < 0 else code.plus, -disparity if code.flips else disparity)
                    for code in data_codes()]
        for disparity in (-1, +1)
    }  # fmt: skip
    return of_words("8b/10b", words, WORD)


MACHINES: Mapping[str, Callable[[], Machine]] = {"8b/10b": eight_ten}
"""The codes that are known as machines, by the name that profiles use."""


def machine_of(coding: str) -> Machine | None:
    """The machine of a line code as a profile names it; None where none is known and symbols count as independent."""
    made = MACHINES.get(coding)
    return made() if made is not None else None


def of_words(name: str, words: Mapping[int, list[tuple[str, int]]], length: int) -> Machine:
    """A machine of a code that sends equally likely words of one length.

    Args:
        name: what the code is called.
        words: by what is remembered between words (the running disparity, say): each word, and what is remembered then.
        length: symbols a word.
    """
    maker = _Maker(words, length)
    # From the back: what may follow a place decides which prefixes are alike there.
    for place in range(length - 1, 0, -1):
        maker.make_place(place)
    maker.make_place(0)
    return maker.machine(name)


_Branch = tuple[float, float, int]
"""Symbol, probability, state after it."""


class _Maker:
    """Finds the states place by place, each once: the same branches are the same state."""

    def __init__(self, words: Mapping[int, list[tuple[str, int]]], length: int) -> None:
        self._words, self._length = words, length
        self._places: list[int] = [0] * len(words)
        self._starts = {memory: number for number, memory in enumerate(words)}
        self._branches: dict[int, tuple[_Branch, ...]] = {}
        self._after: dict[tuple[int, str], int] = {}

    def make_place(self, place: int) -> None:
        """Make the states of a place out of those after it."""
        known: dict[tuple[_Branch, ...], int] = {}
        here: dict[tuple[int, str], int] = {}
        for memory, words in self._words.items():
            for prefix in sorted({word[:place] for word, _ in words}):
                branches = self._branches_of(memory, prefix)
                state = self._starts[memory] if place == 0 else known.setdefault(branches, len(self._places))
                if state == len(self._places):
                    self._places.append(place)
                self._branches[state] = branches
                here[memory, prefix] = state
        self._after = here

    def machine(self, name: str) -> Machine:
        """All states and their branches."""
        rows = [(state, *branch) for state, branches in sorted(self._branches.items()) for branch in branches]
        source, symbol, chance, target = (np.array(column) for column in zip(*rows, strict=True))
        totals = np.bincount(source, chance)
        return Machine(
            name, source.astype(np.int64), target.astype(np.int64), symbol.astype(float), chance / totals[source],
            np.array(self._places, np.int64), self._length, self._sum_bound(),
        )  # fmt: skip

    def _sum_bound(self) -> float:
        """The widest range of the running sum, where what is remembered between words is the running sum itself."""
        inside = [
            memory + np.concatenate([[0], np.cumsum([1 if bit == "1" else -1 for bit in word])])
            for memory, words in self._words.items()
            for word, _ in words
        ]
        kept = all(
            memory + 2 * word.count("1") - len(word) == after
            for memory, words in self._words.items()
            for word, after in words
        )
        return float(np.max(inside) - np.min(inside)) if kept else np.inf

    def _branches_of(self, memory: int, prefix: str) -> tuple[_Branch, ...]:
        place = len(prefix)
        following = [(word, after) for word, after in self._words[memory] if word.startswith(prefix)]
        counts = Counter(
            (word[place], self._starts[after] if place == self._length - 1 else self._after[memory, word[: place + 1]])
            for word, after in following
        )
        return tuple(
            (1.0 if bit == "1" else -1.0, round(count / len(following), _ALIKE), target)
            for (bit, target), count in sorted(counts.items())
        )
