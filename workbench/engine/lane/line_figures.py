"""What a line or cable is by itself, whether a lane runs over it or not: impedance, delay and loss of a metre."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.parts.record import Parts, RunRecord
from workbench.parts.twoport import propagation

_DB_PER_NP = 20.0 / float(np.log(10.0))
_FROM, _TO, _POINTS = 0.02, 3.0, 61
"""Between which multiples of Nyquist the loss is told, and at how many frequencies."""


class LineFigures(NamedTuple):
    """A line per metre.

    Attributes:
        nyquist_hz: where the single figures hold.
        impedance_ohm: magnitude of the differential characteristic impedance there.
        delay_s_per_m: phase delay there.
        loss_db_per_m: attenuation there.
        f_hz: where the loss is told over frequency, rising, shape (n,).
        curve_db_per_m: the loss at those, shape (n,).
    """

    nyquist_hz: float
    impedance_ohm: float
    delay_s_per_m: float
    loss_db_per_m: float
    f_hz: Floats
    curve_db_per_m: Floats


def line_figures(line: RunRecord, parts: Parts, nyquist_hz: float) -> LineFigures:
    """The figures of a line, from its propagation constant ``sqrt(Z Y)`` and impedance ``sqrt(Z / Y)``.

    Args:
        line: the line or cable.
        parts: what it refers to.
        nyquist_hz: Hz, above 0.

    Raises:
        WorkbenchError: its cross-section can't be solved.
    """
    spread = np.geomspace(_FROM * nyquist_hz, _TO * nyquist_hz, _POINTS)
    f_hz = np.unique(np.append(spread, nyquist_hz))
    at = int(np.searchsorted(f_hz, nyquist_hz))
    found = propagation(line.line_constants(f_hz, parts))
    curve = _DB_PER_NP * found.gamma_per_m.real
    return LineFigures(
        nyquist_hz=nyquist_hz,
        impedance_ohm=float(np.abs(found.impedance_ohm[at])),
        delay_s_per_m=float(found.gamma_per_m.imag[at] / (2.0 * np.pi * nyquist_hz)),
        loss_db_per_m=float(curve[at]),
        f_hz=f_hz,
        curve_db_per_m=curve,
    )
