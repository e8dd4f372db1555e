"""Edits: each leaves a sound board or refuses in a sentence, and never touches the board it was given."""

from collections.abc import Callable

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.board.sample import sample_board, sample_lane
from tests.strategies import boards
from workbench.board.checking import check
from workbench.board.edits import catalogue as entries
from workbench.board.edits import lanes as edits
from workbench.board.library import builtin_profiles
from workbench.board.model import Board, Component, Device, Guard, Run, Stage
from workbench.board.writing import dump_board
from workbench.errors import EditError
from workbench.parts.conditioners.controls import Settings

BOARD = sample_board(3)
EDGE = Component(part="card edge")
RUN = Run(line="twinax", length_m=0.1)
SETTINGS = Settings(equalization="0", swing="unity", emphasis="off")
VIA = BOARD.catalogue.vias[0]
PROFILE = replace(builtin_profiles()["pcie-2"], id="house")
HOUSED = entries.put_profile(BOARD, PROFILE)

# what is done, and the words of the refusal
REFUSED: list[tuple[Callable[[], Board], str]] = [
    (lambda: edits.add_lane(BOARD, sample_lane(0)), '"D0" is taken'),
    (lambda: edits.add_lane(BOARD, replace(sample_lane(1), name="X"), at=9), "no lane number 10; choose 1 to 4"),
    (lambda: edits.remove_lane(BOARD, "D9"), 'no lane "D9"; write "D'),
    (lambda: edits.rename_lane(BOARD, "D0", "D1"), '"D1" is taken'),
    (lambda: edits.rename_lane(BOARD, "D0", ""), "Name is empty"),
    (lambda: edits.move_lane(BOARD, "D0", 3), "choose 1 to 3"),
    (lambda: edits.set_lanes(BOARD, ["D0", "D7"], receiver="card"), 'no lane "D7"'),
    (lambda: edits.set_lanes(BOARD, ["D0"], receiver="cart"), 'write "card"'),
    (lambda: edits.insert_element(BOARD, "D1", 99, RUN), "choose 1 to 7"),
    (lambda: edits.insert_element(BOARD, "D1", -1, RUN), "no element number 0"),
    (lambda: edits.insert_element(BOARD, "D1", 0, Component(part="bolt")), '"bolt" is not in the catalogue'),
    (lambda: edits.insert_element(BOARD, "D1", 1, Stage(device="U1", channel=1)), "is taken by"),
    (lambda: edits.set_run_length(BOARD, "D1", 0, length_m=0.0), "above 0 m"),
    (lambda: edits.set_run_length(BOARD, "D1", 0, length_m=float("nan")), "not a number"),
    (lambda: edits.set_run_length(BOARD, "D1", 1, length_m=0.1), 'element 2 of lane "D1" is not a run'),
    (lambda: edits.slide_stage(BOARD, "D0", 0, by_m=0.01), "is not a conditioner channel"),
    (lambda: edits.slide_stage(BOARD, "D0", 3, by_m=0.3), "can't slide by 0.3 m"),
    (lambda: edits.slide_stage(BOARD, "D0", 3, by_m=-0.25), "can't slide by -0.25 m"),
    (lambda: edits.slide_stage(BOARD, "D0", 3, by_m=float("nan")), "can't slide"),
    (
        lambda: edits.slide_stage(edits.insert_element(BOARD, "D0", 4, EDGE), "D0", 3, by_m=0.01),
        "what stands after the conditioner channel is not a run",
    ),
    (
        lambda: edits.slide_stage(edits.insert_element(BOARD, "D0", 3, EDGE), "D0", 4, by_m=0.01),
        "what stands before the conditioner channel is not a run",
    ),
    (
        lambda: edits.split_run(BOARD, "D1", 0, before_m=0.2, element=Stage(device="U1", channel=2)),
        "can't be cut at 0.2 m",
    ),
    (lambda: edits.split_run(BOARD, "D1", 1, before_m=0.1, element=Stage(device="U1", channel=2)), "is not a run"),
    (lambda: edits.add_device(BOARD, Device(ref="U1", part="linear quad", settings=SETTINGS)), '"U1" is taken'),
    (
        lambda: edits.add_device(BOARD, Device(ref="U2", part="octal", settings=SETTINGS)),
        '"octal" is not in the catalogue',
    ),
    (lambda: edits.remove_device(BOARD, "U1"), '"U1" is in lane "D0", "D2"; remove its conditioner channels first'),
    (lambda: edits.set_settings(BOARD, ["U1"], {"equalization": "7"}), 'no equalization setting "7"'),
    (lambda: edits.set_settings(BOARD, ["U1"], {"equalisation": "1"}), 'write "equalization"'),
    (lambda: edits.set_settings(BOARD, ["U5"], {"equalization": "1"}), 'no device "U5"'),
    (lambda: edits.set_board(BOARD, profile="pcie-22"), 'no profile "pcie-22"'),
    (lambda: edits.set_board(BOARD, guard=Guard(height_v=-1.0)), "Height guard is -1 V"),
    (lambda: edits.duplicate_lane(BOARD, "D0", "D1"), '"D1" is taken'),
    (lambda: entries.add_entry(BOARD, "vias", VIA), '"through via" is taken'),
    (lambda: entries.add_entry(BOARD, "vais", VIA), 'no section "vais"; write "vias"'),
    (lambda: entries.add_entry(BOARD, "lines", replace(BOARD.catalogue.lines[0], name="twinax")), '"twinax" is taken'),
    (lambda: entries.replace_entry(BOARD, "vias", "through via", replace(VIA, antipad_m=1e-4)), "antipad"),
    (lambda: entries.replace_entry(BOARD, "vias", "through vai", VIA), 'write "through via"'),
    (lambda: entries.rename_entry(BOARD, "lines", "card trace", "twinax"), '"twinax" is taken'),
    (lambda: entries.remove_entry(BOARD, "dielectrics", "laminate"), 'used by vias entry "through via"; name another'),
    (
        lambda: entries.remove_entry(BOARD, "lines", "card trace"),
        '"card trace" is used by lane "D0", lane "D1", lane "D2"',
    ),
    (lambda: entries.remove_entry(BOARD, "conditioners", "linear quad"), 'used by device "U1"'),
    (lambda: entries.remove_entry(BOARD, "lines", "card trace", substitute="card trace"), "its own place"),
    (
        lambda: entries.remove_entry(BOARD, "lines", "card trace", substitute="card edge"),
        '"card edge" is not in the catalogue',
    ),
    (lambda: entries.remove_profile(BOARD, "pcie-2"), "no profile \"pcie-2\" of its own"),
    (lambda: entries.remove_profile(edits.set_board(HOUSED, profile="house"), "house"), 'no profile "house"'),
]


