"""A run: a lane is prepared, the receiver is set by a pilot stretch, and bits are sent until enough are counted."""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack

import numpy as np

from workbench.codes.choosing import WORST, pattern_named, pattern_of_coding
from workbench.codes.own import OwnBits, bits_of
from workbench.codes.pattern import Pattern
from workbench.engine.lane.lane import trained
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import Probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import machine_for
from workbench.engine.verdict.coded import worst_to_send
from workbench.errors import EngineError, PatternError
from workbench.waveform.bounds import CONFIDENCE, clopper_pearson
from workbench.waveform.counts import Tally
from workbench.waveform.course import Course, SentAs, course_of
from workbench.waveform.decisions import Tuning
from workbench.waveform.line import Arrived, SendingLane
from workbench.waveform.models.at_work import (
    ModelsAtWork,
    RunningModels,
    models_at_work,
    started,
    with_stated_jitter,
)
from workbench.waveform.openings import bathtub, jitter_of, openings_of
from workbench.waveform.result import ErrorCount, WaveformMeasures, WaveformResult
from workbench.waveform.sampler import Sampler, Settling
from workbench.waveform.settings import WaveformSettings
from workbench.waveform.tuning import ReceiverSet, means_of, receiver_set, sampler_of, settling_of, tuned

Progress = Callable[[int, int], None]
Cancelled = Callable[[], bool]

_LEAST_PILOT, _LARGEST_PILOT, _PILOT_SHARE = 1 << 15, 1 << 18, 16
"""Symbols that set the receiver: one in so many of the run's, within bounds of what is worth it and of memory."""
_NOTHING_YET = "the run was cancelled before anything was counted; start it again"


def run(
    plan: LanePlan,
    probe: Probe,
    settings: WaveformSettings,
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    *,
    memo: Memo | None = None,
) -> WaveformResult:
    """Send bits through a lane and count what arrives at a probe point.

    Args:
        plan: the lane.
        probe: where to look.
        settings: what is sent, how long, by which clock.
        progress: called with (symbols counted, symbols in all) after each block.
        cancelled: asked after each block; once it says so, the run ends with what was counted.
        memo: a store of known results to use and fill.

    Raises:
        PatternError: there is no such pattern, or it never changes.
        ModelError: a maker's model is not trusted, is refused, or gave no answer.
        EngineError: the lane never settles, no edge arrives or is counted, or the run was cancelled before anything
            was counted.
    """
    memo = memo if memo is not None else Memo()
    plan = trained(memo, plan).plan
    error_ratio = plan.profile.ber.value if settings.error_ratio is None else settings.error_ratio
    pattern = _pattern(memo, plan, probe, settings, error_ratio)
    work = models_at_work(memo, plan, probe)
    with ExitStack() as stack:
        running = started(
            stack, memo, work, probe, per_ui=settings.samples_per_ui, cancelled=cancelled or (lambda: False)
        )
        sending = _Run(memo, work, probe, settings, pattern=pattern, error_ratio=error_ratio)
        return sending.result(running, progress, cancelled)


