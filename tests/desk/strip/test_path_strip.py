"""The path strip by keys: every edit with its undo round trip, probe points, lists, what is told and shown."""

import gc
import weakref

import pytest
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication

from workbench.board.edits.lanes import remove_lanes
from workbench.board.edits.path import path_of
from workbench.board.model import Run, Stage
from workbench.desk.strip.path_strip import PathStrip
from workbench.desk.widgets.theme import DARK, LIGHT

pytestmark = pytest.mark.usefixtures("still")

LANE = "RX3"  # a stage at place 8 between runs of 90 mm and 160 mm
ALT, CTRL, SHIFT = (
    Qt.KeyboardModifier.AltModifier,
    Qt.KeyboardModifier.ControlModifier,
    Qt.KeyboardModifier.ShiftModifier,
)
KEY = Qt.Key


@pytest.fixture
def strip(qtbot, document, state, computing):
    state.set_lane(LANE)
    widget = PathStrip(document, state, computing, LIGHT)
    qtbot.addWidget(widget)
    widget.resize(900, 400)
    widget.show()
    widget.activateWindow()
    widget.setFocus()
    qtbot.waitUntil(widget.hasFocus)
    return widget


@pytest.fixture
def press(qtbot, strip):
    def pressed(key, modifier=Qt.KeyboardModifier.NoModifier):
        qtbot.keyClick(strip, key, modifier)

    return pressed


def path(strip):
    return path_of(strip.document.board, LANE)


def assert_round_trip(document, before):
    after = document.board
    assert after != before
    document.undo()
    assert document.board == before
    assert document.undo_name == ""
    document.redo()
    assert document.board == after


def test_arrows_walk_from_the_transmitter_to_the_receiver(strip, press):
    press(KEY.Key_Right)
    assert strip.state.element == -1
    press(KEY.Key_Right)
    press(KEY.Key_Right)
    assert strip.state.element == 1
    press(KEY.Key_End)
    assert strip.state.element == len(path(strip))
    press(KEY.Key_Right)
    assert strip.state.element == len(path(strip))
    press(KEY.Key_Home)
    assert strip.state.element == -1
    press(KEY.Key_Left)
    assert strip.state.element == -1


def test_alt_and_an_arrow_move_a_element(strip, press, document):
    before = document.board
    via = path(strip)[6]
    strip.commands.select(6)
    press(KEY.Key_Left, ALT)
    assert path(strip)[5] == via
    assert strip.state.element == 5
    press(KEY.Key_Right, ALT)
    assert document.board == before
    press(KEY.Key_Right, ALT)
    assert path(strip)[7] == via
    document.undo()
    document.undo()
    document.undo()
    assert document.board == before


def test_at_the_end_of_the_path_there_is_nowhere_to_move(strip, press, document):
    before = document.board
    strip.commands.select(len(path(strip)) - 1)
    press(KEY.Key_Right, ALT)
    strip.commands.select(-1)
    press(KEY.Key_Right, ALT)
    assert document.board is before


@pytest.mark.parametrize(
    ("key", "modifier", "factor"),
    [
        (KEY.Key_Plus, Qt.KeyboardModifier.NoModifier, 1.01), (KEY.Key_Equal, Qt.KeyboardModifier.NoModifier, 1.01),
        (KEY.Key_Minus, Qt.KeyboardModifier.NoModifier, 0.99), (KEY.Key_Plus, SHIFT, 1.01),
        (KEY.Key_Plus, CTRL, 1.10), (KEY.Key_Plus, CTRL | SHIFT, 1.10), (KEY.Key_Minus, CTRL, 0.90),
        (KEY.Key_Underscore, SHIFT, 0.99), (KEY.Key_Asterisk, SHIFT, 1.01), (KEY.Key_Equal, CTRL, 1.10),
    ],
)  # fmt: skip
def test_plus_and_minus_change_a_length(strip, press, key, modifier, factor):
    before = strip.document.board
    strip.commands.select(2)
    press(key, modifier)
    assert path(strip)[2].length_m == pytest.approx(0.18 * factor, rel=1e-9)
    assert_round_trip(strip.document, before)


def test_plus_slides_a_stage_by_its_share_of_both_runs(strip, press, document):
    before = document.board
    strip.commands.select(8)
    press(KEY.Key_Plus, CTRL)
    assert [path(strip)[at].length_m for at in (7, 9)] == [pytest.approx(0.115), pytest.approx(0.135)]
    assert_round_trip(document, before)


def test_a_slide_that_has_no_room_is_refused_and_says_so(strip, press, document, qtbot):
    strip.commands.select(8)
    for _ in range(3):
        press(KEY.Key_Minus, CTRL)
    before = document.board
    with qtbot.waitSignal(document.refused) as caught:
        press(KEY.Key_Minus, CTRL)
    assert "can't slide" in caught.args[0]
    assert document.board is before


def test_a_stage_goes_into_the_run_beside_it(strip, press, document):
    strip.commands.select(8)
    before = document.board
    press(KEY.Key_Right, SHIFT | ALT)
    runs = [p.length_m for p in path(strip) if isinstance(p, Run) and p.line == "midplane trace"]
    assert runs == [pytest.approx(0.17), pytest.approx(0.08)]
    assert isinstance(path(strip)[strip.state.element], Stage)
    assert_round_trip(document, before)


