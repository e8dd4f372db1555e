"""Gestures on the path strip by mouse: the board each leaves, one undo step each, Escape, the preview meanwhile."""

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from workbench.board.edits.path import Gap, path_of, set_run_length
from workbench.board.model import Run, Stage
from workbench.desk.strip.gestures import LengthGesture
from workbench.desk.strip.paint import FLAGS_TOP, TRACK_BOTTOM, TRACK_TOP
from workbench.desk.strip.path_strip import PathStrip
from workbench.desk.widgets.theme import LIGHT

pytestmark = pytest.mark.usefixtures("still")

MIDDLE = int((TRACK_TOP + TRACK_BOTTOM) / 2)
STAGE_LANE, PLAIN_LANE = "RX3", "RX2"  # RX3: a stage at place 8 between runs of 90 mm and 160 mm


@pytest.fixture
def strip(qtbot, document, state, computing):
    state.set_lane(STAGE_LANE)
    widget = PathStrip(document, state, computing, LIGHT)
    qtbot.addWidget(widget)
    widget.resize(900, 170)
    widget.show()
    qtbot.waitExposed(widget)
    return widget


class Mouse:
    """Presses, moves and lets go on a widget, with the buttons as they come."""

    def __init__(self, widget):
        self.widget = widget
        self.at = QPointF()

    def _send(self, kind, button, buttons, modifiers=Qt.KeyboardModifier.NoModifier):
        place = self.widget.mapToGlobal(self.at)
        QApplication.sendEvent(self.widget, QMouseEvent(kind, self.at, place, button, buttons, modifiers))

    def press(self, x, y, modifiers=Qt.KeyboardModifier.NoModifier):
        self.at = QPointF(x, y)
        left = Qt.MouseButton.LeftButton
        self._send(QEvent.Type.MouseButtonPress, left, left, modifiers)

    def move(self, x, y):
        steps = 4
        start = self.at
        for n in range(1, steps + 1):
            self.at = start + (QPointF(x, y) - start) * n / steps
            self._send(QEvent.Type.MouseMove, Qt.MouseButton.NoButton, Qt.MouseButton.LeftButton)

    def over(self, x, y):
        self.at = QPointF(x, y)
        self._send(QEvent.Type.MouseMove, Qt.MouseButton.NoButton, Qt.MouseButton.NoButton)

    def release(self):
        self._send(QEvent.Type.MouseButtonRelease, Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton)

    def drag(self, x, y, to_x, to_y):
        self.press(x, y)
        self.move(to_x, to_y)
        self.release()


def centre(strip, at):
    return strip.layout_now.slot(at).centre


def assert_round_trip(document, before, name):
    """The change is one named step: undo brings the board back, redo the change."""
    after = document.board
    assert after != before
    assert document.undo_name == name
    document.undo()
    assert document.board == before
    assert document.undo_name == ""
    document.redo()
    assert document.board == after


def test_dragging_a_element_reorders(strip, document):
    before = document.board
    via = path_of(before, STAGE_LANE)[6]
    edge = strip.layout_now.boundary(4)
    Mouse(strip).drag(centre(strip, 6), MIDDLE, edge + 1, MIDDLE)
    assert path_of(document.board, STAGE_LANE)[4] == via
    assert strip.state.element == 4
    assert_round_trip(document, before, "move midplane via")


def test_a_gap_shows_where_it_lands_while_the_preview_is_shown(strip, document, qtbot):
    mouse = Mouse(strip)
    mouse.press(centre(strip, 6), MIDDLE)
    with qtbot.waitSignal(document.changing):
        mouse.move(strip.layout_now.boundary(4) + 1, MIDDLE)
    assert strip.spot == Gap(4)
    assert document.shown != document.board
    assert path_of(document.shown, STAGE_LANE)[4].part == "midplane via"
    assert not strip.grab().isNull()
    mouse.release()
    assert strip.spot is None
    assert document.shown == document.board


def test_escape_gives_a_drag_up(strip, document, qtbot):
    before = document.board
    mouse = Mouse(strip)
    mouse.press(centre(strip, 6), MIDDLE)
    mouse.move(strip.layout_now.boundary(4) + 1, MIDDLE)
    qtbot.keyClick(strip, Qt.Key.Key_Escape)
    assert document.shown is before
    mouse.move(strip.layout_now.boundary(2), MIDDLE)
    mouse.release()
    assert document.board is before
    assert document.undo_name == ""


def test_dragging_back_to_where_it_was_changes_nothing(strip, document):
    before = document.board
    mouse = Mouse(strip)
    mouse.press(centre(strip, 6), MIDDLE)
    mouse.move(strip.layout_now.boundary(4), MIDDLE)
    mouse.move(strip.layout_now.boundary(6) + 4, MIDDLE)
    mouse.release()
    assert document.board is before


def test_dragging_the_end_of_a_run_changes_its_length(strip, document):
    before = document.board
    slot, scale = strip.layout_now.slot(2), strip.layout_now.metres_per_px
    Mouse(strip).drag(slot.right - 1, MIDDLE, slot.right - 1 + 40, MIDDLE)
    found = path_of(document.board, STAGE_LANE)[2]
    assert found.length_m == pytest.approx(0.18 + 40 * scale, abs=0.0011)
    assert round(found.length_m, 3) == found.length_m
    assert_round_trip(document, before, "set length of control inner pair")


def test_a_run_can_not_be_dragged_to_nothing(strip, document):
    slot = strip.layout_now.slot(2)
    Mouse(strip).drag(slot.right - 1, MIDDLE, 5, MIDDLE)
    assert 0.0 < path_of(document.board, STAGE_LANE)[2].length_m < 0.01


