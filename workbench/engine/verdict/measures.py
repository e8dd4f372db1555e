"""Figures read off a lane: pulse, cursors, eye measures, losses, baseline wander."""

import math
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.board.profile import EyeMask
from workbench.codes.machine import machine_of
from workbench.engine.assessment import EyeResult, PulseResult, SpanResult
from workbench.engine.coded.worst import WorstSequence, widest_drift, worst_of
from workbench.engine.lane.grid import SURVEY_NYQUIST, Grid, Survey, full_points
from workbench.engine.lane.lane import Observed
from workbench.engine.lane.path import LanePlan, Span
from workbench.engine.lane.received_eye import sample_of_interval
from workbench.engine.lane.spans import flight_time_s, span_s_parameters
from workbench.engine.lane.waves import between
from workbench.engine.memo import Memo
from workbench.engine.tails.eye import Eye
from workbench.engine.verdict.propagation import errors_per_error
from workbench.parts.record import ComponentRecord

_CURSOR_FLOOR = 1e-3
_FEWEST_CURSORS = 4
_MOST_CURSORS = 32
_RETURN_LOSS_WINDOW_UI = 256
_MASK_PLACES = 65


class EyeOpening(NamedTuple):
    """The eye's measures at an error ratio: height in V, width of the opening and sampling instant in s.

    `propagation` is how many errors decision feedback makes of each; the measures are read at the error ratio over it.
    """

    height_v: float
    width_s: float
    sampling_s: float
    propagation: float = 1.0


def opening(observed: Observed, error_ratio: float) -> EyeOpening:
    """Height at the sampling instant and width at the threshold.

    The sampling instant is the middle of the opening at `error_ratio`; after decision feedback, where that receiver
    decides; in a closed eye, where it is least closed.
    """
    eye, received = observed.eye, observed.received
    if received.taps_v.size:
        sampling_s = (received.decision - received.waves.crossing) * received.waves.grid.dt_s
        levels, log_p = eye.log_probability(sampling_s)
        propagation = errors_per_error(received.taps_v, lambda at: np.exp(np.interp(at, levels, log_p, right=0.0)))
        own = error_ratio / propagation
        ends = eye.crossings_s(own)
        width_s = 0.0 if ends is None else ends[1] - ends[0]
        return EyeOpening(2.0 * eye.level_v(sampling_s, own), width_s, sampling_s, propagation)
    ends = eye.crossings_s(error_ratio)
    if ends is not None:
        sampling_s = (ends[0] + ends[1]) / 2.0
    else:
        sampling_s = float(eye.time_s[eye.levels_v(error_ratio).argmax()])
    height_v = 2.0 * eye.level_v(sampling_s, error_ratio)
    return EyeOpening(height_v, 0.0 if ends is None else ends[1] - ends[0], sampling_s)


def eye_result(observed: Observed, error_ratio: float, *, worst: bool = True) -> EyeResult:
    """The eye's measures as the assessment has them.

    Args:
        observed: the eye.
        error_ratio: where height and width are read.
        worst: whether the worst sequence of a line code is wanted too; else the worst case is that of any symbols.
    """
    seen = opening(observed, error_ratio)
    found = worst_of_code(observed) if worst else None
    return EyeResult(
        probe=observed.probe.name,
        ber=error_ratio,
        height_v=seen.height_v,
        width_s=seen.width_s,
        width_ui=seen.width_s / observed.eye.ui_s,
        propagation=seen.propagation,
        worst_case_height_v=(worst_case_height_v(observed) if found is None else found[0])
        - 2.0 * sum(one.peak_v for one in observed.beside),
        center_s=seen.sampling_s,
        statistics="independent" if observed.machine is None else "coded",
        worst_sequence=None if found is None else found[1].bits,
    )


def mask_margin_v(eye: Eye, mask: EyeMask, *, center_s: float, error_ratio: float) -> float:
    """How far the contour of an error ratio stays off a mask where it comes nearest, above and below together, V.

    Args:
        eye: at all phases that the mask reaches.
        mask: its middle stands at the sampling instant.
        center_s: that instant, s from the mean crossing.
        error_ratio: of the contour.
    """
    half_v, half_ui, half_flat_ui = mask.corners
    if not half_ui:
        return 2.0 * (eye.level_v(center_s, error_ratio) - half_v)
    # The corners are among the places: there a contour that bows outward comes nearest.
    at_ui = np.unique(np.concatenate([np.linspace(-half_ui, half_ui, _MASK_PLACES), [-half_flat_ui, half_flat_ui]]))
    slope_ui = half_ui - half_flat_ui
    share = np.clip((half_ui - np.abs(at_ui)) / slope_ui, 0.0, 1.0) if slope_ui else np.ones(at_ui.size)
    times_s = np.clip(center_s + at_ui * eye.ui_s, 0.0, eye.ui_s)
    level_v = np.array([eye.level_v(time_s, error_ratio) for time_s in times_s.tolist()])
    return 2.0 * float((level_v - half_v * share).min())


def worst_of_code(observed: Observed) -> tuple[float, WorstSequence] | None:
    """The height, V, that the line code's worst sequence leaves, and that sequence; None without a code."""
    if observed.machine is None:
        return None
    return worst_of(sample_of_interval(observed.received), observed.machine)


def worst_case_height_v(observed: Observed) -> float:
    """Peak-distortion height ``2 (p0 - sum |pk|)`` in V at the phase where it is largest, without noise and jitter.

    B. K. Casper, M. Haycock, R. Mooney, "An accurate and efficient analysis method for multi-Gb/s chip-to-chip
    signaling schemes", VLSI Symposium 2002.
    """
    main_v, others_v = worst_cursors_v(observed)
    return 2.0 * (main_v - float(np.abs(others_v).sum()))


