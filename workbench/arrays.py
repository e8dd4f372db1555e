"""The arrays that the whole program speaks of, by what they hold, and what is done with them everywhere.

Functions say shapes and units in their docstrings; these names say the kind of number alone.
"""

from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.floating[Any]]
Complexes = npt.NDArray[np.complexfloating[Any, Any]]
Integers = npt.NDArray[np.int64]
Indices = npt.NDArray[np.intp]
"""Places in another array, as numpy's own functions give them."""
Bools = npt.NDArray[np.bool_]
Bits = npt.NDArray[np.uint8]
"""Zeros and ones."""
Bytes = npt.NDArray[np.uint8]
Samples = npt.NDArray[np.float32]
"""Of a wave, or of its symbols: there are many, and single precision is finer than any noise."""

LEAST_RATIO = 1e-10
"""-200 dB: decibels end here, so that nothing has a level."""


def decibels(ratio: Floats, least: float = LEAST_RATIO) -> Floats:
    """20 log10 of magnitudes.

    Args:
        ratio: voltage ratios, 0 or above, any shape.
        least: smaller ones count as this.

    Returns:
        The same shape, dB.
    """
    return np.asarray(20.0 * np.log10(np.maximum(ratio, least)))
