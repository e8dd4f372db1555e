"""Opening, saving, closing, recovering, the first start: nothing is lost, whatever is asked for."""

import gc
import weakref
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtTest import QTest

from tests.desk.window_help import OTHER, edit, gone
from workbench.board.reading import load_board
from workbench.desk.app import demo_board, first_document
from workbench.desk.window import Window


def drop(window: Window, *paths: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    event = QDropEvent(
        QPointF(QPoint(40, 40)), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    window.dropEvent(event)


# --- files


def test_open_replaces_the_board_and_is_remembered(window, place):
    window.beside.pin("kept")
    place.choices.open = place.other
    window.menus.named("file.open").trigger()
    assert window.document.board == load_board(OTHER).board
    assert window.state.lane == window.document.board.lanes[0].name
    assert window.document.pins == {}
    assert place.settings.recent[0] == place.other


@pytest.mark.parametrize("text", [b"\x89PNG\r\n", b"{}", b'{"format": "link-margin-board", "version": 99}', b""])
def test_a_file_of_another_kind_is_refused_in_a_sentence_and_changes_nothing(qtbot, window, place, text):
    edit(window)
    before = window.document.board
    (place.root / "picture.png").write_bytes(text)
    drop(window, place.root / "picture.png")
    qtbot.waitUntil(lambda: window.status.sentence != "")
    assert window.sheet.sentence == ""
    assert window.document.board is before
    assert window.document.path == place.file
    assert window.status.text == window.status.sentence


def test_a_board_file_dropped_on_the_window_opens(qtbot, window, place):
    drop(window, place.other)
    qtbot.waitUntil(lambda: window.document.path == place.other)


def test_several_files_at_once_are_refused(window, place):
    drop(window, place.other, place.file)
    assert window.status.sentence.startswith("One file at a time")
    assert window.document.path == place.file


def test_opening_over_unsaved_work_asks_first(qtbot, window, place):
    edit(window)
    window.files.open(place.other)
    assert "not saved" in window.sheet.sentence
    window.sheet.answer("Cancel")
    assert (window.document.path, window.document.board.title) == (place.file, "Another")
    window.files.open(place.other)
    window.sheet.answer("Save")
    assert window.document.path == place.other
    assert load_board(place.file).board.title == "Another"


def test_a_recent_file_that_is_gone_is_told_and_forgotten(window, place):
    window.settings.add_recent(place.other)
    place.other.unlink()
    window.files.open(place.other)
    assert window.status.sentence
    assert place.other not in window.settings.recent


def test_save_writes_the_file_and_save_as_moves_to_another(window, place):
    edit(window)
    window.menus.named("file.save").trigger()
    assert load_board(place.file).board.title == "Another"
    assert not window.isWindowModified()
    place.choices.save = place.root / "copy"
    window.menus.named("file.save_as").trigger()
    assert window.document.path == place.root / "copy.board.json"
    assert load_board(place.root / "copy.board.json").board == window.document.board


def test_the_demo_is_in_no_file_so_that_saving_asks_where(place):
    window = place.window()
    assert not window.isWindowModified()
    place.choices.save = place.root / "mine.board.json"
    window.menus.named("file.save").trigger()
    assert place.choices.suggested is not None
    assert place.choices.suggested.name == "correlator-shelf.board.json"
    assert (place.root / "mine.board.json").exists()


def test_a_file_that_cannot_be_written_is_told_and_the_work_stays(window, place):
    edit(window)
    place.choices.save = place.root / "no folder" / "x.board.json"
    window.menus.named("file.save_as").trigger()
    assert "does not exist" in window.status.sentence
    assert (window.document.path, window.isWindowModified()) == (place.file, True)


def test_revert_asks_and_reads_the_file_again(window):
    edit(window)
    window.menus.named("file.revert").trigger()
    window.sheet.answer("Revert")
    assert window.document.board.title == demo_board().title
    assert window.document.undo_name == ""


def test_a_new_board_comes_from_chosen_starters(qtbot, window):
    from workbench.desk.new_board import NewBoardForm

    window.menus.named("file.new").trigger()
    form = window.findChild(NewBoardForm)
    form.title.setText("Bench link")
    form.profile.setCurrentIndex(form.profile.findData("sata-3"))
    window.sheet.answer("Create")
    board = window.document.board
    assert (board.title, board.profile, len(board.lanes), window.document.path) == ("Bench link", "sata-3", 1, None)
    qtbot.waitUntil(lambda: "L0" in window.computing.assessments, timeout=10_000)


def test_a_new_board_without_a_line_is_refused(window):
    from workbench.desk.new_board import NewBoardForm

    before = window.document.board
    window.menus.named("file.new").trigger()
    for box in window.findChild(NewBoardForm).starters.values():
        box.setChecked(False)
    window.sheet.answer("Create")
    assert "no line or cable" in window.status.sentence
    assert window.document.board is before


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


def test_closing_a_board_without_a_file_and_choosing_none_stays(window, place):
    window = place.window()
    edit(window)
    place.choices.save = None
    window.close()
    window.sheet.answer("Save")
    assert window.isVisible()
    assert window.document.board.title == "Another"


def test_window_and_document_are_dead_after_closing(qtbot, place):
    window = place.window(place.file)
    place._windows.clear()
    qtbot.waitUntil(lambda: len(window.computing.assessments) == 16, timeout=30_000)
    dead = [weakref.ref(one) for one in (window, window.document, window.computing, window.panes, window.strip)]
    with qtbot.waitSignal(window.destroyed):
        window.close()
    window = None
    gc.collect()
    assert [ref() for ref in dead] == [None] * len(dead)


# --- recovery


def test_unsaved_work_of_a_dead_window_is_offered_and_comes_back(qtbot, place):
    first = place.window(place.file)
    edit(first, "Half done")
    qtbot.waitUntil(first.autosave.copy.exists, timeout=10_000)
    first.runner.close()
    first.autosave._lock.unlock()  # what the system does for a process that is killed
    second = place.window(place.file)
    second.offer_leftovers()
    assert "Half done" in second.sheet.sentence
    second.sheet.answer("Restore")
    assert second.document.board.title == "Half done"
    assert second.document.path == place.file
    assert second.isWindowModified()
    second.menus.named("edit.undo").trigger()
    assert not second.isWindowModified()


# --- first start, remembered things


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


def test_sizes_are_remembered_and_the_standard_comes_back(qtbot, place):
    first = place.window(place.file)
    first.resize(960, 600)
    first.columns.setSizes([500, 188, 272])
    wanted = first.columns.sizes()[0]
    closed = gone(first)
    first.close()
    qtbot.waitUntil(closed)
    second = place.window(place.file)
    assert second.columns.sizes()[0] == wanted  # the rest depends on the screen
    second.menus.named("view.sizes").trigger()
    assert second.columns.sizes()[0] < wanted


def test_a_damaged_settings_file_counts_as_empty(place):
    (place.root / "desk.ini").write_bytes(b"\x00\xff[recent\nsizes\\window=@ByteArray(nonsense)\ntheme=plaid")
    window = place.window(place.file)
    assert window.settings.theme == "system"
    assert window.settings.recent == ()
