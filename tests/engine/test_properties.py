"""What must hold on any sound board: finite results, passive spans, invariances, and a memo that changes nothing.

Symbols count as independent and the board with a limiting stage is one by hand here, since some lanes that are drawn
take seconds otherwise; `tests/campaigns/test_properties.py` draws any, with the line code's symbols.
"""

import math

import msgspec
import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.lanes import assessed, lane_board, trace
from tests.strategies import boards
from workbench.board.checking import check
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Board, Run, Stage
from workbench.engine.assess import assess_board
from workbench.engine.assessment import Assessment
from workbench.engine.lane.grid import Survey
from workbench.engine.lane.path import plan_lane
from workbench.engine.lane.probe import probe_names
from workbench.engine.lane.spans import span_s_parameters
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols

LIMITED = lane_board(
    (trace(0.2, "lossy"), Stage(device="U1", channel=1), trace(0.15, "lossy")), part="limiting", equalization="1",
    transmitter={"random_jitter_s": 1e-12}, receiver={"noise_v": 1e-3},
)  # fmt: skip
STEADY = {"limiting": False}
"""What makes a drawn board one whose assessment takes a tenth of a second."""
COUNTED = {"symbols": Symbols.INDEPENDENT}


def assess(board: Board, **asked: object) -> Assessment:
    return assess_board(board, sha256="", **COUNTED, **asked)


def numbers_of(value):
    """Every number in an assessment, wherever it stands."""
    if isinstance(value, dict):
        for inner in value.values():
            yield from numbers_of(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from numbers_of(inner)
    elif isinstance(value, float):
        yield value


def plans_of(board):
    index = Index(board)
    return [plan_lane(index, lane, profile_of(board, lane.profile or board.profile)) for lane in board.lanes]


@given(boards(**STEADY))
@example(LIMITED)
@settings(max_examples=6)
def test_any_board_is_assessed_in_finite_numbers(board):
    assert not check(board)
    for lane in assess(board).lanes:
        assert all(math.isfinite(number) for number in numbers_of(msgspec.to_builtins(lane)))
        assert 0.0 <= lane.eye.width_ui <= 1.0
        assert abs(lane.eye.height_v) < 10.0  # no swing of the boards is above 1.2 V
        assert lane.eye.height_v <= lane.eye.worst_case_height_v + 0.4
        assert lane.margin.verdict != "pass" or lane.eye.height_v > 0.0


@pytest.mark.campaign
@given(boards(max_lanes=1, **STEADY), st.data())
@settings(max_examples=8)
def test_any_probe_point_is_assessed_in_finite_numbers(board, data):
    (plan,) = plans_of(board)
    probe = data.draw(st.sampled_from(probe_names(plan)))
    (lane,) = assess(board, probe=probe).lanes
    assert all(math.isfinite(number) for number in numbers_of(msgspec.to_builtins(lane)))
    assert lane.eye.probe == probe


@given(boards())
@settings(max_examples=8)
def test_spans_are_passive(board):
    """Largest singular value of S at most 1 (energy; derived)."""
    memo = Memo()
    for plan in plans_of(board):
        for span in plan.spans:
            s = span_s_parameters(memo, span, Survey(plan.profile.ui_s))
            matrix = np.array([[s.s11, s.s12], [s.s21, s.s22]]).transpose(2, 0, 1)
            assert np.linalg.svd(matrix, compute_uv=False).max() <= 1.0 + 1e-9


@given(st.floats(0.05, 0.8), st.floats(1.05, 3.0), st.sampled_from(["trace", "lossy"]))
@settings(max_examples=8)
def test_more_loss_never_raises_the_pulse(length_m, factor, name):
    def peak(times):
        board = lane_board((trace(length_m, "scaled"),))
        (line,) = (line for line in board.catalogue.lines if line.name == "lossy")
        scaled = replace(
            line, name="scaled", conductor_loss_db_per_m=(7.0 if name == "lossy" else 1.0) * times,
            dielectric_loss_db_per_m=6.0 * times,
        )  # fmt: skip
        lines = (*board.catalogue.lines, scaled)
        return assessed(replace(board, catalogue=replace(board.catalogue, lines=lines))).pulse.peak_v

    assert peak(factor) <= peak(1.0)


@pytest.mark.campaign
@given(boards(max_lanes=1, **STEADY))
@example(LIMITED)
@settings(max_examples=6)
def test_a_run_in_two_halves_is_the_same_run(board):
    lane = board.lanes[0]
    halves = tuple(
        half
        for element in lane.path
        for half in (
            (replace(element, length_m=element.length_m / 2.0),) * 2 if isinstance(element, Run) else (element,)
        )
    )
    whole = assess(board).lanes[0]
    split = assess(replace(board, lanes=(replace(lane, path=halves),))).lanes[0]
    assert split.loss_db == pytest.approx(whole.loss_db, rel=1e-9)
    assert split.pulse.cursors_v == pytest.approx(whole.pulse.cursors_v, abs=1e-9)
    assert split.eye.height_v == pytest.approx(whole.eye.height_v, abs=1e-6)


def test_the_order_of_two_different_pieces_of_one_line_does_not_matter():
    one, other = (
        assessed(lane_board((trace(a, "lossy"), trace(b, "lossy")), receiver={"noise_v": 1e-3}))
        for a, b in ((0.1, 0.3), (0.3, 0.1))
    )
    assert one.eye.height_v == pytest.approx(other.eye.height_v, abs=1e-9)


@pytest.mark.campaign
@given(boards(**STEADY))
@settings(max_examples=4)
def test_lanes_in_another_order_have_the_same_results(board):
    forward = assess(board)
    backward = assess(replace(board, lanes=board.lanes[::-1]))
    by_name = {lane.lane: lane for lane in backward.lanes}
    for lane in forward.lanes:
        assert replace(lane, findings=()) == replace(by_name[lane.lane], findings=())
        assert {f.rule for f in lane.findings} == {f.rule for f in by_name[lane.lane].findings}


@pytest.mark.campaign
@given(boards(max_lanes=2, **STEADY))
@example(LIMITED)
@settings(max_examples=2)
def test_a_filled_memo_and_a_subset_of_lanes_change_nothing(board):
    fresh = assess(board, memo=Memo())
    memo = Memo()
    for lane in board.lanes:
        (alone,) = assess(board, memo=memo, lanes=(lane.name,)).lanes
        (known,) = (found for found in fresh.lanes if found.lane == lane.name)
        assert replace(alone, findings=()) == replace(known, findings=())
    assert assess(board, memo=memo) == fresh
