"""A pattern says what is sent; its stream gives the bits."""

from abc import ABC, abstractmethod
from collections.abc import Iterator

import numpy as np

from workbench.arrays import Bits, Samples

"""Zeros and ones, shape (n,)."""

Symbols = Samples
"""Levels -1 and +1, shape (n,)."""


class Stream:
    """The bits of a pattern from its beginning; each `take` goes on where the last one ended."""

    def __init__(self, blocks: Iterator[Bits]) -> None:
        self._blocks = blocks
        self._left: Bits = np.zeros(0, np.uint8)

    def take(self, count: int) -> Bits:
        """The next `count` bits, shape (count,)."""
        parts, missing = [self._left], count - self._left.size
        while missing > 0:
            parts.append(next(self._blocks))
            missing -= parts[-1].size
        whole = np.concatenate(parts) if len(parts) > 1 else self._left
        self._left = whole[count:].copy() if whole.size > count else np.zeros(0, np.uint8)
        return whole[:count]


class Pattern(ABC):
    """What is sent: without end, and the same each time.

    Attributes:
        word: what the command line calls it.
        title: what people call it.
        period: bits after which it repeats; None where it does not, or not in a time that matters.
    """

    word: str
    title: str
    period: int | None = None

    def stream(self) -> Stream:
        """The bits from the beginning."""
        return Stream(self._blocks())

    @abstractmethod
    def _blocks(self) -> Iterator[Bits]:
        """Bits without end, in blocks of any size above 0."""


class RandomBits(Pattern):
    """Independent bits, zero and one equally likely, from a seed."""

    word, title = "random", "random bits"
    _BLOCK = 1 << 16

    def __init__(self, seed: int = 1) -> None:
        self.seed = seed

    def _blocks(self) -> Iterator[Bits]:
        random = np.random.default_rng(self.seed)
        while True:
            yield np.unpackbits(random.integers(0, 256, self._BLOCK // 8, np.uint8))


def random_bytes(seed: int, count: int) -> Iterator[Bits]:
    """Random bytes without end in blocks of shape (count,), from a seed: what codes carry if nothing else is said."""
    random = np.random.default_rng(seed)
    while True:
        yield random.integers(0, 256, count, np.uint8)


def symbols_of(bits: Bits) -> Symbols:
    """Two-level symbols: 0 is sent as -1, 1 as +1; the same shape."""
    return bits.astype(np.float32) * np.float32(2.0) - np.float32(1.0)
