"""What a run counts. Counts of any stretch add up, so that memory does not grow with its length."""

import numpy as np

from workbench.arrays import Integers

COLUMNS = 64
"""Columns of the density a UI."""
LEVELS = 512
"""Rows of the density."""
FINE_LEVELS = 8192
"""Bins of what is sampled, over the same range."""
CROSSING_BINS = 512
"""Bins a UI that crossings are counted in; the toggles span two UI, from half a UI before the symbol on."""


class Tally:
    """Everything that is counted.

    Attributes:
        symbols: how many were looked at.
        errors: how many of them the receiver took for another.
        density: of the waveform over time and level, shape (COLUMNS, LEVELS).
        sampled: of what the receiver decides on, by the symbol sent, shape (symbol levels, FINE_LEVELS).
        crossings: of the crossings about the clock's own, one UI, shape (CROSSING_BINS,).
        toggles: for each threshold, where symbols turn right less where they turn wrong, from 0.5 UI before the
            symbol to 0.5 UI after it, shape (thresholds, 2 CROSSING_BINS).
        wrong: for each threshold, how many symbols next to it were on its wrong side when they were sampled.
        beside: how many symbols stand next to each threshold, shape (thresholds,).
    """

    def __init__(self, symbol_levels: int) -> None:
        self.symbols = self.errors = 0
        self.density: Integers = np.zeros((COLUMNS, LEVELS), np.int64)
        self.sampled: Integers = np.zeros((symbol_levels, FINE_LEVELS), np.int64)
        self.crossings: Integers = np.zeros(CROSSING_BINS, np.int64)
        self.toggles: Integers = np.zeros((symbol_levels - 1, 2 * CROSSING_BINS), np.int64)
        self.wrong: Integers = np.zeros(symbol_levels - 1, np.int64)
        self.beside: Integers = np.zeros(symbol_levels - 1, np.int64)
