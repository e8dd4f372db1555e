"""Rows of the lane table dragged: where they land, one step of undo, put back by Escape, refused where sorted."""

import pytest
from PySide6.QtCore import QPoint
from PySide6.QtTest import QTest

from tests.desk.lanes.lane_help import LANES, Key, Left, Mod, Slow, click, head, order, press, shown_table, spot
from workbench.board.edits.lanes import place_lanes
from workbench.desk.lanes.rows import LaneColumn
from workbench.desk.lanes.table import LaneTable


@pytest.fixture
def table(qtbot, document, state) -> LaneTable:
    return shown_table(qtbot, document, state, Slow())


def carry(table: LaneTable, name: str, to: QPoint) -> None:
    """Press on a lane and move the pointer, without letting go."""
    place = table.view.viewport()
    QTest.mousePress(place, Left, Mod.NoModifier, spot(table, name))
    QTest.mouseMove(place, spot(table, name) + QPoint(0, 12))
    QTest.mouseMove(place, to)


def above(table: LaneTable, name: str) -> QPoint:
    """A place in the upper half of a lane's row."""
    rect = table.view.visualRect(table.model.index(table.model.number_of(name), LaneColumn.NAME))
    return QPoint(rect.center().x(), rect.top() + 2)


def let_go(table: LaneTable, place: QPoint) -> None:
    QTest.mouseRelease(table.view.viewport(), Left, Mod.NoModifier, place)


def test_a_row_dragged_lands_where_the_line_is_as_one_step(table, document, state):
    to = above(table, "RX2")
    carry(table, "RX5", to)
    assert table.view.drag.names == ("RX5",)
    assert table.view.drag.gap == 2
    assert document.undo_name == ""
    let_go(table, to)
    assert order(document)[:7] == ("RX0", "RX1", "RX5", "RX2", "RX3", "RX4", "RX6")
    assert document.undo_name == "move RX5"
    assert state.lane == "RX5"
    document.undo()
    assert order(document) == LANES


def test_the_line_is_drawn_in_the_accent_where_the_lanes_land(table):
    to = above(table, "RX3")
    before = table.view.viewport().grab().toImage()
    carry(table, "RX0", to)
    row = table.view.visualRect(table.model.index(3, 0)).top()
    after = table.view.viewport().grab().toImage()
    places = [(x, row) for x in range(40, 200, 10)]
    assert all(after.pixelColor(x, y) != before.pixelColor(x, y) for x, y in places)
    let_go(table, to)


def test_escape_puts_back_what_is_in_hand(table, document):
    to = above(table, "RX1")
    carry(table, "RX6", to)
    press(table, Key.Key_Escape)
    assert table.view.drag.names == ()
    let_go(table, to)
    assert order(document) == LANES
    assert document.undo_name == ""


def test_let_go_far_outside_or_in_its_own_place_nothing_moves(table, document):
    carry(table, "RX3", QPoint(2_000, 40))
    assert table.view.drag.gap is None
    let_go(table, QPoint(2_000, 40))
    carry(table, "RX3", above(table, "RX4"))
    let_go(table, above(table, "RX4"))
    assert order(document) == LANES
    assert document.undo_name == ""


def test_several_selected_lanes_move_together_and_stay_selected(table, document, state, qtbot):
    click(table, "RX1")
    click(table, "RX3", Mod.ControlModifier)
    qtbot.waitUntil(lambda: set(state.lanes) == {"RX1", "RX3"})
    to = above(table, "RX6")
    carry(table, "RX3", to)
    let_go(table, to)
    assert order(document)[:7] == ("RX0", "RX2", "RX4", "RX5", "RX1", "RX3", "RX6")
    assert set(state.lanes) == {"RX1", "RX3"}
    assert document.undo_name == "move 2 lanes"


def test_a_click_on_one_of_several_makes_it_the_only_one(table, state, qtbot):
    click(table, "RX1")
    click(table, "RX3", Mod.ShiftModifier)
    qtbot.waitUntil(lambda: len(state.lanes) == 3)
    click(table, "RX2")
    qtbot.waitUntil(lambda: state.lanes == ("RX2",))
    assert state.lane == "RX2"


def test_a_sorted_table_says_why_lanes_cannot_be_moved(table, document):
    head(table, LaneColumn.LENGTH)
    said = []
    document.refused.connect(said.append)
    first, last = table.model.names()[0], table.model.names()[4]
    carry(table, last, above(table, first))
    let_go(table, above(table, first))
    assert order(document) == LANES
    assert said == ["the table is sorted by length; choose the board's order (0) to move lanes"]


def test_placing_keeps_lanes_that_are_not_listed_where_they_are(document):
    board = place_lanes(document.board, ("RX9",), 0, ("RX2", "RX9", "RX11"))
    names = tuple(lane.name for lane in board.lanes)
    assert (names[2], names[9], names[11]) == ("RX9", "RX2", "RX11")
    assert tuple(n for k, n in enumerate(names) if k not in (2, 9)) == tuple(
        n for k, n in enumerate(LANES) if k not in (2, 9)
    )
