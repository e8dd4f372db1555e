"""What a day at the desk stumbles over: news apart from alarms, menus, what stays selected, what a name finds."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QLineEdit, QMenu, QWidget
from shiboken6 import isValid

from tests.desk.window_help import SMALL, put_back
from workbench.board.edits.path import path_of
from workbench.board.model import Run, Stage
from workbench.desk.files.preferences import PreferencesForm
from workbench.desk.lanes.rows import LaneColumn
from workbench.desk.panes.readout import Readout
from workbench.quantity import parse, show, show_imperial

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture
def window(shared, home):
    put_back(shared, home)
    return shared


def at(window, lane, kind):
    return next(n for n, element in enumerate(path_of(window.document.board, lane)) if isinstance(element, kind))


def test_what_was_done_is_no_alarm_and_what_could_not_be_done_is_one(window, tmp_path):
    status = window.status
    window.tell("written")
    news = status.grab().toImage()
    window.document.refused.emit("written")
    assert status.grab().toImage() != news
    status.stay("Writing report.pdf: RX3…")
    assert status.sentence == "Writing report.pdf: RX3…"
    assert status.opens is None
    window.handing.written.emit("Written: report.pdf", tmp_path / "report.pdf")
    assert status.opens == tmp_path / "report.pdf"
    status.clear()
    assert status.opens is None


def test_after_side_by_side_only_the_current_lane_is_selected(window):
    window.state.set_lane("RX0", SMALL)
    window.beside.put_lanes(SMALL)
    window.beside.clear()
    assert window.state.lanes == ("RX0",)


def test_a_theme_is_found_as_its_menu_says(window):
    box = window.palette_box
    box.open()
    box.field.setText("theme: dark")
    assert box.found[0].name == "Theme: dark"
    box.shut()


def test_no_link_is_called_after_nothing(window):
    window.state.set_lane("RX0")
    window.details.show_page(1)
    buttons = window.details.findChildren(type(window.details.head.back))
    names = [button.accessibleName() for button in buttons if button.isVisible()]
    assert not [name for name in names if name.endswith((" None", "Show "))]
    assert any("pcie-2" in name for name in names)


def test_an_open_menu_offers_only_what_can_be_done_and_keys_go_on_to_say_why(window):
    window.state.set_lane("RX0")
    window.state.select_element(at(window, "RX0", Run))
    menu = QMenu()
    window.strip.offer_in(menu)
    named = {action.objectName(): action for action in window.strip.actions()}
    menu.aboutToShow.emit()
    assert named["path.split"].isEnabled()
    assert not named["path.into-run-before"].isEnabled()
    assert not named["path.look-remove"].isEnabled()
    menu.aboutToHide.emit()
    assert all(action.isEnabled() for action in named.values())
    assert sum(action.isSeparator() for action in window.strip.actions()) >= 3


def test_a_run_is_split_and_an_element_cut(window):
    lane = "RX0"
    window.state.set_lane(lane)
    place = at(window, lane, Run)
    before = path_of(window.document.board, lane)
    window.state.select_element(place)
    window.strip.commands.split()
    after = path_of(window.document.board, lane)
    assert len(after) == len(before) + 1
    assert after[place].length_m + after[place + 1].length_m == pytest.approx(before[place].length_m, rel=1e-12)
    assert after[place].line == after[place + 1].line == before[place].line
    window.document.undo()
    window.state.select_element(place)
    window.strip.commands.cut()
    assert path_of(window.document.board, lane) == (*before[:place], *before[place + 1 :])
    window.strip.commands.paste()
    assert before[place] in path_of(window.document.board, lane)


def test_pasting_a_stage_of_a_full_device_offers_another_channel_or_a_new_device(window):
    lane = next(one.name for one in window.document.board.lanes if any(isinstance(e, Stage) for e in one.path))
    window.state.set_lane(lane)
    window.state.select_element(at(window, lane, Stage))
    commands = window.strip.commands
    commands.copy()
    stage = path_of(window.document.board, lane)[at(window, lane, Stage)]
    for _ in range(8):  # until every channel of its device is held
        if not window.strip.chooser.isHidden():
            break
        window.state.set_lane("RX0")
        window.state.select_element(0)
        commands.paste()
    assert not window.strip.chooser.isHidden()
    count = len(window.document.board.devices)
    rows = window.strip.chooser.list
    items = [rows.item(n).data(Qt.ItemDataRole.UserRole) for n in range(rows.count())]
    item = next(one for one in items if one.kind == "entry")
    window.strip.chooser.chosen.emit(item, False)
    assert len(window.document.board.devices) == count + 1
    assert window.document.board.devices[-1].part == next(
        one.part for one in window.document.board.devices if one.ref == stage.device
    )
    window.strip.chooser.hide()
    QGuiApplication.clipboard().clear()


def test_lengths_in_inches_and_mils_hold_everywhere_at_once_and_are_remembered(window):
    window.state.set_lane("RX0")
    window.state.select_element(at(window, "RX0", Run))
    window.details.show_page(2)
    run = path_of(window.document.board, "RX0")[at(window, "RX0", Run)]
    window.menus.show_preferences()
    form = window.sheet.findChild(PreferencesForm)
    form.lengths.setCurrentIndex(form.lengths.findData(True))
    form.cores.setValue(1)
    window.sheet.answer("Keep")
    try:
        assert window.settings.imperial
        assert window.studies.work.workers == 1
        fields = [one for one in window.details.findChildren(QLineEdit) if one.isVisible()]
        shown = next(one for one in fields if one.accessibleName() == "Length")
        assert shown.text().endswith((" in", " mil"))
        assert parse(shown.text(), unit="m") == pytest.approx(run.length_m, rel=1e-5)
        lane = next(one for one in window.document.board.lanes if one.name == "RX0")
        cell = window.lanes.model.row(window.lanes.model.number_of("RX0")).texts[LaneColumn.LENGTH]
        assert float(cell) == pytest.approx(lane.length_m / 0.0254, abs=0.006)
        assert " in" in window.strip.head.text.accessibleName()
        assert window.lanes.model.headerData(LaneColumn.LENGTH, Qt.Orientation.Horizontal).endswith("in")
    finally:
        window.settings.imperial, window.settings.cores = False, 0
        window.take_preferences()
    assert " mm" in window.strip.head.text.accessibleName()


def choose_letters(window, percent):
    window.menus.show_preferences()
    form = next(one for one in window.sheet.findChildren(PreferencesForm) if one.isVisible())
    form.letters.setCurrentIndex(form.letters.findData(percent))
    window.sheet.answer("Keep")
    QApplication.processEvents()


@pytest.mark.campaign
def test_letters_change_at_once_everywhere(window):
    window.details.show_page(1)
    window.studies.open("reach")
    QApplication.processEvents()
    sizes = {
        one: one.font().pointSizeF() for one in window.findChildren(QWidget)
        if one.isVisible() and not isinstance(one, Readout)  # its letters are as large as its room allows
    }  # fmt: skip
    row_px = window.lanes.view.rowHeight(0)
    axes = [one for pane in window.panes.panes for one in (pane.chart.left, pane.chart.bottom)]
    ticks = [axis.font.pointSizeF() for axis in axes]
    assert ticks
    try:
        choose_letters(window, 150)
        grown = {one: one.font().pointSizeF() / size for one, size in sizes.items() if isValid(one) and one.isVisible()}
        assert len(grown) > 60
        assert {one: ratio for one, ratio in grown.items() if ratio != pytest.approx(1.5, abs=0.02)} == {}
        assert [axis.font.pointSizeF() for axis in axes] == pytest.approx([1.5 * one for one in ticks])
        assert window.lanes.view.rowHeight(0) > row_px
    finally:
        choose_letters(window, 100)
    there = {one: size for one, size in sizes.items() if isValid(one) and one.isVisible()}
    assert [one.font().pointSizeF() for one in there] == pytest.approx(list(there.values()))
    assert window.lanes.view.rowHeight(0) == row_px


@pytest.mark.parametrize(
    ("value_m", "text"), [(0.3048, "12 in"), (0.000127, "5 mil"), (0.00254, "0.1 in"), (0.0, "0 in")]
)
def test_inches_and_mils_are_exact_and_read_back(value_m, text):
    show_imperial(True)
    try:
        assert show(value_m, "m") == text
        assert show(12.0, "dB/m") == "0.3048 dB/in"
        assert parse(text, unit="m") == pytest.approx(value_m, rel=1e-12)
    finally:
        show_imperial(False)
    assert show(0.3048, "m") == "304.8 mm"


def test_tab_walks_the_regions_in_the_order_in_which_they_stand(window):
    regions = [part for part in window.regions() if part.isVisible()]
    seen, widget = [], window.lanes
    for _ in range(5000):
        region = next((part for part in regions if part is widget or part.isAncestorOf(widget)), None)
        takes = widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus
        if region is not None and takes and region not in seen:
            seen.append(region)
        widget = widget.nextInFocusChain()
        if widget is window.lanes:
            break
    assert seen == [part for part in regions if part in seen]
    assert len(seen) >= 4