def test_delete_takes_out_and_joins_the_run(strip, press, document):
    before = document.board
    strip.commands.select(8)
    press(KEY.Key_Delete)
    assert not [p for p in path(strip) if isinstance(p, Stage)]
    assert path(strip)[7] == Run(line="midplane trace", length_m=0.25)
    assert_round_trip(document, before)


def test_an_end_can_not_be_deleted(strip, press, document):
    before = document.board
    press(KEY.Key_Home)
    press(KEY.Key_Delete)
    assert document.board is before
    assert "can't be done to an end" in strip.head.text.accessibleName()


def test_copy_and_paste_put_a_element_behind_the_selected_one(strip, press, document):
    before = document.board
    strip.commands.select(4)
    press(KEY.Key_C, CTRL)
    strip.commands.select(0)
    press(KEY.Key_V, CTRL)
    assert path(strip)[1] == path_of(before, LANE)[4]
    assert strip.state.element == 1
    assert_round_trip(document, before)


def test_something_else_on_the_clipboard_is_refused_with_a_sentence(strip, press, document):
    before = document.board
    for text in ("not an element", '{"kind": "run"}', ""):
        QApplication.clipboard().setText(text)
        press(KEY.Key_V, CTRL)
        assert document.board is before
        assert "no element on the clipboard" in strip.head.text.accessibleName()


def test_a_pasted_element_of_another_board_that_has_no_entry_here_is_refused(strip, press, document, qtbot):
    before = document.board
    QApplication.clipboard().setText('{"kind": "component", "part": "unheard of"}')
    with qtbot.waitSignal(document.refused):
        press(KEY.Key_V, CTRL)
    assert document.board is before


def test_a_duplicated_stage_gets_a_channel_of_its_own(strip, press, document):
    before = document.board
    strip.commands.select(8)
    press(KEY.Key_D, CTRL)
    first, second = path(strip)[8], path(strip)[9]
    assert first.device == second.device
    assert first.channel != second.channel
    assert_round_trip(document, before)


def test_enter_asks_for_the_details(strip, press, qtbot):
    for key in (KEY.Key_Return, KEY.Key_Enter):
        with qtbot.waitSignal(strip.details_requested):
            press(key)


def typed_into(qtbot, strip, text):
    qtbot.waitUntil(strip.chooser.filter.hasFocus)
    qtbot.keyClicks(strip.chooser.filter, text)


def test_insert_opens_a_list_and_puts_what_is_chosen_behind_the_selected(strip, press, document, qtbot):
    before = document.board
    strip.commands.select(0)
    press(KEY.Key_Insert)
    typed_into(qtbot, strip, "coupling 220")
    qtbot.keyClick(strip.chooser.filter, KEY.Key_Return)
    assert path(strip)[1].part == "coupling 220 nF"
    assert not strip.chooser.isVisible()
    assert strip.hasFocus()
    assert_round_trip(document, before)


def test_replace_keeps_the_length_of_a_run(strip, press, document, qtbot):
    before = document.board
    strip.commands.select(2)
    press(KEY.Key_R)
    typed_into(qtbot, strip, "digitiser trace")
    qtbot.keyClick(strip.chooser.filter, KEY.Key_Return)
    assert path(strip)[2] == Run(line="digitiser trace", length_m=0.18)
    assert_round_trip(document, before)


def test_an_end_is_replaced_by_one_of_its_kind(strip, press, document, qtbot):
    press(KEY.Key_Home)
    press(KEY.Key_R)
    typed_into(qtbot, strip, "driver 1 V fast")
    qtbot.keyClick(strip.chooser.filter, KEY.Key_Return)
    lane = next(lane for lane in document.board.lanes if lane.name == LANE)
    assert lane.transmitter == "driver 1 V fast"
    assert "driver 1 V fast" in [entry.name for entry in document.board.catalogue.transmitters]
    assert strip.state.element == -1


def test_the_list_is_left_by_escape_and_by_going_elsewhere(strip, press, document, qtbot):
    before = document.board
    press(KEY.Key_Insert)
    qtbot.waitUntil(strip.chooser.filter.hasFocus)
    qtbot.keyClick(strip.chooser.filter, KEY.Key_Down)
    assert strip.chooser.list.currentRow() == 1
    qtbot.keyClick(strip.chooser.filter, KEY.Key_Escape)
    assert not strip.chooser.isVisible()
    qtbot.waitUntil(strip.hasFocus)
    press(KEY.Key_Insert)
    qtbot.waitUntil(strip.chooser.filter.hasFocus)
    strip.setFocus()
    qtbot.waitUntil(lambda: not strip.chooser.isVisible())
    assert document.board is before


