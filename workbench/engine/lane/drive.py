"""How hard stages are driven: swing at their inputs, compression at their outputs."""

import math
from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from workbench.engine.lane.grid import Grid
from workbench.engine.lane.lane import Observed, signal_at
from workbench.engine.lane.path import LanePlan, StagePlan
from workbench.engine.lane.probe import Probe
from workbench.engine.lane.signal import Signal, equalized, passed_on
from workbench.engine.lane.waves import pulse_v
from workbench.engine.memo import Memo


class Driven(NamedTuple):
    """A stage and how hard it is driven.

    Attributes:
        stage: the stage.
        input_swing_v: transition swing at its input: twice the pulse's peak, V.
        compression_db: how much its largest excursion is compressed, dB; 0 for a limiting stage.
    """

    stage: StagePlan
    input_swing_v: float
    compression_db: float


def driven_stages(memo: Memo, plan: LanePlan, observed: Observed) -> Iterator[Driven]:
    """Each stage before the probe point with how hard it is driven."""
    axis = observed.received.signal.axis
    for number in range(observed.probe.span):
        stage = plan.stages[number]
        signal = signal_at(memo, plan, Probe("", number, None), axis)
        yield Driven(stage, 2.0 * float(pulse_v(signal).max()), _compression_db(stage, signal))


def _compression_db(stage: StagePlan, signal: Signal) -> float:
    """Compression of the largest excursion into a matched load: that of the worst sequence, ``sum |pk|``, small signal.

    The output ``limit/2 tanh(2 v/limit)`` takes ``x / tanh(x)`` off it, x = 2 v/limit.
    """
    if stage.regenerates:
        return 0.0
    driven = passed_on(equalized(signal, stage), stage)
    x = 2.0 * _largest_v(driven) / stage.open_ratio / stage.part.limit_v(stage.settings)
    return 20.0 * math.log10(x / math.tanh(x)) if x > 0.0 else 0.0


def _largest_v(signal: Signal) -> float:
    grid = signal.axis
    assert isinstance(grid, Grid)
    by_phase = np.abs(pulse_v(signal).reshape(grid.window_ui, grid.samples_per_ui)).sum(axis=0)
    return float(by_phase.max())
