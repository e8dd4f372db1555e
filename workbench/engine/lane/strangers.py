"""What other lanes add at a place of a lane: their cursors there, their density, and what they move at a crossing."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.engine.lane.grid import Grid
from workbench.engine.lane.signal import Signal, Stranger
from workbench.engine.tails.strangers import AddedDensity, EachDensity, added_up, each_density

_PHASES = 16
"""So many phases stand for every phase of another clock."""


class Beside(NamedTuple):
    """What one run of another lane adds at a place.

    Attributes:
        stranger: which, and its spectrum there.
        every_v: its cursors in V at phases that cover its unit interval evenly, shape (M, K).
    """

    stranger: Stranger
    every_v: Floats

    @property
    def cursors_v(self) -> Floats:
        """The cursors that count, V: at its worst phase, shape (K,), or all phases alike, shape (M, K)."""
        if self.stranger.asynchronous:
            return self.every_v[:: max(self.every_v.shape[0] // _PHASES, 1)]
        return np.asarray(self.every_v[int(np.abs(self.every_v).sum(axis=1).argmax())])

    @property
    def peak_v(self) -> float:
        """The most that it can add to a sample, V, to either side."""
        reach_v = float(np.abs(self.every_v).sum(axis=1).max())
        return reach_v * max(abs(level) for level in self.stranger.levels)

    @property
    def rms_v(self) -> float:
        """Root mean square of what it adds, V, all phases alike."""
        return float(np.sqrt(mean_square(self.stranger.levels) * np.mean(np.sum(self.every_v**2, axis=1))))


def beside_of(signal: Signal) -> tuple[Beside, ...]:
    """What every stranger of a signal adds; the signal's axis must be a grid."""
    return tuple(Beside(one, _cursors_of(signal, one)) for one in signal.strangers)


def strange_densities(beside: Sequence[Beside]) -> EachDensity:
    """The density of what each stranger adds to a sample by itself."""
    return each_density([(one.cursors_v, one.stranger.levels) for one in beside])


def _cursors_of(signal: Signal, stranger: Stranger) -> Floats:
    grid = signal.axis
    assert isinstance(grid, Grid)
    return cursors_on(grid, stranger.spectrum, stranger.ui_s)


def cursors_on(grid: Grid, spectrum: Complexes, ui_s: float) -> Floats:
    """Cursors of a pulse at phases that cover its unit interval evenly, V, shape (M, K).

    Args:
        grid: the frequencies.
        spectrum: the pulse's, V s, shape (n,).
        ui_s: its unit interval, s; of another than the grid's, 16 phases.
    """
    pulse_v = grid.time_response(spectrum)
    if ui_s == grid.ui_s:
        return np.ascontiguousarray(pulse_v.reshape(-1, grid.samples_per_ui).T)
    step = ui_s / grid.dt_s
    at = (np.arange(_PHASES) * (step / _PHASES))[:, None] + step * np.arange(int(pulse_v.size / step))
    return np.asarray(np.interp(at, np.arange(pulse_v.size), pulse_v))


def mean_square(levels: Sequence[float]) -> float:
    """Mean square of symbols that take all their levels alike."""
    return float(np.mean(np.square(levels)))


def noise_of(signal: Signal) -> Floats:
    """All strangers as a one-sided noise density, V^2/Hz, shape (n,), for a receiver's choice of its gain."""
    total = np.zeros(signal.axis.f_hz.size)
    for one in signal.strangers:
        total += 2.0 * mean_square(one.levels) * np.abs(one.spectrum) ** 2 / one.ui_s
    return total


def pushing_s(beside: Sequence[Beside], slope_v_per_s: float) -> AddedDensity | None:
    """How strangers move a crossing: displacements in s and how likely each is; None where they don't.

    Neighbouring edges of the same symbol of a stranger count as independent: what they share is lost (a limit).

    Args:
        beside: what each adds at the crossing.
        slope_v_per_s: how fast the signal rises there, V/s.
    """
    if not beside or slope_v_per_s <= 0.0:
        return None
    added = added_up(strange_densities(beside))
    return None if added is None else AddedDensity(added.level_v / slope_v_per_s, added.chance)
