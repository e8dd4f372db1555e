"""Near-end and far-end crosstalk of a passive channel over frequency, each as a power sum; integrated crosstalk noise.

Power sums are ``PSNEXT = -10 log10(sum 10^(-NEXT_n / 10))`` over all aggressors whose signal runs against the lane's,
PSFEXT the same over those that run along it, and the ratio of loss to crosstalk is their sum's level below the lane's
own (IEEE 802.3ap Annex 69B, as a public thesis quotes its definitions). Everything is seen at the receiving end of a
span, between matched 100 ohm ends, without the capacitances of what the channel connects. A figure to compare: no
verdict rests on a power sum.
"""

from typing import NamedTuple

import numpy as np
from msgspec.structs import replace

from workbench.arrays import Floats, decibels
from workbench.engine.lane.crosstalk import coupled
from workbench.engine.lane.grid import Axis, Grid
from workbench.engine.lane.path import LanePlan, Neighbour, Span, Terminal
from workbench.engine.lane.spans import channel_s_parameters
from workbench.engine.lane.strangers import cursors_on
from workbench.engine.memo import Memo
from workbench.parts.transmitter import Taps, symbol_spectrum
from workbench.parts.twoport import REFERENCE_OHM

_NOTHING = 1e-15
_MATCHED = Terminal(REFERENCE_OHM, 0.0)
_EDGE, _RECEIVER_BAND = 0.2365, 0.75
_FROM_HZ = 50e6
_STEP_HZ, _WINDOW_UI = 10e6, 16384


class PowerSums(NamedTuple):
    """Crosstalk of one span at its receiving end at `f_hz` (Hz, shape (n,)).

    Attributes:
        f_hz: as above.
        loss_db: insertion loss of the span itself, dB, shape (n,).
        near_db, far_db: power sums of the aggressors that run against the lane and along it, dB below their source,
            shape (n,); None where there are none.
        noise_v: integrated crosstalk noise, rms, V.
    """

    f_hz: Floats
    loss_db: Floats
    near_db: Floats | None
    far_db: Floats | None
    noise_v: float

    @property
    def both_db(self) -> Floats:
        """Both power sums together, dB below the source, shape (n,)."""
        sides = [side for side in (self.near_db, self.far_db) if side is not None]
        return _as_loss_db(sum(10.0 ** (-side / 10.0) for side in sides) + np.zeros(self.f_hz.size))

    @property
    def ratio_db(self) -> Floats:
        """How far all crosstalk lies below the lane's own signal, dB, shape (n,)."""
        return self.both_db - self.loss_db

    def at(self, values_db: Floats | None, f_hz: float) -> float | None:
        """One of the curves, dB, shape (n,), at a frequency in Hz; None where there is none."""
        return None if values_db is None else float(np.interp(f_hz, self.f_hz, values_db))


def standard_axis(ui_s: float) -> Grid:
    """Frequencies in steps of 10 MHz up to the rate of a unit interval in s, or to 1 GHz where that is more."""
    return Grid(1.0 / (_STEP_HZ * _WINDOW_UI), _WINDOW_UI, int(max(1.0 / ui_s, 1e9) / _STEP_HZ) + 1)


def power_sums(memo: Memo, plan: LanePlan, number: int, axis: Axis) -> PowerSums | None:
    """Crosstalk of one of a lane's spans at the axis's frequencies above 0 Hz; None where it has no neighbours.

    Args:
        memo: the store of known results.
        plan: the lane.
        number: of the span.
        axis: evenly spaced frequencies.
    """
    beside = [one for one in plan.neighbours if one.span == number]
    if not beside:
        return None
    span = plan.spans[number]
    return memo.get(("power sums", span.elements, tuple(beside), axis), lambda: _power_sums(memo, span, beside, axis))


def _power_sums(memo: Memo, span: Span, beside: list[Neighbour], axis: Axis) -> PowerSums:
    f_hz = axis.f_hz[1:]
    victim = _between_matched(span)
    squares: dict[bool, Floats] = {}
    driven: dict[AggressorDriver, Floats] = {}
    for one in beside:
        # Half of the open voltage stands at a matched source: that is what levels count from.
        square = (2.0 * np.abs(coupled(memo, victim, None, _among_matched(one), axis))[1:]) ** 2
        squares[one.against] = squares.get(one.against, 0.0) + square
        driven[driver_of(one)] = driven.get(driver_of(one), 0.0) + square
    variance_v2 = sum(crosstalk_noise_v(f_hz, np.sqrt(one), driver) ** 2 for driver, one in driven.items())
    own = channel_s_parameters(memo, span, axis)
    near, far = (None if side not in squares else _as_loss_db(squares[side]) for side in (True, False))
    loss_db = -decibels(np.abs(own.s21), _NOTHING)[1:]
    return PowerSums(f_hz, loss_db, near, far, float(np.sqrt(variance_v2)))