@pytest.mark.parametrize("number", range(len(REFUSED)))
def test_what_can_not_be_done_is_refused_in_a_sentence(number: int) -> None:
    action, words = REFUSED[number]
    before = dump_board(BOARD)
    with pytest.raises(EditError, match=words) as caught:
        action()
    assert str(caught.value).isprintable()
    assert "; " in str(caught.value)
    assert dump_board(BOARD) == before


class TestLanes:
    def test_a_lane_is_added_where_it_is_wanted(self) -> None:
        lane = replace(sample_lane(1), name="new")
        assert [x.name for x in edits.add_lane(BOARD, lane).lanes] == ["D0", "D1", "D2", "new"]
        assert [x.name for x in edits.add_lane(BOARD, lane, at=0).lanes] == ["new", "D0", "D1", "D2"]
        assert edits.remove_lane(edits.add_lane(BOARD, lane, at=1), "new") == BOARD

    def test_a_copy_takes_the_next_free_channel(self) -> None:
        board = edits.duplicate_lane(BOARD, "D0", "copy")
        assert [lane.name for lane in board.lanes] == ["D0", "copy", "D1", "D2"]
        assert board.lanes[1].path[3] == Stage(device="U1", channel=2)
        assert board.lanes[1].path[:3] == BOARD.lanes[0].path[:3]

    def test_a_copy_needs_a_free_channel(self) -> None:
        board = edits.duplicate_lane(edits.duplicate_lane(BOARD, "D0", "a"), "D0", "b")
        with pytest.raises(EditError, match='all 4 channels of "U1" are taken'):
            edits.duplicate_lane(board, "D0", "c")

    def test_lanes_move_and_move_back(self) -> None:
        moved = edits.move_lane(BOARD, "D0", 2)
        assert [lane.name for lane in moved.lanes] == ["D1", "D2", "D0"]
        assert edits.move_lane(moved, "D0", 0) == BOARD

    def test_many_lanes_take_one_value(self) -> None:
        board = edits.set_lanes(BOARD, ["D0", "D2"], profile="sata-2")
        assert [lane.profile for lane in board.lanes] == ["sata-2", None, "sata-2"]
        assert edits.set_lanes(board, ["D0", "D2"], board_profile=True) == BOARD
        other = entries.add_entry(BOARD, "receivers", replace(BOARD.catalogue.receivers[0], name="other"))
        board = edits.set_lanes(other, ["D0", "D1", "D2"], receiver="other")
        assert {lane.receiver for lane in board.lanes} == {"other"}


