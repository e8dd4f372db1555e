"""Closing, recovering, the first start, what is remembered: nothing is lost, whatever is asked for."""

import gc
import weakref

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from tests.desk.window_help import SMALL, edit, gone
from workbench.board.reading import load_board
from workbench.desk.app import first_document
from workbench.desk.widgets.changes_list import ChangesList

pytestmark = pytest.mark.usefixtures("still")


def test_the_demo_is_in_no_file_so_that_saving_asks_where(place):
    window = place.window()
    assert not window.isWindowModified()
    place.choices.save = place.root / "mine.board.json"
    window.menus.named("file.save").trigger()
    assert place.choices.suggested is not None
    assert place.choices.suggested.name == "correlator-shelf.board.json"
    assert (place.root / "mine.board.json").exists()


# --- closing


def test_closing_without_changes_just_closes(qtbot, window):
    closed = gone(window)
    window.close()
    qtbot.waitUntil(closed)


@pytest.mark.parametrize(("word", "title"), [("Save", "Another"), ("Discard", "Correlator shelf")])
def test_closing_with_unsaved_work_asks_in_place(qtbot, window, place, word, title):
    edit(window)
    closed = gone(window)
    window.close()
    assert window.isVisible()
    assert "not saved" in window.sheet.sentence
    window.sheet.answer(word)
    qtbot.waitUntil(closed)
    assert load_board(place.file).board.title == title
    assert not list(place.unsaved.glob("*"))


def test_escape_stays_with_the_work(qtbot, window):
    edit(window)
    window.close()
    QTest.keyClick(window.sheet, Qt.Key.Key_Escape)
    assert window.sheet.sentence == ""
    assert window.isVisible()
    assert window.isWindowModified()


@pytest.mark.campaign
def test_closing_a_board_without_a_file_and_choosing_none_stays(window, place):
    window = place.window()
    edit(window)
    place.choices.save = None
    window.close()
    window.sheet.answer("Save")
    assert window.isVisible()
    assert window.document.board.title == "Another"


@pytest.mark.usefixtures("working")
def test_window_and_document_are_dead_after_closing(qtbot, place):
    window = place.window(place.file)
    place.windows.clear()
    qtbot.waitUntil(lambda: len(window.computing.assessments) == len(SMALL), timeout=30_000)
    dead = [weakref.ref(one) for one in (window, window.document, window.computing, window.panes, window.strip)]
    with qtbot.waitSignal(window.destroyed):
        window.close()
    window = None
    gc.collect()
    assert [ref() for ref in dead] == [None] * len(dead)


# --- recovery


@pytest.mark.campaign
def test_unsaved_work_of_a_dead_window_is_offered_and_comes_back(qtbot, place):
    first = place.window(place.file)
    first.autosave._timer.setInterval(0)
    edit(first, "Half done")
    qtbot.waitUntil(first.autosave.copy.exists, timeout=10_000)
    first.runner.close()
    first.autosave._lock.unlock()  # what the system does for a process that is killed
    first.files.guard.close()
    second = place.window(place.file)
    second.offer_leftovers()
    assert "Half done" in second.sheet.sentence
    assert "It has one change over the file." in second.sheet.sentence
    (changes,) = second.sheet.findChildren(ChangesList)
    assert changes.toPlainText().endswith("became Half done.")
    second.sheet.answer("Restore")
    assert second.document.board.title == "Half done"
    assert second.document.path == place.file
    assert second.isWindowModified()
    second.menus.named("edit.undo").trigger()
    assert not second.isWindowModified()


# --- first start, remembered things


@pytest.mark.campaign
def test_the_demo_and_the_first_steps_show_at_first_start_only(qtbot, place):
    document, refusal = first_document(None, place.settings)
    assert (document.board.title, document.path, refusal) == ("Correlator shelf", None, "")
    window = place.window()
    assert window.first_steps.isVisible()
    window.first_steps.dismissed.emit()
    assert not window.first_steps.isVisible()
    place.settings.add_recent(place.other)
    document, _ = first_document(None, place.settings)
    assert document.path == place.other
    assert not place.window().first_steps.isVisible()


def test_a_broken_file_on_the_command_line_opens_the_demo_with_a_sentence(place):
    place.file.write_text("{")
    document, refusal = first_document(place.file, place.settings)
    assert (document.board.title, document.path) == ("Correlator shelf", None)
    assert refusal


@pytest.mark.campaign
def test_sizes_are_remembered_and_the_standard_comes_back(qtbot, place):
    first = place.window(place.file)
    first.resize(960, 600)
    first.arrangement.columns.setSizes([500, 188, 272])
    wanted = first.arrangement.columns.sizes()[0]
    closed = gone(first)
    first.close()
    qtbot.waitUntil(closed)
    second = place.window(place.file)
    second.resize(960, 600)
    assert second.arrangement.columns.sizes()[0] == wanted  # the rest depends on the screen
    second.menus.named("view.sizes").trigger()
    assert second.arrangement.columns.sizes()[0] < wanted


def test_a_damaged_settings_file_counts_as_empty(place):
    (place.root / "desk.ini").write_bytes(b"\x00\xff[recent\nsizes\\window=@ByteArray(nonsense)\ntheme=plaid")
    window = place.window(place.file)
    assert window.settings.theme == "system"
    assert window.settings.recent == ()
