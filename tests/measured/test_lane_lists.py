"""Lane lists: lengths land on the runs that the pattern says, in metres; what does not match is reported, not guessed.

The lists are invented; lengths are checked against the definition of inch and mil (25.4 mm, 0.0254 mm).
"""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.board.sample import sample_board
from workbench.board.checking import check
from workbench.board.edits.path import replace_element
from workbench.board.model import Component, Run
from workbench.errors import EditError, NotStatedError, TableError, WorkbenchError
from workbench.measured.tables.decoding import text_of_bytes
from workbench.measured.tables.lane_columns import LanePattern
from workbench.measured.tables.lane_lists import lane_list_edit, take_lane_list
from workbench.measured.tables.reading import TextTable, read_table

BOARD = sample_board(4)
LIKE = LanePattern(lane="D0", runs=((1, "Card"), (3, "Cable"), (5, "Backplane")))


def listed(text: str) -> TextTable:
    return read_table(text_of_bytes(text.encode(), "routing.csv"))


def runs_of(board, name: str) -> list[float]:
    lane = next(lane for lane in board.lanes if lane.name == name)
    return [element.length_m for element in lane.path if isinstance(element, Run)]


def test_lengths_land_on_the_runs_that_the_user_named():
    table = listed("Lane,Backplane (mil),Card (in),Cable\nD0,1000,2,300 mm\nD2,2000,1,12 in\n")
    taken = take_lane_list(BOARD, table, LIKE)
    assert runs_of(taken.board, "D0") == pytest.approx([0.0508, 0.3, 0.0254], rel=1e-15)
    assert runs_of(taken.board, "D2") == pytest.approx([0.0254, 0.3048, 0.0508], rel=1e-15)
    assert runs_of(taken.board, "D1") == runs_of(BOARD, "D1")
    report = taken.report
    assert report.not_listed == ("D1", "D3")
    assert [(change.line, change.lane, change.place) for change in report.changed[:2]] == [(2, "D0", 1), (2, "D0", 3)]
    runs = [(run.title, run.place) for run in report.runs]
    assert runs == [("Card (in)", 1), ("Cable", 3), ("Backplane (mil)", 5)]
    assert report.changed[0].before_m == 0.2


def test_titles_that_name_the_pattern_s_runs_are_recognised_in_any_order():
    text = "card trace 2 length (mm);twinax [mm];Net name;card trace 1 (mm)\n33,5;22,25;D0;11,1\n"
    taken = take_lane_list(BOARD, listed(text), LanePattern(lane="D0"))
    assert runs_of(taken.board, "D0") == pytest.approx([0.0111, 0.02225, 0.0335])
    by_number = "run_3_mm,element 3 (mm),net,run 1 (mm)\n33.5,22.25,D0,11.1\n"
    assert take_lane_list(BOARD, listed(by_number), LanePattern(lane="D0")).board == taken.board


def test_one_length_and_one_run_need_no_word():
    lane = replace(BOARD.lanes[0], path=(Run(line="card trace", length_m=0.1),))
    board = replace(BOARD, lanes=(lane,))
    taken = take_lane_list(board, listed("Signal\tLength\nD0\t5 in"), LanePattern(lane="D0"))
    assert runs_of(taken.board, "D0") == [0.127]


def test_a_lane_whose_path_differs_takes_what_corresponds_or_is_left_out():
    table = listed("Lane,Card (mm),Cable (mm),Backplane (mm)\nD0,10,20,30\nD1,11,21,31\n")
    # D1 has no stage, so its runs stand elsewhere; they correspond by the line that they are made of.
    assert runs_of(take_lane_list(BOARD, table, LIKE).board, "D1") == pytest.approx([0.011, 0.021, 0.031])
    without = replace_element(BOARD, "D1", 2, Component(part="card edge"))
    taken = take_lane_list(without, table, LIKE)
    assert runs_of(taken.board, "D1") == runs_of(without, "D1")
    (out,) = taken.report.left_out
    assert (out.line, out.name) == (3, "D1")
    assert "element 3" in out.why


def test_lanes_that_the_board_lacks_are_reported_or_made_like_the_pattern():
    table = listed("Lane,Card (mm),Cable (mm),Backplane (mm)\nD00,10,20,30\nD0,11,21,31\n")
    taken = take_lane_list(BOARD, table, LIKE)
    (out,) = taken.report.left_out
    assert (out.line, out.name) == (2, "D00")
    assert '"D0"' in out.why
    added = take_lane_list(BOARD, table, replace(LIKE, add=True))
    assert added.report.added == ("D00",)
    assert runs_of(added.board, "D00") == pytest.approx([0.01, 0.02, 0.03])
    assert check(added.board) == ()


