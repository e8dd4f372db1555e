"""A line known by its loss per metre at one frequency, with no cross-section: traces, cables, connector bodies.

The skin-effect part grows as sqrt(f) with its internal inductance, the dielectric part is a wideband Debye; both are
causal. They meet the stated figures at the stated frequency (to first order in loss per radian).
"""

import math
from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Floats
from workbench.facts import quantity
from workbench.parts.imperfections import LOSS, IdealValues
from workbench.parts.lines.dielectric import SPEED_OF_LIGHT_M_PER_S, permittivity_at_infinity, wideband_debye
from workbench.parts.record import Name, Parts, Problem, RunRecord
from workbench.parts.twoport import LineConstants

DB_PER_NEPER = 20.0 / math.log(10.0)

Impedance = Annotated[float, quantity("ohm", "Impedance", "Differential characteristic impedance.", ge=1.0, le=1000.0)]
Permittivity = Annotated[
    float, quantity("", "Permittivity", "Effective relative permittivity: sets the delay.", ge=1.0, le=30.0)
]
StatedAt = Annotated[float, quantity("Hz", "Stated at", "Frequency at which the losses are stated.", ge=1e6, le=1e11)]
ConductorLoss = Annotated[
    float,
    quantity(
        "dB/m", "Conductor loss", "Skin-effect loss at the stated frequency; grows as its root.", ge=0.0, le=500.0
    ),
]
DielectricLoss = Annotated[
    float,
    quantity(
        "dB/m", "Dielectric loss", "Dielectric loss at the stated frequency; grows nearly with it.", ge=0.0, le=500.0
    ),
]


class RunByLoss(RunRecord, kw_only=True):
    """What a trace and a cable share that are given by impedance, permittivity and loss per metre."""

    ideal_values: ClassVar[IdealValues] = {LOSS: {"conductor_loss_db_per_m": 0.0, "dielectric_loss_db_per_m": 0.0}}

    name: Name
    impedance_ohm: Impedance
    permittivity: Permittivity
    frequency_hz: StatedAt
    conductor_loss_db_per_m: ConductorLoss
    dielectric_loss_db_per_m: DielectricLoss

    def line_constants(self, f_hz: Floats, parts: Parts) -> LineConstants:
        """Series impedance and shunt admittance per metre at `f_hz` (Hz, shape (n,)); see `constants_by_loss`."""
        del parts
        return constants_by_loss(
            f_hz,
            impedance_ohm=self.impedance_ohm,
            permittivity=self.permittivity,
            frequency_hz=self.frequency_hz,
            conductor_loss_db_per_m=self.conductor_loss_db_per_m,
            dielectric_loss_db_per_m=self.dielectric_loss_db_per_m,
        )

    def problems(self) -> tuple[Problem, ...]:
        """So much dielectric loss may leave no permittivity; see `loss_problems`."""
        return loss_problems(
            permittivity=self.permittivity,
            frequency_hz=self.frequency_hz,
            dielectric_loss_db_per_m=self.dielectric_loss_db_per_m,
        )


class LineByLoss(RunByLoss, tag="by-loss", tag_field="kind", kw_only=True):
    """A trace given by its impedance, permittivity and loss per metre."""

    section: ClassVar[str | None] = "lines"


def loss_problems(*, permittivity: float, frequency_hz: float, dielectric_loss_db_per_m: float) -> tuple[Problem, ...]:
    """What is wrong where a dielectric loss (dB/m at `frequency_hz`, Hz) needs a dielectric that can't be."""
    loss_tangent = _loss_tangent(permittivity, frequency_hz, dielectric_loss_db_per_m)
    if permittivity_at_infinity(permittivity, loss_tangent, frequency_hz) > 0.0:
        return ()
    problem = f"no dielectric loses so much at the stated frequency: its loss tangent would be {loss_tangent:.2g}"
    return (Problem("dielectric_loss_db_per_m", problem, "lower it, or state the losses at a higher frequency_hz"),)


def _loss_tangent(permittivity: float, frequency_hz: float, dielectric_loss_db_per_m: float) -> float:
    slowness = math.sqrt(permittivity) / SPEED_OF_LIGHT_M_PER_S
    return dielectric_loss_db_per_m / DB_PER_NEPER / (math.pi * frequency_hz * slowness)


def constants_by_loss(
    f_hz: Floats,
    *,
    impedance_ohm: float,
    permittivity: float,
    frequency_hz: float,
    conductor_loss_db_per_m: float,
    dielectric_loss_db_per_m: float,
) -> LineConstants:
    """Constants per metre of a line that has the stated losses at `frequency_hz`.

    Lossless inductance and capacitance from impedance and permittivity; skin effect ``2 Z0 a_c(f) (1 + j)``, whose
    resistive part makes the loss and whose equal reactance is the internal inductance; capacitance scaled by the
    wideband Debye of loss tangent ``a_d c / (pi f sqrt(er))`` (low-loss line theory, e.g. D. M. Pozar, Microwave
    Engineering, section 2.7).

    Args:
        f_hz: Hz, shape (n,).
        impedance_ohm: lossless characteristic impedance, ohm.
        permittivity: at `frequency_hz`.
        frequency_hz: where losses and permittivity are stated, Hz.
        conductor_loss_db_per_m: dB/m at `frequency_hz`.
        dielectric_loss_db_per_m: dB/m at `frequency_hz`.

    Returns:
        Series impedance (ohm/m) and shunt admittance (S/m), complex, shape (n,).
    """
    omega = 2.0 * np.pi * f_hz
    slowness = math.sqrt(permittivity) / SPEED_OF_LIGHT_M_PER_S
    conductor_np_per_m = conductor_loss_db_per_m / DB_PER_NEPER * np.sqrt(f_hz / frequency_hz)
    loss_tangent = _loss_tangent(permittivity, frequency_hz, dielectric_loss_db_per_m)
    relative = wideband_debye(permittivity, loss_tangent, frequency_hz, f_hz) / permittivity
    return LineConstants(
        z_ohm_per_m=2.0 * impedance_ohm * conductor_np_per_m * (1.0 + 1.0j) + 1j * omega * impedance_ohm * slowness,
        y_s_per_m=1j * omega * slowness / impedance_ohm * relative,
    )
