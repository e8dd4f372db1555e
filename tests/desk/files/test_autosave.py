"""Unsaved work is kept apart from the user's file, and offered again after a kill."""

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from workbench.board.edits.lanes import set_board
from workbench.board.reading import load_board
from workbench.desk.background.runner import Runner
from workbench.desk.files.autosave import Autosave, at_stake, leftovers
from workbench.desk.session.document import Document
from workbench.resources import project

pytestmark = pytest.mark.usefixtures("still")

DEMO = project("correlator-shelf.board.json")

VICTIM = """
import sys
from pathlib import Path
from PySide6.QtCore import QCoreApplication
from workbench.board.edits.lanes import set_board
from workbench.board.reading import load_board
from workbench.desk.files.autosave import Autosave
from workbench.desk.session.document import Document
from workbench.desk.background.runner import Runner

application = QCoreApplication([])
path = Path(sys.argv[1])
document, runner = Document(load_board(path).board, path), Runner()
kept = Autosave(document, runner, Path(sys.argv[2]), delay_ms=10)
document.apply("retitle", lambda board: set_board(board, title="Half done"))
runner.busy_changed.connect(lambda busy: None if busy else print("kept", flush=True))
application.exec()
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "shelf.board.json"
    path.write_bytes(DEMO.read_bytes())
    return path


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "state" / "unsaved"


@pytest.fixture
def edited(qapp, file: Path) -> Document:
    return Document(load_board(file).board, file)


@pytest.fixture
def kept(edited: Document, runner: Runner, folder: Path) -> Iterator[Autosave]:
    autosave = Autosave(edited, runner, folder, delay_ms=10)
    yield autosave
    runner.close()
    autosave.close()


def retitle(title: str) -> Callable:
    return lambda board: set_board(board, title=title)


def test_an_edit_is_kept_beside_and_the_users_file_stays_as_it_was(qtbot, edited, kept, file):
    edited.apply("retitle", retitle("Half done"))
    qtbot.waitUntil(kept.copy.exists)
    assert load_board(kept.copy).board == edited.board
    assert file.read_bytes() == DEMO.read_bytes()


@pytest.mark.parametrize("settle", ["save", "undo"])
def test_the_copy_goes_when_nothing_is_at_stake_any_more(qtbot, edited, kept, settle):
    edited.apply("retitle", retitle("Half done"))
    qtbot.waitUntil(kept.copy.exists)
    getattr(edited, settle)()
    qtbot.waitUntil(lambda: not kept.copy.exists())


def test_work_of_a_living_process_is_not_offered(qtbot, edited, kept, folder):
    edited.apply("retitle", retitle("Half done"))
    qtbot.waitUntil(kept.copy.exists)
    assert leftovers(folder) == []


def test_closing_in_good_order_leaves_nothing_to_offer(qtbot, edited, kept, runner, folder):
    edited.apply("retitle", retitle("Half done"))
    qtbot.waitUntil(kept.copy.exists)
    runner.close()
    kept.close()
    assert leftovers(folder) == []
    assert [path.name for path in folder.iterdir()] == []


def test_a_folder_that_cannot_be_made_is_told_in_a_sentence(qtbot, edited, runner, tmp_path):
    (tmp_path / "in the way").write_text("no folder")
    autosave = Autosave(edited, runner, tmp_path / "in the way" / "unsaved", delay_ms=10)
    with qtbot.waitSignal(runner.failed) as told:
        edited.apply("retitle", retitle("Half done"))
    assert told.args[0].startswith("Unsaved work can't be kept safe")
    assert autosave.told  # it is not said again after every edit
    with qtbot.waitSignal(runner.failed, timeout=100, raising=False) as again:
        edited.apply("retitle", retitle("Done"))
    assert not again.signal_triggered
    autosave.close()


def test_an_untouched_board_without_a_file_is_not_at_stake_but_an_edited_one_is(qapp):
    document = Document(load_board(DEMO).board)
    assert document.modified
    assert not at_stake(document)
    document.apply("retitle", retitle("Half done"))
    assert at_stake(document)


@pytest.mark.campaign
@pytest.mark.skipif(sys.platform == "win32", reason="sends a signal that this platform lacks")
def test_after_a_kill_the_work_is_offered_once_and_can_be_discarded(qapp, file, folder):
    victim = subprocess.Popen(
        [sys.executable, "-c", VICTIM, str(file), str(folder)], stdout=subprocess.PIPE, text=True,
        cwd=Path(__file__).parents[3], env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
    )  # fmt: skip
    assert victim.stdout is not None
    assert victim.stdout.readline() == "kept\n"
    assert leftovers(folder) == []
    victim.send_signal(signal.SIGKILL)
    victim.communicate()
    found = leftovers(folder)
    assert [(one.title, one.path) for one in found] == [("Half done", file)]
    assert found[0].board().title == "Half done"
    assert leftovers(folder) == [], "while one window offers it, no other does"
    found[0].release()
    again = leftovers(folder)
    assert len(again) == 1
    again[0].discard()
    assert leftovers(folder) == []
    assert list(folder.iterdir()) == []
