"""The lane table: fills, sorts, filters, selects; edits one lane or many by keys and mouse, each one step of undo."""

import gc
import weakref

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QCoreApplication, QEvent, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit, QWidget

from tests.desk.lanes.lane_help import (
    LANES,
    Key,
    Mod,
    Slow,
    click,
    fill,
    head,
    like,
    order,
    press,
    real_assessment,
    shown_table,
    text,
)
from workbench.board.edits.lane_fields import LaneField, with_value
from workbench.desk.lanes.paint import PAD_PX
from workbench.desk.lanes.rows import HEADINGS, ON_DEMAND, LaneColumn, natural
from workbench.desk.lanes.table import LaneTable
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import DARK, LIGHT
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


# --- filling


def test_rows_show_what_the_board_knows_at_once_and_the_rest_when_it_comes(table, slow, real, qtbot):
    assert table.model.names() == LANES
    assert text(table, "RX2", LaneColumn.LENGTH) == "854"
    assert text(table, "RX2", LaneColumn.VERDICT) == "…"
    slow.give("RX2", real)
    qtbot.waitUntil(lambda: text(table, "RX2", LaneColumn.VERDICT) == real.margin.verdict)
    assert text(table, "RX2", LaneColumn.LOSS) == f"{real.loss_db:.1f}"
    assert table.model.row(2).bars[1] == 1.0


@pytest.mark.campaign
@pytest.mark.usefixtures("working")
def test_the_real_engine_fills_the_table(qtbot, document, state, computing):
    table = LaneTable(document, state, computing, DARK)
    qtbot.addWidget(table)
    qtbot.waitUntil(lambda: text(table, "RX0", LaneColumn.VERDICT) == "pass", timeout=20_000)
    assert text(table, "RX0", LaneColumn.HEIGHT).startswith("+")


def test_a_changed_lane_is_stale_until_its_answer_and_looks_so_only_if_that_lasts(filled, document, slow, real, qtbot):
    document.apply("longer", lambda board: with_value(board, ("RX1",), LaneField("run", "", "3"), 0.2))
    row = filled.model.row(1)
    assert row.stale
    assert not row.late
    assert filled.model.row(2).stale  # it lies beside
    assert not filled.model.row(3).stale
    qtbot.waitUntil(lambda: filled.model.row(1).late)
    slow.give("RX1", like(real, "RX1", "pass", 0.2))
    assert not filled.model.row(1).stale


def test_a_preview_shows_its_length_and_leaves_nothing_stale_when_it_is_cancelled(filled, document):
    document.preview(lambda board: with_value(board, ("RX1", "RX3"), LaneField("run", "", "3"), 0.5))
    assert filled.model.row(1).stale
    assert text(filled, "RX1", LaneColumn.LENGTH) != "514"
    document.cancel_preview()
    assert text(filled, "RX1", LaneColumn.LENGTH) == "514"
    assert not any(filled.model.row(n).stale for n in range(16))


def test_what_is_told_of_a_cell_names_judgement_and_findings(filled):
    tip = filled.model.index(2, LaneColumn.VERDICT).data(Qt.ItemDataRole.ToolTipRole)
    assert tip.startswith("Pass at BER 1e-12; limits: ")
    for finding in filled.model.row(2).found.findings[:6]:
        assert finding.text in tip
    spoken = filled.model.index(2, LaneColumn.LENGTH).data(Qt.ItemDataRole.AccessibleTextRole)
    assert spoken == "Length 854 mm"


# --- sorting and filtering


def test_numbers_sort_as_numbers_and_what_is_not_known_comes_last_either_way(filled):
    filled.model.sort_by(LaneColumn.HEIGHT)
    assert filled.model.names()[:2] == ("RX9", "RX4")
    assert filled.model.names()[-1] == "RX7"
    filled.model.sort_by(LaneColumn.HEIGHT, descending=True)
    assert filled.model.names()[0] == "RX0"
    assert filled.model.names()[-1] == "RX7"


def test_names_sort_by_their_numbers():
    assert sorted(["RX10", "RX2", "ax", "RX2b"], key=natural) == ["ax", "RX2", "RX2b", "RX10"]


def test_a_click_on_a_heading_sorts_then_turns_then_gives_the_boards_order_back(filled):
    for wanted in (LANES, LANES[::-1], LANES):
        head(filled, LaneColumn.LOSS)
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


