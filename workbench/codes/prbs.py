"""Pseudo-random binary sequences: every window of n bits but all zeros comes once a period of 2^n - 1."""

from collections.abc import Iterator

import numpy as np

from workbench.arrays import Bits
from workbench.codes.pattern import Pattern
from workbench.codes.shift_register import recurrence

TAPS = {7: (7, 6), 9: (9, 5), 11: (11, 9), 15: (15, 14), 23: (23, 18), 31: (31, 28)}
"""Exponents of ``x^n + x^m + 1``: ITU-T O.150 and O.151 for 9, 11, 15, 23; 7 and 31 by common use (as quoted in many
public sources). The standards send some of them inverted, which here is left to `inverted`."""


class Prbs(Pattern):
    """The sequence of order n from all ones, ``b[i] = b[i - n] ^ b[i - m]``.

    Attributes:
        order: n.
        inverted: whether zeros and ones are exchanged.
    """

    def __init__(self, order: int, *, inverted: bool = False) -> None:
        self.order, self.inverted = order, inverted
        self.word, self.title = f"prbs{order}", f"PRBS {order}"
        self.period = 2**order - 1

    def _blocks(self) -> Iterator[Bits]:
        for block in recurrence(TAPS[self.order], np.ones(self.order, np.uint8)):
            yield block ^ np.uint8(1) if self.inverted else block
