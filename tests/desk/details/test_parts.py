"""The details form of devices, catalogue entries and profiles: straps, tables, kinds, names, deleting, copies."""

from typing import Annotated, Literal

import msgspec
import pytest
from msgspec.structs import replace
from PySide6.QtCore import QEvent, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QLabel, QLineEdit, QTableWidget

from tests.desk.details.details_help import editor, enter, error, focus, place_of, shown_details, wheel
from workbench.board.edits.devices import set_settings
from workbench.board.index import section_names
from workbench.board.library import builtin_profiles, starter_catalogues
from workbench.board.model import Device, Run, Stage
from workbench.desk.details.fields import Context, Form, NestInput
from workbench.desk.details.form import PART, Details
from workbench.desk.details.head import PageLinks
from workbench.desk.details.targets import EntryTarget
from workbench.desk.widgets.inputs import LineInput, QuantityInput, ValueInput
from workbench.desk.widgets.values import fresh
from workbench.facts import choice, facts_of, quantity, reference, text
from workbench.parts.conditioners.controls import Settings
from workbench.parts.lines.foil import Smooth

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture
def details(qtbot, document, state, computing) -> Details:
    return shown_details(qtbot, document, state, computing)


# --- devices


@pytest.fixture
def control(details, document, state) -> QComboBox:
    """The equalization strap of the device in RX3, with the keyboard in it."""
    state.select_element(place_of(document, "RX3", Stage))
    combo = editor(details, "Equalization", QComboBox)
    focus(combo)
    return combo


def equalization(board) -> str:
    return board.devices[0].settings["equalization"]


def test_a_setting_turned_by_the_wheel_is_previewed_and_kept_as_one_step(details, control, document):
    before = document.board
    assert any("shared by RX3, RX4, RX5" in label.text() for label in details.findChildren(QLabel))
    wheel(control, -1)
    wheel(control, -1)
    assert equalization(document.shown) == "3"
    assert document.board is before
    details.tabs.setFocus()
    assert equalization(document.board) == "3"
    document.undo()
    assert document.board is before
    assert control.currentText() == "1"


def test_a_setting_turned_by_keys_is_given_up_by_escape(control, document):
    before = document.board
    QTest.keyClick(control, Qt.Key.Key_Down)
    assert equalization(document.shown) == "2"
    QTest.keyClick(control, Qt.Key.Key_Escape)
    assert document.shown is before
    assert control.currentText() == "1"


def test_a_position_that_is_pointed_at_in_the_list_is_previewed(qtbot, control, document):
    before = document.board
    control.showPopup()
    qtbot.waitUntil(control.view().isVisible)
    control.highlighted.emit(4)
    assert equalization(document.shown) == "4"
    control.hidePopup()
    qtbot.waitUntil(lambda: document.shown is before)
    assert control.currentText() == "1"


def test_a_position_that_is_chosen_in_the_list_is_kept(qtbot, control, document):
    control.showPopup()
    qtbot.waitUntil(control.view().isVisible)
    QTest.keyClick(control.view(), Qt.Key.Key_Down)
    QTest.keyClick(control.view(), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: equalization(document.board) == "2")
    assert document.undo_name == "set equalization of U1"


def test_a_list_that_was_open_once_tries_nothing_when_another_board_is_shown(qtbot, details, control, document, state):
    control.showPopup()
    qtbot.waitUntil(control.view().isVisible)
    control.hidePopup()
    document.apply("set", lambda board: set_settings(board, ("U1",), {"equalization": "4"}))
    tried = []
    document.changing.connect(tried.append)
    document.undo()
    state.select_element(place_of(document, "RX3", Run))
    state.select_element(place_of(document, "RX3", Stage))
    assert document.shown is document.board
    assert tried == []
    assert control.currentText() == "1"


def test_a_page_that_is_left_while_a_field_holds_something_new_is_built_once(details, document, state):
    state.select_element(place_of(document, "RX3", Stage))
    focus(editor(details, "Equalization", QComboBox))
    for _ in range(3):
        QTest.keyClick(editor(details, "Equalization", QComboBox), Qt.Key.Key_Down)
        state.select_element(place_of(document, "RX3", Run))
        state.select_element(place_of(document, "RX3", Stage))
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    assert details._inside.findChildren(PageLinks) == [details._leads]