def test_new_lanes_get_channels_of_their_own_and_devices_where_those_run_out():
    rows = "".join(f"N{n},10,20,30\n" for n in range(9))
    table = listed("Lane,Card (mm),Cable (mm),Backplane (mm)\n" + rows)
    taken = take_lane_list(BOARD, table, replace(LIKE, add=True))
    assert check(taken.board) == ()
    assert len(taken.report.added) == 9
    # Four channels a device, two of them held (D0 and D2): 2 + 4 + 3.
    assert taken.report.devices == ("U2", "U3")
    assert {device.settings for device in taken.board.devices} == {BOARD.devices[0].settings}


def test_halves_of_a_pair_make_one_length_and_a_skew():
    table = listed("Net,Card (mil)\nD0_P,1000\nD0_N,1010\nD2_P,900\n")
    pattern = LanePattern(lane="D0", runs=((1, "Card"),), pair_ends=("_P", "_N"))
    taken = take_lane_list(BOARD, table, pattern)
    assert runs_of(taken.board, "D0")[0] == pytest.approx(1005 * 25.4e-6)
    assert [(skew.lane, skew.skew_m) for skew in taken.report.skews] == [("D0", pytest.approx(10 * 25.4e-6))]
    (out,) = taken.report.left_out
    assert (out.line, out.name) == (4, "D2_P")
    assert taken.report.not_listed == ("D1", "D2", "D3")


def test_an_empty_cell_leaves_its_run_and_is_reported():
    taken = take_lane_list(BOARD, listed("Lane,Card (mm),Cable (mm),Backplane (mm)\nD0,10,,30\n"), LIKE)
    assert runs_of(taken.board, "D0") == pytest.approx([0.01, 0.25, 0.03])
    assert [(cell.line, cell.title) for cell in taken.report.blanks] == [(2, "Cable (mm)")]


def test_the_list_taken_twice_changes_nothing_the_second_time():
    table = listed("Lane,Card (mil),Cable (in),Backplane (mm)\nD0,10,20,30\nD2,11,21,31\n")
    once = take_lane_list(BOARD, table, LIKE)
    twice = take_lane_list(once.board, table, LIKE)
    assert twice.board is once.board
    assert twice.report.changed == ()
    assert twice.report.unchanged == ("D0", "D2")


def test_the_edit_is_a_function_from_board_to_board():
    table = listed("Lane,Card (mil)\nD0,10\n")
    pattern = LanePattern(lane="D0", runs=((1, "Card"),))
    before = BOARD
    assert lane_list_edit(table, pattern)(BOARD) == take_lane_list(BOARD, table, pattern).board
    assert before == sample_board(4)


def test_columns_without_a_use_are_named():
    table = listed("Lane,Layer,Card (mm)\nD0,L3,5\n")
    taken = take_lane_list(BOARD, table, LanePattern(lane="D0", runs=((1, "Card"),)))
    assert taken.report.unused_columns == ("Layer",)


@pytest.mark.parametrize(("text", "line", "says"), [
    ("Lane,Card (mm)\nD0,10\nD2,x\n", 3, '"x"'),
    ("Lane,Card (mm)\nD0,10\nD2,0\n", 3, "above 0"),
    ("Lane,Card (mm)\nD0,10\nD2,-5\n", 3, "above 0"),
    ("Lane,Card (m)\nD0,10\nD2,101\n", 3, "at most 100 m"),
    ("Lane,Card (mm)\nD0,10\nD0,11\n", 3, "line 2 already"),
    ("Lane,Card (mm)\nD0,10\n,11\n", 3, "no name"),
    ("Lane,Card (mm)\nD0,10\nD2,nan\n", 3, "not a finite number"),
    ("Lane,Card (mm)\nD0,10\nD2,5 s\n", 3, "doesn't fit"),
    ("Lane,Card (mm)\nD0,10\nD2,5,6\n", 3, "3 cells"),
    ("Lane,Track (mm)\nD0,10\n", 1, "there is no column"),
])  # fmt: skip
def test_a_cell_that_is_no_length_refuses_the_whole_list_with_its_line(text, line, says):
    with pytest.raises(TableError) as refused:
        take_lane_list(BOARD, listed(text), LanePattern(lane="D0", runs=((1, "Card"),)))
    assert str(refused.value).startswith(f"routing.csv, line {line}: ")
    assert says in str(refused.value)