def test_a_stage_slides_and_the_runs_keep_their_sum(strip, document):
    before = document.board
    scale = strip.layout_now.metres_per_px
    Mouse(strip).drag(centre(strip, 8), MIDDLE, centre(strip, 8) + 30, MIDDLE)
    path = path_of(document.board, STAGE_LANE)
    assert path[7].length_m == pytest.approx(0.09 + 30 * scale, abs=0.0011)
    assert path[7].length_m + path[9].length_m == pytest.approx(0.25)
    assert len(path) == len(path_of(before, STAGE_LANE))
    assert_round_trip(document, before, "slide U1 channel 1")


def test_a_stage_dropped_on_another_run_splits_it_and_leaves_one_run_behind(strip, document):
    before = document.board
    Mouse(strip).drag(centre(strip, 8), MIDDLE, centre(strip, 2), MIDDLE)
    path = path_of(document.board, STAGE_LANE)
    assert isinstance(path[3], Stage)
    assert path[2].line == path[4].line == "control inner pair"
    assert path[2].length_m + path[4].length_m == pytest.approx(0.18)
    assert [p.length_m for p in path if isinstance(p, Run) and p.line == "midplane trace"] == [pytest.approx(0.25)]
    assert strip.state.element == 3
    assert_round_trip(document, before, "move U1 channel 1")


def test_a_click_selects_and_changes_nothing(strip, document, qtbot):
    before = document.board
    qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, pos=QPoint(int(centre(strip, 5)), MIDDLE))
    assert strip.state.element == 5
    qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, pos=QPoint(int(centre(strip, -1)), MIDDLE))
    assert strip.state.element == -1
    assert document.board is before


def test_the_other_selected_lanes_follow_when_asked(strip, document):
    strip.state.set_lane(STAGE_LANE, (STAGE_LANE, PLAIN_LANE))
    assert strip.head.all_lanes.isVisible()
    strip.head.all_lanes.setChecked(True)
    before = document.board
    slot = strip.layout_now.slot(2)
    Mouse(strip).drag(slot.right - 1, MIDDLE, slot.right + 39, MIDDLE)
    lengths = {path_of(document.board, lane)[2].length_m for lane in (STAGE_LANE, PLAIN_LANE)}
    assert len(lengths) == 1
    assert lengths != {0.18}
    assert path_of(document.board, "RX1") == path_of(before, "RX1")
    assert_round_trip(document, before, "set length of control inner pair in 2 lanes")


def test_a_lane_without_the_place_is_left_alone_and_named(strip, document):
    strip.state.set_lane(STAGE_LANE, (STAGE_LANE, PLAIN_LANE))
    strip.head.all_lanes.setChecked(True)
    mouse = Mouse(strip)
    mouse.press(centre(strip, 8), MIDDLE)
    mouse.move(centre(strip, 8) + 30, MIDDLE)
    assert "RX2 has no such element" in strip.head.text.accessibleName()
    mouse.release()
    assert document.undo_name == "slide U1 channel 1"


def test_dragging_a_flag_moves_the_probe_point_live(strip, document, qtbot):
    place = strip.pointer.flag_places()[0]
    mouse = Mouse(strip)
    mouse.press(place + 4, FLAGS_TOP + 5)
    with qtbot.waitSignal(strip.state.traces_changed):
        mouse.move(strip.layout_now.boundary(8) + 2, FLAGS_TOP + 5)
    assert strip.state.probes == ("U1 input",)
    qtbot.keyClick(strip, Qt.Key.Key_Escape)
    assert strip.state.probes == ("receiver",)
    mouse.release()
    Mouse(strip).drag(place + 4, FLAGS_TOP + 5, strip.layout_now.boundary(9) + 2, FLAGS_TOP + 5)
    assert strip.state.probes == ("U1 output",)
    assert document.undo_name == ""


def test_clicking_a_boundary_tick_sets_the_flag_and_with_shift_adds_one(strip, qtbot):
    def click(boundary, modifier=Qt.KeyboardModifier.NoModifier):
        place = QPoint(int(strip.layout_now.boundary(boundary)), int(TRACK_TOP) - 6)
        qtbot.mouseClick(strip, Qt.MouseButton.LeftButton, modifier, place)

    click(2)
    assert strip.state.probes == ("after 2",)
    for boundary in (0, 9, 11, 4):
        click(boundary, Qt.KeyboardModifier.ShiftModifier)
    assert strip.state.probes == ("after 2", "transmitter", "U1 output", "after 4")
    assert [trace.probe for trace in strip.state.traces] == list(strip.state.probes)


def test_the_hand_over_the_strip_says_which_element_it_is(strip, qtbot):
    with qtbot.waitSignal(strip.state.hover_changed) as caught:
        Mouse(strip).over(centre(strip, 2), MIDDLE)
    assert caught.args == [2]
    QApplication.sendEvent(strip, QEvent(QEvent.Type.Leave))
    assert strip.state.hovered is None


def test_a_change_from_elsewhere_ends_the_gesture(strip, document):
    mouse = Mouse(strip)
    mouse.press(strip.layout_now.slot(2).right - 1, MIDDLE)
    mouse.move(strip.layout_now.slot(2).right + 40, MIDDLE)
    assert isinstance(strip.pointer.gesture, LengthGesture)
    document.apply("elsewhere", lambda board: set_run_length(board, STAGE_LANE, 0, length_m=0.02))
    assert strip.pointer.gesture is None
    mouse.release()
    assert path_of(document.board, STAGE_LANE)[2].length_m == 0.18
    assert document.undo_name == "elsewhere"


def test_a_double_click_asks_for_the_details(strip, qtbot):
    with qtbot.waitSignal(strip.details_requested):
        qtbot.mouseDClick(strip, Qt.MouseButton.LeftButton, pos=QPoint(int(centre(strip, 3)), MIDDLE))
    assert strip.state.element == 3
