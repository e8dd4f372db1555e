"""A home that can't be written to: said once, and nothing else is lost."""

import pytest
from PySide6.QtCore import QCoreApplication, QEvent

from tests.desk.window_help import retitle
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.desk.app import open_window
from workbench.desk.help.failures import Failures
from workbench.desk.session.home import unwritable_words
from workbench.logbook import log_folder, session_file

pytestmark = pytest.mark.usefixtures("still")


@pytest.fixture
def no_home(monkeypatch, tmp_path):
    """Folders below a file can't be made by anyone, not even by an administrator."""
    (tmp_path / "in the way").write_text("no folder")
    for name in ("HOME", "XDG_CONFIG_HOME", "XDG_STATE_HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME"):
        monkeypatch.setenv(name, str(tmp_path / "in the way" / "home"))
    return tmp_path


def test_it_is_said_once_in_the_window_and_work_goes_on(qapp, qtbot, no_home):
    failures = Failures(session_file(log_folder()))
    unforeseen = []
    failures.told.connect(unforeseen.append)
    window = open_window(None, failures)
    window.show()
    window.offer_leftovers()
    said = window.status.sentence
    assert said.startswith("The home folder can't be written to (")
    assert "preferences, copies of unsaved work and logs are not kept" in said
    told = []
    window.runner.failed.connect(told.append)
    for title in ("First", "Second"):
        assert window.document.apply("retitle", retitle(title))
        window.autosave._keep()
    assert told == []
    assert window.status.sentence == ""
    window.appearance.choose("dark")
    assert window.settings.theme == "dark"  # as long as the session lasts
    save_board(window.document.board, no_home / "mine.board.json")
    assert load_board(no_home / "mine.board.json").board.title == "Second"
    window.document.replace(window.document.board, no_home / "mine.board.json")
    window.close()
    assert unforeseen == []
    failures.close()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def test_folders_that_can_be_written_to_are_told_of_in_no_word(tmp_path):
    assert unwritable_words({"preferences": tmp_path / "new" / "folder"}) == ""
    assert list((tmp_path / "new" / "folder").iterdir()) == []
