"""One file, two windows or two users, or a change on the disk: told, compared, never overwritten unseen."""

import multiprocessing
import os
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication, QPlainTextEdit, QWidget

from tests.desk.window_help import edit, retitle, small_board
from workbench.board.previous import previous_path
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.desk.files.lock import Claim, lock_path
from workbench.desk.window import Window

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture
def window(shared, home) -> Iterator[Window]:
    home.write_files()
    shared.document.replace(small_board(), home.file)
    yield shared
    shared.sheet.escape()
    shared.document.replace(small_board(), None)
    shared.status.clear()


def change(path: Path, title: str) -> None:
    """Someone else writes the file."""
    save_board(retitle(title)(load_board(path).board), path)


def look_back(window: Window) -> None:
    window.files.guard.check(window.files.save_as)


def listed(window: Window) -> str:
    return "\n".join(one.toPlainText() for one in window.sheet.findChildren(QPlainTextEdit) if one.isVisible())


# --- two at once


@pytest.mark.campaign
def test_a_lock_beside_the_file_says_who_has_it_and_goes_with_the_window(window, home):
    assert lock_path(home.file) == home.file.with_name(".shelf.board.json.lock")
    assert lock_path(home.file).exists()
    second = Claim(home.file)
    assert second.holder == "another window of this program"
    window.document.replace(small_board(), None)
    assert not lock_path(home.file).exists()
    assert Claim(home.file).holder == ""


def _hold(path: str, pipe) -> None:
    claim = Claim(Path(path))
    pipe.send(claim.holder)
    pipe.recv()
    os._exit(1)  # as a kill does: the lock stays


@pytest.mark.campaign
def test_another_process_that_has_the_file_is_named_and_a_dead_one_has_it_no_more(home):
    ours, theirs = multiprocessing.Pipe()
    process = multiprocessing.get_context("spawn").Process(target=_hold, args=(str(home.other), theirs))
    process.start()
    assert ours.recv() == ""
    assert Claim(home.other).holder == f"{home.root.owner()} on this computer"
    ours.send("die")
    process.join()
    assert lock_path(home.other).exists()
    claim = Claim(home.other)
    assert claim.holder == ""
    claim.release()


@pytest.mark.parametrize("answer", ["Read only", "A copy", "Cancel"])
def test_the_second_is_told_who_has_it_and_reads_copies_or_leaves_it(window, home, answer):
    claim = Claim(home.other)
    try:
        window.files.open(home.other)
        words = '"bay.board.json" is already open: another window of this program has it.'
        assert window.sheet.sentence.startswith(words)
        window.sheet.answer(answer)
        other = load_board(home.other).board
        if answer == "Read only":
            assert (window.document.board, window.document.path) == (other, home.other)
            assert "(read only)" in window.windowTitle()
        elif answer == "A copy":
            assert (window.document.board.lanes, window.document.path) == (other.lanes, None)
            assert window.document.board.title == f"{other.title} copy"
        else:
            assert window.document.path == home.file
    finally:
        claim.release()


def test_what_is_read_only_is_not_saved_to_its_file_until_the_other_has_left(window, home):
    claim = Claim(home.other)
    window.files.open(home.other)
    window.sheet.answer("Read only")
    before = home.other.read_bytes()
    edit(window)
    assert not window.files.save()
    assert "another window of this program has it; save it under another name" in window.status.sentence
    assert home.other.read_bytes() == before
    assert window.document.board.title == "Another"
    home.choices.save = home.root / "mine.board.json"
    assert window.files.save_as()
    assert "(read only)" not in window.windowTitle()
    window.document.replace(load_board(home.other).board, home.other)
    edit(window)
    claim.release()
    assert window.files.save()
    assert load_board(home.other).board.title == "Another"


def test_a_file_that_someone_has_is_no_place_to_save_to(window, home):
    claim = Claim(home.other)
    home.choices.save = home.other
    before = home.other.read_bytes()
    assert not window.files.save_as()
    claim.release()
    assert "choose another name" in window.status.sentence
    assert home.other.read_bytes() == before


def test_a_window_that_starts_on_a_file_that_someone_has_offers_a_copy(window, home):
    claim = Claim(home.other)
    window.document.replace(load_board(home.other).board, home.other)
    window.offer_leftovers()
    assert "Here it can be read" in window.sheet.sentence
    window.sheet.answer("Work on a copy")
    claim.release()
    assert window.document.path is None


