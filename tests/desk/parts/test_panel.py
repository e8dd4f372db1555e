"""Parts: what it offers, the drag into the path, the same by keys, starters and new devices."""

import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication, QVBoxLayout, QWidget

from workbench.board.edits.part_items import PartItem, made, part_groups
from workbench.board.edits.path import path_of
from workbench.board.model import Run, Stage
from workbench.desk.parts.panel import PartsPanel
from workbench.desk.strip.paint import TRACK_BOTTOM, TRACK_TOP
from workbench.desk.strip.path_strip import PathStrip
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.errors import EditError

pytestmark = pytest.mark.usefixtures("still")

LANE = "RX2"  # no stage
QUAD = PartItem("entry", "conditioners", "PCIe limiting quad")
MIDDLE = (TRACK_TOP + TRACK_BOTTOM) / 2


class Bench(QWidget):
    def __init__(self, document, state, computing):
        super().__init__()
        self.strip = PathStrip(document, state, computing, LIGHT)
        self.section = PartsPanel(document, state, LIGHT)
        self.strip.follow(self.section.drag)
        box = QVBoxLayout(self)
        box.addWidget(self.strip)
        box.addWidget(self.section)


@pytest.fixture
def bench(qtbot, document, state, computing):
    state.set_lane(LANE)
    widget = Bench(document, state, computing)
    qtbot.addWidget(widget)
    widget.resize(900, 700)
    widget.show()
    widget.activateWindow()
    qtbot.waitExposed(widget)
    return widget


class Pull:
    """A pointer that takes a row of Parts and goes to places on the strip."""

    def __init__(self, bench, item):
        self.bench, self.list = bench, bench.section.list
        bench.section.mark(item)
        row = self.list.currentItem()
        assert row.text(0) == item.name
        self.list.scrollToItem(row)
        self.at = QPointF(self.list.visualItemRect(row).center())
        self._send(QEvent.Type.MouseButtonPress, Qt.MouseButton.LeftButton, Qt.MouseButton.LeftButton)

    def _send(self, kind, button, buttons, modifiers=Qt.KeyboardModifier.NoModifier):
        port = self.list.viewport()
        place = port.mapToGlobal(self.at)
        QApplication.sendEvent(port, QMouseEvent(kind, self.at, place, button, buttons, modifiers))

    def over(self, x, y=MIDDLE, modifiers=Qt.KeyboardModifier.NoModifier):
        target = self.list.viewport().mapFromGlobal(self.bench.strip.mapToGlobal(QPointF(x, y)))
        for share in (0.3, 0.7, 1.0):
            self.at += (target - self.at) * share
            self._send(QEvent.Type.MouseMove, Qt.MouseButton.NoButton, Qt.MouseButton.LeftButton, modifiers)

    def release(self, modifiers=Qt.KeyboardModifier.NoModifier):
        self._send(QEvent.Type.MouseButtonRelease, Qt.MouseButton.LeftButton, Qt.MouseButton.NoButton, modifiers)


def said(bench):
    return bench.strip.head.text.accessibleName()


def assert_round_trip(document, before, name):
    after = document.board
    assert document.undo_name == name
    document.undo()
    assert document.board == before
    document.redo()
    assert document.board == after


def test_a_conditioner_dragged_into_a_run_splits_it_and_says_whose_channel_it_takes(bench, document):
    before = document.board
    pull = Pull(bench, QUAD)
    pull.over(bench.strip.layout_now.slot(7).centre)
    assert "U1 channel 4, sharing its settings with RX3" in said(bench)
    assert document.shown != document.board
    pull.release()
    path = path_of(document.board, LANE)
    assert path[8] == Stage(device="U1", channel=4)
    assert path[7].length_m + path[9].length_m == pytest.approx(0.49)
    assert document.board.devices == before.devices
    assert bench.strip.state.element == 8
    assert bench.section.drag.item is None
    assert_round_trip(document, before, "insert PCIe limiting quad")


