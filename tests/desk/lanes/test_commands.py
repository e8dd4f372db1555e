"""Edits from the lane table by keys and mouse, in one lane or many: the board after, one step of undo, and back."""

import pytest
from PySide6.QtCore import QPoint
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget

from tests.desk.lanes.lane_help import (
    LANES,
    Key,
    Left,
    Mod,
    Slow,
    click,
    editor,
    fill,
    like,
    order,
    press,
    real_assessment,
    shown_table,
    spot,
    text,
)
from workbench.board.edits.lane_fields import fields_of
from workbench.board.model import Run, Stage
from workbench.desk.lanes.rows import LaneColumn
from workbench.desk.lanes.table import LaneTable
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.engine.assessment import LaneAssessment

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture
def slow(qapp) -> Slow:
    return Slow()


@pytest.fixture
def real() -> LaneAssessment:
    return real_assessment()


@pytest.fixture
def table(qtbot, document: Document, state: ViewState, slow: Slow) -> LaneTable:
    return shown_table(qtbot, document, state, slow)


@pytest.fixture
def filled(qtbot, table: LaneTable, slow: Slow) -> LaneTable:
    return fill(qtbot, table, slow)


# --- edits


def test_insert_adds_a_lane_like_the_current_one_and_asks_for_its_name(table, document, state, qtbot):
    state.set_lane("RX3")
    press(table, Key.Key_Insert)
    assert order(document)[3:5] == ("RX3", "RX16")
    assert state.lane == "RX16"
    QTest.keyClicks(editor(table), "spare")
    QTest.keyClick(editor(table), Key.Key_Return)
    qtbot.waitUntil(lambda: state.lane == "spare")
    stages = {p for lane in document.board.lanes for p in lane.path if isinstance(p, Stage)}
    assert len(stages) == sum(isinstance(p, Stage) for lane in document.board.lanes for p in lane.path)
    document.undo()
    document.undo()
    assert order(document) == LANES


def test_ctrl_d_copies_the_selected_lanes_behind_them_as_one_step(table, document, state):
    state.set_lane("RX4", ("RX4", "RX3"))
    press(table, Key.Key_D, Mod.ControlModifier)
    assert order(document)[3:7] == ("RX3", "RX4", "RX16", "RX17")
    assert state.lanes == ("RX16", "RX17")
    document.undo()
    assert order(document) == LANES
    document.redo()
    assert order(document)[5:7] == ("RX16", "RX17")


@pytest.mark.parametrize("by_mouse", [True, False])
def test_a_name_is_typed_in_place_by_double_click_or_f2(filled, document, state, by_mouse, qtbot):
    state.set_lane("RX2", ("RX2", "RX3"))
    if by_mouse:
        click(filled, "RX2")
        QTest.mouseDClick(filled.view.viewport(), Left, Mod.NoModifier, spot(filled, "RX2"))
    else:
        press(filled, Key.Key_F2)
    QTest.keyClicks(editor(filled), "clock")
    QTest.keyClick(editor(filled), Key.Key_Return)
    qtbot.waitUntil(lambda: order(document)[2] == "clock")
    assert state.lane == "clock"
    assert document.undo_name == "rename RX2 to clock"
    document.undo()
    assert order(document) == LANES


def test_escape_leaves_the_name_and_a_taken_one_is_refused_in_a_sentence(filled, document, state, qtbot):
    press(filled, Key.Key_F2)
    QTest.keyClicks(editor(filled), "x")
    QTest.keyClick(editor(filled), Key.Key_Escape)
    assert order(document) == LANES
    press(filled, Key.Key_F2)
    QTest.keyClicks(editor(filled), "RX1")
    with qtbot.waitSignal(document.refused) as told:
        QTest.keyClick(editor(filled), Key.Key_Return)
    assert told.args == ['there is already a lane "RX1"; give this one another name']
    assert (order(document), state.lane) == (LANES, "RX0")


def test_answers_that_come_while_a_name_is_typed_move_no_row(filled, slow, real, qtbot):
    filled.model.sort_by(LaneColumn.HEIGHT)
    press(filled, Key.Key_F2)
    typed = editor(filled)
    slow.give("RX12", like(real, "RX12", "fail", -0.4))
    assert text(filled, "RX12", LaneColumn.HEIGHT) == "−400"
    filled.model._settle()  # what the gathering timer does
    assert filled.model.names()[0] == "RX9"
    assert typed.isVisible()
    QTest.keyClick(typed, Key.Key_Escape)
    qtbot.waitUntil(lambda: filled.model.names()[0] == "RX12")


def test_delete_takes_the_selected_lanes_and_the_one_below_becomes_current(table, document, state):
    state.set_lane("RX5", ("RX4", "RX5"))
    press(table, Key.Key_Delete)
    assert order(document) == LANES[:4] + LANES[6:]
    assert state.lane == "RX6"
    assert table.view.current() == "RX6"
    document.undo()
    assert order(document) == LANES


def test_the_last_lanes_deleted_leave_an_empty_table_that_helps(table, document, state):
    press(table, Key.Key_A, Mod.ControlModifier)
    state.set_lane("RX0", LANES)
    press(table, Key.Key_Delete)
    assert document.board.lanes == ()
    assert state.lane == ""
    assert "Add" in table.view.empty_text
    assert not table.action("lane.delete").isEnabled()
    press(table, Key.Key_Insert)
    assert order(document) == ("L0",)
    assert state.lane == "L0"


