"""Edits along a path: put, take out, relocate, the same on several lanes, channels and entries taken in."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.board.sample import sample_board
from workbench.board.checking import check
from workbench.board.edits.devices import channel_of_part, free_channels, new_device
from workbench.board.edits.path import (
    Cut,
    Gap,
    landing,
    path_of,
    put,
    relocate,
    relocated,
    set_run_length,
    take_out,
)
from workbench.board.edits.taking import take_entry
from workbench.board.edits.twins import on_each, twin, twin_spots, twins
from workbench.board.library import starter_catalogues
from workbench.board.model import Component, Run, Stage
from workbench.board.reading import read_board
from workbench.board.writing import dump_board
from workbench.errors import EditError

BOARD = sample_board(2)
STAGE = Stage(device="U1", channel=1)


def kinds(board, lane="D0"):
    return [getattr(p, "line", None) or getattr(p, "part", None) or p.device for p in path_of(board, lane)]


def test_a_cut_run_shares_its_skew_by_length_and_has_it_whole_again():
    skewed = Run(line="card trace", length_m=0.2, skew_s=8e-12, mismatch_m=1e-3)
    board = replace(BOARD, lanes=(BOARD.lanes[0], replace(BOARD.lanes[1], path=(skewed, *BOARD.lanes[1].path[1:]))))
    cut = put(board, "D1", Cut(0, 0.05), Stage(device="U1", channel=2))
    first, _, last = path_of(cut, "D1")[:3]
    assert (first.skew_s, first.mismatch_m) == pytest.approx((2e-12, 2.5e-4))
    assert (last.skew_s, last.mismatch_m) == pytest.approx((6e-12, 7.5e-4))
    whole = path_of(take_out(cut, "D1", 1), "D1")[0]
    assert (whole.skew_s, whole.mismatch_m, whole.length_m) == pytest.approx((8e-12, 1e-3, 0.2))
    assert read_board(dump_board(board)).board == board


def test_a_stage_put_into_a_run_and_taken_out_again_leaves_the_board_as_it_was():
    stage = Stage(device="U1", channel=2)
    cut = put(BOARD, "D1", Cut(0, 0.05), stage)
    assert path_of(cut, "D1")[:2] == (Run(line="card trace", length_m=0.05), stage)
    assert path_of(cut, "D1")[2].length_m == pytest.approx(0.15)
    whole = take_out(cut, "D1", landing(Cut(0, 0.05)))
    assert kinds(whole, "D1") == kinds(BOARD, "D1")
    assert path_of(whole, "D1")[0].length_m == pytest.approx(0.2)


def test_runs_of_different_lines_stay_two_when_what_stood_between_goes():
    out = take_out(BOARD, "D0", 1)  # card edge, between trace and twinax
    assert kinds(out) == ["card trace", "twinax", "U1", "card trace", "coupling 100n", "through via"]


@pytest.mark.parametrize(
    ("spot", "expected", "place"),
    [
        (Gap(0), ["U1", "card trace", "card edge", "twinax", "card trace", "coupling 100n", "through via"], 0),
        (Gap(7), ["card trace", "card edge", "twinax", "card trace", "coupling 100n", "through via", "U1"], 6),
        (Cut(0, 0.1), ["card trace", "U1", "card trace", "card edge", "twinax", "card trace", "coupling 100n",
                       "through via"], 1),
        (Cut(4, 0.1), ["card trace", "card edge", "twinax", "card trace", "U1", "card trace", "coupling 100n",
                       "through via"], 4),
    ],
)  # fmt: skip
def test_relocating_a_stage(spot, expected, place):
    moved = relocate(BOARD, "D0", 3, spot)
    assert kinds(moved) == expected
    assert relocated(BOARD, "D0", 3, spot)[1] == place
    assert path_of(moved, "D0")[place] == STAGE


def test_relocating_a_stage_inside_the_line_it_divides_joins_what_it_left():
    board = put(BOARD, "D1", Cut(0, 0.05), Stage(device="U1", channel=2))
    moved = relocate(board, "D1", 1, Cut(2, 0.1))
    assert kinds(moved, "D1") == kinds(board, "D1")
    assert path_of(moved, "D1")[0].length_m == pytest.approx(0.15)
    assert relocated(board, "D1", 1, Cut(2, 0.1))[1] == 1


@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    st.integers(0, 6),
    st.one_of(st.builds(Gap, st.integers(0, 7)), st.builds(Cut, st.sampled_from([0, 2, 4]), st.just(0.1))),
)
def test_relocating_keeps_the_board_sound_its_length_and_what_is_not_a_run(at, spot):
    if isinstance(spot, Cut) and spot.at == at:
        with pytest.raises(EditError, match="itself"):
            relocate(BOARD, "D0", at, spot)
        return
    moved = relocate(BOARD, "D0", at, spot)
    assert check(moved) == ()
    assert moved.lanes[0].length_m == pytest.approx(BOARD.lanes[0].length_m)
    fixed = [name for name in sorted(kinds(moved)) if name not in ("card trace", "twinax")]
    assert fixed == [name for name in sorted(kinds(BOARD)) if name not in ("card trace", "twinax")]
    placed = path_of(moved, "D0")[relocated(BOARD, "D0", at, spot)[1]]
    assert placed == path_of(BOARD, "D0")[at]


def test_bad_spots_are_refused_with_a_sentence():
    with pytest.raises(EditError, match="no element 9"):
        relocate(BOARD, "D0", 8, Gap(0))
    with pytest.raises(EditError, match="choose 1 to"):
        relocate(BOARD, "D0", 0, Gap(12))
    with pytest.raises(EditError, match="is not a run"):
        relocate(BOARD, "D0", 0, Cut(1, 0.1))
    with pytest.raises(EditError, match="between its two ends"):
        relocate(BOARD, "D0", 3, Cut(0, 0.5))


def test_a_place_corresponds_to_the_same_entry_met_as_often_before():
    # D1 is D0 without the stage.
    assert twin(BOARD, "D0", 4, "D1") == 3  # the second card trace
    assert twin(BOARD, "D0", 3, "D1") is None
    assert twins(BOARD, "D0", 0, ("D1", "D0")) == {"D0": 0, "D1": 0}
    assert twin_spots(BOARD, "D0", Gap(7), ("D1",)) == {"D0": Gap(7), "D1": Gap(6)}
    assert twin_spots(BOARD, "D0", Gap(4), ("D1",)) == {"D0": Gap(4), "D1": Gap(3)}
    shorter = set_run_length(BOARD, "D1", 3, length_m=0.1)
    assert twin_spots(shorter, "D0", Cut(4, 0.15), ("D1",)) == {"D0": Cut(4, 0.15), "D1": Cut(3, pytest.approx(0.05))}


def test_an_edit_reaches_every_lane_that_has_the_place():
    places = twins(BOARD, "D0", 1, ("D0", "D1"))
    assert [kinds(on_each(BOARD, places, take_out), lane)[1] for lane in ("D0", "D1")] == ["twinax", "twinax"]


def test_a_conditioner_takes_a_free_channel_before_a_device_is_added():
    fitted = channel_of_part(BOARD, "linear quad", "D1")
    assert fitted.stage == Stage(device="U1", channel=2)
    assert not fitted.is_new
    passed = channel_of_part(BOARD, "linear quad", "D1", passing_over=("U1",))
    assert passed.stage == Stage(device="U2", channel=1)
    assert passed.is_new
    assert check(put(passed.board, "D1", Gap(0), passed.stage)) == ()


def test_a_lane_does_not_pass_a_device_twice_unasked():
    assert channel_of_part(BOARD, "linear quad", "D0").stage == Stage(device="U2", channel=1)


def test_a_new_device_has_the_first_free_reference_and_the_first_positions():
    device = new_device(BOARD, "linear quad")
    assert device.ref == "U2"
    part = BOARD.catalogue.conditioners[0]
    assert device.settings["equalization"] == part.equalization[0].setting
    with pytest.raises(EditError, match="add it there first"):
        new_device(BOARD, "no such part")


def test_free_channels_are_those_no_lane_holds():
    lane = replace(BOARD.lanes[1], name="D2", path=(*BOARD.lanes[1].path, Stage(device="U1", channel=3)))
    board = replace(BOARD, lanes=(*BOARD.lanes, lane))
    assert free_channels(board, board.devices[0]) == (2, 4)


def test_a_starter_entry_comes_with_what_it_refers_to():
    source = starter_catalogues()["mid-loss-board"].catalogue
    board, name = take_entry(BOARD, source, "vias", "back-drilled via")
    assert name == "back-drilled via"
    assert check(board) == ()
    assert "mid-loss laminate" in [entry.name for entry in board.catalogue.dielectrics]
    again, same = take_entry(board, source, "vias", "back-drilled via")
    assert (again, same) == (board, name)


def test_an_entry_whose_name_is_taken_for_something_else_is_numbered():
    source = starter_catalogues()["mid-loss-board"].catalogue
    board, name = take_entry(BOARD, source, "lines", "card trace")
    assert name == "card trace 2"
    assert check(put(board, "D0", Gap(0), Run(line=name, length_m=0.1))) == ()
    assert take_entry(board, source, "lines", "card trace") == (board, name)
    with pytest.raises(EditError, match="choose another entry"):
        take_entry(board, source, "lines", "no such line")


def test_a_numbered_reference_is_followed():
    low = starter_catalogues()["low-loss-board"].catalogue
    mid = starter_catalogues()["mid-loss-board"].catalogue
    board, first = take_entry(BOARD, low, "lines", "inner pair")
    board, second = take_entry(board, mid, "lines", "inner pair")
    assert (first, second) == ("inner pair", "inner pair 2")
    assert check(put(board, "D0", Gap(0), Component(part="card edge"))) == ()