@pytest.mark.parametrize(("text", "pattern", "wanted"), [
    ("Lane,Card\nD0,10\n", LanePattern(lane="D0", runs=((1, "Card"),)), "unit"),
    ("Lane,Card (furlong)\nD0,10\n", LanePattern(lane="D0", runs=((1, "Card"),)), "unit"),
    ("Lane,Length (mm)\nD0,10\n", LanePattern(lane="D0"), "runs"),
    ("A,B,Card (mm)\nD0,D1,10\n", LanePattern(lane="D0", runs=((1, "Card"),)), "names"),
])  # fmt: skip
def test_what_the_list_leaves_open_is_asked_for(text, pattern, wanted):
    with pytest.raises(NotStatedError) as asked:
        take_lane_list(BOARD, listed(text), pattern)
    assert asked.value.wanted == wanted


def test_a_unit_that_is_stated_holds_for_bare_numbers_only():
    table = listed("Lane,Card,Cable (mm)\nD0,10,20\nD2,1 in,21\n")
    pattern = LanePattern(lane="D0", runs=((1, "Card"), (3, "Cable")), unit="mil")
    taken = take_lane_list(BOARD, table, pattern)
    assert runs_of(taken.board, "D0")[:2] == pytest.approx([254e-6, 0.02])
    assert runs_of(taken.board, "D2")[:2] == pytest.approx([0.0254, 0.021])


@pytest.mark.parametrize("pattern", [
    LanePattern(lane="D0", runs=((2, "Card"),)),
    LanePattern(lane="D0", runs=((1, "Card"), (1, "Cable"))),
    LanePattern(lane="D0", runs=((1, "Card"), (3, "Card"))),
    LanePattern(lane="D0", runs=((1, "Card"),), unit="furlong"),
])  # fmt: skip
def test_a_pattern_that_can_not_be_is_refused(pattern):
    with pytest.raises(TableError):
        take_lane_list(BOARD, listed("Lane,Card (mm),Cable (mm)\nD0,10,10\n"), pattern)


def test_an_unknown_pattern_lane_is_refused():
    with pytest.raises(EditError, match="there is no lane"):
        take_lane_list(BOARD, listed("Lane,Card (mm)\nD0,10\n"), LanePattern(lane="E0"))


def test_a_list_without_a_header_goes_by_the_columns_places():
    taken = take_lane_list(BOARD, listed("D0\t10 mm\nD2\t11 mm"), LanePattern(lane="D0", runs=((1, "column 2"),)))
    assert runs_of(taken.board, "D2")[0] == pytest.approx(0.011)


@pytest.mark.campaign
@settings(derandomize=True, max_examples=60, deadline=None)
@given(
    st.lists(st.integers(1, 10**6), min_size=3, max_size=3),
    st.sampled_from(["mm", "mil", "in", "um"]),
    st.permutations([0, 1, 2, 3]),
    st.sampled_from([";", ",", "\t"]),
)
def test_whatever_the_columns_order_each_length_lands_on_its_run(lengths, unit, order, between):
    factor = {"mm": 1e-3, "mil": 25.4e-6, "in": 0.0254, "um": 1e-6}[unit]
    lengths = [length if factor * length <= 100.0 else 1000 for length in lengths]
    titles = ["Lane", *(f"{name} ({unit})" for name in ("Card", "Cable", "Backplane"))]
    cells = ["D0", *map(str, lengths)]
    text = "\n".join(between.join(row[n] for n in order) for row in (titles, cells))
    taken = take_lane_list(BOARD, listed(text), LIKE)
    assert runs_of(taken.board, "D0") == pytest.approx([factor * length for length in lengths], rel=1e-12)


CELLS = st.sampled_from(
    ["D0", "D1", "D9", "", "5", "5 mm", "1,5", "0", "-1", "nan", "1e9", "x", '"', "12 in", "#N/A", "5;6", "D0_P"]
)
TITLES = st.sampled_from(["Lane", "Card (mm)", "Card", "Cable", "run 2", "element 1", "Length (mil)", "", "card trace"])


@pytest.mark.campaign
@settings(derandomize=True, max_examples=150, deadline=None)
@given(
    st.lists(TITLES, min_size=1, max_size=4),
    st.lists(st.lists(CELLS, min_size=1, max_size=4), max_size=4),
    st.booleans(),
    st.sampled_from([None, "mil"]),
)
def test_any_list_is_taken_into_a_sound_board_or_refused_in_one_sentence(titles, rows, add, unit):
    pattern = LanePattern(lane="D0", add=add, unit=unit, pair_ends=("_P", "_N"))
    text = "\n".join(",".join(cells) for cells in (titles, *rows))
    refused = None
    try:
        taken = take_lane_list(BOARD, listed(text), pattern)
    except WorkbenchError as error:
        refused = error
    if refused is not None:
        assert str(refused).isprintable()
    else:
        assert check(taken.board) == ()
        assert {change.lane for change in taken.report.changed} <= {lane.name for lane in BOARD.lanes}