def test_probe_points_by_keys(strip, press):
    strip.commands.select(2)
    press(KEY.Key_L)
    assert strip.state.probes == ("receiver", "after 3")
    press(KEY.Key_Right, CTRL)
    assert strip.state.probes == ("receiver", "after 4")
    for _ in range(4):
        press(KEY.Key_Right, CTRL)
    assert strip.state.probes == ("receiver", "U1 input")
    press(KEY.Key_Up, CTRL)
    assert strip.flag == 0
    press(KEY.Key_Left, CTRL)
    assert strip.state.probes == ("pins", "U1 input")
    press(KEY.Key_L, SHIFT)
    assert strip.state.probes == ("U1 input",)
    press(KEY.Key_L, SHIFT)
    assert strip.state.probes == ("U1 input",)
    assert "always stays" in strip.head.text.accessibleName()


def test_a_probe_point_that_went_with_its_stage_stays_at_the_boundary(strip, press):
    strip.state.set_probes(("U1 output", "receiver"))
    strip.commands.select(8)
    press(KEY.Key_Delete)
    assert strip.state.probes == ("after 8", "receiver")


def test_all_selected_lanes_change_by_one_key(strip, press, document):
    strip.state.set_lane(LANE, (LANE, "RX1", "RX2"))
    strip.head.all_lanes.setChecked(True)
    assert strip.head.all_lanes.text() == "All 3 selected lanes"
    before = document.board
    strip.commands.select(2)
    press(KEY.Key_Plus)
    assert {path_of(document.board, lane)[2].length_m for lane in (LANE, "RX1", "RX2")} == {0.1818}
    assert document.undo_name == "set length of control inner pair in 3 lanes"
    assert_round_trip(document, before)
    strip.state.set_lane(LANE, (LANE,))
    assert not strip.head.all_lanes.isChecked()


def test_the_strip_tells_what_is_selected(strip, press, qtbot):
    assert strip.accessibleName() == "Path of lane RX3"
    assert "nothing is selected" in strip.accessibleDescription()
    strip.commands.select(2)
    assert strip.accessibleDescription() == (
        "3 of 13: control inner pair, 180 mm, 2.71 dB at Nyquist. Beside it: RX2 at 600 \u00b5m, more than 80 dB down; "
        "RX4 at 600 \u00b5m, more than 80 dB down."
    )
    press(KEY.Key_Plus)
    assert "181.8 mm" in strip.accessibleDescription()
    press(KEY.Key_End)
    assert strip.accessibleDescription() == "Receiver digitiser."
    for button in (strip.head.even, strip.head.all_lanes):
        assert button.accessibleName()


def test_every_command_is_an_action_with_a_name(strip):
    actions = [action for action in strip.actions() if not action.isSeparator()]
    names = [action.objectName() for action in actions]
    assert len(names) == len(set(names)) == 25
    assert all(action.text() for action in actions)


def test_an_action_acts_whoever_asks(strip, document):
    strip.commands.select(8)
    next(action for action in strip.actions() if action.objectName() == "path.remove").trigger()
    assert document.undo_name == "remove U1 channel 1"


def test_without_a_lane_it_says_what_to_do_and_takes_no_harm(strip, press, document, qtbot):
    for name in [lane.name for lane in document.board.lanes]:
        document.apply("clear", lambda board, name=name: remove_lanes(board, [name]))
    strip.state.set_lane("")
    assert strip.accessibleName() == "Path, no lane chosen"
    for key in (KEY.Key_Right, KEY.Key_Plus, KEY.Key_Delete, KEY.Key_Insert, KEY.Key_R, KEY.Key_L):
        press(key)
    qtbot.mouseClick(strip, Qt.MouseButton.LeftButton)
    assert not strip.grab().isNull()


@pytest.mark.campaign
@pytest.mark.usefixtures("working")
def test_the_loss_of_the_lane_comes_when_it_is_known(strip, computing, qtbot):
    qtbot.waitUntil(lambda: LANE in computing.assessments, timeout=20_000)
    found = computing.assessments[LANE]
    assert f"path loss {found.loss_db:.1f} dB" in strip.head.text.accessibleName()


def test_a_long_path_scrolls_to_what_is_selected(strip, press, document, qtbot):
    strip.resize(330, 170)
    strip.commands.select(4)
    for _ in range(12):
        press(KEY.Key_D, CTRL)
    layout = strip.layout_now
    assert layout.width > strip.width()
    press(KEY.Key_End)
    x = layout.slots[-1].right - strip.content(strip.rect().topLeft().toPointF())[0]
    assert 0 < x <= strip.width()
    press(KEY.Key_Home)
    assert strip.content(strip.rect().topLeft().toPointF())[0] == 0.0


def test_both_themes_and_spacings_are_drawn_differently(strip):
    pictures = []
    for theme in (LIGHT, DARK):
        strip.set_theme(theme)
        for even in (False, True):
            strip.head.even.setChecked(even)
            pictures.append(strip.grab().toImage())
    assert all(one != other for number, one in enumerate(pictures) for other in pictures[:number])


def test_it_is_gone_when_it_is_closed(qtbot, document, state, computing):
    widget = PathStrip(document, state, computing, LIGHT)
    gone = weakref.ref(widget)
    widget.show()
    widget.close()
    widget.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    del widget
    gc.collect()
    assert gone() is None
