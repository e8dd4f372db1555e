"""Edits of one lane or many as the lane table makes them, without a window: free channels, names, order, lengths."""

import pytest
from msgspec.structs import replace

from tests.board.sample import sample_board
from workbench.board.edits.lane_fields import LaneField, values_of, with_value
from workbench.board.edits.lanes import add_first_lane, copy_lanes, next_name, remove_lanes, rename_lane, step_lanes
from workbench.board.measurement import MeasuredEye
from workbench.board.model import Board, Run, Stage
from workbench.desk.session.document import Document
from workbench.errors import EditError

LANES = tuple(f"RX{n}" for n in range(16))


def order(document: Document) -> tuple[str, ...]:
    return tuple(lane.name for lane in document.board.lanes)


def runs(board: Board, name: str) -> list[float]:
    lane = next(lane for lane in board.lanes if lane.name == name)
    return [run.length_m for run in lane.path if isinstance(run, Run)]


def test_all_runs_of_a_line_keep_their_proportions(document):
    field = LaneField("line", "", "midplane trace")
    before = runs(document.board, "RX3")
    board = with_value(document.board, ("RX3", "RX13"), field, 0.5)
    after = runs(board, "RX3")
    assert values_of(board, ("RX3", "RX13"), field) == (0.5, 0.5)
    assert after[2] / after[3] == pytest.approx(before[2] / before[3])
    assert after[:2] == before[:2]
    assert board.lanes[13].length_m == pytest.approx(document.board.lanes[13].length_m - 0.7 + 0.5)


@pytest.mark.parametrize("length_m", [0.0, -0.1, 200.0, float("nan")])
def test_lengths_out_of_range_are_refused(document, length_m):
    with pytest.raises(EditError, match="above 0 m and at most 100 m"):
        with_value(document.board, ("RX3",), LaneField("run", "", "1"), length_m)


def test_copies_take_free_channels_then_a_device_with_the_same_settings(document):
    made = copy_lanes(document.board, ("RX3", "RX4", "RX5"))
    devices = {device.ref: device for device in made.board.devices}
    stages = [(p.device, p.channel) for lane in made.board.lanes for p in lane.path if isinstance(p, Stage)]
    assert len(set(stages)) == len(stages)
    for old, new in zip(("RX3", "RX4", "RX5"), made.names, strict=True):
        pair = [
            next(p for lane in made.board.lanes if lane.name == name for p in lane.path if isinstance(p, Stage))
            for name in (old, new)
        ]
        assert devices[pair[0].device].settings == devices[pair[1].device].settings
        assert devices[pair[0].device].part == devices[pair[1].device].part


def test_copying_every_lane_adds_the_devices_it_needs(document):
    made = copy_lanes(document.board, LANES)
    assert len(made.board.lanes) == 32
    assert made.devices
    assert order(document) == LANES


def test_names_count_on():
    assert next_name({"RX3", "RX4"}, "RX3") == "RX5"
    assert next_name({"D09"}, "D09") == "D10"
    assert next_name({"clock", "clock 2"}, "clock") == "clock 3"


def test_moving_a_listed_lane_passes_over_those_that_are_not_listed(document):
    board = step_lanes(document.board, ("RX9",), -1, ("RX2", "RX9", "RX11"))
    assert (board.lanes[2].name, board.lanes[9].name) == ("RX9", "RX2")
    assert step_lanes(board, ("RX9",), -1, ("RX9", "RX2", "RX11")) == board


def test_a_first_lane_needs_ends_and_a_line_and_says_which_is_missing(document):
    empty = remove_lanes(document.board, LANES)
    assert add_first_lane(empty).lanes[0].length_m == 0.1
    bare = replace(empty, devices=(), catalogue=replace(empty.catalogue, receivers=()))
    with pytest.raises(EditError, match="lacks a receiver"):
        add_first_lane(bare)


def test_a_name_is_refused_where_it_is_empty_or_taken(document):
    with pytest.raises(EditError, match="needs a name"):
        rename_lane(document.board, "RX0", "")
    with pytest.raises(EditError, match="already a lane"):
        rename_lane(document.board, "RX0", "RX1")


def test_a_measured_lane_goes_with_its_measurements_and_its_place_in_bundles():
    board = sample_board(2)
    measured = MeasuredEye(name="bench", lane="D0", height_v=0.2)
    kept = MeasuredEye(name="other", lane="D1", height_v=0.2)
    board = replace(board, measurements=(measured, kept))
    assert remove_lanes(board, {"D0"}).measurements == (kept,)