def test_a_stage_goes_to_a_free_channel_of_another_device(details, document, state):
    controls = Settings(equalization="1", swing="800 mV", emphasis="off")
    new = Device(ref="U9", part="PCIe limiting quad", settings=controls)
    document.apply("add", lambda board: replace(board, devices=(*board.devices, new)))
    at = place_of(document, "RX3", Stage)
    state.select_element(at)
    combo = editor(details, "Device", QComboBox)
    focus(combo)
    QTest.keyClick(combo, Qt.Key.Key_End)
    QTest.keyClick(combo, Qt.Key.Key_Return)
    assert document.board.lanes[3].path[at] == Stage(device="U9", channel=1)
    assert "only in RX3; 3 channels free" in " ".join(label.text() for label in details.findChildren(QLabel))


def test_a_device_is_renamed_in_every_lane(details, document):
    details.show_device("U1")
    line = editor(details, "Reference")
    focus(line)
    enter(line, "U11")
    stages = [p for lane in document.board.lanes for p in lane.path if isinstance(p, Stage)]
    assert {stage.device for stage in stages} == {"U11", "U2", "U3", "U4"}
    assert details.title == "U11"


# --- catalogue


class Inner(msgspec.Struct, frozen=True, tag="inner", tag_field="kind"):
    """A kind inside the invented kind."""

    width_m: Annotated[float, quantity("m", "Width", "How wide.", gt=0.0, le=1.0)] = 0.5


class Other(msgspec.Struct, frozen=True, tag="other", tag_field="kind"):
    """Another one."""

    count: Annotated[int, quantity("", "Count", "How many.", ge=1, le=9)]


class Invented(msgspec.Struct, frozen=True, kw_only=True):
    """A kind that the program does not have, with a field of every sort."""

    name: Annotated[str, text("Name", "Its name.", required=True)]
    notes: Annotated[str, text("Notes", "Words.")] = ""
    foil: Annotated[str, reference("foils", "Foil", "Its copper.")]
    delay_s: Annotated[float, quantity("s", "Delay", "How late.", ge=0.0, le=1e-6)]
    zero_hz: Annotated[float, quantity("Hz", "Zero", "Null: none.", gt=0.0)] | None = None
    gains_db: Annotated[tuple[float, ...], choice("Gains", "To choose from.")]
    at: Annotated[Literal["pins", "ball"], choice("At", "Where.")]
    crossed: Annotated[bool, choice("Crossed", "Whether the pair is crossed.")] = False
    inside: Annotated[Inner | Other | None, choice("Inside", "What it holds.")] = None
    steps: Annotated[tuple[Other, ...], choice("Steps", "One after the other.")]


def test_a_kind_that_nobody_knew_gets_a_form_of_its_fields(qtbot, document):
    made = fresh(Invented, board=document.board)
    assert made.foil == "standard"
    assert msgspec.convert(msgspec.to_builtins(made), Invented) == made
    foils = EntryTarget("foils", "standard")
    context = Context(
        lambda keys, fact: foils.choices(document.board, keys, fact), lambda *_: None,
        lambda kind, like: fresh(kind, like, document.board),
    )  # fmt: skip
    form = Form(made, (), (), context)
    qtbot.addWidget(form)
    assert set(form.rows) == set(Invented.__struct_fields__)
    settled = []
    form.settled.connect(settled.append)
    form.rows["gains_db"].input.line.setText("-1; -2.5 dB")
    form.rows["zero_hz"].input.line.setText("2 GHz")
    form.rows["inside"].input.kind.combo.stepped.emit(2)
    form.rows["inside"].input.kind.combo.done.emit()
    form.rows["crossed"].input.box.click()
    form.finish()
    assert [record.gains_db for record in settled if record.gains_db != made.gains_db] == [(-1.0, -2.5)]
    assert [record.zero_hz for record in settled if record.zero_hz] == [2e9]


def test_a_kind_is_changed_and_keeps_what_both_have(details, document):
    details.show_entry("lines", "midplane trace")
    combo = editor(details, "Kind", QComboBox)
    focus(combo)
    wanted = [combo.itemText(n) for n in range(combo.count())].index("microstrip pair")
    combo.setCurrentIndex(wanted)
    combo.activated.emit(wanted)
    line = next(one for one in document.board.catalogue.lines if one.name == "midplane trace")
    assert line.dielectric == "mid-loss laminate"
    assert editor(details, "Width").text()
    document.undo()
    assert editor(details, "Conductor loss").text() == "6 dB/m"


@pytest.mark.campaign
def test_every_entry_of_every_starter_has_an_input_for_each_field(details, document):
    for starter in starter_catalogues().values():
        document.replace(replace(document.board, catalogue=starter.catalogue, lanes=(), devices=()), None)
        for section in section_names():
            for entry in getattr(starter.catalogue, section):
                details.show_entry(section, entry.name)
                assert details.title == entry.name
                form = details.forms[0].root.form
                assert set(form.rows) == {fact.name for fact in facts_of(type(entry))}
                for name, row in form.rows.items():
                    assert isinstance(row.input, ValueInput), name


