"""How hard stages are driven: swing at their inputs, compression at their outputs."""

import math
from collections.abc import Iterator

import numpy as np

from workbench.engine.grid import Grid
from workbench.engine.lane import Observed, signal_at
from workbench.engine.look import Look
from workbench.engine.memo import Memo
from workbench.engine.path import LanePlan, StagePlan
from workbench.engine.signal import Signal, equalized, open_ratio, passed_on
from workbench.engine.waves import waves_of
from workbench.parts.conditioner import GainSetting


def input_swings_v(memo: Memo, plan: LanePlan, observed: Observed) -> Iterator[tuple[StagePlan, float]]:
    """Each stage before the look point with the transition swing at its input: twice the pulse's peak, V."""
    for stage, signal in _inputs(memo, plan, observed):
        yield stage, 2.0 * float(waves_of(signal).pulse_v.max())


def compression_db(memo: Memo, plan: LanePlan, observed: Observed) -> Iterator[tuple[StagePlan, float]]:
    """Each linear stage before the look point with how much its largest excursion is compressed, dB.

    The largest excursion into a matched load is that of the worst sequence, ``sum |pk|`` at its worst phase, small
    signal; the output ``limit/2 tanh(2 v/limit)`` takes ``x / tanh(x)`` off it, x = 2 v/limit.
    """
    for stage, signal in _inputs(memo, plan, observed):
        if not isinstance(stage.swing, GainSetting):
            continue
        driven = passed_on(equalized(signal, stage), stage)
        largest_v = _largest_v(driven) / open_ratio(stage)
        x = 2.0 * largest_v / stage.swing.limit_v
        yield stage, 20.0 * math.log10(x / math.tanh(x)) if x > 0.0 else 0.0


def _inputs(memo: Memo, plan: LanePlan, observed: Observed) -> Iterator[tuple[StagePlan, Signal]]:
    axis = observed.received.signal.axis
    for number in range(observed.look.span):
        signal, _ = signal_at(memo, plan, Look("", number, None), axis)
        yield plan.stages[number], signal


def _largest_v(signal: Signal) -> float:
    waves = waves_of(signal)
    grid: Grid = waves.grid
    by_phase = np.abs(waves.pulse_v.reshape(grid.window_ui, grid.samples_per_ui)).sum(axis=0)
    return float(by_phase.max())
