"""Potential in a section, for drawing."""

import numpy as np

from workbench.arrays import Floats
from workbench.parts.section import kernel
from workbench.parts.section.geometry import CrossSection
from workbench.parts.section.kept import charged

_AT_ONCE = 4000
_ASIDE = 1e-7


def potential(section: CrossSection, x_m: Floats, y_m: Floats, volts: Floats) -> Floats:
    """Potential (V) at every crossing of `x_m` and `y_m` (m, shapes (m,) and (n,)): shape (n, m).

    Args:
        section: what is drawn.
        x_m: from the middle to the right, m.
        y_m: height over the lower plane, m.
        volts: voltage of each trace from left to right, V, shape (k,).

    Raises:
        ValueError: the dimensions are no section; the message says why.
    """
    held = charged(section)
    density = held.density @ volts
    # Aside by nothing that could be seen: exactly on a corner no logarithm exists.
    points = (x_m[None, :] + 1j * y_m[:, None]).ravel() + _ASIDE * section.least_m * (1.0 + 1.0j)
    found = [
        kernel.potential(points[start : start + _AT_ONCE], held.panels, held.spacing_m) @ density
        for start in range(0, points.size, _AT_ONCE)
    ]
    return np.concatenate(found).reshape(y_m.size, x_m.size)