def test_two_fields_of_one_label_are_told_apart(details):
    details.show_entry("conditioners", "PCIe limiting quad")
    assert editor(details, "Input resistance") is not editor(details, "Output resistance")


def test_every_quantity_of_a_conditioner_steps_and_comes_back(details, document):
    before = document.board
    details.show_entry("conditioners", "PCIe limiting quad")
    inputs = [one for one in details.findChildren(QuantityInput) if not isinstance(one, NestInput)]
    assert len(inputs) > 10
    for one in inputs:
        text = one.line.text()
        one.line.stepped.emit(1)
        assert document.shown != before, one.fact.label
        one.line.escaped.emit()
        assert document.shown is before
        assert one.line.text() == text


def test_a_cell_of_a_table_of_settings_is_set_and_a_bad_one_refused(details, document):
    details.show_entry("conditioners", "PCIe limiting quad")
    table = editor(details, "Equalization", QTableWidget)
    table.item(1, 1).setText("3.5 dB")
    assert document.board.catalogue.conditioners[0].equalization[1].boost_db == 3.5
    board = document.board
    table.item(1, 1).setText("90 dB")
    assert "at most 40 dB" in error(details)
    assert table.item(1, 1).text() == "3.5 dB"
    assert document.board is board


def open_cell(table: QTableWidget, row: int, column: int) -> LineInput:
    focus(table)
    table.setCurrentCell(row, column)
    QTest.keyClick(table, Qt.Key.Key_F2)
    return next(one for one in table.viewport().findChildren(LineInput) if one.isVisible())


def boost_db(board) -> float:
    return board.catalogue.conditioners[0].equalization[1].boost_db


def test_an_open_cell_steps_by_keys_with_a_preview_and_enter_keeps_it_as_one_step(details, document):
    details.show_entry("conditioners", "PCIe limiting quad")
    table = editor(details, "Equalization", QTableWidget)
    before = boost_db(document.board)
    line = open_cell(table, 1, 1)
    for key in (Qt.Key.Key_Up, Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_Up):
        QTest.keyClick(line, key)
    assert boost_db(document.shown) == pytest.approx(before + 0.2)
    assert boost_db(document.board) == before
    QTest.keyClick(line, Qt.Key.Key_Return)
    QApplication.processEvents()  # Qt commits after the key
    assert boost_db(document.board) == pytest.approx(before + 0.2)
    assert document.shown is document.board
    assert table.item(1, 1).text() == f"{before + 0.2:g} dB"
    document.undo()
    assert (boost_db(document.board), document.undo_name) == (before, "")


def test_escape_in_a_stepped_cell_shows_the_board_again_and_leaves_no_step(details, document):
    details.show_entry("conditioners", "PCIe limiting quad")
    table = editor(details, "Equalization", QTableWidget)
    board, text = document.board, table.item(1, 1).text()
    line = open_cell(table, 1, 1)
    QTest.keyClick(line, Qt.Key.Key_PageUp)
    assert document.shown is not board
    QTest.keyClick(line, Qt.Key.Key_Escape)
    QApplication.processEvents()
    assert document.shown is board
    assert (table.item(1, 1).text(), document.undo_name) == (text, "")


def test_the_wheel_opens_and_steps_the_cell_that_the_keyboard_is_in_and_no_other(details, document):
    details.show_entry("conditioners", "PCIe limiting quad")
    table = editor(details, "Equalization", QTableWidget)
    board = document.board
    table.setCurrentCell(1, 1)
    details.tabs.setFocus()
    wheel(table.viewport(), 1)
    assert document.shown is board
    focus(table)
    wheel(table.viewport(), 3)
    assert boost_db(document.shown) == pytest.approx(boost_db(board) + 0.3)
    line = next(one for one in table.viewport().findChildren(LineInput) if one.isVisible())
    wheel(line, -1)
    QTest.keyClick(line, Qt.Key.Key_Return)
    QApplication.processEvents()  # Qt commits after the key
    assert boost_db(document.board) == pytest.approx(boost_db(board) + 0.2)


def test_an_open_cell_that_holds_no_number_is_not_stepped_and_says_why(details, document):
    details.show_entry("conditioners", "PCIe limiting quad")
    line = open_cell(editor(details, "Equalization", QTableWidget), 1, 1)
    line.setText("3 volts")
    QTest.keyClick(line, Qt.Key.Key_Up)
    assert "3 volts" in error(details)
    assert document.shown is document.board


