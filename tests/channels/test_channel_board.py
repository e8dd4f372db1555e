"""Controls that each channel has for itself: in the file, in edits, in differences, on a stage, on the sheet."""

import json

import pytest
from msgspec.structs import replace

from tests.board.sample import sample_board
from tests.channels.boards import own_equalization, sample
from workbench.board.checking import check
from workbench.board.difference import differences
from workbench.board.edits.catalogue import replace_entry
from workbench.board.edits.devices import ChannelFinder, fitted_with, set_settings
from workbench.board.edits.lanes import copy_lanes
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import ChannelSettings, Stage
from workbench.board.reading import read_board
from workbench.board.writing import dump_board
from workbench.engine.lane.path import plan_lane
from workbench.errors import BoardFileError, EditError
from workbench.parts.conditioners.controls import Settings
from workbench.reports.pages.settings_sheet import settings_csv, settings_sheet, settings_text

BOARD = sample()
APART = set_settings(BOARD, ("U1",), {"equalization": "1"}, channel=3)


def on(board, channel):
    return board.devices[0].on_channel(channel)["equalization"]


def test_a_channel_that_is_not_named_is_as_the_device_is_set():
    assert [on(APART, n) for n in (1, 2, 3, 4)] == ["2", "2", "1", "2"]
    assert APART.devices[0].settings == BOARD.devices[0].settings


def test_boards_without_it_are_written_as_before_and_those_with_it_come_back():
    plain = dump_board(sample_board(4))
    assert b"channels\": [" not in plain
    assert b"per_channel" not in plain
    assert read_board(dump_board(APART)).board == APART
    told = json.loads(dump_board(APART))["devices"][0]
    assert told["channels"] == [{"channel": 3, "settings": {"equalization": "1"}}]


def spoilt(change):
    plain = json.loads(dump_board(APART))
    change(plain["devices"][0])
    return json.dumps(plain).encode()


@pytest.mark.parametrize(("change", "place", "words"), [
    (lambda one: one["channels"][0].update(channel=9), "channels[0].channel", ["no channel 9", "1 to 4"]),
    (lambda one: one["channels"].append(one["channels"][0]), "channels[1].channel", ["channel 3", "twice"]),
    (lambda one: one["channels"][0]["settings"].update(equalization="7"), "channels[0].settings.equalization",
     ['in "U1", channel 3', 'no equalization setting "7"']),
    (lambda one: one["channels"][0]["settings"].update(emphasis="off"), "channels[0].settings.emphasis",
     ["channel 3", "emphasis", "sets all channels at once", "let the part say"]),
    (lambda one: one["channels"][0]["settings"].update(gian="off"), "channels[0].settings.gian",
     ["channel 3", 'no control "gian"']),
    (lambda one: one["channels"][0].update(channel=0), "channels[0].channel", ["Channel is 0", "at least 1"]),
])  # fmt: skip
def test_what_a_channel_can_not_be_set_to_is_one_sentence_with_its_place(change, place, words):
    with pytest.raises(BoardFileError) as raised:
        read_board(spoilt(change))
    assert raised.value.place == f"$.devices[0].{place}"
    assert all(word in str(raised.value) for word in words), str(raised.value)


def test_a_part_names_only_its_own_controls_each_once():
    for names, words in ((("gian",), 'no control "gian"'), (("swing", "swing"), "named twice")):
        faults = list(check(own_equalization(sample_board(1), per_channel=names)))
        assert [fault.place for fault in faults] == ["$.catalogue.conditioners[0].per_channel"]
        assert words in faults[0].problem


def test_an_edit_sets_one_channel_or_all_and_leaves_nothing_over():
    assert set_settings(APART, ("U1",), {"equalization": "2"}, channel=3) == BOARD
    for board in (BOARD, APART):
        every = set_settings(board, ("U1",), {"equalization": "0"})
        assert [on(every, n) for n in (1, 2, 3, 4)] == ["0"] * 4
        assert every.devices[0].channels == ()