# --- changed on the disk


def test_a_change_on_the_disk_is_told_with_what_changed_once(window, home):
    look_back(window)
    assert window.sheet.sentence == ""
    change(home.file, "Theirs")
    look_back(window)
    assert "was changed on the disk since it was read: one change." in window.sheet.sentence
    assert listed(window) == f"Board: title {small_board().title} became Theirs."
    window.sheet.answer("Keep mine")
    look_back(window)
    assert window.sheet.sentence == ""
    assert window.document.board == small_board()


def test_touching_the_file_or_writing_the_same_board_is_no_change(window, home):
    os.utime(home.file)
    save_board(small_board(), home.file)
    look_back(window)
    assert window.sheet.sentence == ""


def test_their_board_is_taken_over_as_one_step_that_undo_takes_back(window, home):
    edit(window, "Mine")
    change(home.file, "Theirs")
    look_back(window)
    window.sheet.answer("Load the disk version")
    assert window.document.board.title == "Theirs"
    assert not window.document.modified
    window.document.undo()
    assert window.document.board.title == "Mine"
    assert window.document.modified


@pytest.mark.parametrize("answer", ["Save over it", "Save as…", "Load the disk version", "Cancel"])
def test_saving_over_a_change_asks_first_and_keeps_theirs_beside(window, home, answer):
    edit(window, "Mine")
    change(home.file, "Theirs")
    home.choices.save = home.root / "mine.board.json"
    assert not window.files.save()
    assert "Saving would undo one change" in window.sheet.sentence
    assert load_board(home.file).board.title == "Theirs"
    window.sheet.answer(answer)
    titles = {"Save over it": "Mine"}
    assert load_board(home.file).board.title == titles.get(answer, "Theirs")
    if answer == "Save over it":
        assert load_board(previous_path(home.file)).board.title == "Theirs"
    assert window.document.board.title == ("Theirs" if answer == "Load the disk version" else "Mine")
    assert window.document.path == (home.choices.save if answer == "Save as…" else home.file)
    assert window.document.modified == (answer == "Cancel")


def test_the_window_closes_only_after_the_question_about_the_disk_is_answered(window, home):
    edit(window, "Mine")
    change(home.file, "Theirs")
    done: list[bool] = []
    window.files.ask_then("before the window closes", lambda: done.append(True))
    window.sheet.answer("Save")
    assert not done
    window.sheet.answer("Save over it")
    assert done
    assert load_board(home.file).board.title == "Mine"


def test_a_file_that_went_away_is_told_and_the_board_kept_as_unsaved(window, home):
    home.file.unlink()
    look_back(window)
    assert "no longer in its folder" in window.status.sentence
    assert window.document.modified
    assert window.files.save()
    assert load_board(home.file).board == small_board()


def test_a_file_that_cannot_be_read_any_more_is_told_and_saved_over_only_when_asked(window, home):
    home.file.write_bytes(b"half")
    look_back(window)
    assert "can't be read" in window.status.sentence
    edit(window, "Mine")
    assert not window.files.save()
    assert "What stands there can't be read" in window.sheet.sentence
    window.sheet.answer("Save over it")
    assert load_board(home.file).board.title == "Mine"
    assert previous_path(home.file).read_bytes() == b"half"


# --- what changed


def test_what_changed_since_it_was_saved_is_listed_and_copied(window):
    window.menus.named("file.changes").trigger()
    assert window.sheet.sentence.endswith("since it was saved: nothing.")
    edit(window, "Mine")
    window.menus.named("file.changes").trigger()
    assert listed(window) == f"Board: title {small_board().title} became Mine."
    window.sheet.answer("Copy")
    assert QApplication.clipboard().text() == f"Board: title {small_board().title} became Mine."


def test_what_changed_since_a_version_that_was_sent_is_listed(window, home):
    home.choices.open = home.other
    window.menus.named("file.changes_from").trigger()
    assert 'since "bay.board.json": ' in window.sheet.sentence
    assert "was removed." in listed(window)
    home.choices.open = home.root / "none.board.json"
    window.sheet.escape()
    window.menus.named("file.changes_from").trigger()
    assert "none.board.json" in window.status.sentence


def test_a_board_in_no_file_has_nothing_to_compare_with(window):
    window.document.replace(small_board(), None)
    window.menus.named("file.changes").trigger()
    assert "is in no file yet" in window.status.sentence