class _Run:
    """A lane that sends a pattern, and what is counted at a probe point."""

    def __init__(
        self,
        memo: Memo,
        work: ModelsAtWork,
        probe: Probe,
        settings: WaveformSettings,
        *,
        pattern: Pattern,
        error_ratio: float,
    ) -> None:
        self._memo, self._work, self._probe, self._settings = memo, work, probe, settings
        self._pattern, self._error_ratio = pattern, error_ratio

    def result(
        self, running: RunningModels, progress: Progress | None, cancelled: Cancelled | None
    ) -> WaveformResult:
        work, probe, settings = self._work, self._probe, self._settings
        plan, sent = work.plan, SentAs(work.sends is not None, work.shape, work.neighbours_sent)
        coded = self._pattern.title == pattern_of_coding(plan.profile.coding, settings.seed).title
        machine = machine_for(plan.profile) if coded else None
        receiver = receiver_set(self._memo, plan, probe, self._error_ratio, machine=machine)
        receiver = receiver._replace(front=receiver.front._replace(model=work.front))
        course = course_of(self._memo, plan, probe, receiver.front, settings.samples_per_ui, sent=sent)
        line = SendingLane(plan, course, self._pattern, settings, models=running)
        settling = settling_of(course, settings)
        pilot = _pilot(line, course, settings, settling, cancelled)
        clocks = line.receiving is not None and line.receiving.clocks_ui.size > 0
        plan = with_stated_jitter(work, running, clocks=clocks)
        tuning = tuned(
            plan, probe, line, course=course, pilot=pilot, receiver=receiver, settings=settings,
            error_ratio=self._error_ratio,
        )  # fmt: skip
        sampler = sampler_of(plan, probe, line, tuning, settings)
        symbols = -(-settings.bits // plan.profile.bits_per_symbol)
        complete = _counted(
            sampler, line, pilot, symbols=symbols, settling=settling, progress=progress, cancelled=cancelled
        )
        if not sampler.tally.symbols:
            raise EngineError(_NOTHING_YET)
        if not sampler.tally.crossings.any():
            raise EngineError(
                f"lane {plan.name}: no edge is among the symbols counted; count more bits of this pattern"
            )
        measures = _measures(
            plan, probe, settings, pattern=self._pattern, receiver=receiver, tuning=tuning, tally=sampler.tally,
            error_ratio=self._error_ratio, told=work.told,
        )  # fmt: skip
        return _result(measures, sampler.tally, tuning, complete=complete)


def _pattern(memo: Memo, plan: LanePlan, probe: Probe, settings: WaveformSettings, error_ratio: float) -> Pattern:
    if settings.pattern is None:
        return pattern_of_coding(plan.profile.coding, settings.seed)
    if settings.pattern == WORST:
        return OwnBits(bits_of(worst_to_send(memo, plan, probe, error_ratio).bits), "the worst sequence")
    pattern = pattern_named(settings.pattern, settings.seed)
    if isinstance(pattern, OwnBits) and pattern.bits.min() == pattern.bits.max():
        raise PatternError("the pattern never changes, so that no clock is in it; write one with zeros and ones")
    return pattern


def _pilot(
    line: SendingLane, course: Course, settings: WaveformSettings, settling: Settling, cancelled: Cancelled | None
) -> list[Arrived]:
    """The first blocks, kept: enough to set the receiver by."""
    seen = min(max(settings.bits // _PILOT_SHARE, _LEAST_PILOT), _LARGEST_PILOT, settings.bits)
    wanted = settling.clock + seen + 2 * course.frames.block_ui
    blocks: list[Arrived] = []
    while len(blocks) * course.frames.block_ui < wanted:
        if cancelled is not None and cancelled():
            raise EngineError(_NOTHING_YET)
        blocks.append(line.block())
    return blocks


def _counted(
    sampler: Sampler,
    line: SendingLane,
    pilot: list[Arrived],
    *,
    symbols: int,
    settling: Settling,
    progress: Progress | None,
    cancelled: Cancelled | None,
) -> bool:
    """Count the pilot's blocks and as many more as it takes; whether all were counted."""
    with ThreadPoolExecutor(1) as beside:
        for block in _blocks(line, pilot, beside):
            sampler.push(block, settling, symbols - sampler.tally.symbols)
            if progress is not None:
                progress(sampler.tally.symbols, symbols)
            if sampler.tally.symbols >= symbols or (cancelled is not None and cancelled()):
                break
    return sampler.tally.symbols >= symbols


def _blocks(line: SendingLane, pilot: list[Arrived], beside: ThreadPoolExecutor) -> Iterator[Arrived]:
    """The pilot's blocks and then new ones; while one is counted, the next is on its way in a thread beside.

    Arrays are worked on without the interpreter's lock, so that two cores have something to do.
    """
    pilot.reverse()
    while pilot:
        yield pilot.pop()
    coming = beside.submit(line.block)
    while True:
        block = coming.result()
        coming = beside.submit(line.block)
        yield block


def _measures(
    plan: LanePlan,
    probe: Probe,
    settings: WaveformSettings,
    *,
    pattern: Pattern,
    receiver: ReceiverSet,
    tuning: Tuning,
    tally: Tally,
    error_ratio: float,
    told: tuple[str, ...],
) -> WaveformMeasures:
    ui_s = plan.profile.ui_s
    low, high = clopper_pearson(tally.errors, tally.symbols)
    means_v = means_of(tally, tuning.range_v)
    return WaveformMeasures(
        lane=plan.name,
        profile=plan.profile.id,
        probe=probe.name,
        rate_bps=plan.profile.rate_bps.value,
        ui_s=ui_s,
        pattern=pattern.title,
        seed=settings.seed,
        samples_per_ui=settings.samples_per_ui,
        clock_corner_hz=settings.corner_per_rate / ui_s,
        sampling_ui=tuning.sampling_ui,
        ctle_dc_gain_db=receiver.front.dc_gain_db,
        dfe_taps_v=tuple(receiver.taps_v.tolist()),
        swing_v=float(means_v[-1] - means_v[0]),
        errors=ErrorCount(
            symbols=tally.symbols, errors=tally.errors, ratio=tally.errors / tally.symbols, low=low, high=high,
            confidence=CONFIDENCE,
        ),
        openings=openings_of(
            tally, ratios=(error_ratio, *settings.also_at), sampling_ui=tuning.sampling_ui, range_v=tuning.range_v,
            ui_s=ui_s,
        ),
        jitter=jitter_of(tally, error_ratio=error_ratio, ui_s=ui_s),
        notes=told,
    )  # fmt: skip


def _result(measures: WaveformMeasures, tally: Tally, tuning: Tuning, *, complete: bool) -> WaveformResult:
    tubs = [bathtub(tally, number, tuning.sampling_ui) for number in range(len(tuning.threshold_v))]
    return WaveformResult(
        measures=measures,
        density=tally.density,
        range_v=tuning.range_v,
        crossings=tally.crossings,
        time_ui=tubs[0].time_ui,
        error_ratio=np.max([tub.wrong / tub.total for tub in tubs], axis=0),
        complete=complete,
    )
