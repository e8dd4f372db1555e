"""A mask that the eye must stay out of: held against the whole picture's contour, judged, kept in the file."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, trace
from workbench.board.checking import check
from workbench.board.edits.limits import OwnLimits, own_limits, set_own_limits
from workbench.board.model import Board
from workbench.board.reading import read_board
from workbench.board.writing import dump_board
from workbench.engine.assess import assess_board
from workbench.engine.assessment import LaneAssessment
from workbench.engine.lane.path import plan_of
from workbench.engine.lane.probe import RECEIVER, resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.views import ERROR_RATIOS, EyePicture, view_lane
from workbench.errors import EditError

BOARD = lane_board((trace(0.3, "lossy"),), receiver={"noise_v": 2e-3, "random_jitter_s": 1e-12})
PROFILE = BOARD.profiles[0].id


def masked(height_v: float, width_ui: float, flat_ui: float | None = None, **more: float) -> Board:
    mask = OwnLimits(mask_height_v=height_v, mask_width_ui=width_ui, mask_flat_ui=flat_ui, source="here", **more)
    return set_own_limits(BOARD, PROFILE, mask)


def judged(board: Board) -> LaneAssessment:
    return assess_board(board, sha256="").lanes[0]


@pytest.fixture(scope="module")
def picture() -> EyePicture:
    plan = plan_of(BOARD, BOARD.lanes[0])
    return view_lane(Memo(), plan, resolve_probe(plan, RECEIVER), plan.profile.ber.value).eye


def contour_v(picture: EyePicture, at_ui: float) -> float:
    """Half the opening at 1e-12, which is the profile's error ratio, by the whole picture."""
    return float(np.interp(at_ui, picture.time_ui, picture.contours_v[ERROR_RATIOS.index(1e-12)]))


@pytest.mark.parametrize(("height_v", "width_ui", "flat_ui"), [(0.1, 0.4, 0.2), (0.2, 0.3, None), (0.1, 0.3, 0.3)])
def test_a_mask_is_as_far_off_as_the_contour_of_the_whole_picture_says(height_v, width_ui, flat_ui) -> None:
    """An eye without jitter at the instant bows outward between the mask's corners, so that these come nearest."""
    board = lane_board((trace(0.3, "lossy"),), receiver={"noise_v": 2e-3})
    found = judged(set_own_limits(board, PROFILE, OwnLimits(mask_height_v=height_v, mask_width_ui=width_ui,
                                                           mask_flat_ui=flat_ui)))  # fmt: skip
    plan = plan_of(board, board.lanes[0])
    still = view_lane(Memo(), plan, resolve_probe(plan, RECEIVER), plan.profile.ber.value).eye
    middle, top = found.eye.center_s / plan.profile.ui_s, (flat_ui or 0.0) / 2.0
    corners = [(middle + sign * width_ui / 2.0, 0.0 if top < width_ui / 2.0 else height_v / 2.0) for sign in (-1, 1)]
    corners += [(middle + sign * top, height_v / 2.0) for sign in (-1, 1)]
    least_v = 2.0 * min(contour_v(still, at) - half for at, half in corners)
    assert found.margin.mask_v == pytest.approx(least_v, abs=1e-3)


def test_a_diamond_that_touches_the_contour_has_no_margin() -> None:
    found = judged(BOARD)
    touching = judged(masked(found.eye.height_v, 1e-6))
    assert touching.margin.mask_v == pytest.approx(0.0, abs=1e-4)
    higher = judged(masked(found.eye.height_v + 0.01, 1e-6))
    assert higher.margin.mask_v == pytest.approx(-0.01, abs=1e-4)
    assert higher.margin.verdict == "fail"


def test_a_mask_alone_judges_with_the_height_guard_and_names_its_source() -> None:
    assert judged(BOARD).margin.verdict == "not judged"
    small = judged(masked(0.05, 0.1))
    assert small.margin.verdict == "pass"
    assert any(words.startswith("eye off a mask 0.05 V high and 0.1 UI wide") and "own requirement: here" in words
               for words in small.margin.judged_by)  # fmt: skip
    room_v = small.eye.height_v - BOARD.guard.height_v / 2.0
    near = judged(masked(room_v, 0.0))
    assert near.margin.mask_v == pytest.approx(BOARD.guard.height_v / 2.0, abs=1e-4)
    assert near.margin.verdict == "marginal"


def test_a_mask_as_high_as_a_height_limit_and_of_no_width_asks_the_same() -> None:
    by_limit = judged(set_own_limits(BOARD, PROFILE, OwnLimits(height_v=0.15)))
    assert judged(masked(0.15, 0.0)).margin.mask_v == pytest.approx(by_limit.margin.height_v, abs=1e-6)


def test_what_is_typed_of_a_mask_is_kept_in_the_file_and_read_back_and_goes_again() -> None:
    board = masked(0.12, 0.4, 0.1)
    assert own_limits(board, PROFILE) == OwnLimits(mask_height_v=0.12, mask_width_ui=0.4, mask_flat_ui=0.1,
                                                   source="here")  # fmt: skip
    text = dump_board(board)
    assert b'"mask": {' in text
    assert read_board(text).board.profiles == board.profiles
    assert set_own_limits(board, PROFILE, OwnLimits()).profiles[0].limits.mask is None
    assert b'"mask"' not in dump_board(BOARD)
    one = set_own_limits(BOARD, PROFILE, OwnLimits(mask_height_v=0.1))  # typed first, the width after it
    assert own_limits(one, PROFILE).mask_width_ui == 0.0


def test_a_top_wider_than_the_mask_is_refused_in_a_sentence() -> None:
    with pytest.raises(EditError, match="a top no wider than the mask"):
        masked(0.1, 0.2, 0.3)
    profile = BOARD.profiles[0]
    assert check(replace(BOARD, profiles=(profile,))) == ()
