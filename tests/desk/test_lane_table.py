"""The lane table: fills, sorts, filters, selects; edits one lane or many by keys and mouse, each one step of undo."""

import gc
import weakref
from collections.abc import Callable

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QCoreApplication, QEvent, QObject, QPoint, Qt, Signal
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit, QWidget

from tests.desk.conftest import DEMO
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Run, Stage
from workbench.board.reading import load_board
from workbench.desk.document import Document
from workbench.desk.lane_fields import Field, fields_of, with_value
from workbench.desk.lane_rows import HEADINGS, Column, natural
from workbench.desk.lane_table import LaneTable
from workbench.desk.theme import DARK, LIGHT
from workbench.desk.viewstate import ViewState
from workbench.engine.assess import assess_lane
from workbench.engine.assessment import LaneAssessment
from workbench.engine.memo import Memo
from workbench.engine.path import plan_lane

Key, Mod, Left = Qt.Key, Qt.KeyboardModifier, Qt.MouseButton.LeftButton
LANES = tuple(f"RX{n}" for n in range(16))


class Slow(QObject):
    """Stands for the engine's answers, which come when the test gives them."""

    view_ready = Signal(object, object)
    lane_ready = Signal(str, object)
    board_ready = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.assessments: dict[str, LaneAssessment] = {}

    def give(self, name: str, found: LaneAssessment) -> None:
        self.assessments[name] = found
        self.lane_ready.emit(name, found)


@pytest.fixture(scope="module")
def real() -> LaneAssessment:
    """What the engine really finds for one lane."""
    board = load_board(DEMO).board
    lane = board.lanes[2]
    return assess_lane(Memo(), plan_lane(Index(board), lane, profile_of(board, board.profile)), 0.764, board.guard)


def like(real: LaneAssessment, name: str, verdict: str, height_v: float | None, loss_db: float = 9.0) -> LaneAssessment:
    margin = replace(real.margin, verdict=verdict, height_v=height_v)
    return replace(real, lane=name, margin=margin, loss_db=loss_db)


@pytest.fixture
def slow(qapp) -> Slow:
    return Slow()


@pytest.fixture
def make(qtbot, document: Document, state: ViewState, slow: Slow) -> Callable[[], LaneTable]:
    def made() -> LaneTable:
        table = LaneTable(document, state, slow, LIGHT)
        table.resize(392, 420)
        qtbot.addWidget(table)
        table.show()
        table.view.setFocus()
        qtbot.waitUntil(table.view.hasFocus)
        return table

    return made


@pytest.fixture
def table(make: Callable[[], LaneTable]) -> LaneTable:
    return make()


@pytest.fixture
def filled(table: LaneTable, slow: Slow, real: LaneAssessment, qtbot) -> LaneTable:
    """Assessed: RX9 worst, RX4 marginal, RX7 without a known limit."""
    for number, name in enumerate(LANES):
        verdict, height_v = {9: ("fail", -0.04), 4: ("marginal", 0.002), 7: ("pass", None)}.get(
            number, ("pass", 0.3 - 0.01 * number)
        )
        slow.give(name, like(real, name, verdict, height_v, 8.0 + number))
    qtbot.waitUntil(lambda: text(table, "RX15", Column.LOSS) == "23.0")
    return table


def text(table: LaneTable, name: str, column: Column) -> str:
    return table.model.row(table.model.number_of(name)).texts[column]


def press(table: LaneTable, key: Qt.Key, modifiers: Qt.KeyboardModifier = Mod.NoModifier) -> None:
    QTest.keyClick(table.view, key, modifiers)


def spot(table: LaneTable, name: str, column: Column = Column.NAME) -> QPoint:
    return table.view.visualRect(table.model.index(table.model.number_of(name), column)).center()


def click(table: LaneTable, name: str, modifiers: Qt.KeyboardModifier = Mod.NoModifier) -> None:
    QTest.mouseClick(table.view.viewport(), Left, modifiers, spot(table, name))


def head(table: LaneTable, column: Column) -> None:
    header = table.view.header
    QTest.mouseClick(header.viewport(), Left, Mod.NoModifier, QPoint(header.sectionViewportPosition(column) + 9, 9))


def order(document: Document) -> tuple[str, ...]:
    return tuple(lane.name for lane in document.board.lanes)


def editor(table: LaneTable) -> QLineEdit:
    return next(child for child in table.view.viewport().findChildren(QLineEdit) if child.isVisible())


# --- filling