def test_coming_back_to_the_window_is_when_the_file_is_looked_at(qtbot, window, home):
    other = QWidget()
    qtbot.addWidget(other)
    other.show()
    other.activateWindow()
    qtbot.waitUntil(lambda: not window.isActiveWindow())
    change(home.file, "Theirs")
    assert window.sheet.sentence == ""
    window.activateWindow()
    qtbot.waitUntil(lambda: "was changed on the disk" in window.sheet.sentence)


def test_a_hold_that_was_taken_over_is_noticed_and_the_new_holder_keeps_its_lock(tmp_path):
    path = tmp_path / "one.board.json"
    first = Claim(path)
    assert not first.lost
    lock_path(path).unlink()
    assert first.lost
    second = Claim(path)
    assert first.lost
    assert not second.lost
    assert not second.holder
    first.release()
    assert not second.lost
    assert Claim(path).holder, "the file looks free although its second holder is alive"
    second.release()
    assert not lock_path(path).exists()
    assert not list(tmp_path.iterdir())


def test_a_window_whose_hold_was_taken_over_does_not_save_and_says_who_has_the_file(window, home):
    edit(window)
    before = home.file.read_bytes()
    lock_path(home.file).unlink()
    taker = Claim(home.file)
    assert not window.files.save()
    assert taker.holder == ""
    assert not taker.lost
    assert "another window of this program" in window.status.sentence
    assert home.file.read_bytes() == before
    taker.release()
    assert window.files.save()


def test_a_window_that_is_looked_at_again_tells_that_its_file_was_taken_over(window, home):
    lock_path(home.file).unlink()
    taker = Claim(home.file)
    window.files.guard.check(window.files.save_as)
    assert window.files.guard.read_only
    assert "was broken: another window of this program has it" in window.status.sentence
    taker.release()


# --- a hold that was left on another computer


def left_elsewhere(path: Path) -> None:
    """The lock that a program left behind which crashed on another computer."""
    lock_path(path).write_text("4242\nworkbench\nfar-away\n\n\n", encoding="ascii")


def test_a_lock_of_another_computer_says_where_since_when_and_can_be_taken_over_after_a_warning(window, home):
    left_elsewhere(home.other)
    window.files.open(home.other)
    assert f"{home.root.owner()} on far-away has it" in window.sheet.sentence
    window.sheet.answer("Break the lock…")
    assert window.document.path == home.file  # nothing yet
    assert "it can't be seen from here whether that program still runs" in window.sheet.sentence
    assert str(datetime.now().year) in window.sheet.sentence
    window.sheet.answer("Break the lock")
    assert window.document.path == home.other
    assert not window.files.guard.read_only
    assert "far-away" not in lock_path(home.other).read_text(encoding="ascii")
    edit(window)
    assert window.document.save()


def test_whoever_thinks_better_of_it_leaves_the_lock_where_it_is(window, home):
    left_elsewhere(home.other)
    window.files.open(home.other)
    window.sheet.answer("Break the lock…")
    window.sheet.escape()
    assert window.document.path == home.file
    assert "far-away" in lock_path(home.other).read_text(encoding="ascii")
    lock_path(home.other).unlink()


def test_a_window_that_starts_on_such_a_file_can_take_it_over_too(window, home):
    left_elsewhere(home.other)
    window.document.open(home.other)
    assert window.files.guard.read_only
    window.offer_leftovers()
    window.sheet.answer("Break the lock…")
    window.sheet.answer("Break the lock")
    assert not window.files.guard.read_only
    assert "(read only)" not in window.windowTitle()


def test_the_hold_of_a_window_on_this_computer_is_never_taken_over(window, home):
    claim = Claim(home.other)
    window.files.open(home.other)
    assert [answer.word for answer in window.sheet.answers] == ["Read only", "A copy", "Cancel"]
    window.sheet.escape()
    claim.release()


def test_a_lock_that_cannot_be_removed_is_a_sentence(window, home, monkeypatch):
    left_elsewhere(home.other)
    window.files.open(home.other)

    def refuse(path: Path) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("workbench.desk.files.guard.break_lock", refuse)
    window.sheet.answer("Break the lock…")
    window.sheet.answer("Break the lock")
    assert "can't be removed (Permission denied); ask its owner to do it" in window.status.sentence
    assert window.document.path == home.file
    lock_path(home.other).unlink()