def test_alt_arrows_move_the_selected_lanes_together_and_stop_at_the_end(table, document, state):
    state.set_lane("RX2", ("RX1", "RX2"))
    press(table, Key.Key_Up, Mod.AltModifier)
    assert order(document)[:4] == ("RX1", "RX2", "RX0", "RX3")
    press(table, Key.Key_Up, Mod.AltModifier)
    assert order(document)[:2] == ("RX1", "RX2")
    assert table.view.selected() == ("RX1", "RX2")
    press(table, Key.Key_Down, Mod.AltModifier)
    assert order(document) == LANES
    assert document.undo_name == "move 2 lanes down"
    document.undo()
    assert order(document)[0] == "RX1"


def test_a_sorted_table_says_why_lanes_do_not_move(table, document, qtbot):
    table.model.sort_by(LaneColumn.LENGTH)
    with qtbot.waitSignal(document.refused) as told:
        press(table, Key.Key_Down, Mod.AltModifier)
    assert "sorted by length" in told.args[0]
    assert order(document) == LANES


def test_the_menu_of_the_mouse_has_every_action(table, document, qtbot):
    table.view.menu_wanted.emit(QPoint(0, 0))
    menu = table.findChildren(QWidget)
    offered = next(part for part in menu if part.metaObject().className() == "QMenu")
    assert offered.actions() == table.actions()
    next(action for action in offered.actions() if action.objectName() == "lane.duplicate").trigger()
    assert len(document.board.lanes) == 17
    offered.close()


def test_every_action_has_words_and_a_key_of_its_own(table):
    actions = [action for action in table.actions() if not action.isSeparator()]
    keys = [key.toString() for action in actions for key in action.shortcuts()]
    assert all(action.text() and action.objectName() for action in actions)
    # The key of how a figure was computed is the window's.
    assert [action.objectName() for action in actions if not action.shortcuts()] in ([], ["lane.working"])
    assert len(set(keys)) == len(keys)


# --- one value in many lanes


def batch(table: LaneTable, state: ViewState, kind: str, lanes: tuple[str, ...], key: str = "") -> None:
    state.set_lane(lanes[0], lanes)
    press(table, Key.Key_E, Mod.ControlModifier)
    form = table.batch
    fields = fields_of(table._document.board, lanes)
    form.field.setCurrentIndex(next(n for n, field in enumerate(fields) if field[::2] == (kind, key)))


def runs(document: Document, name: str) -> list[float]:
    lane = next(lane for lane in document.shown.lanes if lane.name == name)
    return [run.length_m for run in lane.path if isinstance(run, Run)]


def test_a_length_is_previewed_as_it_is_typed_and_set_in_all_lanes_as_one_step(filled, document, state):
    before = document.board
    batch(filled, state, "run", ("RX0", "RX1", "RX13"), "3")
    assert "various" in filled.batch.length.placeholderText()
    QTest.keyClicks(filled.batch.length, "12 in")
    assert document.board is before
    assert [runs(document, name)[2] for name in ("RX0", "RX1", "RX13")] == [0.3048] * 3
    QTest.keyClick(filled.batch.length, Key.Key_Return)
    assert filled.batch.isHidden()
    assert filled.view.hasFocus()
    assert document.shown is document.board
    assert document.undo_name == "set length of run 3 (midplane trace) in 3 lanes"
    document.undo()
    assert document.board is before


def test_escape_takes_the_preview_back(filled, document, state):
    batch(filled, state, "run", ("RX0", "RX1"), "3")
    QTest.keyClicks(filled.batch.length, "80 mm")
    assert document.shown is not document.board
    QTest.keyClick(filled.batch.length, Key.Key_Escape)
    assert document.shown is document.board
    assert document.undo_name == ""
    assert filled.view.hasFocus()


def test_a_value_that_can_not_be_is_told_beside_it_and_the_last_good_one_stays_shown(filled, document, state):
    batch(filled, state, "run", ("RX0", "RX1"), "3")
    QTest.keyClicks(filled.batch.length, "80 mm")
    QTest.keyClicks(filled.batch.length, "x")
    assert "not a unit that is known" in filled.batch.note.text()
    assert runs(document, "RX0")[2] == 0.08
    QTest.keyClick(filled.batch.length, Key.Key_Return)
    assert not filled.batch.isHidden()
    assert document.undo_name == ""


def test_a_receiver_or_profile_is_chosen_for_many_lanes(filled, document, state):
    batch(filled, state, "profile", LANES[:4])
    choice = filled.batch.choice
    choice.setFocus()
    QTest.keyClick(choice, Key.Key_Down)
    assert document.shown.lanes[3].profile == choice.currentData()
    assert document.shown.lanes[3].profile is not None
    QTest.mouseClick(filled.batch.set_button, Left)
    assert {lane.profile for lane in document.board.lanes[:4]} == {choice.currentData()}
    assert document.board.lanes[4].profile is None
    assert text(filled, "RX3", LaneColumn.PROFILE) == document.board.lanes[3].profile


def test_lanes_that_lack_the_run_are_counted_and_left_alone(filled, document, state):
    before = runs(document, "RX0")
    batch(filled, state, "run", ("RX0", "RX3"), "5")
    assert filled.batch.note.text() == "1 of the 2 lanes have no such run and are unchanged"
    QTest.keyClicks(filled.batch.length, "60 mm")
    QTest.keyClick(filled.batch.length, Key.Key_Return)
    assert runs(document, "RX3")[4] == 0.06
    assert runs(document, "RX0") == before
