"""Small lanes at work, for tests of the waveform engine."""

import numpy as np

from tests.lanes import lane_board, plan_of, trace
from workbench.codes.choosing import pattern_named
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.waveform.course import Front, course_of
from workbench.waveform.line import SHIFTS, SendingLane
from workbench.waveform.settings import WaveformSettings

IDEAL = (trace(0.1),)


def plan_with(path=IDEAL, **options) -> LanePlan:
    return plan_of(lane_board(path, **options))


def line_of(plan, settings, *, probe="receiver", front=None, rows=None, **options) -> SendingLane:
    """A lane at work, its receiver without equalization unless `front` says otherwise."""
    place = resolve_probe(plan, probe)
    course = course_of(Memo(), plan, place, front or Front(None, None), settings.samples_per_ui)
    if rows is not None:
        frames = type(course.frames)(course.frames.frame_ui, course.frames.overlap_ui, rows)
        course = course._replace(frames=frames)
    return SendingLane(plan, course, pattern_named(settings.pattern or "random", settings.seed), settings, **options)


def steps_and_wave(plan, settings: WaveformSettings, *, blocks=2, **options):
    """All steps sent so far (instants in UI, heights in half swings) with the level before them, and the last block.

    Returns:
        Instants (m,), heights (m,), level, times of the block's samples in UI (n,), the samples in V (n,).
    """
    arriving, sending = line_of(plan, settings, **options), line_of(plan, settings, **options)
    level = sending.source.level
    times, heights = [], []
    for _ in range(blocks):
        block = arriving.block()
        sent = sending.source.block(block.symbols.size)
        times.append(sent.time_ui)
        heights.append(sent.step)
    per_ui = settings.samples_per_ui
    inside = slice(block.margin_ui * per_ui, -block.margin_ui * per_ui)
    at = block.start_ui + block.shift / (SHIFTS * per_ui) + np.arange(block.wave.size) / per_ui
    return np.concatenate(times), np.concatenate(heights), level, at[inside], block.wave[inside]


def superposed(step_response, times, heights, level, at, *, reach_ui):
    """Sum of step responses, at `at`: those of the last `reach_ui` UI one by one, older ones as settled."""
    order = np.argsort(times)
    times, heights = times[order], heights[order].astype(np.float64)
    settled = np.concatenate([[0.0], np.cumsum(heights)])
    first = np.searchsorted(times, at - reach_ui)
    last = np.searchsorted(times, at, side="right")
    out = level + settled[first]
    for back in range(int((last - first).max())):
        index = first + back
        here = index < last
        out[here] += heights[index[here]] * step_response(at[here] - times[index[here]])
    return out
