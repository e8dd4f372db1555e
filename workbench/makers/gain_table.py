"""A data sheet's table of gain against frequency and setting, and the usual figures fitted to it.

The usual figures are those of a stage with one zero and two equal poles: gain at 0 Hz, bandwidth (each pole), and the
boost of each setting at one frequency. The fit is Levenberg and Marquardt's (D. W. Marquardt, SIAM J. Appl. Math. 11,
1963, 431) on the differences in dB; what it misses is told per setting, with the frequency.
"""

import math
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.errors import ModelError
from workbench.wording import quoted

MOST_POINTS = 2000
MOST_SETTINGS = 256
LOUDEST_DB = 80.0
_TURNS = 200


class GainTable(NamedTuple):
    """Gain against frequency for each setting.

    Attributes:
        f_hz: Hz, rising, above 0 but for the first, shape (n,).
        settings: names, each once.
        gain_db: dB, shape (settings, n).
    """

    f_hz: Floats
    settings: tuple[str, ...]
    gain_db: Floats


def checked(table: GainTable) -> GainTable:
    """The same table.

    Raises:
        ModelError: frequencies that don't rise, a setting named twice, a gain that can't be, or too much of either.
    """
    f_hz, gain = table.f_hz, table.gain_db
    if f_hz.size < 1 or not table.settings:
        raise ModelError("the table of gains is empty; give at least one frequency and one setting")
    if f_hz.size > MOST_POINTS or len(table.settings) > MOST_SETTINGS:
        raise ModelError(
            f"the table of gains is too large; keep {MOST_POINTS} frequencies and {MOST_SETTINGS} settings"
        )
    if gain.shape != (len(table.settings), f_hz.size):
        raise ModelError(f"{gain.shape[0]} rows of {gain.shape[1]} gains don't fit the settings and frequencies")
    if not np.isfinite(f_hz).all() or f_hz[0] < 0.0 or (np.diff(f_hz) <= 0.0).any():
        raise ModelError("the frequencies of the table of gains don't rise from 0 Hz on; sort them, each once")
    twice = next((name for name in table.settings if table.settings.count(name) > 1), None)
    if twice is not None:
        raise ModelError(f"the setting {quoted(twice)} has two rows of gains; give each a name of its own")
    wrong = np.argwhere(~(np.abs(gain) <= LOUDEST_DB))
    if wrong.size:
        row, column = (int(at) for at in wrong[0])
        raise ModelError(
            f"setting {quoted(table.settings[row])} at {f_hz[column]:g} Hz has {gain[row, column]:g} dB, "
            f"which no such part has; check the unit"
        )
    return table


class Miss(NamedTuple):
    """Where the fitted figures miss a setting's row most: dB above the table, and at which frequency in Hz."""

    setting: str
    miss_db: float
    at_hz: float


class FittedGain(NamedTuple):
    """The usual figures that come nearest to a table.

    Attributes:
        dc_gain_db: gain at 0 Hz, dB.
        bandwidth_hz: each of the two poles, Hz.
        boost_frequency_hz: where the boosts hold, Hz.
        boosts_db: per setting, dB over the gain at 0 Hz.
        rms_db: of all differences.
        misses: the largest difference of each setting.
    """

    dc_gain_db: float
    bandwidth_hz: float
    boost_frequency_hz: float
    boosts_db: tuple[float, ...]
    rms_db: float
    misses: tuple[Miss, ...]


def stage_gain_db(f_hz: Floats, *, dc_gain_db: float, zero_hz: Floats, bandwidth_hz: float) -> Floats:
    """Gain of a zero and two equal poles, dB.

    Args:
        f_hz: Hz, shape (n,).
        dc_gain_db: dB at 0 Hz.
        zero_hz: Hz, shape (settings, 1) or a number.
        bandwidth_hz: each pole, Hz.

    Returns:
        dB, shape (settings, n).
    """
    lift = 10.0 * np.log10(1.0 + (f_hz / zero_hz) ** 2)
    return np.asarray(dc_gain_db + lift - 20.0 * np.log10(1.0 + (f_hz / bandwidth_hz) ** 2))


