"""Edits: each leaves a sound board or refuses in a sentence, and never touches the board it was given."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.board.sample import sample_board
from workbench.board.checking import check
from workbench.board.edits import catalogue as entries
from workbench.board.edits.devices import free_channel, remove_device, rename_device, replace_device, set_settings
from workbench.board.edits.lanes import copy_lanes, remove_lanes, rename_lane, set_board, set_lanes
from workbench.board.edits.path import (
    Cut,
    Gap,
    put,
    relocate,
    replace_element,
    set_run_length,
    slide_stage,
    take_out,
)
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


def renamed(board: Board, section: str, name: str, new: str) -> Board:
    entry = next(entry for entry in getattr(board.catalogue, section) if entry.name == name)
    return entries.replace_entry(board, section, name, replace(entry, name=new))


# what is done, and the words of the refusal
REFUSED: list[tuple[Callable[[], Board], str]] = [
    (lambda: copy_lanes(BOARD, []).board, "no lane is selected"),
    (lambda: copy_lanes(BOARD, ["D9"]).board, 'no lane "D9"; write "D'),
    (lambda: remove_lanes(BOARD, ["D9"]), 'no lane "D9"; write "D'),
    (lambda: rename_lane(BOARD, "D0", "D1"), 'already a lane "D1"'),
    (lambda: rename_lane(BOARD, "D0", ""), "needs a name"),
    (lambda: set_lanes(BOARD, ["D0", "D7"], receiver="card"), 'no lane "D7"'),
    (lambda: set_lanes(BOARD, ["D0"], receiver="cart"), 'write "card"'),
    (lambda: put(BOARD, "D1", Gap(99), RUN), "choose 1 to 7"),
    (lambda: put(BOARD, "D1", Gap(-1), RUN), "no element 0"),
    (lambda: put(BOARD, "D1", Gap(0), Component(part="bolt")), '"bolt" is not in the catalogue'),
    (lambda: put(BOARD, "D1", Gap(1), Stage(device="U1", channel=1)), "is taken by"),
    (lambda: set_run_length(BOARD, "D1", 0, length_m=0.0), "above 0 m"),
    (lambda: set_run_length(BOARD, "D1", 0, length_m=float("nan")), "not a number"),
    (lambda: set_run_length(BOARD, "D1", 1, length_m=0.1), 'element 2 of lane "D1" is not a run'),
    (lambda: slide_stage(BOARD, "D0", 0, by_m=0.01), "is not a conditioner channel"),
    (lambda: slide_stage(BOARD, "D0", 3, by_m=0.3), "can't slide by 0.3 m"),
    (lambda: slide_stage(BOARD, "D0", 3, by_m=-0.25), "can't slide by -0.25 m"),
    (lambda: slide_stage(BOARD, "D0", 3, by_m=float("nan")), "can't slide"),
    (
        lambda: slide_stage(put(BOARD, "D0", Gap(4), EDGE), "D0", 3, by_m=0.01),
        "what comes after the conditioner channel is not a run",
    ),
    (
        lambda: slide_stage(put(BOARD, "D0", Gap(3), EDGE), "D0", 4, by_m=0.01),
        "what comes before the conditioner channel is not a run",
    ),
    (
        lambda: put(BOARD, "D1", Cut(0, 0.2), Stage(device="U1", channel=2)),
        "can't be cut at 0.2 m",
    ),
    (lambda: put(BOARD, "D1", Cut(1, 0.1), Stage(device="U1", channel=2)), "is not a run"),
    (lambda: remove_device(BOARD, "U1"), '"U1" is in lane "D0", "D2"; remove its conditioner channels first'),
    (lambda: set_settings(BOARD, ["U1"], {"equalization": "7"}), 'no equalization setting "7"'),
    (lambda: set_settings(BOARD, ["U1"], {"equalisation": "1"}), 'write "equalization"'),
    (lambda: set_settings(BOARD, ["U5"], {"equalization": "1"}), 'no device "U5"'),
    (lambda: set_board(BOARD, profile="pcie-22"), 'no profile "pcie-22"'),
    (lambda: set_board(BOARD, guard=Guard(height_v=-1.0)), "Height guard is -1 V"),
    (lambda: entries.add_entry(BOARD, "vias", VIA), '"through via" is taken'),
    (lambda: entries.add_entry(BOARD, "vais", VIA), 'no section "vais"; write "vias"'),
    (lambda: entries.add_entry(BOARD, "lines", replace(BOARD.catalogue.lines[0], name="twinax")), '"twinax" is taken'),
    (lambda: entries.replace_entry(BOARD, "vias", "through via", replace(VIA, antipad_m=1e-4)), "antipad"),
    (lambda: entries.replace_entry(BOARD, "vias", "through vai", VIA), 'write "through via"'),
    (lambda: renamed(BOARD, "lines", "card trace", "twinax"), '"twinax" is taken'),
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
    (lambda: entries.remove_profile(set_board(HOUSED, profile="house"), "house"), 'no profile "house"'),
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
    def test_many_lanes_take_one_value(self) -> None:
        board = set_lanes(BOARD, ["D0", "D2"], profile="sata-2")
        assert [lane.profile for lane in board.lanes] == ["sata-2", None, "sata-2"]
        assert set_lanes(board, ["D0", "D2"], board_profile=True) == BOARD
        other = entries.add_entry(BOARD, "receivers", replace(BOARD.catalogue.receivers[0], name="other"))
        board = set_lanes(other, ["D0", "D1", "D2"], receiver="other")
        assert {lane.receiver for lane in board.lanes} == {"other"}


class TestPaths:
    def test_what_is_inserted_can_be_moved_replaced_and_removed(self) -> None:
        board = put(BOARD, "D1", Gap(2), RUN)
        assert board.lanes[1].path[2] == RUN
        board = relocate(board, "D1", 2, Gap(0))
        assert board.lanes[1].path[0] == RUN
        board = replace_element(board, "D1", 0, Component(part="card edge"))
        assert board.lanes[1].path[0] == Component(part="card edge")
        assert take_out(board, "D1", 0) == BOARD

    def test_the_last_element_stays(self) -> None:
        board = BOARD
        for _ in range(5):
            board = take_out(board, "D1", len(board.lanes[1].path) - 1)
        with pytest.raises(EditError, match="the path is empty"):
            take_out(board, "D1", 0)

    @given(st.floats(-0.24, 0.29))
    def test_a_sliding_stage_keeps_the_length_on_its_two_sides(self, by_m: float) -> None:
        path = slide_stage(BOARD, "D0", 3, by_m=by_m).lanes[0].path
        assert path[3] == BOARD.lanes[0].path[3]
        assert path[2].length_m == pytest.approx(0.25 + by_m, abs=1e-15)
        assert path[2].length_m + path[4].length_m == pytest.approx(0.55, abs=1e-15)

    @given(st.floats(0.001, 0.199))
    def test_a_cut_run_keeps_its_length(self, before_m: float) -> None:
        stage = Stage(device="U1", channel=free_channel(BOARD, "U1"))
        path = put(BOARD, "D1", Cut(0, before_m), stage).lanes[1].path
        assert path[1] == stage
        assert path[0].length_m == before_m
        assert path[0].length_m + path[2].length_m == pytest.approx(0.2, abs=1e-15)
        assert path[3:] == BOARD.lanes[1].path[1:]


class TestDevices:
    def test_a_device_comes_is_renamed_and_goes(self) -> None:
        device = Device(ref="U2", part="linear quad", settings=SETTINGS)
        assert remove_device(replace(BOARD, devices=(*BOARD.devices, device)), "U2") == BOARD
        renamed = rename_device(BOARD, "U1", "U70")
        assert renamed.lanes[0].path[3] == Stage(device="U70", channel=1)
        assert rename_device(renamed, "U70", "U1") == BOARD
        assert replace_device(BOARD, "U1", device).devices == (replace(device, ref="U1"),)

    def test_settings_are_set_one_by_one(self) -> None:
        board = set_settings(BOARD, ["U1"], {"equalization": "0"})
        assert board.devices[0].settings == SETTINGS
        assert set_settings(board, ["U1"], {"equalization": "2"}) == BOARD


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
        other = renamed(BOARD, section, name, "other")
        assert check(other) == ()
        assert entries.where_used(other, section, name) == ()
        assert [use.place for use in entries.where_used(other, section, "other")] == [use.place for use in uses]
        assert renamed(other, section, "other", name) == BOARD

    def test_where_used_names_place_and_lane(self) -> None:
        places = [use for use in entries.where_used(BOARD, "connectors", "card edge") if "D1" in use.words]
        assert places == [entries.Use("$.lanes[1].path[1].part", 'lane "D1"')]

    def test_a_name_on_another_section_is_another_thing(self) -> None:
        board = renamed(BOARD, "transmitters", "host", "card")
        assert {lane.receiver for lane in board.lanes} == {"card"}
        board = renamed(board, "transmitters", "card", "driver")
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
    board = set_board(BOARD, title="T", notes="N", profile="sata-1", guard=Guard(width_ui=0.1))
    assert (board.title, board.notes, board.profile, board.guard.width_ui) == ("T", "N", "sata-1", 0.1)
    assert set_board(BOARD) == BOARD
