"""TMDS, the code of HDMI and DVI: fewest transitions first, then a balance of ones and zeros; from memory.

Digital Visual Interface 1.0, section 3, as it is generally described; HDMI uses the same code for pixel data.
"""

from collections.abc import Iterator
from functools import cache

import numpy as np

from workbench.arrays import Bits
from workbench.codes.pattern import Pattern, random_bytes

WORD = 10
_BYTE = 8
CONTROL_WORDS = ("1101010100", "0010101011", "0101010100", "1010101011")
"""Control words for (C1, C0) = 00, 01, 10, 11, the most significant bit first, which is sent last."""


def encoded(values: Bits, *, surplus: int = 0) -> tuple[Bits, int]:
    """The bits sent for bytes of pixel data.

    Args:
        values: bytes, shape (n,).
        surplus: ones less zeros sent so far.

    Returns:
        Bits, shape (10 n,), the least significant of each word first, and the surplus after them.
    """
    words = np.empty(values.size, np.int64)
    least, most = _least(), _ones()
    for at, value in enumerate(values.tolist()):
        code = least[value]
        ones = most[value]
        spare = 2 * ones - _BYTE
        marked = code >> _BYTE
        if surplus == 0 or spare == 0:
            inverted = not marked
            surplus += -spare if inverted else spare
        elif (surplus > 0) == (spare > 0):
            inverted = True
            surplus += 2 * marked - spare
        else:
            inverted = False
            surplus += spare - 2 * (1 - marked)
        words[at] = (0x200 | (code ^ 0xFF)) if inverted else code
    return ((words[:, None] >> np.arange(WORD)) & 1).astype(np.uint8).ravel(), surplus


def decoded(bits: Bits) -> Bits:
    """The bytes, shape (words,), of received pixel words from a whole one on; a last part of one is left out."""
    rows = bits[: bits.size // WORD * WORD].reshape(-1, WORD)
    low = rows[:, :_BYTE] ^ rows[:, 9:10]
    data = low.copy()
    data[:, 1:] = low[:, 1:] ^ low[:, :-1] ^ (rows[:, 8:9] ^ np.uint8(1))
    return np.packbits(data, axis=1, bitorder="little").ravel()


class Tmds(Pattern):
    """Random pixel data in TMDS, from a seed."""

    word, title = "tmds", "TMDS, random data"
    _BYTES = 4096

    def __init__(self, seed: int = 1) -> None:
        self.seed = seed

    def _blocks(self) -> Iterator[Bits]:
        surplus = 0
        for block in random_bytes(self.seed, self._BYTES):
            bits, surplus = encoded(block, surplus=surplus)
            yield bits


@cache
def _least() -> tuple[int, ...]:
    """For each byte the nine bits with fewest transitions; bit 8 says that they were made by exclusive or."""
    return tuple(_minimised(value) for value in range(256))


@cache
def _ones() -> tuple[int, ...]:
    """Ones among the eight lower bits of each."""
    return tuple((code & 0xFF).bit_count() for code in _least())


def _minimised(value: int) -> int:
    ones = value.bit_count()
    by_equality = ones > 4 or (ones == 4 and not value & 1)
    code = bit = value & 1
    for place in range(1, _BYTE):
        bit = bit ^ (value >> place & 1) ^ by_equality
        code |= bit << place
    return code | (not by_equality) << _BYTE
