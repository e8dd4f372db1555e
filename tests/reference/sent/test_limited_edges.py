"""Too little boost before a limiting stage, far below what bits can count: every sequence by itself."""

from functools import cache

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, plan_of
from tests.reference.sent.agreement import EDGE, FIRST, lossy
from tests.reference.sent.limited_edges import sequences
from workbench.engine.lane.lane import _heard, observe
from workbench.engine.lane.limiting import noise_rms_v
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.waves import waves_of
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.engine.verdict.findings import too_good_by

QUIET = {"random_jitter_s": 0.0, "deterministic_jitter_s": 0.0}


@cache
def both(length_m):
    """The statistical eye behind a stage without boost, and every sequence of the same lane."""
    board = lane_board(
        (lossy(length_m), EDGE, FIRST, lossy(0.3)), transmitter=QUIET, receiver={**QUIET, "noise_v": 4e-3},
        part="limiting", equalization="0",
    )  # fmt: skip
    plan, memo = plan_of(board), Memo()
    stage = plan.stages[0]
    plan = replace(plan, stages=(replace(stage, part=replace(stage.part, deterministic_jitter_s=0.0)),))
    observed = observe(
        memo, plan, resolve_probe(plan, "receiver"), 1e-12, reach=EyeReach.ALL, symbols=Symbols.INDEPENDENT
    )
    grid = observed.received.waves.grid
    heard = _heard(memo, plan, 0, grid)
    random_ui = stage.part.random_jitter_s / plan.profile.ui_s
    exact = sequences(
        waves_of(heard), noise_rms_v(heard, grid.df_hz), observed.received.waves, observed.received.noise_v, random_ui
    )
    return observed.eye, exact


def width_ui(time_ui, level_v):
    """Between the ends of what lies above zero."""
    above = np.flatnonzero(level_v > 0.0)
    first, last = int(above[0]), int(above[-1])
    ends = [
        time_ui[out] + level_v[out] / (level_v[out] - level_v[into]) * (time_ui[into] - time_ui[out])
        for out, into in ((first - 1, first), (last + 1, last))
    ]
    return ends[1] - ends[0]


@pytest.mark.campaign
@pytest.mark.parametrize("length_m", [0.5, 0.55, 0.6, 0.65])
def test_what_is_told_of_wide_crossings_is_enough_down_to_1e_15(length_m):
    eye, exact = both(length_m)
    swing_v = 2.0 * eye.levels_v(1e-3).max()
    for ratio in (1e-6, 1e-9, 1e-12, 1e-15):
        ours, theirs = eye.levels_v(ratio), exact.levels_v(ratio)
        too_high = 2.0 * (ours.max() - theirs.max()) / swing_v
        too_wide = width_ui(eye.time_s / eye.ui_s, ours) - width_ui(exact.time_ui, theirs)
        most_high, most_wide = too_good_by(ratio)
        assert -0.02 < too_high < most_high
        assert -0.02 < too_wide < most_wide
