"""8b/10b: the tables of data and control codes, coding with running disparity, decoding with its errors.

A. X. Widmer, P. A. Franaszek, "A DC-balanced, partitioned-block, 8B/10B transmission code", IBM J. Res. Develop. 27(5),
1983, 440-451. Bits of a word stand in the order that they are sent, a b c d e i f g h j.
"""

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple

import numpy as np

from workbench.arrays import Bits, Bools, Integers
from workbench.codes.pattern import Pattern, random_bytes

WORD = 10

_SIX = (
    "100111", "011101", "101101", "110001", "110101", "101001", "011001", "111000",
    "111001", "100101", "010101", "110100", "001101", "101100", "011100", "010111",
    "011011", "100011", "010011", "110010", "001011", "101010", "011010", "111010",
    "110011", "100110", "010110", "110110", "001110", "101110", "011110", "101011",
)  # fmt: skip
"""5b/6b code words D.0 to D.31 for running disparity -1; an unbalanced one, and D.7, is inverted for +1."""
_FOUR = ("1011", "1001", "0101", "1100", "1101", "1010", "0110", "1110")
"""3b/4b code words D.x.0 to D.x.7 for running disparity -1; an unbalanced one, and D.x.3, is inverted for +1."""
_ALTERNATE_SEVEN = "0111"
"""D.x.A7, in place of D.x.P7 where that would make a run of five."""
_INSTEAD = {-1: (17, 18, 20), +1: (11, 13, 14)}
"""The x of D.x.A7, by the running disparity before the four bits."""
_CONTROL_SIX = "001111"
_CONTROL_FOUR = ("0100", "1001", "0101", "0011", "0010", "1010", "0110", "1000")
"""K28.0 to K28.7 for running disparity -1, all inverted for +1."""
_CONTROLS = (*((28, y) for y in range(8)), (23, 7), (27, 7), (29, 7), (30, 7))


class CodeWord(NamedTuple):
    """A code: its name ("D21.5", "K28.5"), and what is sent for it at running disparity -1 and +1."""

    name: str
    minus: str
    plus: str

    @property
    def flips(self) -> bool:
        """Whether the running disparity changes."""
        return self.minus.count("1") * 2 != WORD


class Decoded(NamedTuple):
    """What a word that was received stands for.

    Attributes:
        value: the byte, shape (n,); 0 where the word is none of the code's.
        control: whether it is a control code.
        known: whether the word is one of the code's at all.
        disparity_fits: whether the code sends it at the running disparity that came before.
    """

    value: Bits
    control: Bools
    known: Bools
    disparity_fits: Bools


@cache
def data_codes() -> tuple[CodeWord, ...]:
    """The 256 data codes, by byte: its low five bits are x, its high three y of D.x.y."""
    return tuple(_data_code(byte & 31, byte >> 5) for byte in range(256))


@cache
def control_codes() -> dict[int, CodeWord]:
    """The twelve control codes, by byte."""
    return {(y << 5) | x: _control_code(x, y) for x, y in _CONTROLS}


def encoded(
    values: Bits, control: Bools | None = None, *, disparity: int = -1
) -> Bits:
    """The bits sent for bytes.

    Args:
        values: bytes, shape (n,).
        control: which of them are control codes; None: none of them.
        disparity: running disparity before, -1 or +1.

    Returns:
        Bits, shape (10 n,).

    Raises:
        KeyError: a control byte that the code does not have.
    """
    index = values.astype(np.int64)
    if control is not None and control.any():
        places = {byte: 256 + number for number, byte in enumerate(control_codes())}
        index[control] = [places[int(byte)] for byte in values[control]]
    words, flips = _tables()
    # Whether a code changes the disparity does not hang on the disparity: so it is a running parity of changes.
    changed = np.concatenate([[0], np.cumsum(flips[index[:-1]])]) & 1 if index.size else np.zeros(0, np.int64)
    side = changed ^ (0 if disparity < 0 else 1)
    return np.asarray(words[side, index].ravel())