def test_enter_goes_down_a_lane_wherever_the_keyboard_is_and_ctrl_enter_takes_the_lane(filled, state, qtbot):
    taken = []
    filled.lane_chosen.connect(taken.append)
    for key, modifier, lane in (
        (Key.Key_Return, Mod.NoModifier, "RX1"), (Key.Key_Enter, Mod.NoModifier, "RX2"),
        (Key.Key_Return, Mod.ShiftModifier, "RX1"),
    ):  # fmt: skip
        press(filled, key, modifier)
        qtbot.waitUntil(lambda lane=lane: (state.lane, state.lanes) == (lane, (lane,)))
    press(filled, Key.Key_F2)  # a name that stays as it is
    QTest.keyClick(filled.view.findChild(QLineEdit), Key.Key_Return)
    qtbot.waitUntil(lambda: state.lane == "RX2")
    assert taken == []
    press(filled, Key.Key_Return, Mod.ControlModifier)
    assert taken == ["RX2"]
    state.set_lane("RX15")
    press(filled, Key.Key_Return)
    qtbot.wait(1)
    assert state.lane == "RX15"


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
    filled.model.sort_by(LaneColumn.LENGTH, descending=True)
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


# --- size and looks


@pytest.fixture
def large(qtbot, document: Document, state: ViewState, slow: Slow, real: LaneAssessment) -> LaneTable:
    plain = document.board.lanes[0]
    lanes = tuple(replace(plain, name=f"L{n}") for n in range(256))
    document.replace(replace(document.board, lanes=lanes), None)
    state.set_lane("L0")
    for n in range(256):
        slow.assessments[f"L{n}"] = like(real, f"L{n}", ("pass", "marginal", "fail")[n % 3], 0.001 * n)
    return shown_table(qtbot, document, state, slow)


def test_scrolling_256_lanes_draws_what_is_on_screen_and_asks_nothing_of_the_others(large, qtbot):
    view = large.view
    rows_on_screen = view.viewport().height() // view.delegate.row_px + 2
    bar = view.verticalScrollBar()
    for at in (bar.maximum() // 2, bar.maximum()):
        view.delegate.painted = 0
        bar.setValue(at)
        qtbot.waitUntil(lambda: view.delegate.painted > 0)
        view.viewport().repaint()
        assert view.delegate.painted <= 3 * rows_on_screen * len(LaneColumn)
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
    assert text(large, "L255", LaneColumn.HEIGHT) == "+500"


def test_columns_fit_the_left_side_of_the_window_and_no_heading_is_cut(filled, qtbot):
    view, header = filled.view, filled.view.header
    assert header.length() <= view.viewport().width()
    for column in view.columns:
        qtbot.waitUntil(lambda column=column: header.sectionSize(column) >= view.delegate.width_of(column))
        assert HEADINGS[column].title
    assert header.length() <= view.viewport().width()
    filled.resize(448, 200)
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
        shapes = [delegate._shape(word, theme.ink).toImage() for word in ("pass", "not judged", "marginal", "fail")]
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


def test_columns_are_chosen_kept_as_text_and_copied_for_a_spreadsheet(filled, real, qapp):
    usual = filled.view.columns
    for column in ON_DEMAND:
        filled.show_column(column)
    filled.show_column(LaneColumn.PROFILE, False)
    kept = filled.columns_state
    assert text(filled, "RX0", LaneColumn.EYE_HEIGHT) == f"{real.eye.height_v * 1e3:.0f}".replace("-", "−")
    assert text(filled, "RX0", LaneColumn.DELAY) == f"{real.delay_s * 1e9:.2f}"
    taps = text(filled, "RX0", LaneColumn.TAPS)
    assert len(taps.split()) == len(real.equalizer.dfe_taps_v) or taps == "–"
    filled.view.select("RX2", ("RX2", "RX3"))
    filled.copy_figures()
    head, first, second = (line.split("\t") for line in qapp.clipboard().text().split("\n"))
    assert len(head) == len(first) == len(second) == len(filled.view.columns) - 1  # all but the pulse's picture
    assert (first[head.index("Lane")], second[head.index("Lane")]) == ("RX2", "RX3")
    assert "Height margin mV" in head
    filled.view.show_columns(usual)
    filled.restore_columns(kept)
    assert set(filled.view.columns) == {*LaneColumn} - {LaneColumn.PROFILE}
    filled.show_column(LaneColumn.NAME, False)
    assert LaneColumn.NAME in filled.view.columns


def test_a_loss_above_a_hundred_keeps_its_digits(filled, slow, real, qtbot):
    slow.give("RX5", like(real, "RX5", "fail", -0.1, 123.4))
    qtbot.waitUntil(lambda: text(filled, "RX5", LaneColumn.LOSS) == "123.4")
    view = filled.view
    needed = view.delegate.metrics.horizontalAdvance("123.4")
    qtbot.waitUntil(lambda: view.columnWidth(LaneColumn.LOSS) >= needed + 2 * PAD_PX)
