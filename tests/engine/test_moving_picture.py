"""The picture of the moment, which a hand drags, against the whole one that follows it."""

import numpy as np
import pytest

from tests.lanes import lane_board, plan_of, trace
from workbench.board.model import Stage
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.tails.eye import Reach
from workbench.engine.views import view_lane

JITTER = {"random_jitter_s": 1.5e-12, "deterministic_jitter_s": 1.5e-11}
NOISE = {"noise_v": 4e-3, "random_jitter_s": 1.5e-12, "deterministic_jitter_s": 6e-12}
STAGED = (trace(0.4, "lossy"), Stage(device="U1", channel=1), trace(0.3, "lossy"))
ENDS = {"transmitter": JITTER, "receiver": NOISE}
BOARDS = {
    "passive": (lane_board((trace(0.9, "lossy"),), **ENDS), 0.01),
    "linear stage": (lane_board(STAGED, equalization="2", **ENDS), 0.03),
    "limiting stage": (lane_board(STAGED, part="limiting", equalization="2", **ENDS), 0.05),
    "limiting stage, no boost": (lane_board(STAGED, part="limiting", **ENDS), 0.05),
}


@pytest.mark.parametrize("name", BOARDS)
def test_contours_of_the_moment_are_some_percent_of_the_swing_off_at_most(name):
    """Of 1e-3 to 1e-12, at all phases but the outermost, where the eye ends."""
    board, share = BOARDS[name]
    plan = plan_of(board)
    moment, whole = (
        view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12, reach).eye
        for reach in (Reach.PICTURE, Reach.ALL)
    )
    swing_v = 2.0 * float(np.abs(whole.contours_v[0]).max())
    for now, then in zip(moment.contours_v[:4], whole.contours_v[:4], strict=True):
        true_v = np.interp(moment.time_ui, whole.time_ui, then)
        assert np.abs(now - true_v)[2:-2].max() < share * swing_v
    assert moment.width_ui == pytest.approx(whole.width_ui, abs=0.02)
