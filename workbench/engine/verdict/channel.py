"""The passive channel against its interface's limits over frequency: attenuation, deviation, return loss, ripple, mode
conversion, crosstalk.

The channel is what lies between the lane's ends, in 100 ohm, without the capacitances of what it connects. Where
conditioners stand on the lane each span is a channel of its own, and nothing is judged: the standards state their
limits for a channel without any.
"""

from collections.abc import Callable
from functools import partial
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, decibels
from workbench.board.channel_limit import HIGHEST_HZ, LOWEST_HZ, ChannelLimit
from workbench.engine.assessment import ChannelResult
from workbench.engine.lane.elements import converts
from workbench.engine.lane.grid import Grid
from workbench.engine.lane.path import LanePlan, Span
from workbench.engine.lane.spans import channel_s_parameters
from workbench.engine.memo import Memo
from workbench.engine.verdict.power_sums import PowerSums, near_end_v, power_sums
from workbench.engine.verdict.skew import conversion_loss_db

_STEP_HZ = LOWEST_HZ
_WINDOW_UI = 4096
_NOTHING = 1e-15
_RAMP_PER_UI = 0.2
_GRID = Grid(1.0 / (_STEP_HZ * _WINDOW_UI), _WINDOW_UI, int(HIGHEST_HZ / _STEP_HZ) + 1)
_OF_NEIGHBOURS = frozenset({"loss-to-crosstalk", "integrated-crosstalk", "near-end-crosstalk"})
_DRAWN_FROM_CHANNEL = frozenset({"loss-deviation", "loss-to-crosstalk"})
_DRAWN_POINTS = 200
_BAR_HALF = 0.12
"""Half the length of a limit at one frequency, as a share of that."""


class ChannelLosses(NamedTuple):
    """A channel's figures at `f_hz` (Hz, shape (n,)): insertion loss and the lesser return loss of both ends, dB.

    `conversion_db` is its conversion loss, dB, shape (n,), where anything turns the signal into the common mode;
    `beside` its crosstalk, `near_end_v` what all its near ends make at most, V peak to peak, where it has neighbours.
    """

    f_hz: Floats
    loss_db: Floats
    return_db: Floats
    conversion_db: Floats | None = None
    beside: PowerSums | None = None
    near_end_v: float | None = None


def channel_of(memo: Memo, span: Span) -> ChannelLosses:
    """Loss and return loss of a span's elements from 10 MHz to 15 GHz in steps of 10 MHz."""
    grid = _GRID
    seen = channel_s_parameters(memo, span, grid)
    reflected = np.maximum(np.abs(seen.s11), np.abs(seen.s22))
    converted = conversion_loss_db(memo, span, grid)
    return ChannelLosses(
        grid.f_hz[1:], -decibels(np.abs(seen.s21), _NOTHING)[1:], -decibels(reflected, _NOTHING)[1:],
        None if converted is None else converted[1:],
    )  # fmt: skip


def channel_beside(memo: Memo, plan: LanePlan, number: int) -> ChannelLosses:
    """The same of one of a lane's spans, with its neighbours where the lane's limits ask for them."""
    channel = channel_of(memo, plan.spans[number])
    asked = {limit.measure for limit in plan.profile.channel}
    if not asked & _OF_NEIGHBOURS or not any(one.span == number for one in plan.neighbours):
        return channel
    near_end = near_end_v(memo, plan, number, _GRID) if "near-end-crosstalk" in asked else None
    return channel._replace(beside=power_sums(memo, plan, number, _GRID), near_end_v=near_end)


def channel_results(memo: Memo, plan: LanePlan) -> tuple[ChannelResult, ...]:
    """Every channel limit of the lane's profile with what its channel has; of each span where there are several."""
    if not plan.profile.channel:
        return ()
    alone = len(plan.spans) == 1
    found: list[ChannelResult] = []
    for number, span in enumerate(plan.spans):
        beside = tuple(one for one in plan.neighbours if one.span == number)
        named = span.from_, span.to, plan.profile.channel, plan.profile.ui_s, alone
        found += memo.get(
            ("channel limits", span.elements, *named, beside), partial(_of_span, memo, plan, number, alone)
        )
    return tuple(found)


def _of_span(memo: Memo, plan: LanePlan, number: int, alone: bool) -> tuple[ChannelResult, ...]:
    channel = channel_beside(memo, plan, number)
    held = ((limit, held_against(limit, channel, plan.profile.ui_s)) for limit in plan.profile.channel)
    return tuple(_told(limit, one, plan.spans[number], alone) for limit, one in held if one is not None)


