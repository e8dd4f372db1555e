"""Whether a network's data can stand in a path at all: enough points, close enough, forward in time, and no amplifier.

Points that turn the transmission by more than half a turn from one to the next can't be told from data whose time runs
backwards: both turn the other way. So either is refused, with both remedies.
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.parts.record import Problem

FEWEST_POINTS = 8
"""Common practice, no source: fewer show neither loss nor delay."""
MOST_GAIN = 2.0
"""6 dB more than a passive network: no calibration is as wrong as that."""
_FORWARD_TURNS = 0.25
_COHERENT = 0.5


class Turning(NamedTuple):
    """How a transmission turns from point to point.

    Attributes:
        turns: turns of its phase over the band, backwards in phase (as a delay makes them) counted above 0; of steps
            above half a turn what is left of them.
        step_hz: the spacing that it was read at, Hz.
        coherent: how alike the steps are, 0 to 1; noise alone has no turning.
    """

    turns: float
    step_hz: float
    coherent: float

    @property
    def backwards(self) -> bool:
        """Whether it turns as no signal does that arrives after it was sent."""
        return self.turns < -_FORWARD_TURNS and self.coherent > _COHERENT


def turning_of(f_hz: Floats, transmission: Complexes) -> Turning:
    """How a transmission turns.

    Args:
        f_hz: points, Hz, rising, shape (n,).
        transmission: complex, shape (n,).
    """
    moving = f_hz > 0.0
    f, t = f_hz[moving], transmission[moving]
    if f.size < 2:
        return Turning(0.0, 0.0, 0.0)
    apart = np.diff(f)
    steps = t[1:] * np.conj(t[:-1])
    near = apart < 1.5 * float(np.median(apart))
    size = float(np.abs(steps[near]).sum())
    if size == 0.0:
        return Turning(0.0, float(np.median(apart)), 0.0)
    coherent = abs(complex(steps[near].sum())) / size
    if np.ptp(apart[near]) < 0.01 * apart[near].max():
        per_hz = -float(np.angle(steps[near].sum())) / float(apart[near].mean())
    else:  # uneven steps turn unevenly: each by itself, weighted with what gets through
        weight = np.abs(steps[near])
        per_hz = -float(np.sum(weight * np.angle(steps[near]) / apart[near]) / weight.sum())
        coherent = float(abs(np.sum(steps[near] * np.exp(1j * per_hz * apart[near]))) / size)
    return Turning(per_hz * float(f[-1] - f[0]) / (2.0 * np.pi), float(np.median(apart)), coherent)


def impossible(f_hz: Floats, two_port: Complexes) -> tuple[Problem, ...]:
    """Why a differential two-port can't stand in a path, nor be repaired so that it can; empty where it may.

    Args:
        f_hz: points, Hz, rising, shape (n,).
        two_port: scattering matrices, shape (2, 2, n).
    """
    above = int(np.count_nonzero(f_hz > 0.0))
    if above < FEWEST_POINTS:
        problem = f"{above} points above 0 Hz are not a network: they show neither its loss nor its delay"
        return (Problem("data", problem, f"export at least {FEWEST_POINTS}, close enough for its delay"),)
    turning = turning_of(f_hz, two_port[1, 0])
    if not turning.backwards:
        return ()
    band_hz = float(f_hz[-1] - f_hz[f_hz > 0.0][0])
    early_s = -turning.turns / band_hz
    late_s = 1.0 / turning.step_hz - early_s
    problem = (
        f"its phase rises with frequency, as if it responded {early_s * 1e9:.3g} ns before the stimulus: either its "
        f"data are conjugated or its time runs backwards, or its points are too far apart for "
        f"{late_s * 1e9:.3g} ns of delay"
    )
    remedy = (
        f"export it with phases that fall with delay, exp(+j w t), or with points at most "
        f"{0.5e-6 / late_s:.3g} MHz apart"
    )
    return (Problem("data", problem, remedy),)


def unusable(f_hz: Floats, two_port: Complexes) -> tuple[Problem, ...]:
    """Why nothing can be believed of a lane through a two-port as it stands; empty where it can.

    Args:
        f_hz: points, Hz, rising, shape (n,).
        two_port: scattering matrices, shape (2, 2, n).
    """
    found = impossible(f_hz, two_port)
    if found:
        return found
    gain = np.linalg.svd(np.moveaxis(two_port, -1, 0), compute_uv=False)[:, 0]
    if gain.max() <= MOST_GAIN:
        return ()
    problem = f"it amplifies {gain.max():.3g} times at {f_hz[int(gain.argmax())] / 1e9:.3g} GHz"
    return (Problem("data", problem, "check its calibration and ports and export it again, or repair its passivity"),)