def test_with_shift_it_comes_on_a_new_device(bench, document):
    before = document.board
    shift = Qt.KeyboardModifier.ShiftModifier
    pull = Pull(bench, QUAD)
    pull.over(bench.strip.layout_now.slot(7).centre, modifiers=shift)
    assert "as a new device U5, channel 1" in said(bench)
    pull.release(shift)
    assert path_of(document.board, LANE)[8] == Stage(device="U5", channel=1)
    assert [device.ref for device in document.board.devices] == ["U1", "U2", "U3", "U4", "U5"]
    assert_round_trip(document, before, "insert PCIe limiting quad")


def test_several_lanes_share_the_new_device(bench, document):
    lanes = ("RX13", "RX14", "RX15")
    bench.strip.state.set_lane(lanes[0], lanes)
    bench.strip.head.all_lanes.setChecked(True)
    bench.strip.commands.select(7)
    bench.strip.commands.insert(QUAD, fresh=True, inside=True)
    stages = [path_of(document.board, lane)[8] for lane in lanes]
    assert stages == [Stage(device="U5", channel=n) for n in (1, 2, 3)]
    assert document.undo_name == "insert PCIe limiting quad in 3 lanes"


def test_a_device_row_gives_its_own_free_channel(bench, document):
    pull = Pull(bench, PartItem("channel", "devices", "U3"))
    pull.over(bench.strip.layout_now.slot(7).centre)
    pull.release()
    assert path_of(document.board, LANE)[8] == Stage(device="U3", channel=3)


def test_a_via_dragged_near_a_boundary_lands_in_the_gap(bench, document):
    pull = Pull(bench, PartItem("entry", "vias", "midplane via"))
    pull.over(bench.strip.layout_now.boundary(2) + 2)
    assert "between card via and control inner pair" in said(bench)
    pull.release()
    assert path_of(document.board, LANE)[2].part == "midplane via"


def test_escape_puts_it_back(bench, document, qtbot):
    before = document.board
    pull = Pull(bench, QUAD)
    pull.over(bench.strip.layout_now.slot(7).centre)
    qtbot.keyClick(bench.section.list, Qt.Key.Key_Escape)
    assert document.shown is before
    assert bench.strip.pointer.gesture is None
    pull.release()
    assert document.board is before
    assert document.undo_name == ""


def test_let_go_beside_the_strip_nothing_is_inserted(bench, document):
    before = document.board
    pull = Pull(bench, QUAD)
    pull.over(bench.strip.layout_now.slot(7).centre)
    pull.over(300.0, bench.strip.height() + 200.0)
    assert document.shown is before
    pull.release()
    assert document.board is before


@pytest.mark.campaign
def test_a_transmitter_dropped_anywhere_becomes_the_lane_s(bench, document):
    bench.section.filter.setText("driver 1 V fast")
    before = document.board
    pull = Pull(bench, PartItem("starter", "transmitters", "driver 1 V fast", "ends"))
    pull.over(bench.strip.layout_now.slot(7).centre)
    assert "as the transmitter" in said(bench)
    pull.release()
    assert document.board.lanes[2].transmitter == "driver 1 V fast"
    assert document.board.lanes[1] == before.lanes[1]
    assert_round_trip(document, before, "set transmitter driver 1 V fast")


def test_a_starter_entry_brings_what_it_refers_to(bench, document):
    before = document.board
    bench.strip.commands.select(0)
    bench.section.mark(PartItem("starter", "vias", "back-drilled via", "low-loss-board"))
    bench.section.insert()
    assert path_of(document.board, LANE)[1].part == "back-drilled via"
    assert "low-loss laminate" in [entry.name for entry in document.board.catalogue.dielectrics]
    assert_round_trip(document, before, "insert back-drilled via")


def test_a_starter_entry_can_be_added_without_being_used(bench, document):
    before = document.board
    bench.section.mark(PartItem("starter", "cables", "twinax 28 AWG", "cable-assembly"))
    bench.section.add()
    assert [entry.name for entry in document.board.catalogue.cables] == ["twinax 28 AWG"]
    assert document.board.lanes == before.lanes
    titles = [group.title for group in part_groups(document.board)]
    assert "Cables" in titles
    assert_round_trip(document, before, "add twinax 28 AWG to the catalogue")


