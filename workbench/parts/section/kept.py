"""Solutions kept by the section they follow from: asking again costs a look-up. Bounded, shared by threads."""

from functools import lru_cache

from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.solving import Charges, Solution, charges, solve

_SOLUTIONS, _CHARGES = 512, 4
"""A solution takes a few kilobytes, the charges some hundred."""


@lru_cache(maxsize=_SOLUTIONS)
def solved(section: CrossSection) -> Solution:
    """The solution of a section; its arrays are shared and can't be written.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    solution = solve(section)
    for array in solution[:5]:
        array.flags.writeable = False
    return solution


@lru_cache(maxsize=_CHARGES)
def charged(section: CrossSection) -> Charges:
    """The charges of a section, for drawing its field.

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    return charges(section)
