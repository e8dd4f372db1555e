"""The settings sheet: what is strapped is what the board holds, and nothing of the board is left out."""

import csv
import io
import json

import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, trace
from workbench.board.model import Board, Stage
from workbench.board.reading import load_board
from workbench.reports.pages.settings_sheet import (
    power_words,
    settings_csv,
    settings_json,
    settings_sheet,
    settings_text,
)
from workbench.resources import project


@pytest.fixture(scope="module")
def section() -> Board:
    return load_board(project("correlator-shelf.board.json")).board


def test_every_device_stands_with_its_own_settings(section: Board) -> None:
    sheet = settings_sheet(section)
    assert [device.ref for device in sheet.devices] == [device.ref for device in section.devices]
    for told, device in zip(sheet.devices, section.devices, strict=True):
        assert {strap.name: strap.setting for strap in told.straps} == {
            "equalization": device.settings["equalization"], "swing": device.settings["swing"],
            "emphasis": device.settings["emphasis"],
        }  # fmt: skip


def test_a_setting_says_what_it_does_and_what_else_there_is(section: Board) -> None:
    straps = {strap.name: strap for strap in settings_sheet(section).devices[0].straps}
    part = next(one for one in section.catalogue.conditioners if one.name == settings_sheet(section).devices[0].part)
    chosen = next(one for one in part.equalization if one.setting == straps["equalization"].setting)
    assert straps["equalization"].means == f"boost {chosen.boost_db:g} dB"
    named = {straps["equalization"].setting, *straps["equalization"].others}
    assert named == {one.setting for one in part.equalization}


def test_every_stage_of_every_lane_is_on_its_device(section: Board) -> None:
    on_paths = {
        (element.device, element.channel, lane.name)
        for lane in section.lanes
        for element in lane.path
        if isinstance(element, Stage)
    }
    told = {(device.ref, *lane) for device in settings_sheet(section).devices for lane in device.lanes}
    assert told == on_paths


def test_power_is_the_sum_and_says_when_a_part_states_none(section: Board) -> None:
    sheet = settings_sheet(section)
    by_part = {part.name: part.power_w for part in section.catalogue.conditioners}
    assert sheet.power_w == pytest.approx(sum(by_part[device.part] for device in section.devices))
    silent = sheet._replace(devices=(sheet.devices[0]._replace(power_w=0.0), *sheet.devices[1:]))
    assert "1 of the devices state none" in power_words(silent)
    assert "state none" not in power_words(sheet)


def test_csv_and_json_hold_what_the_sheet_holds(section: Board) -> None:
    sheet = settings_sheet(section)
    rows = list(csv.DictReader(io.StringIO(settings_csv(sheet))))
    assert len(rows) == sum(len(device.straps) for device in sheet.devices)
    assert {(row["device"], row["strap"]): row["setting"] for row in rows} == {
        (device.ref, strap.name): strap.setting for device in sheet.devices for strap in device.straps
    }
    assert sum(float(row["power_w"] or 0.0) for row in rows) == pytest.approx(sheet.power_w)
    again = json.loads(settings_json(sheet))
    assert [device["ref"] for device in again["devices"]] == [device.ref for device in sheet.devices]
    assert again["devices"][0]["straps"][0]["setting"] == sheet.devices[0].straps[0].setting


def test_a_board_without_devices_says_so() -> None:
    sheet = settings_sheet(replace(lane_board((trace(0.1),)), devices=()))
    assert sheet.devices == ()
    assert "there is nothing to set" in settings_text(sheet)