def decoded(bits: Bits, *, disparity: int = -1) -> Decoded:
    """The codes in received bits that begin at a word's beginning; a last part of a word is left out.

    Args:
        bits: received, shape (n,).
        disparity: running disparity before, -1 or +1.
    """
    count = bits.size // WORD
    words = bits[: count * WORD].reshape(count, WORD)
    number = words.astype(np.int64) @ (1 << np.arange(WORD - 1, -1, -1))
    value, control, sides = _meanings()
    balance = 2 * words.sum(axis=1, dtype=np.int64) - WORD
    # The disparity that a word leaves: its own sign; a balanced one passes on what came before.
    ends = np.concatenate([[disparity], np.sign(balance)])
    last = np.maximum.accumulate(np.where(ends != 0, np.arange(ends.size), 0))
    before = ends[last[:-1]] if count else np.zeros(0, np.int64)
    seen = sides[number]
    fits = np.where(before < 0, seen & 1, (seen >> 1) & 1).astype(bool)
    return Decoded(value[number], control[number], seen > 0, fits)


class EightTen(Pattern):
    """Random bytes as 8b/10b data codes, from a seed."""

    word, title = "8b10b", "8b/10b, random data"
    _BYTES = 6000

    def __init__(self, seed: int = 1) -> None:
        self.seed = seed

    def _blocks(self) -> Iterator[Bits]:
        disparity = -1
        for block in random_bytes(self.seed, self._BYTES):
            yield encoded(block, disparity=disparity)
            flips = _tables()[1][block.astype(np.int64)].sum()
            disparity = -disparity if flips & 1 else disparity


@cache
def _tables() -> tuple[Bits, Integers]:
    """Bits by (disparity, code, place), and which codes flip; data codes first, then controls."""
    codes = (*data_codes(), *control_codes().values())
    words = np.array([[list(code.minus) for code in codes], [list(code.plus) for code in codes]]).astype(np.uint8)
    return words, np.array([code.flips for code in codes], np.int64)


@cache
def _meanings() -> tuple[Bits, Bools, Bits]:
    """By word: the byte, whether control, and at which disparities it is sent (bit 0: at -1, bit 1: at +1)."""
    value, control, sides = np.zeros(1024, np.uint8), np.zeros(1024, bool), np.zeros(1024, np.uint8)
    for is_control, codes in ((False, enumerate(data_codes())), (True, iter(control_codes().items()))):
        for byte, code in codes:
            for side, word in ((1, code.minus), (2, code.plus)):
                number = int(word, 2)
                value[number], control[number] = byte, is_control
                sides[number] |= side
    return value, control, sides


def _data_code(x: int, y: int) -> CodeWord:
    return CodeWord(f"D{x}.{y}", _data_word(x, y, -1), _data_word(x, y, +1))


def _data_word(x: int, y: int, disparity: int) -> str:
    six = _for(_SIX[x], disparity, always=x == 7)
    between = disparity if six.count("1") == 3 else -disparity
    if y == 7 and x in _INSTEAD[between]:
        return six + (_ALTERNATE_SEVEN if between < 0 else _inverse(_ALTERNATE_SEVEN))
    return six + _for(_FOUR[y], between, always=y == 3)


def _for(minus: str, disparity: int, *, always: bool) -> str:
    """The word for a disparity: inverted at +1 where it is unbalanced, or `always`."""
    unbalanced = 2 * minus.count("1") != len(minus)
    return _inverse(minus) if disparity > 0 and (unbalanced or always) else minus


def _control_code(x: int, y: int) -> CodeWord:
    minus = _CONTROL_SIX + _CONTROL_FOUR[y] if x == 28 else _SIX[x] + "1000"
    return CodeWord(f"K{x}.{y}", minus, _inverse(minus))


def _inverse(word: str) -> str:
    return word.translate(str.maketrans("01", "10"))
