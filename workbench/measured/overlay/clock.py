"""Clock recovery from a measured waveform: where its symbols begin, as a receiver's tracking loop sees it.

A second-order phase-locked loop of damping 1 runs over the zero crossings (F. M. Gardner, Phaselock Techniques, 3rd
edition 2005, chapter 2). It starts settled: rate and phase first come from a straight line through the first crossings.
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.errors import TableError
from workbench.quantity import show

LOOP_PER_RATE = 1.0 / 1667.0
"""Loop bandwidth over the symbol rate: the usual reference loop of jitter measurements (from memory)."""
_PULLED = 6e-3
"""How far the rate may be off, a bare ratio: spread clocks run 0.5 % low."""
_FIRST = 400
_FEWEST = 32
_COHERENT = 0.5
_HYSTERESIS = 0.1


class RecoveredClock(NamedTuple):
    """A recovered clock.

    Attributes:
        edge_s: where each symbol begins and the last one ends, s, shape (symbols + 1,).
        jitter_s: how far each crossing lies after the clock's edge, s, shape (crossings,).
        offset: rate over the nominal one, less 1.
    """

    edge_s: Floats
    jitter_s: Floats
    offset: float

    @property
    def symbols(self) -> int:
        """How many symbols there are."""
        return self.edge_s.size - 1

    def phase_ui(self, time_s: Floats) -> Floats:
        """Times (s) in UI from the first symbol's beginning, shape as given; NaN outside the clock's reach."""
        number = np.arange(self.edge_s.size, dtype=np.float64)
        return np.asarray(np.interp(time_s, self.edge_s, number, left=np.nan, right=np.nan))


def crossings_s(time_s: Floats, level_v: Floats) -> Floats:
    """Where a waveform goes through zero, s; to and fro within a tenth of its swing counts once.

    Args:
        time_s: s, rising, shape (n,).
        level_v: V, shape (n,).
    """
    beyond = _HYSTERESIS * float(np.percentile(np.abs(level_v), 90.0))
    decided = np.nonzero(np.abs(level_v) > beyond)[0]
    sign = np.sign(level_v[decided])
    after = decided[1:][np.diff(sign) != 0.0]
    # The last change of sign before the waveform has made up its mind.
    positive = level_v > 0.0
    changes = np.nonzero(positive[1:] != positive[:-1])[0]
    if not after.size or not changes.size:
        return np.zeros(0)
    at = changes[np.searchsorted(changes, after, side="left") - 1]
    low, high = level_v[at], level_v[at + 1]
    return np.asarray(time_s[at] + (time_s[at + 1] - time_s[at]) * low / (low - high))


def recovered(crossing_s: Floats, ui_s: float, name: str, *, loop_per_rate: float = LOOP_PER_RATE) -> RecoveredClock:
    """The clock of a waveform.

    Args:
        crossing_s: its crossings, s, rising, shape (n,).
        ui_s: the nominal unit interval, s.
        name: what sentences call the waveform.
        loop_per_rate: loop bandwidth over the symbol rate; 0 for a clock of constant rate.

    Raises:
        TableError: there are too few crossings, or no clock near the nominal rate is in them.
    """
    if crossing_s.size < _FEWEST:
        problem = f"it goes through 0 V {crossing_s.size} times"
        remedy = f"give a differential waveform with {_FEWEST} crossings at least"
        raise TableError(name, None, problem, remedy)
    period, phase = _acquired(crossing_s, ui_s, name)
    number, edge = _tracked(crossing_s, period, phase, loop_per_rate)
    # Two crossings of one boundary: the first tells.
    number, first = np.unique(number, return_index=True)
    symbols = np.arange(number[0], number[-1] + 1)
    edges = np.asarray(np.interp(symbols, number, edge[first]))
    mean_ui_s = float(edges[-1] - edges[0]) / max(edges.size - 1, 1)
    return RecoveredClock(edges, crossing_s[first] - edge[first], ui_s / mean_ui_s - 1.0)


def _acquired(crossing_s: Floats, ui_s: float, name: str) -> tuple[float, float]:
    """Period and phase in s by the first crossings: the period whose multiples they lie closest to."""
    first = crossing_s[:_FIRST] - crossing_s[0]
    span_ui = max(float(first[-1]) / ui_s, 1.0)
    steps = int(8.0 * _PULLED * span_ui) + 1
    periods = ui_s * (1.0 + np.linspace(-_PULLED, _PULLED, 2 * steps + 1))
    turned = np.exp(2j * np.pi * first / periods[:, None]).mean(axis=1)
    best = int(np.abs(turned).argmax())
    if abs(turned[best]) < _COHERENT:
        problem = f"no clock near {show(1.0 / ui_s, 'Hz')} is in its crossings"
        raise TableError(name, None, problem, "check the lane's profile and the time's unit")
    period = float(periods[best])
    phase = float(np.angle(turned[best])) / (2.0 * np.pi) * period
    for _ in range(4):
        number = np.round((first - phase) / period)
        period, phase = (float(value) for value in np.polyfit(number, first, 1))
    return period, phase + float(crossing_s[0])


def _tracked(crossing_s: Floats, period: float, phase: float, loop_per_rate: float) -> tuple[Floats, Floats]:
    """The boundary's number and the loop's edge at each crossing; edges in s, shape (n,) each."""
    if loop_per_rate == 0.0:
        number = np.round((crossing_s - phase) / period)
        for _ in range(4):
            period, phase = (float(value) for value in np.polyfit(number, crossing_s, 1))
            number = np.round((crossing_s - phase) / period)
        return number, number * period + phase
    # A loop of damping 1: bandwidth k over the rate, natural frequency half of it.
    proportional = 2.0 * np.pi * loop_per_rate
    integral = proportional**2 / 4.0
    numbers, edges = [], []
    count = 0
    clock = phase
    for crossing in crossing_s.tolist():
        passed = round((crossing - clock) / period)
        clock += passed * period
        count += passed
        late = crossing - clock
        numbers.append(count)
        edges.append(clock)
        # A crossing speaks for all symbols since the last.
        held = max(passed, 1)
        clock += min(proportional * held, 1.0) * late
        period += min(integral * held, 1.0) * late
    return np.array(numbers, np.float64), np.array(edges)
