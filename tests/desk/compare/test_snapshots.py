"""Comparison: lanes, kept states and other straps beside the current lane, and the table that compares them."""

import pytest
from msgspec.structs import replace
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from workbench.board.edits.catalogue import replace_entry
from workbench.board.edits.lanes import remove_lanes
from workbench.board.edits.path import set_run_length
from workbench.board.model import Stage
from workbench.desk.background.runner import Runner
from workbench.desk.compare.snapshots import Comparison, TraceVerdicts
from workbench.desk.compare.table import MINUS, CompareTable
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ShownTrace, ViewState
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.parts.conditioners.conditioner import Conditioner

LOSS, CURSOR, HEIGHT, WIDTH, VERDICT = 1, 2, 3, 4, 5


@pytest.fixture
def beside(document: Document, state: ViewState) -> Comparison:
    return Comparison(document, state)


@pytest.fixture
def judged(document: Document, computing: Computing, runner: Runner) -> TraceVerdicts:
    return TraceVerdicts(document, computing, runner)


@pytest.fixture
def table(document: Document, state: ViewState, beside: Comparison, judged: TraceVerdicts, request) -> CompareTable:
    computing, qtbot = request.getfixturevalue("computing"), request.getfixturevalue("qtbot")
    widget = CompareTable(document, state, computing, LIGHT, beside=beside, judged=judged)
    widget.resize(600, 200)
    qtbot.addWidget(widget)
    return widget


def longer(board):
    return set_run_length(board, "RX0", 2, length_m=0.4)


def cell(table: CompareTable, row: int, column: int) -> str:
    item = table.table.item(row, column)
    return item.text() if item is not None else ""


def figure(table: CompareTable, row: int, column: int) -> float:
    return float(cell(table, row, column).replace(MINUS, "-"))


def filled(table: CompareTable, rows: int) -> bool:
    texts = [cell(table, row, column) for row in range(rows) for column in range(6)]
    return table.table.rowCount() == rows and all(text and text != "…" for text in texts)


def test_selected_lanes_come_beside_the_current_one_up_to_four(state, beside):
    beside.put_lanes(("RX0", "RX1", "RX2", "RX3", "RX4"))
    assert state.traces == (
        ShownTrace("RX0", "receiver"),
        *(ShownTrace(name, "receiver") for name in ("RX1", "RX2", "RX3")),
    )
    assert beside.full


def test_a_lane_beside_itself_is_shown_once_and_comes_back_when_another_is_current(state, beside):
    beside.put_lanes(("RX1", "RX2"))
    state.set_lane("RX1")
    assert [trace.lane for trace in state.traces] == ["RX1", "RX2"]
    state.set_lane("RX0")
    assert [trace.lane for trace in state.traces] == ["RX0", "RX1", "RX2"]


def test_the_panes_never_hear_of_a_trace_twice(state, beside):
    heard = []
    state.traces_changed.connect(lambda: heard.append(state.traces))
    beside.put_lanes(("RX1", "RX2"))
    state.set_lane("RX1")
    assert heard
    assert all(len(set(traces)) == len(traces) for traces in heard)


def test_a_pin_stays_as_it_was_while_the_board_goes_on(document, state, beside):
    before = document.board
    assert beside.snapshot() == "snapshot 1"
    document.apply("lengthen", longer)
    assert document.snapshots["snapshot 1"] == before
    assert state.traces == (ShownTrace("RX0", "receiver"), ShownTrace("RX0", "receiver", "snapshot 1"))
    assert beside.snapshot() == "snapshot 2"


def test_pins_follow_the_current_lane(state, beside):
    beside.snapshot("as drawn")
    state.set_lane("RX5")
    assert state.traces == (ShownTrace("RX5", "receiver"), ShownTrace("RX5", "receiver", "as drawn"))


@pytest.mark.campaign
def test_pinning_under_a_taken_name_computes_the_new_state(qtbot, document, beside, computing):
    beside.snapshot("kept")
    trace = ShownTrace("RX0", "receiver", "kept")
    qtbot.waitUntil(lambda: trace in computing.views, timeout=10_000)
    before = computing.views[trace].eye.height_v
    document.apply("lengthen", longer)
    beside.snapshot("kept")
    qtbot.waitUntil(lambda: trace in computing.views and computing.views[trace].eye.height_v < before, timeout=10_000)


def test_a_lane_that_leaves_the_board_leaves_the_comparison(document, state, beside):
    beside.put_lanes(("RX1", "RX2"))
    document.apply("delete RX1", lambda board: remove_lanes(board, ["RX1"]))
    assert [trace.lane for trace in state.traces] == ["RX0", "RX2"]


def test_another_setting_position_is_put_beside_without_touching_the_board(document, state, beside):
    lane = next(one for one in document.board.lanes if any(isinstance(place, Stage) for place in one.path))
    state.set_lane(lane.name)
    device = next(place.device for place in lane.path if isinstance(place, Stage))
    fitted = next(one for one in document.board.devices if one.ref == device)
    part = next(
        one for one in document.board.catalogue.conditioners
        if isinstance(one, Conditioner) and one.name == fitted.part
    )  # fmt: skip
    other = next(one.setting for one in part.positions("swing") if one.setting != fitted.settings["swing"])
    before = document.board
    name = beside.put_setting(device, "swing", other)
    assert document.board is before
    assert state.traces[1] == ShownTrace(lane.name, "receiver", name)
    kept = next(one for one in document.snapshots[name].devices if one.ref == device)
    assert kept.settings["swing"] == other