def test_rows_are_added_and_taken_out_and_one_in_use_is_kept(details, document):
    details.show_entry("conditioners", "PCIe limiting quad")
    form = details.forms[0].root.form
    table = form.rows["equalization"].input
    table.table.setCurrentCell(7, 0)
    table.add.click()
    names = [one.setting for one in document.board.catalogue.conditioners[0].equalization]
    assert names == ["0", "1", "2", "3", "4", "5", "6", "7", "8"]
    table.table.setCurrentCell(8, 0)
    table.take.click()
    board = document.board
    table.table.setCurrentCell(1, 0)
    table.take.click()
    assert 'no equalization setting "1"' in error(details)
    assert document.board is board


def test_another_kind_of_roughness_brings_its_own_fields(details, document):
    details.show_entry("foils", "treated")
    combo = editor(details, "Roughness", QComboBox)
    focus(combo)
    QTest.keyClick(combo, Qt.Key.Key_Home)
    QTest.keyClick(combo, Qt.Key.Key_Return)
    assert isinstance(document.board.catalogue.foils[1].roughness, Smooth)
    document.undo()
    assert editor(details, "Nodule radius").text() == "500 nm"


def test_an_entry_that_is_renamed_is_followed_by_what_uses_it(details, document, state):
    state.select_element(0)
    details.show_page(PART)
    line = editor(details, "Name")
    focus(line)
    enter(line, "escape")
    assert all(lane.path[0].line == "escape" for lane in document.board.lanes)
    assert details.title == "escape"
    assert QApplication.focusWidget() is line


def test_used_by_leads_to_those_lanes(details, document, state):
    details.show_entry("conditioners", "PCIe limiting quad")
    foot = details.forms[0].foot
    stages = [lane.name for lane in document.board.lanes if any(isinstance(p, Stage) for p in lane.path)]
    assert foot.used.text() == f"Used by {len(stages)} lanes"
    foot.used.click()
    assert list(state.lanes) == stages
    assert state.lane == "RX3"


def test_an_entry_matters_to_lanes_through_the_entries_that_name_it(details, document):
    details.show_entry("dielectrics", "mid-loss laminate")
    assert details.forms[0].foot.used.text() == f"Used by {len(document.board.lanes)} lanes"


def test_an_entry_in_use_is_deleted_only_with_another_in_its_place(details, document):
    before = document.board
    details.show_entry("lines", "midplane trace")
    foot = details.forms[0].foot
    foot.delete.click()
    assert "used by lanes RX0, RX1" in foot.question.text()
    assert document.board is before
    foot.keep.click()
    assert not foot.asking.isVisible()
    foot.delete.click()
    foot.substitute.setCurrentText("digitiser trace")
    foot.replace.click()
    names = [line.name for line in document.board.catalogue.lines]
    assert "midplane trace" not in names
    assert details.title == "digitiser trace"
    document.undo()
    assert document.board is before


def test_a_copy_is_shown_and_deleted_without_a_question(details, document):
    before = document.board
    details.show_entry("lines", "midplane trace")
    details.forms[0].foot.copy.click()
    assert details.title == "midplane trace 2"
    assert details.forms[0].foot.used.text() == "Not in use"
    details.forms[0].foot.delete.click()
    assert document.board == before


def test_what_a_field_names_is_one_click_away_and_back(details, document, state):
    state.select_element(0)
    details.show_page(PART)
    assert details.title == "control breakout"
    row = details.forms[0].root.form.rows["foil"]
    row._go.click()
    assert details.title == "treated"
    details.head.back.click()
    assert details.title == "control breakout"


# --- profiles


@pytest.mark.campaign
def test_a_built_in_profile_is_read_with_its_sources_and_changed_only_as_a_copy(details, document):
    details.show_profile("pcie-3")
    assert not [one for one in details.findChildren(QLineEdit) if one.isVisible()]
    words = " ".join(label.text() for label in details.findChildren(QLabel))
    assert builtin_profiles()["pcie-3"].rate_bps.source in words
    details.forms[0].foot.own.click()
    line = editor(details, "Value")
    assert line.text() == "8 Gbit/s"
    focus(line)
    enter(line, "7 Gb/s")
    assert document.board.profiles[0].rate_bps.value == 7e9
    details.forms[0].foot.drop.click()
    assert document.board.profiles == ()
    assert document.undo_name == "remove the customized copy of pcie-3"
