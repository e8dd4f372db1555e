"""Setting the receiver: its equalization by the statistical engine, its clock and sampling time by a pilot stretch."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.codes.machine import Machine
from workbench.engine.coded.edge import mean_crossing
from workbench.engine.lane.equalizers import equalization_of
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import PINS, RECEIVER, Probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.errors import EngineError
from workbench.waveform.clock import ClockLoop
from workbench.waveform.counts import CROSSING_BINS, FINE_LEVELS, Tally
from workbench.waveform.course import Course, Front, crossings_ui
from workbench.waveform.decisions import Tuning
from workbench.waveform.line import Arrived, SendingLane
from workbench.waveform.models.clock import ModelClock
from workbench.waveform.openings import middle_ui
from workbench.waveform.sampler import Sampler, Settling
from workbench.waveform.settings import WaveformSettings
from workbench.waveform.source import Jitter, generator

_CLOCK_SETTLES = 1.5
"""In time constants of the loop: its start is set by the mean crossing already."""
_HEADROOM = 1.25
_MOST_LAG_UI = 256
"""No model is known to hold a wave back for longer."""
_DENSE_BITS, _THINNED = 300_000, 8
"""Of more bits than these the density takes one sample in eight: the picture is the same, and it costs less time."""


class ReceiverSet(NamedTuple):
    """What the receiver does; gain and taps are those that the statistical engine finds best.

    Attributes:
        front: its CTLE.
        taps_v: its decision feedback, V, shape (taps,).
        sampling_ui: where it samples by decision feedback's own rule, UI; None where the eye's middle counts.
    """

    front: Front
    taps_v: Floats
    sampling_ui: float | None


def receiver_set(
    memo: Memo, plan: LanePlan, probe: Probe, error_ratio: float, *, machine: Machine | None = None
) -> ReceiverSet:
    """The receiver's equalization for a probe point after it, and none for any other.

    Args:
        memo: the store of known results.
        plan: the lane.
        probe: where to look.
        error_ratio: at which the equalization is best.
        machine: the line code of what is sent, from whose mean crossing the sampling time counts; None: no code.
    """
    nothing = ReceiverSet(Front(None, None), np.zeros(0), None)
    if not probe.equalized:
        return nothing
    if plan.by_models is not None and plan.receiver.model is not None:
        return nothing  # its model stands in the place of all that
    equalization = equalization_of(plan.receiver, plan.profile)
    gains = equalization.ctle.choices() if equalization.ctle is not None else ()
    if not equalization.dfe.taps and len(gains) <= 1:
        return nothing._replace(front=Front(equalization.ctle, gains[0] if gains else None))
    received = observe(memo, plan, probe, error_ratio, symbols=Symbols.INDEPENDENT).received
    front = Front(equalization.ctle, received.dc_gain_db)
    if not received.taps_v.size:
        return nothing._replace(front=front)
    waves = received.waves
    per_ui, crossing = waves.grid.samples_per_ui, waves.crossing
    if machine is not None:
        crossing = mean_crossing(waves.pulse_v, per_ui, crossing, machine)
    return ReceiverSet(front, received.taps_v, (received.decision - crossing) / per_ui)


def settling_of(course: Course, settings: WaveformSettings) -> Settling:
    """When lane and clock have settled."""
    lane = len(course.stretches) * (course.frames.overlap_ui + 16)
    corner = settings.corner_per_rate
    return Settling(lane, lane + (int(_CLOCK_SETTLES / (2.0 * np.pi * corner)) if corner else 0))


def sampler_of(
    plan: LanePlan, probe: Probe, line: SendingLane, tuning: Tuning, settings: WaveformSettings, *, pilot: bool = False,
    tracks: bool = True,
) -> Sampler:
    """A sampler at a probe point; the same each time.

    Args:
        plan: the lane.
        probe: where to look; the sampling instant's jitter is the receiver's and counts at its pins only.
        line: the lane at work.
        tuning: how the receiver is set.
        settings: the run's.
        pilot: whether this is a pilot, whose density nobody looks at.
        tracks: whether the clock follows the crossings; else it stands still.
    """
    ui_s, receiver = plan.profile.ui_s, plan.receiver
    jitter = Jitter(0.0, 0.0)
    if probe.name in (RECEIVER, PINS):
        jitter = Jitter(receiver.random_jitter_s / ui_s, receiver.deterministic_jitter_s / ui_s)
    clock: ClockLoop | ModelClock = ClockLoop(settings.corner_per_rate if tracks else 0.0)
    receiving = line.receiving
    if receiving is not None and receiving.clocks_ui.size and tracks:
        clock = ModelClock(lambda: receiving.clocks_ui, tuning.crossing_ui)
    return Sampler(
        tuning, clock, jitter=jitter, source=line.source,
        per_ui=settings.samples_per_ui, levels=len(plan.profile.levels),
        random=generator(line.sampling_seed),
        thinning=0 if pilot else (_THINNED if settings.bits > _DENSE_BITS else 1),
    )  # fmt: skip


def tuned(
    plan: LanePlan,
    probe: Probe,
    line: SendingLane,
    *,
    course: Course,
    pilot: list[Arrived],
    receiver: ReceiverSet,
    settings: WaveformSettings,
    error_ratio: float,
) -> Tuning:
    """The receiver set by the pilot's blocks: where edges cross, between which levels and when it is sampled.

    Args:
        plan: the lane.
        probe: where to look.
        line: the lane at work.
        course: what it is made of.
        pilot: its first blocks.
        receiver: its equalization.
        settings: the run's.
        error_ratio: the eye's middle is sought at this one.

    Raises:
        EngineError: no edges arrive.
    """
    settling = settling_of(course, settings)

    def looked(tuning: Tuning, *, tracks: bool = True) -> Tally:
        sampler = sampler_of(plan, probe, line, tuning, settings, pilot=True, tracks=tracks)
        for block in pilot:
            sampler.push(block, settling)
        return sampler.tally

    tuning = _first_guess(plan, course, pilot, receiver)
    seen = looked(tuning, tracks=False)
    if not seen.crossings.any():
        raise EngineError(f"no edges arrive on lane {plan.name}; send a pattern that changes more often")
    tuning = tuning._replace(crossing_ui=tuning.crossing_ui + _mean_ui(seen))
    if line.by_wave:
        tuning = tuning._replace(crossing_ui=tuning.crossing_ui + lag_of(pilot, tuning, settings.samples_per_ui))
        if line.receiving is not None and line.receiving.clocks_ui.size:
            receiver = receiver._replace(sampling_ui=0.5)  # half a period after each clock
            tuning = tuning._replace(sampling_ui=0.5)
    return _aimed(tuning, looked, receiver, error_ratio)


def _first_guess(plan: LanePlan, course: Course, pilot: list[Arrived], receiver: ReceiverSet) -> Tuning:
    """From the small-signal pulse."""
    levels = plan.profile.levels
    peak_v = course.stretches[-1].peak_v
    highest_v = max(float(np.abs(block.wave).max()) for block in pilot)
    between = (np.array(levels[1:]) + np.array(levels[:-1])) / 2.0
    return Tuning(
        crossing_ui=list(crossings_ui(course))[-1],
        sampling_ui=0.5 if receiver.sampling_ui is None else receiver.sampling_ui,
        range_v=_HEADROOM * (highest_v + float(np.abs(receiver.taps_v).sum())) or 1.0,
        threshold_v=tuple((between * peak_v).tolist()),
        taps_v=receiver.taps_v,
    )


def _aimed(
    tuning: Tuning, looked: Callable[[Tuning], Tally], receiver: ReceiverSet, error_ratio: float
) -> Tuning:
    """Thresholds and sampling time."""
    seen = looked(tuning)
    if len(tuning.threshold_v) > 1:
        means_v = means_of(seen, tuning.range_v)
        tuning = tuning._replace(threshold_v=tuple(((means_v[1:] + means_v[:-1]) / 2.0).tolist()))
        seen = looked(tuning)
    if receiver.sampling_ui is not None:
        return tuning
    middle = len(tuning.threshold_v) // 2
    return tuning._replace(sampling_ui=middle_ui(seen, middle, tuning.sampling_ui, error_ratio))


def _mean_ui(seen: Tally) -> float:
    """Mean of the crossings about the clock's, around the unit interval, UI."""
    turn = 2.0 * np.pi * ((np.arange(CROSSING_BINS) + 0.5) / CROSSING_BINS - 0.5)
    return float(np.angle(seen.crossings @ np.exp(1j * turn)) / (2.0 * np.pi))