def test_what_all_channels_share_is_set_for_all_whichever_channel_is_named():
    shared = replace_entry(
        BOARD, "conditioners", "linear quad", replace(BOARD.catalogue.conditioners[0], per_channel=("swing",))
    )
    board = set_settings(shared, ("U1",), {"equalization": "0"}, channel=3)
    assert [on(board, n) for n in (1, 3)] == ["0", "0"]
    with pytest.raises(EditError, match="U1 has no channel 5; choose one from 1 to 4"):
        set_settings(BOARD, ("U1",), {"equalization": "0"}, channel=5)


def test_a_part_does_not_give_up_what_channels_are_set_to_by_themselves_without_a_word():
    with pytest.raises(EditError, match=r"channel 3, equalization of .* sets all channels at once"):
        replace_entry(
            APART, "conditioners", "linear quad", replace(APART.catalogue.conditioners[0], per_channel=())
        )


def test_another_part_keeps_what_it_can_of_the_channels():
    other = replace(APART.catalogue.conditioners[0], name="pair", channels=3)
    board = replace(APART, catalogue=replace(APART.catalogue, conditioners=(*APART.catalogue.conditioners, other)))
    assert fitted_with(board, board.devices[0], "pair").channels == APART.devices[0].channels
    for less in (replace(other, channels=2), replace(other, per_channel=())):
        fewer = replace(board, catalogue=replace(board.catalogue, conditioners=(less,)))
        assert fitted_with(fewer, board.devices[0], "pair").channels == ()


def test_the_stage_of_a_lane_takes_its_channels_positions():
    stages = {}
    for lane in APART.lanes[::2]:
        plan = plan_lane(Index(APART), lane, profile_of(APART, APART.profile))
        stages[plan.stages[0].channel] = plan.stages[0].settings
    assert {n: one["equalization"] for n, one in stages.items()} == {1: "2", 3: "1"}
    assert {one["swing"] for one in stages.values()} == {"unity"}


def test_a_copied_lane_is_set_as_the_one_that_it_is_a_copy_of():
    for name, position in (("D2", "1"), ("D0", "2")):
        copied = copy_lanes(APART, [name])
        lane = next(one for one in copied.board.lanes if one.name == copied.names[0])
        stage = next(one for one in lane.path if isinstance(one, Stage))
        device = next(one for one in copied.board.devices if one.ref == stage.device)
        assert device.on_channel(stage.channel)["equalization"] == position
    finder = ChannelFinder(APART)
    found = [finder.like(Stage(device="U1", channel=3)) for _ in range(3)]
    assert [one.device for one in found] == ["U1", "U1", "U2"]
    assert all(one.on_channel(at.channel)["equalization"] == "1" for at in found for one in finder.devices
               if one.ref == at.device)  # fmt: skip


@pytest.mark.parametrize(("new", "said"), [
    (APART, ["equalization of channel 3: 2 became 1"]),
    (set_settings(BOARD, ("U1",), {"equalization": "0"}), ["equalization 2 became 0"]),
    (set_settings(set_settings(BOARD, ("U1",), {"equalization": "0"}), ("U1",), {"equalization": "2"}, channel=3),
     ["equalization of the other channels: 2 became 0"]),
])  # fmt: skip
def test_what_differs_names_the_channel(new, said):
    (found,) = differences(BOARD, new)
    assert (found.where, list(found.said)) == ("device", said)


def test_a_control_of_each_channel_has_a_line_for_each():
    straps = settings_sheet(APART).devices[0].straps
    own = [one for one in straps if one.name == "equalization"]
    assert [(one.channel, one.setting, one.lane) for one in own] == [
        (1, "2", "D0"), (2, "2", ""), (3, "1", "D2"), (4, "2", ""),
    ]  # fmt: skip
    assert [one.channel for one in straps if one.name != "equalization"] == [None, None]
    assert "equalization, channel 3 (D2)" in settings_text(settings_sheet(APART))
    assert "U1,linear quad,equalization,1,boost 4 dB,3,D2," in settings_csv(settings_sheet(APART))


def test_settings_that_are_put_together_never_change():
    with pytest.raises(TypeError):
        ChannelSettings(channel=1, settings={"a": "b"}).settings["a"] = "c"
    assert hash(APART.devices[0]) == hash(replace(APART.devices[0], settings=Settings(APART.devices[0].settings)))
