"""The palette: what it finds, in which order, and that it can be used without a mouse."""

import gc
import weakref

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QVBoxLayout, QWidget

from workbench.desk.find.palette import Palette
from workbench.desk.find.search import Item, find, match
from workbench.desk.widgets.theme import DARK, LIGHT

LETTERS = st.text(alphabet="abcde XYZ10-", max_size=20)


def test_letters_are_found_in_order_whatever_their_case():
    assert match("mpv", "Midplane via").places == (0, 3, 9)
    assert match("VIA", "Midplane via").places == (9, 10, 11)
    assert match("vm", "Midplane via") is None
    assert match("", "Midplane via").places == ()


def test_words_may_be_typed_in_any_order():
    assert match("via mid", "Midplane via") is not None
    assert match("via mud", "Midplane via") is None


@pytest.mark.parametrize(("typed", "better", "worse"), [
    ("sa", "Save as", "Lossy cable"),  # the beginning of a word
    ("via", "card via", "vertical inlay"),  # together rather than apart
    ("rx1", "RX1", "RX13"),  # the shorter one
    ("sa", "Save as...", "Select all lanes of the board"),  # a whole beginning rather than initials
])  # fmt: skip
def test_the_likelier_of_two_comes_first(typed, better, worse):
    assert match(typed, better).score > match(typed, worse).score


@settings(derandomize=True, max_examples=150, deadline=None)
@given(LETTERS, LETTERS)
def test_a_match_is_exactly_a_subsequence_of_every_word(typed, text):
    def inside(word: str) -> bool:
        rest = iter(text.casefold())
        return all(letter in rest for letter in word)

    found = match(typed, text)
    assert (found is not None) == all(inside(word) for word in typed.casefold().split())
    if found is not None:
        letters = sorted(set(typed.casefold().replace(" ", "")))
        assert sorted({text[place].casefold() for place in found.places}) == letters


def nothing() -> None:
    pass


def names(typed: str, *items: Item) -> list[str]:
    return [found.item.name for found in find(typed, items)]


def test_what_can_be_done_comes_before_what_cannot():
    items = (Item("Save", "action", nothing, enabled=False), Item("Save as", "action", nothing))
    assert names("save", *items) == ["Save as", "Save"]


def test_a_kind_may_be_typed_with_the_name():
    items = (Item("RX3", "lane", nothing), Item("R3", "vias", nothing), Item("RX4", "lane", nothing))
    assert names("lane 3", *items) == ["RX3"]
    assert names("lane", *items) == ["RX3", "RX4"]
    assert names("lane", Item("midplane via", "vias", nothing), *items)[-1] == "midplane via"


def test_nothing_typed_keeps_the_order():
    items = (Item("b", "lane", nothing), Item("a", "lane", nothing))
    assert names("  ", *items) == ["b", "a"]


# --- the box


@pytest.fixture
def window(qtbot) -> QWidget:
    over = QWidget()
    over.resize(900, 600)
    body = QVBoxLayout(over)
    over.before = QLineEdit()
    body.addWidget(over.before)
    over.done = []
    save = QAction("&Save", over)
    save.setShortcut("Ctrl+S")
    save.triggered.connect(lambda: over.done.append("save"))
    redo = QAction("Redo", over)
    redo.setEnabled(False)
    redo.triggered.connect(lambda: over.done.append("redo"))
    over.acts = [save, redo]
    qtbot.addWidget(over)
    with qtbot.waitExposed(over):
        over.show()
    over.activateWindow()
    over.before.setFocus()
    return over


@pytest.fixture
def box(window, document, state) -> Palette:
    return Palette(lambda: window.acts, document, state, LIGHT, window)


def typed(box: Palette, text: str, key=Qt.Key.Key_Return) -> None:
    box.open()
    QTest.keyClicks(box.field, text)
    QTest.keyClick(box.field, key)


def test_an_action_is_found_with_its_shortcut_and_run_by_enter(window, box):
    box.open()
    assert QApplication.focusWidget() is box.field
    assert box.found[0].shortcut == "Ctrl+S"
    QTest.keyClicks(box.field, "sav")
    assert [item.name for item in box.found] == ["Save"]
    QTest.keyClick(box.field, Qt.Key.Key_Return)
    assert window.done == ["save"]
    assert box.isHidden()
    assert QApplication.focusWidget() is window.before


def test_an_action_that_cannot_be_done_now_is_shown_but_not_run(window, box):
    typed(box, "redo")
    assert window.done == []
    assert not box.isHidden()


def test_a_lane_is_made_current(box, state):
    typed(box, "rx13")
    assert state.lane == "RX13"


def test_entries_and_devices_are_told(qtbot, box):
    with qtbot.waitSignal(box.entry_chosen) as chosen:
        typed(box, "midplane via")
    assert chosen.args == ["vias", "midplane via"]
    with qtbot.waitSignal(box.device_chosen) as device:
        typed(box, "u3")
    assert device.args == ["U3"]


def test_rows_are_walked_by_keys_and_go_round(box):
    box.open()
    QTest.keyClicks(box.field, "lane")
    assert box.list.currentIndex().row() == 0
    QTest.keyClick(box.field, Qt.Key.Key_Down)
    QTest.keyClick(box.field, Qt.Key.Key_Tab)
    assert box.list.currentIndex().row() == 2
    assert box.found[2].name in box.field.accessibleDescription()
    for _ in range(3):
        QTest.keyClick(box.field, Qt.Key.Key_Up)
    assert box.list.currentIndex().row() == len(box.found) - 1
    QTest.keyClick(box.field, Qt.Key.Key_PageDown)
    assert box.list.currentIndex().row() == len(box.found) - 1


def test_a_row_is_chosen_by_the_mouse(box, state):
    box.open()
    QTest.keyClicks(box.field, "lane")
    QApplication.processEvents()
    at = box.list.visualRect(box.list.model().index(1)).center()
    QTest.mouseClick(box.list.viewport(), Qt.MouseButton.LeftButton, pos=at)
    assert state.lane == "RX1"
    assert box.isHidden()


def test_escape_closes_and_changes_nothing(window, box, state):
    lane = state.lane
    typed(box, "rx13", Qt.Key.Key_Escape)
    assert box.isHidden()
    assert state.lane == lane
    assert QApplication.focusWidget() is window.before


def test_it_closes_when_the_keyboard_leaves(window, box):
    box.open()
    window.before.setFocus()
    assert box.isHidden()
    assert QApplication.focusWidget() is window.before


def test_it_says_so_where_nothing_fits(box, state):
    lane = state.lane
    typed(box, "qqqq")
    assert not box.isHidden()
    assert not box.list.isVisible()
    assert box.found == ()
    assert state.lane == lane


def test_it_lies_inside_a_narrow_window(window, box):
    window.resize(400, 300)
    box.open()
    assert box.geometry().left() >= 0
    assert box.geometry().right() < window.width()
    box.set_theme(DARK)
    assert not box.grab().isNull()


def test_it_is_gone_after_its_window(qtbot, window, document, state):
    gone = weakref.ref(Palette(lambda: [], document, state, LIGHT, window))
    gone().open()
    with qtbot.waitSignal(gone().destroyed):
        gone().deleteLater()
    gc.collect()
    assert gone() is None


def test_the_exact_name_comes_first_then_one_that_begins_so():
    names = ("midplane via", "midplane trace", "trace", "control trace", "trace of the midplane")
    found = find("trace", [Item(name, "part", lambda: None) for name in names])
    assert [one.item.name for one in found][:2] == ["trace", "trace of the midplane"]
