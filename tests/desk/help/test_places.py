"""F1 opens the right place of the manual from every region, form, window and field."""

import re

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QLineEdit, QPlainTextEdit, QWidget

from tests.desk.window_help import put_back, retitle
from tests.lanes import lane_board, trace
from workbench.board.index import section_names
from workbench.cli.reference import command_pages
from workbench.desk.keyboard import focus_into
from workbench.desk.panes.kinds.eye import EyePane
from workbench.desk.session.places import PLACES, place_of
from workbench.desk.session.view_state import AskedFigure
from workbench.desk.widgets.form_window import FormWindow
from workbench.reports.pages.manual import manual_html

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture
def window(shared, home):
    put_back(shared, home)
    return shared


@pytest.fixture(scope="module")
def anchors() -> set[str]:
    """Every place of the manual as the window shows it."""
    return set(re.findall(r'(?:id|name)="([^"]+)"', manual_html("plain", command_pages(), [("Save", "Ctrl+S")])))


def opened_by_f1(window, monkeypatch, widget: QWidget) -> str:
    asked = []
    monkeypatch.setattr(window.own_windows, "show_manual", asked.append)
    window.later.finish()  # F1 is in the menus
    widget.window().activateWindow()
    widget.setFocus()
    QApplication.processEvents()
    QTest.keyClick(QApplication.focusWidget() or widget, Qt.Key.Key_F1)
    assert len(asked) == 1
    return asked[0]


def test_every_place_that_a_part_names_is_in_the_manual(anchors):
    assert set(PLACES.values()) - anchors == set()


def test_f1_opens_the_place_of_every_region(window, monkeypatch, anchors):
    window.state.set_lane("RX0", ("RX0", "RX3"))
    window.studies.open("reach")
    window.findings.open()
    QApplication.processEvents()
    seen = {}
    for region in window.regions():
        if region.isVisible():
            focus_into(region)
            focus = QApplication.focusWidget()
            seen[region.objectName()] = opened_by_f1(window, monkeypatch, focus)
    assert set(seen) >= {"lanes", "parts", "strip", "panes", "studies", "details"}
    assert set(seen.values()) <= anchors
    assert (seen["lanes"], seen["parts"], seen["strip"]) == ("lane-columns", "from-nothing", "gestures")
    assert seen["studies"].startswith("stud")
    pane = next(one for one in window.findChildren(EyePane) if one.isVisible())
    assert place_of(pane) == "eye"
    assert place_of(window.status) == "margin"
    assert place_of(None) == "window-regions"


@pytest.mark.parametrize(("command", "place"), [("file.preferences", "preferences"), ("file.new", "first-board")])
def test_f1_opens_the_place_of_a_form(window, monkeypatch, command, place):
    window.menus.named(command).trigger()
    field = next(one for one in window.sheet.findChildren(QComboBox) + window.sheet.findChildren(QLineEdit)
                 if one.isVisible() and one is not window.sheet.field)  # fmt: skip
    assert opened_by_f1(window, monkeypatch, field) == place
    window.sheet.escape()


def test_f1_opens_the_place_of_the_list_of_changes(window, monkeypatch, tmp_path):
    window.document.replace(lane_board((trace(0.2),)), None)
    window.document.save(tmp_path / "one.board.json")
    assert window.document.apply("retitle", retitle("Other"))
    window.menus.named("file.changes").trigger()
    listed = next(one for one in window.sheet.findChildren(QPlainTextEdit) if one.isVisible())
    assert opened_by_f1(window, monkeypatch, listed) == "changes"
    window.sheet.escape()


@pytest.mark.campaign
def test_f1_opens_the_place_of_each_window_beside_the_desk(window, monkeypatch, anchors):
    own = window.own_windows
    own.show_section("")
    own.show_data_sheet()
    own.show_network_set()
    own.show_end_files()
    own.show_model()
    own.show_log()
    own.show_working(AskedFigure("normalized_margin", "RX3"))
    kinds = {type(view): view for view in window.findChildren(FormWindow)}
    assert set(kinds) == set(FormWindow.__subclasses__())  # a new window has to be opened here too
    wanted = {
        "sectionEditor": "cross-section", "dataSheet": "data-sheet", "networkSet": "models", "endFiles": "models",
        "modelEditor": "ami-reading", "log": "log", "working": "figures",
    }  # fmt: skip
    assert set(wanted.values()) <= anchors
    for view in kinds.values():
        parts = [one for one in view.findChildren(QWidget) if one.isVisible() and one.isEnabled()]
        first = next(one for one in parts if one.focusPolicy() & Qt.FocusPolicy.TabFocus)
        assert opened_by_f1(window, monkeypatch, first) == wanted[view.objectName()]
        view.close()


def test_f1_opens_the_place_of_the_form_that_exports_a_pane(window, monkeypatch, anchors):
    form = window.panes.ask_export()
    assert opened_by_f1(window, monkeypatch, form.width_px) == "panes"
    form.close()


def fields_on(details) -> list[QWidget]:
    kinds = details.findChildren(QLineEdit) + details.findChildren(QComboBox) + details.findChildren(QPlainTextEdit)
    return [one for one in kinds if one.isVisible() and one.isEnabled() and one.focusPolicy() & Qt.FocusPolicy.TabFocus]


def places_on(window) -> set[str]:
    found = set()
    for field in fields_on(window.details):
        field.setFocus()
        QApplication.processEvents()
        found.add(place_of(field))
    return found


@pytest.mark.campaign
def test_every_field_of_the_details_leads_to_a_place_in_the_manual(window, anchors):
    window.activateWindow()
    board = window.document.board
    found = set()
    for page in (0, 1):
        window.details.show_page(page)
        found |= places_on(window)
    for at in range(len(board.lanes[1].path)):
        window.state.set_lane(board.lanes[1].name)
        window.state.select_element(at)
        found |= places_on(window)
    for section in section_names():
        for entry in getattr(board.catalogue, section):
            window.details.show_entry(section, entry.name)
            found |= places_on(window)
    assert found - anchors == set()
    assert {"record-board", "record-lane", "record-run", "record-stage"} <= found
    assert len([one for one in found if one.startswith("part-")]) > 40