def _between_matched(span: Span) -> Span:
    return replace(span, source=_MATCHED, load=_MATCHED)


def _among_matched(neighbour: Neighbour) -> Neighbour:
    other = neighbour.aggressor
    spans = tuple(
        _between_matched(span) if number == neighbour.aggressor_span else span
        for number, span in enumerate(other.spans)
    )
    return replace(neighbour, aggressor=replace(other, spans=spans))


def _as_loss_db(square: Floats) -> Floats:
    return -10.0 * np.log10(np.maximum(square, _NOTHING**2))


def near_end_v(memo: Memo, plan: LanePlan, number: int, grid: Grid) -> float | None:
    """What all aggressors that run against a span make at its receiving end at most, V peak to peak.

    Between matched ends, each at its own worst symbols and phase, without emphasis: an upper bound of what any pattern
    shows. None where none runs against it.

    Args:
        memo: the store of known results.
        plan: the lane.
        number: of the span.
        grid: the frequencies.
    """
    against = [one for one in plan.neighbours if one.span == number and one.against]
    if not against:
        return None
    victim, reach_v = _between_matched(plan.spans[number]), 0.0
    for one in against:
        driver, profile = driver_of(one), one.aggressor.profile
        symbol = symbol_spectrum(
            grid.f_hz, ui_s=profile.ui_s, rise_time_s=driver.rise_time_s, taps=Taps(0.0, 2.0 * driver.half_swing_v, 0.0)
        )
        every_v = cursors_on(grid, symbol * coupled(memo, victim, None, _among_matched(one), grid), profile.ui_s)
        reach_v += float(np.abs(every_v).sum(axis=1).max())
    return 2.0 * reach_v


class AggressorDriver(NamedTuple):
    """What drives an aggressor, as integrated crosstalk noise counts it.

    Attributes:
        half_swing_v: its peak amplitude into a matched load, V.
        rise_time_s: 20 to 80 %, s.
        rate_hz: symbols a second.
        receiver_hz: where the usual receiver's band ends, Hz; 0: at 0.75 of the rate.
        to_hz: how far the sum goes, Hz; 0: up to the rate.
    """

    half_swing_v: float
    rise_time_s: float
    rate_hz: float
    receiver_hz: float = 0.0
    to_hz: float = 0.0


def driver_of(neighbour: Neighbour) -> AggressorDriver:
    """What drives a neighbour's span: its transmitter, or the last stage before that makes the amplitude anew."""
    plan = neighbour.aggressor
    swing_v, rise_time_s = plan.transmitter.swing_v, plan.transmitter.rise_s
    for stage in plan.stages[: neighbour.aggressor_span]:
        if stage.regenerates:
            swing_v, rise_time_s = stage.part.swing_v(stage.settings), stage.part.edge_s(stage.settings)
    return AggressorDriver(swing_v / 2.0, rise_time_s, 1.0 / plan.profile.ui_s)


def crosstalk_noise_v(f_hz: Floats, level: Floats, driver: AggressorDriver) -> float:
    """Integrated crosstalk noise of one aggressor, rms, V: what its random symbols leave behind a usual receiver.

    ``sigma^2 = 2 df sum (A^2 / f_b) sinc^2(f / f_b) / [(1 + (f / f_t)^4)(1 + (f / f_r)^8)] level^2`` with its peak
    amplitude A, its rate f_b, f_t = 0.2365 over its 20-80 % rise time and f_r = 0.75 f_b (IEEE 802.3, 85.10.7; form and
    constants from memory, so that the figure is told as unverified), from 50 MHz to f_b. Several aggressors add up by
    their squares. Emphasis doesn't count.

    Args:
        f_hz: evenly spaced, Hz, shape (n,).
        level: of its crosstalk over its source's level, linear, shape (n,).
        driver: the aggressor's.
    """
    rate_hz = driver.rate_hz
    within = (f_hz >= _FROM_HZ) & (f_hz <= (driver.to_hz or rate_hz))
    f = f_hz[within]
    weight = driver.half_swing_v**2 / rate_hz * np.sinc(f / rate_hz) ** 2
    weight = weight / (1.0 + (f * driver.rise_time_s / _EDGE) ** 4)
    weight = weight / (1.0 + (f / (driver.receiver_hz or _RECEIVER_BAND * rate_hz)) ** 8)
    step_hz = float(f_hz[1] - f_hz[0])
    return float(np.sqrt(2.0 * step_hz * float(np.sum(weight * level[within] ** 2))))