def test_a_setting_of_the_lanes_own_channel_is_put_beside(document, state, beside):
    part = document.board.catalogue.conditioners[0]
    own = replace(part, per_channel=("equalization",))
    document.apply("own", lambda board: replace_entry(board, "conditioners", part.name, own))
    state.set_lane("RX4")
    name = beside.put_setting("U1", "equalization", "5", channel=2)
    assert name == "U1 channel 2 equalization 5"
    device = document.snapshots[name].devices[0]
    assert [device.on_channel(n)["equalization"] for n in (1, 2, 3)] == ["1", "5", "1"]


def test_a_setting_position_that_is_not_there_is_told(qtbot, document, beside):
    with qtbot.waitSignal(document.refused):
        assert beside.put_setting("U1", "swing", "11") == ""


def test_clearing_leaves_the_current_lane_and_keeps_the_snapshots(document, state, beside):
    beside.snapshot("kept")
    state.set_probes(("receiver", "pins"))
    beside.clear()
    assert state.traces == (ShownTrace("RX0", "receiver"),)
    beside.put_snapshot("kept")
    assert len(state.traces) == 2
    beside.forget()
    assert document.snapshots == {}


@pytest.mark.campaign
def test_the_table_appears_only_while_several_traces_are_shown(qtbot, state, beside, table):
    table.show()
    qtbot.waitUntil(lambda: table.table.rowCount() == 0)
    beside.put_lanes(("RX1",))
    qtbot.waitUntil(lambda: filled(table, 3), timeout=20_000)
    assert not table.isHidden()
    beside.clear()
    qtbot.waitUntil(table.isHidden)


@pytest.mark.campaign
def test_differences_are_what_the_figures_say(qtbot, document, beside, table):
    beside.snapshot("as drawn")
    document.apply("lengthen", longer)
    qtbot.waitUntil(lambda: filled(table, 3) and figure(table, 2, LOSS) != 0.0, timeout=20_000)
    for column, digits in ((LOSS, 0.11), (CURSOR, 0.11), (HEIGHT, 0.11), (WIDTH, 1.1e-3)):
        now, kept, more = (figure(table, row, column) for row in range(3))
        assert more == pytest.approx(now - kept, abs=digits)
    assert figure(table, 2, LOSS) > 0.0 > figure(table, 2, HEIGHT)  # the run is longer now
    assert table.table.item(2, 0).text() == f"now {MINUS} as drawn"
    heads = [table.table.horizontalHeaderItem(column).text().replace("\n", " ") for column in range(6)]
    assert heads[1:5] == ["End-to-end loss dB", "Cursor mV", "Eye height mV", "Eye width UI"]
    assert cell(table, 0, VERDICT) in ("pass", "not judged", "marginal", "fail")
    assert cell(table, 2, VERDICT) in ("the same", "worse")


def test_delete_takes_a_row_out_of_the_comparison(qtbot, state, beside, table):
    table.show()
    beside.put_lanes(("RX1", "RX2"))
    qtbot.waitUntil(lambda: table.table.rowCount() == 5)
    table.table.setCurrentCell(1, 0)
    QTest.keyClick(table.table, Qt.Key.Key_Delete)
    assert [trace.lane for trace in state.traces] == ["RX0", "RX2"]


def test_the_rows_wear_the_traces_colours_in_both_themes(qtbot, beside, table):
    beside.put_lanes(("RX1",))
    qtbot.waitUntil(lambda: table.table.rowCount() == 3)
    for theme in (DARK, LIGHT):
        table.set_theme(theme)
        inks = [table.table.item(row, 0).foreground().color().name() for row in range(2)]
        assert inks == list(theme.traces[:2])


@pytest.mark.campaign
def test_a_snapshot_of_the_board_as_it_is_is_judged_as_the_board(qtbot, state, beside, computing, table):
    for lane in ("RX0", "RX15"):
        state.set_lane(lane)
        beside.snapshot(f"{lane} now")
        qtbot.waitUntil(lambda: filled(table, 3), timeout=20_000)
        assert cell(table, 0, VERDICT) == cell(table, 1, VERDICT)
        assert cell(table, 2, VERDICT) == "the same"
        assert [figure(table, 2, column) for column in (LOSS, CURSOR, HEIGHT, WIDTH)] == [0.0] * 4
        beside.clear()


@pytest.mark.campaign
def test_a_narrow_table_keeps_figures_verdicts_and_every_row_in_view(table, state, beside, qtbot):
    beside.put_lanes(("RX0", "RX1", "RX2"))
    qtbot.waitUntil(lambda: filled(table, 5), timeout=60_000)
    table.resize(540, table.height_wanted())
    table.show()
    inner = table.table
    assert not inner.horizontalScrollBar().maximum()
    assert not inner.verticalScrollBar().maximum()
    assert inner.columnViewportPosition(VERDICT) + inner.columnWidth(VERDICT) <= inner.viewport().width()
