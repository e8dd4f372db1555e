"""Patterns by the word that the command line and the window know them by."""

from collections.abc import Callable
from pathlib import Path

from workbench.codes.blocks import LongBlocks, ShortBlocks
from workbench.codes.eight_ten import EightTen
from workbench.codes.own import OwnBits, bits_from_file, bits_of
from workbench.codes.pattern import Pattern, RandomBits
from workbench.codes.prbs import TAPS, Prbs
from workbench.codes.tmds import Tmds
from workbench.errors import PatternError

_OF_SEED: dict[str, Callable[[int], Pattern]] = {
    kind.word: kind for kind in (RandomBits, EightTen, LongBlocks, ShortBlocks, Tmds)
}
WORDS = (*(f"prbs{order}" for order in TAPS), *_OF_SEED)
"""Every word but those of own bits, ``bits:0101`` and ``file:NAME``."""

WORST = "worst"
"""What closes a lane's eye furthest: not a pattern by itself, since it takes the lane to know it."""

_OF_CODING = {"8b/10b": "8b10b", "128b/130b": "128b130b", "64b/66b": "64b66b", "TMDS": "tmds"}


def pattern_named(word: str, seed: int = 1) -> Pattern:
    """The pattern of a word.

    Args:
        word: one of `WORDS`, ``bits:`` with zeros and ones after it, or ``file:`` with a file's name after it.
        seed: for those that carry random data.

    Raises:
        PatternError: there is no such pattern, or its own bits are none.
    """
    kind, colon, rest = word.partition(":")
    if colon and kind == "bits":
        return OwnBits(bits_of(rest))
    if colon and kind == "file":
        return OwnBits(bits_from_file(Path(rest)), Path(rest).name)
    if word in _OF_SEED:
        return _OF_SEED[word](seed)
    if word in WORDS:
        return Prbs(int(word.removeprefix("prbs")))
    known = ", ".join((*WORDS, WORST))
    raise PatternError(f"there is no pattern {word!r}; write one of {known}, bits:0101 or file:NAME")


def pattern_of_coding(coding: str, seed: int = 1) -> Pattern:
    """What an interface's line code sends for random data; random bits where the code is not known here.

    Args:
        coding: as a profile names it, "8b/10b".
        seed: of the data.
    """
    return pattern_named(_OF_CODING.get(coding, RandomBits.word), seed)