class TestPaths:
    def test_what_is_inserted_can_be_moved_replaced_and_removed(self) -> None:
        board = edits.insert_element(BOARD, "D1", 2, RUN)
        assert board.lanes[1].path[2] == RUN
        board = edits.move_element(board, "D1", 2, 0)
        assert board.lanes[1].path[0] == RUN
        board = edits.replace_element(board, "D1", 0, Component(part="card edge"))
        assert board.lanes[1].path[0] == Component(part="card edge")
        assert edits.remove_element(board, "D1", 0) == BOARD

    def test_the_last_element_stays(self) -> None:
        board = BOARD
        for _ in range(5):
            board = edits.remove_element(board, "D1", 0)
        with pytest.raises(EditError, match="the path is empty"):
            edits.remove_element(board, "D1", 0)

    @given(st.floats(-0.24, 0.29))
    def test_a_sliding_stage_keeps_the_length_on_its_two_sides(self, by_m: float) -> None:
        path = edits.slide_stage(BOARD, "D0", 3, by_m=by_m).lanes[0].path
        assert path[3] == BOARD.lanes[0].path[3]
        assert path[2].length_m == pytest.approx(0.25 + by_m, abs=1e-15)
        assert path[2].length_m + path[4].length_m == pytest.approx(0.55, abs=1e-15)

    @given(st.floats(0.001, 0.199))
    def test_a_cut_run_keeps_its_length(self, before_m: float) -> None:
        stage = Stage(device="U1", channel=edits.free_channel(BOARD, "U1"))
        path = edits.split_run(BOARD, "D1", 0, before_m=before_m, element=stage).lanes[1].path
        assert path[1] == stage
        assert path[0].length_m == before_m
        assert path[0].length_m + path[2].length_m == pytest.approx(0.2, abs=1e-15)
        assert path[3:] == BOARD.lanes[1].path[1:]


class TestDevices:
    def test_a_device_comes_is_renamed_and_goes(self) -> None:
        device = Device(ref="U2", part="linear quad", settings=SETTINGS)
        assert edits.remove_device(edits.add_device(BOARD, device), "U2") == BOARD
        renamed = edits.rename_device(BOARD, "U1", "U70")
        assert renamed.lanes[0].path[3] == Stage(device="U70", channel=1)
        assert edits.rename_device(renamed, "U70", "U1") == BOARD
        assert edits.replace_device(BOARD, "U1", device).devices == (replace(device, ref="U1"),)

    def test_settings_are_set_one_by_one(self) -> None:
        board = edits.set_settings(BOARD, ["U1"], {"equalization": "0"})
        assert board.devices[0].settings == SETTINGS
        assert edits.set_settings(board, ["U1"], {"equalization": "2"}) == BOARD


