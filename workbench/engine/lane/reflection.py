"""What a step sent into a lane's first pins shows of the impedances along the path."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.engine.lane.grid import Grid, full_points
from workbench.engine.lane.path import LanePlan, Span
from workbench.engine.lane.spans import flight_time_s, span_s_parameters
from workbench.engine.memo import Memo
from workbench.parts.twoport import REFERENCE_OHM

_EDGE_PER_UI = 0.2


class ImpedanceProfile(NamedTuple):
    """Impedance along the path, as a reflected step shows it from each span's driving end.

    Attributes:
        delay_s: one-way time of flight from the transmitter, s, shape (n,), all spans one after the other.
        impedance_ohm: shape (n,).
        boundary_s: where elements end, s, in the path's order; the first is 0.
    """

    delay_s: Floats
    impedance_ohm: Floats
    boundary_s: tuple[float, ...]


def impedance_profile(memo: Memo, plan: LanePlan) -> ImpedanceProfile:
    """The profile of every span, sent from its driving end with a smooth edge of a fifth of a UI."""
    delays, impedances, boundaries = [], [], [0.0]
    start_s = 0.0
    for span in plan.spans:
        delay_s, impedance = _of_span(memo, span, plan.profile.ui_s)
        delays.append(start_s + delay_s)
        impedances.append(impedance)
        grid = _grid(plan.profile.ui_s, 0.0)
        for count in range(1, len(span.elements) + 1):
            boundaries.append(start_s + flight_time_s(memo, span, grid, count))
        start_s += flight_time_s(memo, span, grid, len(span.elements))
    return ImpedanceProfile(np.concatenate(delays), np.concatenate(impedances), tuple(boundaries))


def _grid(ui_s: float, flight_s: float) -> Grid:
    window_ui = 64
    while window_ui * ui_s < 6.0 * flight_s:
        window_ui *= 2
    return Grid(ui_s, window_ui, min(16 * window_ui // 2 + 1, full_points(window_ui)))


def _of_span(memo: Memo, span: Span, ui_s: float) -> tuple[Floats, Floats]:
    flight_s = flight_time_s(memo, span, _grid(ui_s, 0.0), len(span.elements))
    grid = _grid(ui_s, flight_s)
    reflected = span_s_parameters(memo, span, grid).s11
    edge = np.exp(-0.5 * (2.0 * np.pi * grid.f_hz * _EDGE_PER_UI * ui_s / 2.0) ** 2)
    # The smooth edge begins before its middle; late by a UI, all of it lies inside the window.
    late = np.exp(-2j * np.pi * grid.f_hz * ui_s)
    echo = np.fft.irfft(reflected * edge * late, n=grid.samples).cumsum()[grid.samples_per_ui :]
    count = max(int(2.0 * flight_s / grid.dt_s), 2)
    coefficient = np.clip(echo[:count], -0.95, 0.95)
    return np.arange(count) * grid.dt_s / 2.0, REFERENCE_OHM * (1.0 + coefficient) / (1.0 - coefficient)
