"""The picture of the moment, which a hand drags, against the whole one that follows it."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, plan_of, trace
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Run, Stage
from workbench.board.reading import load_board
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import plan_lane
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.engine.verdict.measures import eye_result
from workbench.engine.views import view_lane
from workbench.resources import project

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
        view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12, reach, symbols=Symbols.INDEPENDENT).eye
        for reach in (EyeReach.PICTURE, EyeReach.ALL)
    )
    swing_v = 2.0 * float(np.abs(whole.contours_v[0]).max())
    for now, then in zip(moment.contours_v[:4], whole.contours_v[:4], strict=True):
        true_v = np.interp(moment.time_ui, whole.time_ui, then)
        assert np.abs(now - true_v)[2:-2].max() < share * swing_v
    assert moment.width_ui == pytest.approx(whole.width_ui, abs=0.02)


def edited(lane, rng):
    """The lane with its runs some per cent longer or shorter, as a hand drags them."""
    path = tuple(
        replace(one, length_m=one.length_m * float(rng.uniform(0.9, 1.1))) if isinstance(one, Run) else one
        for one in lane.path
    )
    return replace(lane, path=path)


DEMOS = {name: load_board(project(f"{name}.board.json")).board for name in (
    "correlator-shelf", "observing-room", "recorder-bay",
)}  # fmt: skip
ALWAYS = {"RX2", "DISC4", "CONSOLE ML0"}
EVERY_LANE = [
    pytest.param(board, lane.name, marks=() if lane.name in ALWAYS else pytest.mark.campaign)
    for board, demo in DEMOS.items() for lane in demo.lanes
]  # fmt: skip


@pytest.mark.parametrize(("board_name", "lane_name"), EVERY_LANE)
def test_what_a_gesture_shows_at_release_is_next_to_what_settles(board_name, lane_name):
    """By the line code, as verdicts are: within 1 % of the swing and 0.01 UI, over random edits of the demo boards.

    All 43 lanes, two edits each, as a campaign.
    """
    board, rng = DEMOS[board_name], np.random.default_rng(len(lane_name))
    (asked,) = (one for one in board.lanes if one.name == lane_name)
    profile = profile_of(board, asked.profile or board.profile)
    for _ in range(2):
        plan = plan_lane(Index(board), edited(asked, rng), profile)
        probe, ratio = resolve_probe(plan, "receiver"), profile.ber.value
        released = view_lane(Memo(), plan, probe, ratio, EyeReach.PICTURE).eye
        settled = eye_result(observe(Memo(), plan, probe, ratio), ratio, worst=False)
        swing_v = 2.0 * float(np.abs(released.contours_v[0]).max())
        assert released.height_v == pytest.approx(settled.height_v, abs=0.01 * swing_v)
        assert released.width_ui == pytest.approx(settled.width_ui, abs=0.01)
