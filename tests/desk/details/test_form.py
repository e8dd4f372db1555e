"""The details form: each edit by keyboard and mouse, its preview, its one undo step, its sentence where it can't be."""

import weakref

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QLabel, QLineEdit, QPlainTextEdit, QWidget

from tests.desk.details.details_help import editor, enter, error, focus, place_of, shown_details, wheel
from workbench.board.edits.lanes import set_board
from workbench.board.edits.path import set_run_length
from workbench.board.index import section_names
from workbench.board.library import starter_catalogues
from workbench.board.model import Run
from workbench.desk.details.form import BOARD, ELEMENT, LANE, PART, Details
from workbench.desk.details.kept import MOST
from workbench.desk.details.section import SectionForm
from workbench.desk.details.targets import EntryTarget
from workbench.desk.widgets.theme import LIGHT

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture
def details(qtbot, document, state, computing) -> Details:
    return shown_details(qtbot, document, state, computing)


def length_m(board, at: int) -> float:
    return next(lane for lane in board.lanes if lane.name == "RX3").path[at].length_m


@pytest.fixture
def length(details, document, state) -> QLineEdit:
    """The length of the first run of RX3, with the keyboard in it."""
    state.select_element(place_of(document, "RX3", Run))
    line = editor(details, "Length")
    focus(line)
    return line


# --- quantities


def test_a_typed_length_with_a_unit_is_one_named_step_and_stays_as_typed(length, document):
    before = document.board
    enter(length, "12 in")
    assert length_m(document.board, 0) == 0.3048
    assert length.text() == "12 in"
    assert document.undo_name == "set length of RX3, element 1"
    document.undo()
    assert document.board == before
    assert length.text() == "14 mm"
    document.redo()
    assert length.text() == "304.8 mm"


def test_a_bare_number_takes_the_unit_that_the_field_shows(length, document):
    enter(length, "50")
    assert length_m(document.board, 0) == pytest.approx(0.050)
    assert length.text() == "50 mm"
    enter(length, "2 in")
    enter(length, "3")
    assert length_m(document.board, 0) == pytest.approx(0.0762)
    assert length.text() == "3 in"


def test_a_bare_number_steps_in_the_unit_that_the_field_showed(length, document):
    length.selectAll()
    QTest.keyClicks(length, "50")
    QTest.keyClick(length, Qt.Key.Key_Up)
    assert length.text() == "50.5 mm"
    assert length_m(document.shown, 0) == pytest.approx(0.0505)


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
    assert "not a unit that is known" in error(details)
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
    document.replace(replace(document.board, catalogue=starter.catalogue, lanes=(), devices=(), bundles=()), None)
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
    assert "already a lane" in error(details)
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


def test_who_answers_for_a_board_is_typed_on_its_page(details, document):
    details.show_page(BOARD)
    paper = editor(details, "Prepared by", QPlainTextEdit)
    focus(paper)
    QTest.keyClicks(paper, "A. Example")
    QTest.keyClick(paper, Qt.Key.Key_Return)
    assert document.board.prepared_by == "A. Example"


def test_a_guard_band_is_set(details, document):
    details.show_page(BOARD)
    line = editor(details, "Height guard")
    focus(line)
    enter(line, "35 mV")
    assert document.board.guard.height_v == 0.035
    assert document.undo_name == "set height guard of the board"


def test_another_line_is_chosen_by_keys_with_a_preview(details, document, state):
    state.select_element(0)
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


# --- the whole


def test_the_page_follows_the_selection(details, document, state):
    assert details.tabs.currentIndex() == LANE
    state.select_element(0)
    assert (details.tabs.currentIndex(), details.title) == (ELEMENT, "control breakout")
    state.select_element(-1)
    assert details.title == "control card"
    details.show_page(PART)
    state.select_element(len(document.board.lanes[3].path))
    assert (details.tabs.currentIndex(), details.title) == (ELEMENT, "digitiser")
    details.show_entry("lines", document.board.catalogue.lines[0].name)
    state.select_element(0)
    assert (details.tabs.currentIndex(), details.title) == (ELEMENT, "control breakout")
    state.set_lane("RX5")
    assert (details.tabs.currentIndex(), details.title) == (LANE, "RX5")
    state.set_lane("")
    assert details.title == "No lane"
    details.show_page(ELEMENT)
    assert "path strip" in " ".join(label.text() for label in details.findChildren(QLabel))


def test_a_page_shown_again_is_filled_anew_with_the_forms_it_had(details, document, state):
    details.show_page(BOARD)
    board_forms = details.forms
    details.show_page(LANE)
    document.apply("title", lambda board: set_board(board, title="Another title"))
    details.show_page(BOARD)
    assert all(one is other for one, other in zip(details.forms, board_forms, strict=True))
    assert editor(details, "Title", QPlainTextEdit).toPlainText() == "Another title"


@pytest.mark.campaign
def test_no_more_forms_are_kept_than_said_and_only_those_of_the_page_are_seen(qapp, details, document):
    catalogue = document.board.catalogue
    sections = [(section, one.name) for section in section_names() for one in getattr(catalogue, section)]
    assert len(sections) > MOST
    for section, name in (*sections, *reversed(sections)):
        details.show_entry(section, name)
        assert [form for form in details.findChildren(SectionForm) if not form.isHidden()] == list(details.forms)
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    assert len(details.findChildren(SectionForm)) <= MOST


def test_what_is_pending_is_kept_when_another_element_is_chosen(details, length, document, state):
    QTest.keyClick(length, Qt.Key.Key_Up)
    state.select_element(2)
    assert length_m(document.board, 0) == pytest.approx(0.0141)


def test_every_editor_has_an_accessible_name(details, document, state):
    for tab in (BOARD, LANE):
        details.show_page(tab)
        _assert_named(details)
    for section in section_names():
        for entry in getattr(document.board.catalogue, section):
            details.show_target(EntryTarget(section, entry.name))
            _assert_named(details)


def _assert_named(details: Details) -> None:
    for widget in details.findChildren(QWidget):
        if widget.isVisible() and widget.focusPolicy() & Qt.FocusPolicy.TabFocus:
            own = widget.accessibleName() or getattr(widget, "text", str)()
            assert own, widget


def test_the_form_is_gone_after_it_is_closed(qtbot, document, state, computing):
    form = Details(document, state, computing, LIGHT)
    form.show_entry("receivers", "digitiser")
    gone = weakref.ref(form)
    with qtbot.waitSignal(form.destroyed):
        form.deleteLater()
    del form
    assert gone() is None
    document.apply("later", lambda board: set_run_length(board, "RX3", 0, length_m=0.03))
