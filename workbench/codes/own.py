"""A pattern of the user's own: zeros and ones from text or from a file, sent over and over."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from workbench.arrays import Bits
from workbench.codes.pattern import Pattern
from workbench.errors import PatternError

LONGEST = 1 << 26
_SKIPPED = frozenset(" \t\r\n_,")
"""What may stand between bits, so that they can be read in groups."""


class OwnBits(Pattern):
    """Bits as they were given, again and again."""

    word = "bits"

    def __init__(self, bits: Bits, title: str = "own bits") -> None:
        self.bits, self.title, self.period = bits, f"{title}, {bits.size} bits", bits.size

    def _blocks(self) -> Iterator[Bits]:
        while True:
            yield self.bits


def bits_of(text: str, source: str = "the pattern") -> Bits:
    """The bits of a text of zeros and ones, shape (n,).

    Blanks, line ends, commas and underscores may stand between them.

    Args:
        text: the text.
        source: what it came from, for the refusal.

    Raises:
        PatternError: it holds no bit, another sign, or too many.
    """
    signs = text.removeprefix("\N{ZERO WIDTH NO-BREAK SPACE}")
    for at, sign in enumerate(signs):
        if sign not in "01" and sign not in _SKIPPED:
            line = signs.count("\n", 0, at) + 1
            raise PatternError(f"{source} holds {sign!r} in line {line}; write it in zeros and ones")
    bits = np.array([sign == "1" for sign in signs if sign not in _SKIPPED], np.uint8)
    if not bits.size:
        raise PatternError(f"{source} holds no bit; write at least one zero or one")
    if bits.size > LONGEST:
        raise PatternError(f"{source} has {bits.size} bits; give at most {LONGEST}")
    return bits


def bits_from_file(path: Path) -> Bits:
    """The bits of a text file, shape (n,).

    Raises:
        PatternError: the file can't be read, or holds something else.
    """
    try:
        if path.stat().st_size > 2 * LONGEST:
            raise PatternError(f"{path.name} is {path.stat().st_size} bytes long; give at most {2 * LONGEST}")
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        raise PatternError(f"{path} can't be read ({error.strerror or error}); check its name") from error
    except UnicodeDecodeError as error:
        raise PatternError(f"{path.name} is not text; write it in zeros and ones") from error
    return bits_of(text, path.name)