def worst_cursors_v(observed: Observed) -> tuple[float, Floats]:
    """Main cursor and all others, V, shape (n,), after decision feedback, at the phase whose worst case is best."""
    received = observed.received
    waves, grid = received.waves, received.waves.grid
    first = int(np.ceil(waves.crossing))
    at = first + np.arange(grid.samples_per_ui)
    cursors = waves.pulse_v[(at[:, None] + grid.samples_per_ui * np.arange(grid.window_ui)) % grid.samples].copy()
    taps = received.taps_v.size
    cursors[:, 1 : 1 + taps] -= received.taps_v
    main = cursors[:, 0]
    best = int((main - (np.abs(cursors).sum(axis=1) - np.abs(main))).argmax())
    return float(main[best]), cursors[best, 1:]


def pulse_result(observed: Observed, sampling_s: float) -> PulseResult:
    """The pulse's peak and its cursors at the sampling instant (s from the mean crossing)."""
    waves = observed.received.waves
    grid = waves.grid
    cursors = cursors_v(observed, sampling_s)
    return PulseResult(
        probe=observed.probe.name,
        ui_s=grid.ui_s,
        samples_per_ui=grid.samples_per_ui,
        peak_v=float(waves.pulse_v.max()),
        peak_s=waves.start_s + waves.peak * grid.dt_s,
        cursors_v=tuple(cursors.tolist()),
    )


def cursors_v(observed: Observed, sampling_s: float) -> Floats:
    """Samples of the pulse one UI apart, V, shape (n,), the second at the sampling instant (s from the mean crossing).

    The tail's small ones are left out.
    """
    waves = observed.received.waves
    grid = waves.grid
    at = waves.crossing + sampling_s / grid.dt_s + grid.samples_per_ui * np.arange(-1, _MOST_CURSORS - 1)
    cursors = between(waves.pulse_v, at)
    loud = np.nonzero(np.abs(cursors) > _CURSOR_FLOOR * np.abs(cursors).max())[0]
    return cursors[: max(int(loud[-1]) + 1 if loud.size else 0, _FEWEST_CURSORS)]


def span_results(memo: Memo, plan: LanePlan) -> tuple[SpanResult, ...]:
    """Loss, return loss and delay of every span."""
    return tuple(_span_result(memo, span, plan.profile.ui_s) for span in plan.spans)


def _span_result(memo: Memo, span: Span, ui_s: float) -> SpanResult:
    survey = Survey(ui_s)
    loss = span_s_parameters(memo, span, survey).s21[SURVEY_NYQUIST]
    grid = Grid(ui_s, _RETURN_LOSS_WINDOW_UI, min(_RETURN_LOSS_WINDOW_UI // 2 + 1, full_points(_RETURN_LOSS_WINDOW_UI)))
    reflected = np.abs(span_s_parameters(memo, span, grid).s11).max()
    return SpanResult(
        from_=span.from_,
        to=span.to,
        loss_db=decibels(1.0 / abs(loss)),
        return_loss_db=decibels(1.0 / max(float(reflected), 1e-15)),
        delay_s=flight_time_s(memo, span, survey, len(span.elements)),
    )


def decibels(ratio: float) -> float:
    """20 log10 of a voltage ratio."""
    return 20.0 * math.log10(ratio)


def baseline_wander_v(plan: LanePlan, observed: Observed, error_ratio: float) -> float:
    """How far the coupling capacitors let the baseline drift at the probe point, V, to one side.

    Each capacitor is a single-pole high-pass of time constant tau. A balanced code's drift is at most ``level T / tau``
    times the widest that its running digital sum allows (`coded.worst.widest_drift`). Random symbols drift with
    variance ``level^2 T / (2 tau)`` (the sum of the squared droop tails of all earlier symbols); here the size that is
    exceeded at `error_ratio` is given.
    """
    level_v = settled_level_v(observed)
    shares = [2.0 * math.pi * corner * plan.profile.ui_s for corner in corners_hz(plan, observed.probe.span)]
    machine = machine_of(plan.profile.coding)
    if machine is not None and np.isfinite(machine.sum_bound):
        return level_v * widest_drift(machine) * sum(shares)
    return level_v * quantile(error_ratio) * math.sqrt(sum(share / 2.0 for share in shares))


def settled_level_v(observed: Observed) -> float:
    """The level that a long run of one symbol settles to at the probe point, V: the sum of the pulse's cursors."""
    waves = observed.received.waves
    return abs(float(waves.pulse_v.sum())) / waves.grid.samples_per_ui


def corners_hz(plan: LanePlan, span: int) -> list[float]:
    """High-pass corners in Hz of what lies before a span's end, back to the last stage that remakes the signal."""
    found: list[float] = []
    for number in range(span, -1, -1):
        stretch = plan.spans[number]
        loop_ohm = stretch.source.resistance_ohm + stretch.load.resistance_ohm
        records = [element.record for element in stretch.elements]
        corners = [record.corner_hz(loop_ohm) for record in records if isinstance(record, ComponentRecord)]
        found += [corner for corner in corners if corner is not None]
        if number and plan.stages[number - 1].regenerates:
            break
    return found


def quantile(error_ratio: float) -> float:
    """Q of an error ratio: how many sigma a Gaussian exceeds with that probability."""
    from statistics import NormalDist  # noqa: PLC0415 - loads fractions and random numbers

    return -NormalDist().inv_cdf(error_ratio)
