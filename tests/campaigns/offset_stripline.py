"""A stripline pair off the middle: the formula's impedance and what is said of it, beside finite differences.

    python -m tests.campaigns.offset_stripline

Laplace's equation for the odd mode on half of the section in air, five points, the capacitance from the field's energy;
two grids and the order 4/3 at a metal's corner take the grid's width to nothing (scipy solves the equations, nothing
comes from the program). Exit status 1 where the formula is further off than its caution says.
"""

import math
import sys

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve

from workbench.parts.lines.stripline import StripSection, odd_mode_air_ohm

FREE_SPACE_OHM = 376.730313412
CORNER_ORDER = 4.0 / 3.0
SECTIONS = [(100, 300, 20, 200, 200), (100, 300, 20, 133, 267), (100, 300, 20, 100, 400), (100, 300, 20, 50, 400),
            (150, 150, 20, 100, 400), (100, 100, 20, 50, 400), (200, 200, 20, 50, 400)]  # fmt: skip
"""Width, gap, thickness, below, above, um."""


def odd_ohm(section: tuple[float, ...], step: float) -> float:
    """Odd-mode impedance in air by finite differences, dimensions and `step` in um."""
    width, gap, thickness, below, above = section
    spacing = below + thickness + above
    right = gap / 2.0 + width + 2.5 * spacing
    columns, rows = round(right / step) - 1, round(spacing / step) - 1
    metal = np.zeros((rows, columns), bool)
    left, end = round(gap / 2.0 / step), round((gap / 2.0 + width) / step)
    low, high = round(below / step), round((below + thickness) / step)
    metal[low - 1 : high, left - 1 : end] = True
    number = np.full(metal.shape, -1)
    number[~metal] = np.arange((~metal).sum())
    # Walls and planes are at 0, the metal at 1; neighbours to the right and above, each once.
    padded = np.pad(np.where(metal, -2, number), 1, constant_values=-1)
    pairs = np.concatenate([
        np.stack([padded[1:-1, :-1].ravel(), padded[1:-1, 1:].ravel()]),
        np.stack([padded[:-1, 1:-1].ravel(), padded[1:, 1:-1].ravel()]),
    ], axis=1)  # fmt: skip
    count = int(number.max()) + 1
    one, other = pairs
    free = (one >= 0) & (other >= 0)
    sides = np.concatenate([pairs[:, one >= 0], pairs[::-1, other >= 0]], axis=1)
    diagonal = np.bincount(sides[0], minlength=count).astype(float)
    right_hand = np.bincount(sides[0], sides[1] == -2, count)
    index = np.concatenate([one[free], other[free], np.arange(count)])
    across = np.concatenate([other[free], one[free], np.arange(count)])
    value = np.concatenate([np.full(2 * int(free.sum()), -1.0), diagonal])
    potential = spsolve(coo_matrix((value, (index, across)), (count, count)).tocsc(), right_hand)
    at = np.append(potential, [1.0, 0.0])  # -2 is the metal, -1 what is at 0
    charge = float(((at[one] - at[other]) ** 2).sum())
    return FREE_SPACE_OHM / charge


def exact_ohm(section: tuple[float, ...], step: float = 5.0) -> float:
    """The same without the grid's width, from two of them."""
    coarse, fine = odd_ohm(section, step), odd_ohm(section, step / 2.0)
    return fine + (fine - coarse) / (2.0**CORNER_ORDER - 1.0)


def main() -> int:
    """Print the formula beside the differences; 1 where its caution does not cover it."""
    good = True
    for section in SECTIONS:
        known, formula = exact_ohm(section), odd_mode_air_ohm(StripSection(*(1e-6 * one for one in section)))
        off, ratio = formula / known - 1.0, max(section[3:]) / min(section[3:])
        told = max(0.02, 0.021 * math.log2(ratio))
        good = good and abs(off) < told
        line = f"{'/'.join(map(str, section))} um, {ratio:.0f}:1 | {2.0 * known:.2f} ohm | formula {2.0 * formula:.2f}"
        sys.stdout.write(f"{line} | {100.0 * off:+.2f} % | told {100.0 * told:.1f} %\n")
    return int(not good)


if __name__ == "__main__":
    sys.exit(main())