def test_rows_show_what_the_board_knows_at_once_and_the_rest_when_it_comes(table, slow, real, qtbot):
    assert table.model.names() == LANES
    assert text(table, "RX2", Column.LENGTH) == "764"
    assert text(table, "RX2", Column.VERDICT) == "…"
    slow.give("RX2", real)
    qtbot.waitUntil(lambda: text(table, "RX2", Column.VERDICT) == real.margin.verdict)
    assert text(table, "RX2", Column.LOSS) == f"{real.loss_db:.1f}"
    assert table.model.row(2).bars[1] == 1.0


def test_the_real_engine_fills_the_table(qtbot, document, state, computing):
    table = LaneTable(document, state, computing, DARK)
    qtbot.addWidget(table)
    qtbot.waitUntil(lambda: text(table, "RX0", Column.VERDICT) == "pass", timeout=20_000)
    assert text(table, "RX0", Column.HEIGHT).startswith("+")


def test_a_changed_lane_is_stale_until_its_answer_and_looks_so_only_if_that_lasts(filled, document, slow, real, qtbot):
    document.apply("longer", lambda board: with_value(board, ("RX1",), Field("run", "", "3"), 0.2))
    row = filled.model.row(1)
    assert row.stale
    assert not row.late
    assert not filled.model.row(2).stale
    qtbot.waitUntil(lambda: filled.model.row(1).late)
    slow.give("RX1", like(real, "RX1", "pass", 0.2))
    assert not filled.model.row(1).stale


def test_a_preview_shows_its_length_and_leaves_nothing_stale_when_it_is_cancelled(filled, document):
    document.preview(lambda board: with_value(board, ("RX1", "RX3"), Field("run", "", "3"), 0.5))
    assert filled.model.row(1).stale
    assert text(filled, "RX1", Column.LENGTH) != "514"
    document.cancel_preview()
    assert text(filled, "RX1", Column.LENGTH) == "514"
    assert not any(filled.model.row(n).stale for n in range(16))


