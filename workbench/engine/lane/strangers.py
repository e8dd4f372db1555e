"""What other lanes add at a place of a lane: their cursors there, their density, and what they move at a crossing."""

from collections.abc import Sequence

import numpy as np

from workbench.arrays import Floats
from workbench.engine.lane.grid import Grid
from workbench.engine.lane.signal import Signal, Stranger
from workbench.engine.tails.jitter import Mixture, dual_dirac, together
from workbench.engine.tails.strangers import AddedDensity, density_of, worst_phase

_PHASES = 16
"""So many phases stand for every phase of another clock."""
_APART = 3
"""So many of the largest cursors move a crossing by two values each; the rest together as a Gaussian would."""


def strange_density(signal: Signal, without: int | None = None) -> AddedDensity | None:
    """The density of what all strangers add to a sample; None where none does.

    Args:
        signal: where; its axis a grid.
        without: the number of a stranger to be left out.
    """
    kept = [one for number, one in enumerate(signal.strangers) if number != without]
    return density_of([(cursors_of(signal, one), one.levels) for one in kept])


def cursors_of(signal: Signal, stranger: Stranger) -> Floats:
    """A stranger's cursors in V: at its worst phase, shape (K,), or at phases that are all alike, shape (M, K)."""
    grid = signal.axis
    assert isinstance(grid, Grid)
    pulse_v = grid.time_response(stranger.spectrum)
    step = stranger.ui_s / grid.dt_s
    count = _PHASES if stranger.asynchronous else grid.samples_per_ui
    phases = np.arange(count) * (step / count)
    at = phases[:, None] + step * np.arange(int(pulse_v.size / step))
    by_phase = np.interp(at, np.arange(pulse_v.size), pulse_v, period=pulse_v.size)
    if stranger.asynchronous:
        return by_phase
    return worst_phase(by_phase.T.ravel(), count)


def strangers_peak_v(signal: Signal) -> float:
    """The most that all strangers together can add to a sample, V, to either side."""
    return sum(peak_v(signal, one) for one in signal.strangers)


def peak_v(signal: Signal, stranger: Stranger) -> float:
    """The most that one stranger can add to a sample, V, to either side."""
    reach_v = float(np.abs(np.atleast_2d(cursors_of(signal, stranger))).sum(axis=1).max())
    return reach_v * max(abs(level) for level in stranger.levels)


def mean_square(levels: Sequence[float]) -> float:
    """Mean square of symbols that take all their levels alike."""
    return float(np.mean(np.square(levels)))


def noise_of(signal: Signal) -> Floats:
    """All strangers as a one-sided noise density, V^2/Hz, shape (n,), for a receiver's choice of its gain."""
    total = np.zeros(signal.axis.f_hz.size)
    for one in signal.strangers:
        total += 2.0 * mean_square(one.levels) * np.abs(one.spectrum) ** 2 / one.ui_s
    return total


def moved_by(signal: Signal, slope_v_per_s: float) -> Mixture | None:
    """How far strangers move a crossing where the signal rises with that slope; None where none does.

    Neighbouring edges of the same symbol of a stranger count as independent: what they share is lost (a limit).
    """
    if not signal.strangers or slope_v_per_s <= 0.0:
        return None
    size = np.concatenate([np.abs(np.atleast_2d(cursors_of(signal, one))).max(axis=0) for one in signal.strangers])
    size = np.sort(size)[::-1] / slope_v_per_s
    rest_s = float(np.sqrt(np.sum(size[_APART:] ** 2)))
    found = dual_dirac(random_s=rest_s, deterministic_s=0.0)
    for one in size[:_APART]:
        found = together(found, dual_dirac(random_s=0.0, deterministic_s=2.0 * float(one)))
    return found
