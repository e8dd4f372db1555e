"""Opening, saving, reverting, new boards: nothing is lost, whatever is asked for."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent

from tests.desk.window_help import OTHER, Place, edit, put_back
from workbench.board.reading import load_board
from workbench.desk.app import demo_board
from workbench.desk.window import Window

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture(scope="module")
def place(home) -> Place:
    return home


@pytest.fixture
def window(shared, place) -> Iterator[Window]:
    yield shared
    put_back(shared, place)


def drop(window: Window, *paths: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    event = QDropEvent(
        QPointF(QPoint(40, 40)), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )  # fmt: skip
    window.dropEvent(event)


# --- files


@pytest.mark.campaign
def test_open_replaces_the_board_and_is_remembered(window, place):
    window.beside.snapshot("kept")
    place.choices.open = place.other
    window.menus.named("file.open").trigger()
    assert window.document.board == load_board(OTHER).board
    assert window.state.lane == window.document.board.lanes[0].name
    assert window.document.snapshots == {}
    assert place.settings.recent[0] == place.other


@pytest.mark.parametrize("text", [b"\x89PNG\r\n", b"{}", b'{"format": "link-margin-board", "version": 99}', b""])
def test_a_file_that_is_no_board_is_refused_in_a_sentence_and_changes_nothing(qtbot, window, place, text):
    edit(window)
    before = window.document.board
    (place.root / "picture.board.json").write_bytes(text)
    drop(window, place.root / "picture.board.json")
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


@pytest.mark.campaign
@pytest.mark.usefixtures("working")
def test_a_new_board_comes_from_chosen_starters(qtbot, window):
    from workbench.desk.files.new_board import NewBoardForm

    window.menus.named("file.new").trigger()
    form = window.findChild(NewBoardForm)
    form.title.setText("Bench link")
    form.profile.setCurrentIndex(form.profile.findData("sata-3"))
    window.sheet.answer("Create")
    board = window.document.board
    assert (board.title, board.profile, len(board.lanes), window.document.path) == ("Bench link", "sata-3", 1, None)
    qtbot.waitUntil(lambda: "L0" in window.computing.assessments, timeout=10_000)


def test_a_new_board_with_nothing_ticked_is_empty_and_keeps_title_and_interface(window):
    from workbench.desk.files.new_board import NewBoardForm

    window.menus.named("file.new").trigger()
    form = window.findChild(NewBoardForm)
    form.title.setText("Bare")
    form.profile.setCurrentIndex(form.profile.findData("sata-3"))
    for box in form.starters.values():
        box.setChecked(False)
    window.sheet.answer("Create")
    board = window.document.board
    assert (board.title, board.profile, board.lanes) == ("Bare", "sata-3", ())
    assert not board.catalogue.lines


def test_a_form_that_is_asked_again_says_what_was_said(qtbot):
    from workbench.desk.files.new_board import NewBoardForm

    form = NewBoardForm()
    qtbot.addWidget(form)
    form.title.setText("Mine")
    form.profile.setCurrentIndex(2)
    for box in form.starters.values():
        box.setChecked(not box.isChecked())
    again = form.again()
    qtbot.addWidget(again)
    assert (again.title.text(), again.profile.currentIndex()) == ("Mine", 2)
    assert [box.isChecked() for box in again.starters.values()] == [box.isChecked() for box in form.starters.values()]


def test_the_window_may_be_small_and_fits_its_screen(window):
    window.resize(800, 500)
    assert (window.width(), window.height()) == (800, 500)
    assert window.minimumSizeHint().width() <= 800
    assert window.minimumSizeHint().height() <= 500