def test_enter_inserts_behind_the_selected_and_control_enter_into_the_middle(bench, document, qtbot):
    before = document.board
    bench.strip.commands.select(2)
    bench.section.mark(PartItem("entry", "capacitors", "coupling 220 nF"))
    bench.section.list.setFocus()
    qtbot.waitUntil(bench.section.list.hasFocus)
    qtbot.keyClick(bench.section.list, Qt.Key.Key_Return)
    assert path_of(document.board, LANE)[3].part == "coupling 220 nF"
    document.undo()
    bench.strip.commands.select(2)
    qtbot.keyClick(bench.section.list, Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
    path = path_of(document.board, LANE)
    assert path[2] == path[4] == Run(line="control inner pair", length_m=0.09, bundle="control inner pair")
    assert path[3].part == "coupling 220 nF"
    assert_round_trip(document, before, "insert coupling 220 nF")
    bench.section.mark(QUAD)
    qtbot.keyClick(bench.section.list, Qt.Key.Key_Return, Qt.KeyboardModifier.ShiftModifier)
    assert document.board.devices[-1].ref == "U5"


def test_what_lines_are_made_of_is_not_dragged_and_says_why(bench, document, qtbot):
    before = document.board
    laminate = PartItem("entry", "dielectrics", "mid-loss laminate")
    pull = Pull(bench, laminate)
    pull.over(bench.strip.layout_now.slot(7).centre)
    pull.release()
    assert document.board is before
    bench.section.mark(laminate)
    with qtbot.waitSignal(bench.section.said) as caught:
        bench.section.insert()
    assert "it can't be placed on a path" in caught.args[0]
    with pytest.raises(EditError, match="it can't be placed on a path"):
        made(before, LANE, laminate)


def test_the_filter_leaves_what_has_every_word(bench):
    rows = bench.section.list.rows()
    bench.section.filter.setText("Via midplane")
    assert [row.text(0) for row in rows if not row.isHidden()] == ["midplane via"]
    bench.section.filter.setText("nothing like this")
    assert bench.section.empty.isVisible()
    bench.section.filter.setText("")
    assert not bench.section.empty.isVisible()
    assert not any(row.isHidden() for row in rows)


def test_marking_an_entry_tells_the_details_form(bench, qtbot):
    with qtbot.waitSignal(bench.section.entry_selected) as caught:
        bench.section.mark(PartItem("entry", "vias", "card via"))
    assert caught.args == ["vias", "card via"]


def test_the_section_follows_the_board_and_keeps_what_is_marked(bench, document):
    bench.section.mark(QUAD)
    bench.strip.commands.select(7)
    bench.strip.commands.insert(PartItem("channel", "devices", "U1"))
    assert bench.section.list.current() == QUAD
    free = [row.text(0) for row in bench.section.list.rows() if row.data(0, Qt.ItemDataRole.UserRole).kind == "channel"]
    assert free == ["U2", "U3", "U4"]
    document.undo()
    assert bench.section.list.rows()[0].text(0) == "U1"


def test_groups_stand_in_the_order_of_a_path_and_count_their_use(document):
    groups = part_groups(document.board)
    titles = [group.title for group in groups]
    assert titles[:5] == ["Free channels", "Lines", "Vias", "Connectors", "Capacitors"]
    filled = [bool(group.rows) for group in groups if "starter" not in group.title]
    assert filled == sorted(filled, reverse=True)  # headings under which there is nothing yet come last
    assert all(group.rows or group.section for group in groups)
    by_name = {row.item.name: row.note for group in groups[:7] for row in group.rows}
    assert by_name["control inner pair"] == "16 lanes"
    assert by_name["U3"] == "channels 3, 4"


def test_themes_change_what_is_drawn(bench):
    light = bench.section.grab().toImage()
    bench.section.set_theme(DARK)
    assert bench.section.grab().toImage() != light