def lag_of(pilot: list[Arrived], tuning: Tuning, per_ui: int) -> int:
    """How many whole UI later than its crossings say a wave follows what was sent: models may hold it back.

    Args:
        pilot: the first blocks.
        tuning: where edges cross, within a UI.
        per_ui: samples a UI.
    """
    margin = pilot[0].margin_ui * per_ui
    wave = np.concatenate([block.wave[margin:-margin] for block in pilot])
    symbols = np.concatenate([block.symbols for block in pilot]).astype(np.float64)
    symbols -= symbols.mean()
    first = pilot[0].first + tuning.crossing_ui + 0.5 - (pilot[0].start_ui + pilot[0].margin_ui)
    number = np.arange(symbols.size // 4, symbols.size // 2)
    lags = np.arange(-_MOST_LAG_UI // 8, _MOST_LAG_UI + 1)
    # One sample a symbol, from the first at the least lag to the last at the largest: every lag is a stretch of it.
    seen = first + np.arange(number[0] + lags[0], number[-1] + lags[-1] + 1)
    sampled = wave[np.clip(np.rint(seen * per_ui).astype(np.intp), 0, wave.size - 1)]
    stretches = np.lib.stride_tricks.sliding_window_view(sampled, number.size)
    alike = np.abs(stretches @ symbols[number].astype(np.float32))
    nearest = np.argsort(np.abs(lags), kind="stable")  # a pattern may repeat: the nearest counts
    return int(next(lags[at] for at in nearest if alike[at] >= 0.999 * alike.max()))


def means_of(tally: Tally, range_v: float) -> Floats:
    """Mean of what is sampled for each symbol level, V, shape (symbol levels,); `range_v` (V) is the tuning's."""
    middle = ((np.arange(FINE_LEVELS) + 0.5) / (FINE_LEVELS / 2) - 1.0) * range_v
    return np.asarray(tally.sampled @ middle / np.maximum(tally.sampled.sum(axis=1), 1))
