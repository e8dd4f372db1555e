"""By which symbols an eye is counted: the one choice of an analysis, and what each line code is taken for.

Counted by the line code, every sequence that the interface's code can send has its probability and no other is sent.
8b/10b is counted so, state by state. What is scrambled (64b/66b, 128b/130b) is counted as independent symbols: a
scrambler adds a sequence that is as good as random to the data, and the two bits of a block's header, which are not,
are 3 % and 1.5 % of all. TMDS is counted as independent symbols too, which is the safe side: what it sends is among
what independent symbols send. Random pixels in TMDS would gain some 5 % of height, but pictures are not random.
"""

from enum import Enum

from workbench.board.profile import Profile
from workbench.codes.machine import Machine, machine_of

_TWO_LEVELS = 2


class Symbols(Enum):
    """Which symbols count: those that the interface's line code sends, or independent ones."""

    CODED = "coded"
    INDEPENDENT = "independent"


def machine_for(profile: Profile, symbols: Symbols = Symbols.CODED) -> Machine | None:
    """The line code that an interface's symbols are counted by; None where they count as independent."""
    if symbols is Symbols.INDEPENDENT or len(profile.levels) != _TWO_LEVELS:
        return None
    return machine_of(profile.coding)