def _told(limit: ChannelLimit, held: "Held", span: Span, alone: bool) -> ChannelResult:
    stated = limit.most if limit.most is not None else limit
    return ChannelResult(
        measure=limit.measure, from_=span.from_, to=span.to, unit="V" if limit.most is not None else "dB",
        value=held.value, limit=held.limit, margin=held.margin, at_hz=held.at_hz,
        judged=limit.judged and alone, status=limit.status, source=stated.source,
    )  # fmt: skip


class LimitCurve(NamedTuple):
    """A limit as it is drawn among gains and reflected levels: `level_db` (at most 0) at `f_hz` (Hz), shape (n,) each.

    Attributes:
        measure: the limit's word.
        f_hz, level_db: as above.
        judged: whether the verdict rests on it.
    """

    measure: str
    f_hz: Floats
    level_db: Floats
    judged: bool


def limit_curves(memo: Memo, plan: LanePlan, *, sketch: bool = False) -> tuple[LimitCurve, ...]:
    """The profile's channel limits as curves; none where a conditioner divides the lane, whose gain is in the way.

    A deviation is drawn to either side of the fit that it counts from; a limit at one frequency as a short bar.

    Args:
        memo: the store of known results.
        plan: the lane.
        sketch: whether what hangs on the channel itself is left out, to be quick.
    """
    if len(plan.spans) > 1:
        return ()
    found: list[LimitCurve] = []
    for limit in plan.profile.channel:
        if not limit.line or (sketch and limit.measure in _DRAWN_FROM_CHANNEL) or _says_nothing(limit, plan):
            continue
        f_hz = _drawn_at(limit)
        level_db = limit.line_db(np.clip(f_hz, limit.line[0].from_hz, limit.line[-1].to_hz))
        if limit.measure == "loss-deviation":
            channel = channel_of(memo, plan.spans[0])
            fit_db = np.interp(f_hz, channel.f_hz, fitted_attenuation_db(channel, limit))
            found += [LimitCurve(limit.measure, f_hz, side * level_db - fit_db, limit.judged) for side in (1.0, -1.0)]
        elif limit.measure == "loss-to-crosstalk":
            channel = channel_of(memo, plan.spans[0])
            own_db = np.interp(f_hz, channel.f_hz, channel.loss_db)
            found.append(LimitCurve(limit.measure, f_hz, -level_db - own_db, limit.judged))
        else:
            found.append(LimitCurve(limit.measure, f_hz, -level_db, limit.judged))
    return tuple(found)


def _says_nothing(limit: ChannelLimit, plan: LanePlan) -> bool:
    """Whether a lane without conditioners has nothing that a limit is about."""
    if limit.measure == "mode-conversion":
        return not any(map(converts, plan.spans[0].elements))
    return limit.measure in _OF_NEIGHBOURS and not plan.neighbours


def _drawn_at(limit: ChannelLimit) -> Floats:
    low_hz, high_hz = limit.line[0].from_hz, limit.line[-1].to_hz
    if low_hz == high_hz:
        return np.array([1.0 - _BAR_HALF, 1.0 + _BAR_HALF]) * low_hz
    return np.geomspace(max(low_hz, _STEP_HZ), high_hz, _DRAWN_POINTS)


class Held(NamedTuple):
    """A figure against its limit where it is worst: at `at_hz` in Hz, None where the figure has no frequency."""

    value: float
    limit: float
    margin: float
    at_hz: float | None


def held_against(limit: ChannelLimit, channel: ChannelLosses, ui_s: float) -> Held | None:
    """A channel against one limit, where it comes nearest to it or is furthest beyond.

    Args:
        limit: the limit.
        channel: the channel.
        ui_s: unit interval, s: what a pulse's spectrum is weighted by.

    Returns:
        None where the channel has no such figure.
    """
    if limit.most is not None:
        one_v = _value_v(limit, channel, ui_s)
        return None if one_v is None else Held(one_v, limit.most.value, limit.most.value - one_v, None)
    value = _value_db(limit, channel)
    if value is None:
        return None
    line = limit.line_db(channel.f_hz)
    if np.isnan(line).all():  # it stands between two of the points
        first = limit.line[0]
        nearest = int(np.abs(channel.f_hz - first.from_hz).argmin())
        line[nearest] = float(first.level_db(np.array([first.from_hz]))[0])
    margin = value - line if limit.at_least else line - value
    worst = int(np.nanargmin(margin))
    return Held(float(value[worst]), float(line[worst]), float(margin[worst]), float(channel.f_hz[worst]))