def fitted(table: GainTable, boost_frequency_hz: float | None = None) -> FittedGain:
    """The usual figures that come nearest to a table in least squares of dB.

    Args:
        table: the table, at two frequencies or more.
        boost_frequency_hz: where the boosts are to be stated, Hz; None for where the strongest setting peaks.

    Raises:
        ModelError: a table that `checked` refuses, or of one frequency.
    """
    table = checked(table)
    if table.f_hz.size < 2:
        raise ModelError("one frequency fixes no equalizer; give the gains at two frequencies or more")
    spread = table.gain_db.max(axis=1) - table.gain_db[:, 0]
    peak = int(np.argmax(table.gain_db[int(np.argmax(spread))]))
    at_hz = boost_frequency_hz or float(table.f_hz[peak] or table.f_hz[1])
    start = np.concatenate([[table.gain_db[:, 0].mean(), math.log(2.0 * at_hz)], np.log(_first_zeros(spread, at_hz))])
    found = _least_squares(table, start)
    zeros, bandwidth_hz = np.exp(found[2:])[:, np.newaxis], math.exp(found[1])
    model = stage_gain_db(table.f_hz, dc_gain_db=found[0], zero_hz=zeros, bandwidth_hz=bandwidth_hz)
    at_boost = stage_gain_db(np.array([at_hz]), dc_gain_db=0.0, zero_hz=zeros, bandwidth_hz=bandwidth_hz)
    differences = model - table.gain_db
    worst = np.abs(differences).argmax(axis=1)
    misses = tuple(
        Miss(name, float(differences[row, at]), float(table.f_hz[at]))
        for row, (name, at) in enumerate(zip(table.settings, worst, strict=True))
    )
    return FittedGain(
        float(found[0]), bandwidth_hz, at_hz, tuple(at_boost[:, 0].tolist()),
        float(np.sqrt(np.mean(differences**2))), misses,
    )  # fmt: skip


def _first_zeros(spread_db: Floats, at_hz: float) -> Floats:
    """Where each setting's zero might stand, Hz: so that its boost at `at_hz` (Hz) comes out without the poles."""
    lift = np.sqrt(np.maximum(10.0 ** (np.maximum(spread_db, 0.0) / 10.0) - 1.0, 1e-2))
    return np.asarray(at_hz / lift)


def _least_squares(table: GainTable, start: Floats) -> Floats:
    """Gain at 0 Hz in dB, logarithms of the bandwidth and of each setting's zero."""
    found, damping = start, 1e-2
    rest, slopes = _linearized(table, found)
    for _ in range(_TURNS):
        normal = slopes.T @ slopes
        scale = np.diag(normal) + 1e-9
        step = np.linalg.solve(normal + damping * np.diag(scale), -slopes.T @ rest)
        tried = found + np.clip(step, -1.0, 1.0)
        tried[1:] = np.clip(tried[1:], math.log(1e5), math.log(1e13))
        other, other_slopes = _linearized(table, tried)
        if other @ other < rest @ rest:
            done = float(np.abs(tried - found).max()) < 1e-10
            found, rest, slopes, damping = tried, other, other_slopes, damping / 4.0
            if done:
                break
        else:
            damping *= 5.0
            if damping > 1e12:
                break
    return found


def _linearized(table: GainTable, at: Floats) -> tuple[Floats, Floats]:
    """Differences in dB, shape (settings n,), and how they change with the figures, shape (settings n, figures)."""
    count, n = len(table.settings), table.f_hz.size
    zeros, bandwidth_hz = np.exp(at[2:])[:, np.newaxis], math.exp(at[1])
    rest = stage_gain_db(table.f_hz, dc_gain_db=at[0], zero_hz=zeros, bandwidth_hz=bandwidth_hz) - table.gain_db
    per_zero, per_pole = (table.f_hz / zeros) ** 2, (table.f_hz / bandwidth_hz) ** 2
    slopes = np.zeros((count, n, 2 + count))
    slopes[:, :, 0] = 1.0
    slopes[:, :, 1] = 40.0 / math.log(10.0) * per_pole / (1.0 + per_pole)
    rows = np.arange(count)
    slopes[rows, :, 2 + rows] = -20.0 / math.log(10.0) * per_zero / (1.0 + per_zero)
    return rest.ravel(), slopes.reshape(count * n, 2 + count)
