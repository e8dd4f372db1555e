"""The first board in five minutes, as the manual walks it: every key, name, command and figure in it is true."""

import re
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtTest import QTest

from tests.desk.window_help import SMALL
from workbench.board.edits.devices import set_settings
from workbench.board.edits.part_items import PartItem, free_channels
from workbench.board.edits.path import path_of
from workbench.board.model import Run, Stage
from workbench.board.previous import previous_path
from workbench.cli import COMMANDS
from workbench.desk.app import demo_board
from workbench.engine.assess import assess_lane
from workbench.engine.lane.path import plan_of
from workbench.engine.lane.probe import probe_names
from workbench.engine.memo import Memo
from workbench.resources import resource

TOUR = resource("help", "first-board.html").read_text(encoding="utf-8")
WORST = "RX15"


@pytest.fixture
def window(place):
    made = place.window()
    made.show_first_steps(False)
    return made


def words(text: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", "", text).split())


def margin_v(board, lane: str) -> float:
    """By the program's own verdict: with the line code."""
    plan, memo = plan_of(board, next(one for one in board.lanes if one.name == lane)), Memo()
    return assess_lane(memo, plan, 0.0, board.guard).margin.height_v


def test_what_the_tour_says_of_the_demo_is_so():
    board, text = demo_board(), words(TOUR)
    assert f"{len(board.lanes)} lanes".replace("16", "sixteen") in text
    (missed_mv,) = re.findall(rf"{WORST}, which misses its limit by some (\d+) mV", text)
    assert -1e3 * margin_v(board, WORST) == pytest.approx(float(missed_mv), abs=1.0)
    device = next(one for one in board.devices if one.ref == "U4")
    assert "U4 serves two of four" in text
    assert len(free_channels(board, device)) == 2
    assert set(re.findall(r"workbench (\w+) FILE", text)) <= set(COMMANDS)


@pytest.mark.campaign
def test_the_keys_of_the_tour_do_what_it_says(qtbot, place):
    window = place.window(place.file)
    qtbot.waitUntil(lambda: len(window.computing.assessments) == len(SMALL))
    window.lanes.view.setFocus()
    QTest.keyClick(window.lanes.view, Qt.Key.Key_W)
    assert window.state.lane == WORST
    for key, name in (("Ctrl+Shift+P", "compare.snapshot"), ("Ctrl+Z", "edit.undo")):
        assert f"<kbd>{key}</kbd>" in TOUR
        assert QKeySequence(key) in window.menus.named(name).shortcuts()
    assert "<kbd>Ctrl+K</kbd>" in TOUR
    found = [action.text().replace("&", "") for action in window.menus.all()]
    assert any("worst" in text.lower() for text in found)


@pytest.mark.campaign
def test_what_the_manual_says_of_handing_over_is_in_the_file_menu(window):
    page = " ".join(resource("help", "handing-over.html").read_text(encoding="utf-8").split())
    texts = {action.objectName(): action.text().replace("&", "").rstrip("…") for action in window.menus.all()}
    reports = ("report.all", "report.remedies", "report.since", "report.stop", "report.sheet")
    for name in (*reports, "file.changes", "file.changes_from"):
        assert texts[name] in page, name
    assert "<code>.previous</code>" in page
    assert ".previous" in previous_path(Path("shelf.board.json")).name


@pytest.mark.campaign
def test_the_tour_makes_a_failing_lane_pass(qtbot, window):
    document, strip = window.document, window.strip
    before = document.board
    window.state.set_lane(WORST)
    runs = [at for at, one in enumerate(path_of(before, WORST)) if isinstance(one, Run)]
    window.state.select_element(max(runs, key=lambda at: path_of(before, WORST)[at].length_m))
    strip.commands.insert(PartItem("channel", "devices", "U4"), inside=True)
    path = path_of(document.board, WORST)
    at = next(number for number, one in enumerate(path) if isinstance(one, Stage))
    assert path[at].device == "U4"
    length_m = path[at - 1].length_m + path[at + 1].length_m

    window.state.select_element(at)
    strip.commands.resize(1, 0.1)
    path = path_of(document.board, WORST)
    at = next(number for number, one in enumerate(path) if isinstance(one, Stage))
    assert path[at - 1].length_m + path[at + 1].length_m == pytest.approx(length_m)
    assert "U4 input" in probe_names(plan_of(document.board, document.board.lanes[15]))

    part = next(one for one in before.catalogue.conditioners if one.name == "PCIe limiting quad")
    strongest = {
        control.name: control.names[-2 if control.name == "equalization" else 0] for control in part.controls()
    }
    assert document.apply("set straps", lambda board: set_settings(board, ("U4",), strongest))
    assert margin_v(document.board, WORST) > 0.0 > margin_v(before, WORST)
    assert document.undo_name == "set straps"
    while document.undo_name:
        document.undo()
    assert document.board is before
