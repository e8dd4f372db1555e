"""What a designer reads off the matrices: impedances, effective permittivities, modes, coupling of pairs.

A pair's modes: differential voltage ``V1 - V2`` with current ``(I1 - I2) / 2``, common voltage ``(V1 + V2) / 2`` with
current ``I1 + I2``.
"""

import math
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.parts.section.solving import Solution

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0


class PairMode(NamedTuple):
    """One mode of a pair.

    Attributes:
        inductance: H/m.
        capacitance: F/m.
        squares_per_m: its resistance in skin effect over the surface resistance, 1/m.
    """

    inductance: float
    capacitance: float
    squares_per_m: float

    @property
    def impedance_ohm(self) -> float:
        """Lossless characteristic impedance, ohm."""
        return math.sqrt(self.inductance / self.capacitance)

    @property
    def slowness_s_per_m(self) -> float:
        """Delay per metre, s/m."""
        return math.sqrt(self.inductance * self.capacitance)

    @property
    def effective_permittivity(self) -> float:
        """Square of the light's speed over the mode's."""
        return self.inductance * self.capacitance * SPEED_OF_LIGHT_M_PER_S**2


class Coupling(NamedTuple):
    """Coupling of two pairs' differential modes, first order.

    Attributes:
        inductive: kL, mutual over own inductance.
        capacitive: kC, less the mutual over own capacitance.
        backward: Kb, the saturated near end as a share of the aggressor: ``NEXT(t) = Kb [v(t) - v(t - 2T)]``.
        forward_s_per_m: Kf, s/m: ``FEXT(t) = Kf length dv(t - T)/dt``.
    """

    inductive: float
    capacitive: float
    backward: float
    forward_s_per_m: float


def differential(solution: Solution, pair: int = 0) -> PairMode:
    """The differential mode of a pair, counted from the left; all other traces carry no differential signal."""
    return PairMode(
        _between(solution.inductance, pair, pair, (1.0, -1.0)),
        _between(solution.capacitance, pair, pair, (0.5, -0.5)),
        _between(solution.squares_per_m, pair, pair, (1.0, -1.0)),
    )


def common(solution: Solution, pair: int = 0) -> PairMode:
    """The common mode of a pair, counted from the left."""
    return PairMode(
        _between(solution.inductance, pair, pair, (0.5, 0.5)),
        _between(solution.capacitance, pair, pair, (1.0, 1.0)),
        _between(solution.squares_per_m, pair, pair, (0.5, 0.5)),
    )


def coupling(solution: Solution, first: int = 0, second: int = 1) -> Coupling:
    """How one pair couples into another; both are counted from the left.

    The coefficients are those of weakly coupled lines, e.g. C. R. Paul, Analysis of Multiconductor Transmission Lines,
    Wiley: ``Kb = (kL + kC) / 4``, ``Kf = (kC - kL) / 2 sqrt(L C)``.
    """
    one, other = differential(solution, first), differential(solution, second)
    mutual_h = _between(solution.inductance, first, second, (1.0, -1.0))
    mutual_f = _between(solution.capacitance, first, second, (0.5, -0.5))
    inductive = mutual_h / math.sqrt(one.inductance * other.inductance)
    capacitive = -mutual_f / math.sqrt(one.capacitance * other.capacitance)
    slowness = math.sqrt(one.slowness_s_per_m * other.slowness_s_per_m)
    return Coupling(inductive, capacitive, 0.25 * (inductive + capacitive), 0.5 * (capacitive - inductive) * slowness)


class MixedMode(NamedTuple):
    """Matrices of all modes, shape (k, k): the pairs' differential modes first, their common modes after.

    Attributes:
        inductance: H/m.
        capacitance: F/m.
    """

    inductance: Floats
    capacitance: Floats


def mixed_mode(solution: Solution) -> MixedMode:
    """Inductance and capacitance of differential and common modes, with the conversion between them."""
    k = solution.capacitance.shape[0]
    pairs = np.arange(k // 2)
    voltages, currents = np.zeros((k, k)), np.zeros((k, k))
    # Columns: voltage and current of every trace per unit of each mode.
    for column, v, i in ((pairs, (0.5, -0.5), (1.0, -1.0)), (pairs + k // 2, (1.0, 1.0), (0.5, 0.5))):
        voltages[2 * pairs, column], voltages[2 * pairs + 1, column] = v
        currents[2 * pairs, column], currents[2 * pairs + 1, column] = i
    return MixedMode(currents.T @ solution.inductance @ currents, voltages.T @ solution.capacitance @ voltages)


def _between(matrix: Floats, first: int, second: int, weights: tuple[float, float]) -> float:
    vector = np.array(weights)
    return float(vector @ matrix[2 * first : 2 * first + 2, 2 * second : 2 * second + 2] @ vector)