class TestCatalogue:
    @pytest.mark.parametrize(
        ("section", "name"),
        [("dielectrics", "laminate"), ("lines", "card trace"), ("cables", "twinax"), ("vias", "through via"),
         ("connectors", "card edge"), ("capacitors", "coupling 100n"), ("conditioners", "linear quad"),
         ("transmitters", "host"), ("receivers", "card")],
    )
    def test_references_follow_a_name(self, section: str, name: str) -> None:
        uses = entries.where_used(BOARD, section, name)
        assert uses
        renamed = entries.rename_entry(BOARD, section, name, "other")
        assert check(renamed) == ()
        assert entries.where_used(renamed, section, name) == ()
        assert [use.place for use in entries.where_used(renamed, section, "other")] == [use.place for use in uses]
        assert entries.rename_entry(renamed, section, "other", name) == BOARD

    def test_where_used_names_place_and_lane(self) -> None:
        places = [use for use in entries.where_used(BOARD, "connectors", "card edge") if "D1" in use.words]
        assert places == [entries.Use("$.lanes[1].path[1].part", 'lane "D1"')]

    def test_a_name_on_another_section_is_another_thing(self) -> None:
        board = entries.rename_entry(BOARD, "transmitters", "host", "card")
        assert {lane.receiver for lane in board.lanes} == {"card"}
        board = entries.rename_entry(board, "transmitters", "card", "driver")
        assert {lane.receiver for lane in board.lanes} == {"card"}
        assert {lane.transmitter for lane in board.lanes} == {"driver"}

    def test_an_entry_in_use_goes_when_another_takes_its_place(self) -> None:
        board = entries.remove_entry(BOARD, "lines", "card trace", substitute="twinax")
        assert board.catalogue.lines == ()
        assert {p.line for lane in board.lanes for p in lane.path if isinstance(p, Run)} == {"twinax"}

    def test_an_entry_is_replaced_in_its_place(self) -> None:
        thin = replace(VIA, stub_m=0.0, name="drilled")
        board = entries.replace_entry(BOARD, "vias", "through via", thin)
        assert board.catalogue.vias == (thin,)
        assert board.lanes[0].path[-1] == Component(part="drilled")

    def test_own_profiles_come_and_go(self) -> None:
        assert HOUSED.profiles == (PROFILE,)
        assert entries.put_profile(HOUSED, replace(PROFILE, title="other")).profiles[0].title == "other"
        assert entries.remove_profile(HOUSED, "house") == BOARD


def test_the_boards_own_fields_are_set() -> None:
    board = edits.set_board(BOARD, title="T", notes="N", profile="sata-1", guard=Guard(width_ui=0.1))
    assert (board.title, board.notes, board.profile, board.guard.width_ui) == ("T", "N", "sata-1", 0.1)
    assert edits.set_board(BOARD) == BOARD


@st.composite
def edited(draw: st.DrawFn) -> tuple[Board, Board]:
    """A random board and what a random edit made of it; examples whose edit is refused are not drawn."""
    board = draw(boards(max_lanes=2))
    lane = draw(st.sampled_from(board.lanes))
    at = draw(st.integers(0, len(lane.path) - 1))
    to = draw(st.integers(0, len(lane.path) - 1))
    sections = ["lines", "cables", "vias", "connectors", "receivers", "conditioners", "dielectrics"]
    section = draw(st.sampled_from(sections))
    entry = getattr(board.catalogue, section)[0].name
    action = draw(st.sampled_from([
        lambda: edits.remove_lane(board, lane.name),
        lambda: edits.duplicate_lane(board, lane.name, "copy"),
        lambda: edits.insert_element(board, lane.name, at, RUN),
        lambda: edits.remove_element(board, lane.name, at),
        lambda: edits.move_element(board, lane.name, at, to),
        lambda: edits.set_run_length(board, lane.name, at, length_m=0.3),
        lambda: edits.slide_stage(board, lane.name, at, by_m=0.002),
        lambda: edits.split_run(board, lane.name, at, before_m=0.004, element=Component(part="edge")),
        lambda: edits.rename_device(board, "U1", "U2"),
        lambda: edits.remove_device(board, "U1"),
        lambda: entries.rename_entry(board, section, entry, "renamed"),
        lambda: entries.remove_entry(board, section, entry),
    ]))
    before = dump_board(board)
    try:
        return board, action()
    except EditError:
        assert dump_board(board) == before
        assume(False)
        raise


@settings(max_examples=30)
@given(edited())
def test_an_edit_leaves_a_sound_board_and_its_own_untouched(pair: tuple[Board, Board]) -> None:
    board, changed = pair
    assert check(changed) == ()
    assert check(board) == ()
    assert changed.format == board.format
