"""The details form: each edit by keyboard and mouse, its preview, its one undo step, its sentence where it can't be."""

import weakref

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QLabel, QLineEdit, QPlainTextEdit, QTableWidget, QWidget

from workbench.board.edits import add_device, set_run_length
from workbench.board.index import shelf_names
from workbench.board.library import builtin_profiles, starter_catalogues
from workbench.board.model import Device, Run, Settings, Stage
from workbench.desk.details import BOARD, LANE, PART, PLACEMENT, Details
from workbench.desk.details_fields import NestInput
from workbench.desk.details_inputs import Input, QuantityInput
from workbench.desk.details_targets import EntryTarget
from workbench.desk.theme import DARK, LIGHT
from workbench.facts import facts_of
from workbench.parts.foil import Smooth


@pytest.fixture
def details(qtbot, document, state, computing) -> Details:
    state.set_lane("RX3")
    form = Details(document, state, computing, LIGHT)
    qtbot.addWidget(form)
    form.resize(272, 640)
    with qtbot.waitExposed(form):
        form.show()
    return form


def editor(details: Details, label: str, kind: type[QWidget] = QLineEdit):
    QApplication.processEvents()
    found = [w for w in details.findChildren(kind) if w.accessibleName() == label and w.isVisible()]
    assert found, label
    return found[0]


def error(details: Details) -> str:
    return " ".join(w.text() for w in details.findChildren(QLabel) if w.objectName() == "error" and w.isVisible())


def place_of(document, lane: str, kind: type) -> int:
    path = next(one.path for one in document.board.lanes if one.name == lane)
    return next(number for number, placement in enumerate(path) if isinstance(placement, kind))


def length_m(board, at: int) -> float:
    return next(lane for lane in board.lanes if lane.name == "RX3").path[at].length_m


@pytest.fixture
def length(details, document, state) -> QLineEdit:
    """The length of the first run of RX3, with the keyboard in it."""
    state.select_placement(place_of(document, "RX3", Run))
    line = editor(details, "Length")
    focus(line)
    return line


def focus(widget: QWidget) -> None:
    widget.window().activateWindow()
    widget.setFocus()
    assert QApplication.focusWidget() is widget


def enter(line: QLineEdit, text: str) -> None:
    line.selectAll()
    QTest.keyClicks(line, text)
    QTest.keyClick(line, Qt.Key.Key_Return)