def _value_v(limit: ChannelLimit, channel: ChannelLosses, ui_s: float) -> float | None:
    if limit.measure == "near-end-crosstalk":
        return channel.near_end_v
    if limit.measure == "integrated-crosstalk":
        near_db = None if channel.beside is None else channel.beside.near_db
        return None if near_db is None else integrated_v(channel.f_hz, 10.0 ** (-near_db / 20.0), ui_s)
    rest = np.abs(10.0 ** (-channel.loss_db / 20.0) - 10.0 ** (-fitted_loss_db(channel, limit) / 20.0))
    return integrated_v(channel.f_hz, rest, ui_s)


def _value_db(limit: ChannelLimit, channel: ChannelLosses) -> Floats | None:
    if limit.measure == "return-loss":
        return channel.return_db
    if limit.measure == "mode-conversion":
        return channel.conversion_db
    if limit.measure == "loss-to-crosstalk":
        return None if channel.beside is None else fitted_ratio_db(channel.f_hz, channel.beside.ratio_db, limit)
    if limit.measure == "insertion-loss":
        return channel.loss_db
    if limit.measure == "fitted-loss":
        return fitted_loss_db(channel, limit)
    fitted = fitted_attenuation_db(channel, limit)
    return fitted if limit.measure == "fitted-attenuation" else np.abs(channel.loss_db - fitted)


def fitted_attenuation_db(channel: ChannelLosses, limit: ChannelLimit) -> Floats:
    """The straight line ``m f + b`` through the loss by least squares over the fit's band, dB, shape (n,).

    IEEE 802.3ap Annex 69B (band as in a public script that transcribes it; form from memory).
    """
    return _fit(channel, limit, lambda x: np.stack([np.ones_like(x), x], axis=1))


def fitted_loss_db(channel: ChannelLosses, limit: ChannelLimit) -> Floats:
    """``a + b sqrt f + c f + d sqrt(f^3)`` through the loss by least squares over the fit's band, dB, shape (n,).

    USB 3.1, revision 1.0, section 5.6.1.3.2, as quoted in a public transcription. That names no weights; here each
    point counts by what gets through, or a notch's decibels would bend the fit where there is signal.
    """
    through = 10.0 ** (-channel.loss_db / 20.0)
    return _fit(channel, limit, lambda x: np.stack([np.ones_like(x), np.sqrt(x), x, x * np.sqrt(x)], axis=1), through)


def fitted_ratio_db(f_hz: Floats, ratio_db: Floats, limit: ChannelLimit) -> Floats:
    """A straight line over the logarithm of frequency through the loss-to-crosstalk ratio, by least squares.

    IEEE 802.3ap Annex 69B (ICR_fit): over the fit's band, every point alike. All dB and Hz, shape (n,).
    """
    within = (f_hz >= limit.fit_from_hz) & (f_hz <= limit.fit_to_hz)
    x = np.log10(f_hz / limit.fit_to_hz)
    basis = np.stack([np.ones_like(x), x], axis=1)
    return np.asarray(basis @ np.linalg.lstsq(basis[within], ratio_db[within], rcond=None)[0])


def _fit(
    channel: ChannelLosses, limit: ChannelLimit, basis: Callable[[Floats], Floats], weight: Floats | None = None
) -> Floats:
    within = (channel.f_hz >= limit.fit_from_hz) & (channel.f_hz <= limit.fit_to_hz)
    x = channel.f_hz / limit.fit_to_hz
    weights = np.ones(x.size) if weight is None else weight
    terms = basis(x[within]) * weights[within, None]
    coefficients = np.linalg.lstsq(terms, channel.loss_db[within] * weights[within], rcond=None)[0]
    return np.asarray(basis(x) @ coefficients)


def integrated_v(f_hz: Floats, magnitude: Floats, ui_s: float) -> float:
    """What a magnitude (shape (n,), at `f_hz` in Hz) makes of a pulse from a source of 1 V, as an rms voltage.

    ``sqrt(1/f_N integral |m|^2 V^2 df)`` up to twice Nyquist, with ``V = sinc(f T_r) sinc(f T)``, ramps of 0.2 UI (USB
    3.1, revision 1.0, section 5.6.1.3.2, as quoted in a public transcription: IMR of the ripple, IXT of crosstalk).

    Args:
        f_hz: evenly spaced from the first step above 0 Hz.
        magnitude: linear.
        ui_s: unit interval, s.
    """
    within = f_hz <= 1.0 / ui_s
    f = f_hz[within]
    weight = np.sinc(f * _RAMP_PER_UI * ui_s) * np.sinc(f * ui_s)
    energy = float(np.sum((magnitude[within] * weight) ** 2)) * float(f_hz[1] - f_hz[0])
    return float(np.sqrt(energy * 2.0 * ui_s))