def test_what_is_told_of_a_cell_names_judgement_and_findings(filled):
    tip = filled.model.index(2, Column.VERDICT).data(Qt.ItemDataRole.ToolTipRole)
    assert tip.startswith("Pass at error ratio 1e-12, judged by ")
    for finding in filled.model.row(2).found.findings[:6]:
        assert finding.text in tip
    spoken = filled.model.index(2, Column.LENGTH).data(Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == "Length 764 mm"


# --- sorting and filtering


def test_numbers_sort_as_numbers_and_what_is_not_known_comes_last_either_way(filled):
    filled.model.sort_by(Column.HEIGHT)
    assert filled.model.names()[:2] == ("RX9", "RX4")
    assert filled.model.names()[-1] == "RX7"
    filled.model.sort_by(Column.HEIGHT, descending=True)
    assert filled.model.names()[0] == "RX0"
    assert filled.model.names()[-1] == "RX7"


def test_names_sort_by_their_numbers():
    assert sorted(["RX10", "RX2", "ax", "RX2b"], key=natural) == ["ax", "RX2", "RX2b", "RX10"]


def test_a_click_on_a_heading_sorts_then_turns_then_gives_the_boards_order_back(filled):
    for wanted in (LANES, LANES[::-1], LANES):
        head(filled, Column.LOSS)
        assert filled.model.names() == wanted
    assert filled.model.sorted_by is None


def test_digits_sort_by_the_column_of_that_place(filled):
    press(filled, Key.Key_1)
    assert filled.model.names()[:2] == ("RX9", "RX4")
    press(filled, Key.Key_0)
    assert filled.model.names() == LANES


def test_the_filter_takes_words_of_name_profile_and_verdict_and_follows_the_verdicts(filled, slow, real, state, qtbot):
    QTest.keyClicks(filled.filter, "pcie fail")
    assert filled.model.names() == ("RX9",)
    assert state.lane == "RX0"
    slow.give("RX3", like(real, "RX3", "fail", -0.1))
    qtbot.waitUntil(lambda: filled.model.names() == ("RX3", "RX9"))
    QTest.keyClick(filled.filter, Key.Key_Return)
    assert filled.view.hasFocus()
    assert state.lane == "RX3"
    QTest.keyClick(filled.filter, Key.Key_Escape)
    assert filled.model.names() == LANES


def test_keys_of_the_table_write_in_the_filter(filled, document):
    filled.filter.setFocus()
    QTest.keyClicks(filled.filter, "w1")
    QTest.keyClick(filled.filter, Key.Key_Delete)
    assert filled.filter.text() == "w1"
    assert filled.model.sorted_by is None
    assert order(document) == LANES
    assert "w1" in filled.view.empty_text


# --- selecting


def test_click_and_ctrl_click_select_lanes_and_the_last_one_is_current(filled, state, qtbot):
    click(filled, "RX2")
    qtbot.waitUntil(lambda: (state.lane, state.lanes) == ("RX2", ("RX2",)))
    click(filled, "RX5", Mod.ControlModifier)
    qtbot.waitUntil(lambda: (state.lane, state.lanes) == ("RX5", ("RX2", "RX5")))
    click(filled, "RX7", Mod.ShiftModifier)
    qtbot.waitUntil(lambda: state.lanes == ("RX2", "RX5", "RX6", "RX7"))
    assert state.lane == "RX7"


def test_a_selection_is_extended_from_the_lane_that_others_chose(filled, state, qtbot):
    click(filled, "RX2")
    qtbot.waitUntil(lambda: state.lane == "RX2")
    state.set_lane("RX8")
    click(filled, "RX9", Mod.ShiftModifier)
    qtbot.waitUntil(lambda: state.lanes == ("RX8", "RX9"))
    state.set_lane("RX5")
    press(filled, Key.Key_Up, Mod.ShiftModifier)
    qtbot.waitUntil(lambda: state.lanes == ("RX4", "RX5"))
    press(filled, Key.Key_Down, Mod.ShiftModifier)
    qtbot.waitUntil(lambda: state.lanes == ("RX5",))


def test_a_lane_clicked_out_of_the_selection_leaves_one_that_is_in_it_current(filled, state, qtbot):
    state.set_lane("RX5", ("RX2", "RX5"))
    click(filled, "RX5", Mod.ControlModifier)
    qtbot.waitUntil(lambda: (state.lane, state.lanes) == ("RX2", ("RX2",)))


def test_keys_walk_and_extend_without_a_lane_in_between_becoming_current(filled, state, qtbot):
    told = []
    state.lane_changed.connect(told.append)
    press(filled, Key.Key_Down)
    qtbot.waitUntil(lambda: state.lane == "RX1")
    press(filled, Key.Key_Down, Mod.ShiftModifier)
    qtbot.waitUntil(lambda: state.lanes == ("RX1", "RX2"))
    press(filled, Key.Key_End)
    qtbot.waitUntil(lambda: (state.lane, state.lanes) == ("RX15", ("RX15",)))
    press(filled, Key.Key_Home)
    qtbot.waitUntil(lambda: state.lane == "RX0")
    assert told == ["RX1", "RX2", "RX15", "RX0"]
    press(filled, Key.Key_A, Mod.ControlModifier)
    qtbot.waitUntil(lambda: state.lanes == LANES)


def test_the_table_follows_what_others_choose_without_telling_it_again(filled, state, qtbot):
    state.set_lane("RX12", ("RX11", "RX12"))
    with qtbot.assertNotEmitted(state.selection_changed, wait=20):
        assert filled.view.selected() == ("RX11", "RX12")
    assert filled.view.current() == "RX12"


def test_selection_outlives_sorting_and_filtering(filled, state, qtbot):
    state.set_lane("RX12", ("RX3", "RX12"))
    filled.model.sort_by(Column.LENGTH, descending=True)
    assert filled.view.selected() == ("RX12", "RX3")
    with qtbot.assertNotEmitted(state.selection_changed, wait=20):
        filled.filter.setText("RX3")
    assert filled.view.selected() == ("RX3",)
    filled.filter.clear()
    assert (filled.view.current(), set(filled.view.selected())) == ("RX12", {"RX3", "RX12"})


def test_w_goes_to_the_worst_lane_also_where_the_filter_hides_it(filled, state):
    filled.filter.setText("marginal")
    press(filled, Key.Key_W)
    assert state.lane == "RX9"
    assert filled.view.current() == "RX9"


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
    filled.model.sort_by(Column.HEIGHT)
    press(filled, Key.Key_F2)
    typed = editor(filled)
    slow.give("RX12", like(real, "RX12", "fail", -0.4))
    assert text(filled, "RX12", Column.HEIGHT) == "−400"
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
    table.model.sort_by(Column.LENGTH)
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
    assert all(action.text() and action.objectName() and action.shortcuts() for action in actions)
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
    assert "no unit that is known" in filled.batch.note.text()
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
    assert text(filled, "RX3", Column.PROFILE) == document.board.lanes[3].profile


def test_lanes_that_lack_the_run_are_counted_and_left_alone(filled, document, state):
    before = runs(document, "RX0")
    batch(filled, state, "run", ("RX0", "RX3"), "5")
    assert filled.batch.note.text() == "1 of the 2 lanes have no such run and stay as they are"
    QTest.keyClicks(filled.batch.length, "60 mm")
    QTest.keyClick(filled.batch.length, Key.Key_Return)
    assert runs(document, "RX3")[4] == 0.06
    assert runs(document, "RX0") == before


# --- size and looks


@pytest.fixture
def large(document: Document, state: ViewState, slow: Slow, real: LaneAssessment, make) -> LaneTable:
    plain = document.board.lanes[0]
    lanes = tuple(replace(plain, name=f"L{n}") for n in range(256))
    document.replace(replace(document.board, lanes=lanes), None)
    state.set_lane("L0")
    for n in range(256):
        slow.assessments[f"L{n}"] = like(real, f"L{n}", ("pass", "marginal", "fail")[n % 3], 0.001 * n)
    return make()


def test_scrolling_256_lanes_draws_what_is_on_screen_and_asks_nothing_of_the_others(large, qtbot):
    view = large.view
    rows_on_screen = view.viewport().height() // view.delegate.row_px + 2
    bar = view.verticalScrollBar()
    for at in (bar.maximum() // 2, bar.maximum()):
        view.delegate.painted = 0
        bar.setValue(at)
        qtbot.waitUntil(lambda: view.delegate.painted > 0)
        view.viewport().repaint()
        assert view.delegate.painted <= 3 * rows_on_screen * len(Column)
    assert len(view.viewport().findChildren(QWidget)) == 0


def test_all_rows_are_of_one_height(large):
    assert {large.view.rowHeight(n) for n in range(256)} == {large.view.delegate.row_px}


def test_an_answer_for_a_lane_off_screen_draws_no_other_row_anew(large, slow, real, qtbot):
    large.view.scrollToTop()
    with qtbot.waitSignal(large.model.dataChanged) as told:
        slow.give("L200", like(real, "L200", "fail", -0.2))
    assert (told.args[0].row(), told.args[1].row()) == (200, 200)


def test_many_answers_are_gathered_to_few_repaints(large, slow, real, qtbot):
    told = []
    large.model.dataChanged.connect(lambda *_: told.append(1))
    for n in range(256):
        slow.give(f"L{n}", like(real, f"L{n}", "pass", 0.5))
    qtbot.waitUntil(lambda: bool(told))
    assert len(told) == 1
    assert text(large, "L255", Column.HEIGHT) == "+500"


def test_columns_fit_the_left_side_of_the_window_and_no_heading_is_cut(filled, qtbot):
    view, header = filled.view, filled.view.header
    assert header.length() <= view.viewport().width()
    for column in Column:
        assert header.sectionSize(column) >= view.delegate.width_of(column)
        assert HEADINGS[column].title
    filled.resize(392, 200)
    qtbot.waitUntil(view.verticalScrollBar().isVisible)
    bar_px = view.verticalScrollBar().width()
    assert header.length() <= view.viewport().width() + max(bar_px - 10, 0)  # the window's own are 10 wide


def test_everything_that_takes_the_keyboard_has_a_name(filled):
    filled.batch.open_form()
    parts = [part for part in filled.findChildren(QWidget) if part.focusPolicy() & Qt.FocusPolicy.TabFocus]
    shown = [part for part in parts if part.isVisible()]
    assert len(shown) == 8  # filter, two buttons, list; of the form: field, value, two buttons
    assert all(part.accessibleName() or part.text() for part in shown)


def test_both_themes_draw_verdicts_apart_by_shape(filled):
    delegate = filled.view.delegate
    for theme in (LIGHT, DARK):
        filled.set_theme(theme)
        shapes = [delegate._shape(word, theme.ink).toImage() for word in ("pass", "marginal", "fail")]
        assert shapes[0] != shapes[1] != shapes[2] != shapes[0]
        assert not filled.grab().isNull()


def test_the_table_goes_with_its_window(qtbot, document, state, slow):
    table = LaneTable(document, state, slow, LIGHT)
    parts = [weakref.ref(part) for part in (table, table.model, table.view, table.commands)]
    table.deleteLater()
    del table
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
    assert [part() for part in parts] == [None] * 4