def wheel(widget: QWidget, notches: int, modifiers=Qt.KeyboardModifier.NoModifier) -> None:
    event = QWheelEvent(
        QPointF(5, 5), QPointF(5, 5), QPoint(), QPoint(0, 120 * notches), Qt.MouseButton.NoButton, modifiers,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(widget, event)


# --- quantities


def test_a_typed_length_with_a_unit_is_one_named_step_and_stays_as_typed(length, document):
    before = document.board
    enter(length, "12 in")
    assert length_m(document.board, 0) == 0.3048
    assert length.text() == "12 in"
    assert document.undo_name == "set length of RX3, place 1"
    document.undo()
    assert document.board == before
    assert length.text() == "14 mm"
    document.redo()
    assert length.text() == "304.8 mm"


def test_steps_preview_and_enter_keeps_them_as_one_step(length, document):
    before = document.board
    for _ in range(3):
        QTest.keyClick(length, Qt.Key.Key_Up)
    assert length.text() == "14.3 mm"
    assert length_m(document.shown, 0) == pytest.approx(0.0143)
    assert document.board is before
    QTest.keyClick(length, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert length.text() == "15.3 mm"
    QTest.keyClick(length, Qt.Key.Key_Return)
    assert length_m(document.board, 0) == pytest.approx(0.0153)
    document.undo()
    assert document.board is before
    assert not document.undo_name


def test_a_value_typed_in_inches_steps_in_inches(length, document):
    length.selectAll()
    QTest.keyClicks(length, "12 in")
    QTest.keyClick(length, Qt.Key.Key_Down)
    assert length.text() == "11.9 in"
    QTest.keyClick(length, Qt.Key.Key_Return)
    assert length_m(document.board, 0) == pytest.approx(11.9 * 0.0254)
    QTest.keyClick(length, Qt.Key.Key_Up)
    assert length.text() == "12 in"


def test_escape_takes_steps_back_and_leaves_no_step(length, document):
    before = document.board
    QTest.keyClick(length, Qt.Key.Key_Up)
    assert document.shown is not before
    QTest.keyClick(length, Qt.Key.Key_Escape)
    assert document.shown is before
    assert length.text() == "14 mm"
    length.clearFocus()
    assert document.board is before


def test_the_wheel_steps_only_where_the_keyboard_is(details, length, document):
    wheel(length, 2)
    assert length.text() == "14.2 mm"
    wheel(length, -1, Qt.KeyboardModifier.ShiftModifier)
    assert length.text() == "13.2 mm"
    details.tabs.setFocus()  # leaving keeps
    assert length_m(document.board, 0) == pytest.approx(0.0132)
    board = document.board
    wheel(length, 5)
    assert document.shown is board


def test_what_is_no_length_is_said_at_the_field_and_the_last_good_one_kept(details, length, document):
    before = document.board
    enter(length, "12 parsec")
    assert "no unit that is known" in error(details)
    assert "14 mm is kept" in error(details)
    assert length.text() == "12 parsec"
    details.tabs.setFocus()
    assert length.text() == "12 parsec"
    assert document.board is before
    focus(length)
    enter(length, "20 mm")
    assert not error(details)
    assert length_m(document.board, 0) == pytest.approx(0.02)


@pytest.mark.parametrize(("typed", "said"), [("0", "above 0 m"), ("200 m", "at most 100 m"), ("", "nothing is typed"),
                                             ("1,5 m", "comma"), ("3 ps", "doesn't fit")])  # fmt: skip
def test_each_length_that_cannot_be_has_its_sentence(details, length, document, typed, said):
    before = document.board
    enter(length, typed) if typed else (length.clear(), QTest.keyClick(length, Qt.Key.Key_Return))
    assert said.lower() in error(details).lower()
    assert document.board is before
    QTest.keyClick(length, Qt.Key.Key_Escape)
    assert length.text() == "14 mm"
    assert not error(details)


def test_steps_end_where_the_range_does(details, document, state):
    details.show_entry("transmitters", "control card")
    line = editor(details, "Pre-shoot")
    focus(line)
    QTest.keyClick(line, Qt.Key.Key_Down)
    assert line.text() == "0 dB"
    enter(line, "12 dB")
    QTest.keyClick(line, Qt.Key.Key_Up)
    assert line.text() == "12 dB"


def test_a_preview_from_elsewhere_is_shown_and_a_bad_text_survives_it(details, length, document):
    document.preview(lambda board: set_run_length(board, "RX3", 0, length_m=0.02))
    assert length.text() == "20 mm"
    document.cancel_preview()
    assert length.text() == "14 mm"
    enter(length, "oops")
    document.apply("elsewhere", lambda board: set_run_length(board, "RX4", 0, length_m=0.03))
    assert length.text() == "oops"


def test_undo_keys_are_the_documents_unless_something_is_stepped(length, document):
    before = document.board
    QTest.keyClick(length, Qt.Key.Key_Up)
    QTest.keySequence(length, "Ctrl+Z")
    assert document.shown is before
    assert length.text() == "14 mm"


def test_the_field_says_what_it_means_its_range_and_default(details):
    details.show_entry("receivers", "digitiser")
    focus(editor(details, "Resistance"))
    assert "Differential termination resistance" in details.help_text
    assert "At least 1 ohm and at most 10 kohm" in details.help_text
    assert "Default 100 ohm" in details.help_text


def test_the_source_of_a_starters_value_is_said_until_it_is_changed(details, document):
    starter = starter_catalogues()["ends"]
    document.replace(replace(document.board, catalogue=starter.catalogue, lanes=(), devices=()), None)
    name = starter.catalogue.receivers[0].name
    details.show_entry("receivers", name)
    line = editor(details, "Noise")
    focus(line)
    assert "Source: " in details.help_text
    enter(line, "3.21 mV")
    details.tabs.setFocus()
    focus(line)
    assert "Source: " not in details.help_text


# --- texts, references, lanes


def test_a_lane_is_renamed_in_place_and_stays_the_current_one(details, document, state):
    line = editor(details, "Name")
    focus(line)
    enter(line, "North 3")
    assert state.lane == "North 3"
    assert details.title == "North 3"
    assert QApplication.focusWidget() is line
    document.undo()
    assert "RX3" in [lane.name for lane in document.board.lanes]


def test_a_name_that_is_taken_is_refused_at_the_field(details, document, state):
    before = document.board
    line = editor(details, "Name")
    focus(line)
    enter(line, "RX4")
    assert "taken" in error(details)
    assert document.board is before
    assert state.lane == "RX3"


def test_several_lanes_are_given_a_profile_at_once(details, document, state):
    state.set_lane("RX3", ("RX3", "RX5"))
    details.show_page(LANE)
    combo = editor(details, "Profile", QComboBox)
    focus(combo)
    combo.setCurrentIndex(1)
    combo.activated.emit(1)
    named = {lane.name for lane in document.board.lanes if lane.profile is not None}
    assert named == {"RX3", "RX5"}
    document.undo()
    assert not any(lane.profile for lane in document.board.lanes)


def test_notes_of_the_board_are_kept_with_enter(details, document):
    details.show_page(BOARD)
    paper = editor(details, "Notes", QPlainTextEdit)
    focus(paper)
    paper.selectAll()
    QTest.keyClicks(paper, "one")
    QTest.keyClick(paper, Qt.Key.Key_Return, Qt.KeyboardModifier.ShiftModifier)
    QTest.keyClicks(paper, "two")
    QTest.keyClick(paper, Qt.Key.Key_Return)
    assert document.board.notes == "one\ntwo"


def test_a_guard_band_is_set(details, document):
    details.show_page(BOARD)
    line = editor(details, "Height guard")
    focus(line)
    enter(line, "35 mV")
    assert document.board.guard.height_v == 0.035
    assert document.undo_name == "set height guard of the board"


def test_another_line_is_chosen_by_keys_with_a_preview(details, document, state):
    state.select_placement(0)
    combo = editor(details, "Line", QComboBox)
    focus(combo)
    before = document.board
    QTest.keyClick(combo, Qt.Key.Key_Down)
    assert document.shown.lanes[3].path[0].line == "control inner pair"
    assert document.board is before
    QTest.keyClick(combo, Qt.Key.Key_Return)
    assert document.board.lanes[3].path[0].line == "control inner pair"
    assert details.title == "control inner pair"
    document.undo()
    assert combo.currentText() == "control breakout"


# --- devices


@pytest.fixture
def strap(details, document, state) -> QComboBox:
    """The equalization strap of the device in RX3, with the keyboard in it."""
    state.select_placement(place_of(document, "RX3", Stage))
    combo = editor(details, "Equalization", QComboBox)
    focus(combo)
    return combo


def equalization(board) -> str:
    return board.devices[0].settings.equalization


def test_a_strap_turned_by_the_wheel_is_previewed_and_kept_as_one_step(details, strap, document):
    before = document.board
    assert any("shared by RX3, RX4, RX5" in label.text() for label in details.findChildren(QLabel))
    wheel(strap, -1)
    wheel(strap, -1)
    assert equalization(document.shown) == "3"
    assert document.board is before
    details.tabs.setFocus()
    assert equalization(document.board) == "3"
    document.undo()
    assert document.board is before
    assert strap.currentText() == "1"


def test_a_strap_turned_by_keys_is_given_up_by_escape(strap, document):
    before = document.board
    QTest.keyClick(strap, Qt.Key.Key_Down)
    assert equalization(document.shown) == "2"
    QTest.keyClick(strap, Qt.Key.Key_Escape)
    assert document.shown is before
    assert strap.currentText() == "1"


def test_a_position_that_is_pointed_at_in_the_list_is_previewed(qtbot, strap, document):
    before = document.board
    strap.showPopup()
    strap.highlighted.emit(4)
    assert equalization(document.shown) == "4"
    strap.hidePopup()
    qtbot.waitUntil(lambda: document.shown is before)
    assert strap.currentText() == "1"


def test_a_position_that_is_chosen_in_the_list_is_kept(qtbot, strap, document):
    strap.showPopup()
    qtbot.waitUntil(strap.view().isVisible)
    QTest.keyClick(strap.view(), Qt.Key.Key_Down)
    QTest.keyClick(strap.view(), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: equalization(document.board) == "2")
    assert document.undo_name == "set equalization of U1"


def test_a_stage_goes_to_a_free_channel_of_another_device(details, document, state):
    straps = Settings(equalization="1", swing="800 mV", emphasis="off")
    new = Device(ref="U9", part="PCIe limiting quad", settings=straps)
    document.apply("add", lambda board: add_device(board, new))
    at = place_of(document, "RX3", Stage)
    state.select_placement(at)
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


def test_every_entry_of_every_starter_has_an_input_for_each_field(details, document):
    for starter in starter_catalogues().values():
        document.replace(replace(document.board, catalogue=starter.catalogue, lanes=(), devices=()), None)
        for shelf in shelf_names():
            for entry in getattr(starter.catalogue, shelf):
                details.show_entry(shelf, entry.name)
                assert details.title == entry.name
                form = details.forms[0].root.form
                assert set(form.rows) == {fact.name for fact in facts_of(type(entry))}
                for name, row in form.rows.items():
                    assert isinstance(row.input, Input), name


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
    state.select_placement(0)
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
    assert 'used by lane "RX0"' in foot.question.text()
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
    state.select_placement(0)
    details.show_page(PART)
    assert details.title == "control breakout"
    row = details.forms[0].root.form.rows["foil"]
    row._go.click()
    assert details.title == "treated"
    details.back.click()
    assert details.title == "control breakout"


# --- profiles


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
    assert document.undo_name == "remove the own copy of pcie-3"


# --- the whole


def test_the_page_follows_the_selection(details, document, state):
    assert details.tabs.currentIndex() == LANE
    state.select_placement(0)
    assert (details.tabs.currentIndex(), details.title) == (PLACEMENT, "control breakout")
    state.select_placement(-1)
    assert details.title == "control card"
    details.show_page(PART)
    state.select_placement(len(document.board.lanes[3].path))
    assert (details.tabs.currentIndex(), details.title) == (PART, "digitiser")
    state.set_lane("RX5")
    assert (details.tabs.currentIndex(), details.title) == (LANE, "RX5")
    state.set_lane("")
    assert details.title == "No lane"
    details.show_page(PLACEMENT)
    assert "path strip" in " ".join(label.text() for label in details.findChildren(QLabel))


def test_what_is_pending_is_kept_when_another_placement_is_chosen(details, length, document, state):
    QTest.keyClick(length, Qt.Key.Key_Up)
    state.select_placement(2)
    assert length_m(document.board, 0) == pytest.approx(0.0141)


def test_every_editor_has_an_accessible_name(details, document, state):
    for tab in (BOARD, LANE):
        details.show_page(tab)
        _assert_named(details)
    for shelf in shelf_names():
        for entry in getattr(document.board.catalogue, shelf):
            details.show_target(EntryTarget(shelf, entry.name))
            _assert_named(details)


def _assert_named(details: Details) -> None:
    for widget in details.findChildren(QWidget):
        if widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            own = widget.accessibleName() or getattr(widget, "text", str)()
            assert own, widget


def test_another_theme_is_taken(details):
    details.set_theme(DARK)
    assert DARK.sheet in details.styleSheet()


def test_the_form_is_gone_after_it_is_closed(qtbot, document, state, computing):
    form = Details(document, state, computing, LIGHT)
    form.show_entry("receivers", "digitiser")
    gone = weakref.ref(form)
    with qtbot.waitSignal(form.destroyed):
        form.deleteLater()
    del form
    assert gone() is None
    document.apply("later", lambda board: set_run_length(board, "RX3", 0, length_m=0.03))
