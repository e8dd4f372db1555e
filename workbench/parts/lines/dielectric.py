"""Laminates and cable insulation: permittivity and loss at every frequency, causal."""

from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import quantity
from workbench.parts.imperfections import LOSS, IdealValues
from workbench.parts.record import Name, Problem, Record

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0

# The band over which the Debye poles are spread. In hertz, not rad/s: at 10 GHz the choice moves the loss by 3 %.
LOWEST_POLE_HZ = 1e3
HIGHEST_POLE_HZ = 1e12


class Dielectric(Record, kw_only=True):
    """A dielectric given at one frequency and continued to all others by the wideband Debye model."""

    section: ClassVar[str | None] = "dielectrics"
    ideal_values: ClassVar[IdealValues] = {LOSS: {"loss_tangent": 0.0}}

    name: Name
    permittivity: Annotated[
        float, quantity("", "Permittivity", "Relative permittivity (Dk) at the stated frequency.", ge=1.0, le=30.0)
    ]
    loss_tangent: Annotated[
        float, quantity("", "Loss tangent", "Loss tangent (Df) at the stated frequency.", ge=0.0, le=0.2)
    ]
    frequency_hz: Annotated[
        float, quantity("Hz", "Stated at", "Frequency at which both values were stated.", ge=1e6, le=1e11)
    ]

    def relative_permittivity(self, f_hz: Floats) -> Complexes:
        """Complex relative permittivity ``eps' - j eps''`` at `f_hz` (Hz, shape (n,)); see `wideband_debye`."""
        return wideband_debye(self.permittivity, self.loss_tangent, self.frequency_hz, f_hz)

    def problems(self) -> tuple[Problem, ...]:
        """So much loss so low in frequency would leave no permittivity at high frequency."""
        if permittivity_at_infinity(self.permittivity, self.loss_tangent, self.frequency_hz) > 0.0:
            return ()
        problem = "with so much loss at the stated frequency the permittivity would be negative far above it"
        return (Problem("loss_tangent", problem, "lower loss_tangent, or state both at a higher frequency_hz"),)


def wideband_debye(permittivity: float, loss_tangent: float, frequency_hz: float, f_hz: Floats) -> Complexes:
    """Complex relative permittivity that meets `permittivity` and `loss_tangent` exactly at `frequency_hz`.

    A. R. Djordjevic, R. M. Biljic, V. D. Likar-Smiljanic, T. K. Sarkar, "Wideband frequency-domain characterization of
    FR-4 and time-domain causality", IEEE Trans. EMC 43(4), 2001, 662-667: poles spread evenly in log frequency from
    1 kHz to 1 THz. At 0 Hz the imaginary part vanishes: no conductance at rest.

    Args:
        permittivity: real relative permittivity at `frequency_hz`.
        loss_tangent: at `frequency_hz`.
        frequency_hz: where both hold, Hz.
        f_hz: where to evaluate, Hz, shape (n,).

    Returns:
        Complex array of shape (n,), convention exp(+j w t): the imaginary part is negative.
    """
    at_infinity, spread = _debye_terms(permittivity, loss_tangent, frequency_hz)
    return np.asarray(at_infinity + spread * _log_poles(f_hz), np.complex128)


def permittivity_at_infinity(permittivity: float, loss_tangent: float, frequency_hz: float) -> float:
    """Relative permittivity far above 1 THz of the same model; not positive where no such dielectric can be.

    Args:
        permittivity: real relative permittivity at `frequency_hz`.
        loss_tangent: at `frequency_hz`.
        frequency_hz: where both hold, Hz.
    """
    return _debye_terms(permittivity, loss_tangent, frequency_hz)[0]


def _debye_terms(permittivity: float, loss_tangent: float, frequency_hz: float) -> tuple[float, float]:
    at_stated = _log_poles(np.array([frequency_hz]))[0]
    spread = -permittivity * loss_tangent / float(at_stated.imag)
    return permittivity - spread * float(at_stated.real), spread


def _log_poles(f_hz: Floats) -> Complexes:
    return np.asarray(np.log((HIGHEST_POLE_HZ + 1j * f_hz) / (LOWEST_POLE_HZ + 1j * f_hz)), np.complex128)
