"""The log that goes with a bug report: what went wrong is in it, and nothing of the board."""

import logging
import os
import sys
import threading

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QTimer, QtMsgType

from tests.desk.background.process_jobs import Broken
from tests.desk.window_help import DEMO, Place
from workbench.board.edits.lanes import remove_lanes, rename_lane, set_board
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.cli.statuses import BROKEN
from workbench.desk.background.process import ProcessChannel
from workbench.desk.help import failures as failing
from workbench.desk.help.failures import Failures
from workbench.errors import EditError
from workbench.logbook import KEPT_SESSIONS, LogFormatter, open_log, scrubbed, session_file, text_of, without_messages

pytestmark = pytest.mark.usefixtures("still")
SECRET = "Zweibrücken"


@pytest.fixture
def place(tmp_path):
    made = Place(tmp_path)
    yield made
    made.close()


@pytest.fixture
def window(place):
    """A window over a board whose every name is one that would be recognised, with its log."""
    board = load_board(place.file).board
    board = rename_lane(set_board(board, title=f"{SECRET} title"), "RX0", f"{SECRET}0")
    file = place.root / f"{SECRET}.board.json"
    save_board(board, file)
    made = place.window(file)
    log = Failures(session_file(made.own_windows.log_folder))
    log.hide(made.command_log.names)
    made.failures = log
    sys_hook = sys.excepthook
    log.install(screens="none")
    log.tell_session()
    assert made.menus.all()  # as after every start
    log.told.connect(made.tell)
    yield made
    log.close()
    assert sys.excepthook is sys_hook


def logged(window) -> str:
    return text_of(window.own_windows.log_folder)


def test_a_session_says_what_it_runs_on_and_what_was_done_without_a_name(qtbot, window):
    window.document.apply(f"set length of {SECRET}0", lambda board: replace(board, title=f"{SECRET} title 2"))
    window.menus.named("edit.undo").trigger()
    window.document.apply("impossible", lambda board: rename_lane(board, f"{SECRET}0", "RX3"))
    text = logged(window)
    for word in ("session begins: program ", "Python 3", "PySide6-Essentials 6.", "numpy ", "screens none",
                 "command edit.undo", "board changed (set length of [name])", "4 lanes", "refused"):  # fmt: skip
        assert word in text
    assert SECRET not in text
    assert str(window.document.path.parent) not in text


def test_tracebacks_from_every_thread_are_there_without_the_names(qtbot, window):
    name = f"{SECRET}0"

    def lost(*_: object) -> None:
        raise KeyError(name)

    QTimer.singleShot(0, lost)
    qtbot.waitUntil(lambda: "KeyError" in window.status.sentence)
    assert "Show the log" in window.status.sentence
    with qtbot.waitSignal(window.runner.failed, timeout=10_000):
        window.runner.submit(("lane", name), lost, print)
    with qtbot.waitSignal(window.studies.work.failed, timeout=10_000):
        window.studies.work.start(lambda effort: {}[f"{name} in a study of {type(effort).__name__}"])
    text = logged(window)
    assert text.count("Traceback (most recent call last)") >= 3
    assert text.count("KeyError (its message is left out)") >= 3
    assert "test_log.py" in text
    assert SECRET not in text


def test_a_step_whose_name_no_board_has_any_more_is_written_without_it(window):
    lane = f"{SECRET}0"
    window.document.apply(f"delete {lane}", lambda board: remove_lanes(board, [lane]))
    for number in range(3):
        window.document.apply("title", lambda board, number=number: set_board(board, title=f"title {number}"))
    for _ in range(4):
        window.document.undo()
    window.document.redo()
    assert "(delete [name])" in logged(window)
    assert SECRET not in logged(window)


def test_an_exception_in_a_thread_of_nobody_is_there(qtbot, window):
    lost = threading.Thread(target=lambda: 1 // 0)
    lost.start()
    lost.join()
    qtbot.waitUntil(lambda: "ZeroDivisionError" in window.status.sentence)
    assert "ZeroDivisionError: integer division or modulo by zero" in logged(window)


def test_lines_of_a_message_never_pass_for_code():
    text = without_messages(
        'Traceback (most recent call last):\n  File "a.py", line 1, in x\n    y(z)\n    ^^^^\n'
        f"ValueError: {SECRET}\n    {SECRET}\n{SECRET}: again\n{SECRET}\n"
        "\nDuring handling of the above exception, another exception occurred:\n\n"
        'Traceback (most recent call last):\n  File "b.py", line 2, in w\n    v()\nTypeError: v() takes 1 argument'
    )
    assert "ValueError (its message is left out)" in text
    assert "    y(z)" in text
    assert text.endswith("TypeError: v() takes 1 argument")
    assert SECRET not in text.replace(f"{SECRET} (its message is left out)", "").replace(f"\n{SECRET}\n", "\n")


@pytest.mark.campaign
def test_what_breaks_in_the_other_process_is_there_with_its_traceback(qtbot, window):
    channel, failed = ProcessChannel(), []
    channel.ask(Broken(), print, failed=failed.append)
    qtbot.waitUntil(lambda: failed != [], timeout=20_000)
    channel.close()
    assert "ZeroDivisionError" in logged(window)
    assert "process_jobs.py" in logged(window)


def out_of_order() -> None:
    try:
        rename_lane(load_board(DEMO).board, SECRET, "another")
    except EditError as error:
        raise RuntimeError("out of order") from error


def test_a_refusal_inside_a_traceback_keeps_its_kind_only():
    with pytest.raises(RuntimeError) as broken:
        out_of_order()
    record = logging.LogRecord("workbench", logging.ERROR, "", 0, "it broke", (), broken._excinfo)
    text = LogFormatter().format(record)
    assert "workbench.errors.EditError (its message is left out)" in text
    assert "RuntimeError (its message is left out)" in text
    assert "The above exception was the direct cause of the following exception:" in text
    assert SECRET not in text


def test_names_are_replaced_as_whole_words_the_longest_first(monkeypatch, tmp_path):
    monkeypatch.setenv("HOME", str(tmp_path / "someone"))
    told = scrubbed(f"RX1 and RX10, 'U1:2' of {tmp_path}/someone/boards", ("RX1", "U1", "RX10", "U"))
    assert told == "[name] and [name], '[name]:2' of ~/boards"
    assert scrubbed("RX100 stays", ("RX10",)) == "RX100 stays"


def test_warnings_of_the_toolkit_are_there(window):
    failing._take_message(QtMsgType.QtWarningMsg, None, "QPainter::begin: paint device returned engine == 0")
    assert "toolkit, warning: QPainter::begin" in logged(window)


def test_logs_of_old_sessions_go_and_a_folder_that_can_t_be_written_stops_nothing(tmp_path):
    for number in range(14):
        old = tmp_path / f"session-202601{number:02}.log"
        old.write_text(f"{number}\n", encoding="utf-8")
        if number < 8:
            os.utime(old, (0.0, 0.0))
    handler = open_log(tmp_path / "session-20270101.log", LogFormatter())
    handler.emit(logging.LogRecord("workbench", logging.ERROR, "", 0, "now", (), None))
    handler.close()
    # Four were beyond the last ten, all of them old; the other old ones stay.
    assert len(list(tmp_path.glob("session-*"))) == KEPT_SESSIONS + 1
    assert text_of(tmp_path).splitlines()[-1].endswith("now")
    (tmp_path / "taken").write_text("no folder", encoding="utf-8")
    nowhere = open_log(tmp_path / "taken" / "session-1.log", LogFormatter())
    assert type(nowhere) is logging.StreamHandler


class Target:
    """Stands for the platform's dialog."""

    def __init__(self, path) -> None:
        self.path = path

    def to_write(self, title: str, suggested: object, kinds: str) -> object:
        return self.path


@pytest.mark.campaign
def test_the_view_shows_copies_and_saves_and_adds_the_board_only_if_told_to(qtbot, window, place):
    window.own_windows.targets = Target(place.root / "report.log")
    window.menus.named("help.log").trigger()
    view = window.own_windows.log
    assert view.isVisible()
    assert "session begins" in view.text.toPlainText()
    for choice in ("dark", "light"):
        window.appearance.choose(choice)
    view.copy_button.click()
    view.save_button.click()
    saved = (place.root / "report.log").read_text(encoding="utf-8")
    assert saved == view.text.toPlainText()
    assert SECRET not in saved
    view.with_board.setChecked(True)
    view.save_button.click()
    assert SECRET in (place.root / "report.log").read_text(encoding="utf-8")
    view._chooser.path = place.root / "none" / "report.log"
    view.save_button.click()
    assert "choose another place" in window.status.sentence
    view.close()


def test_a_command_that_breaks_says_so_in_a_sentence_and_logs_the_traceback(monkeypatch, tmp_path, capsys):
    def broken(words: list[str]) -> int:
        raise ZeroDivisionError("of something")

    monkeypatch.setattr("workbench.cli._run", broken)
    monkeypatch.setattr("workbench.logbook.log_folder", lambda: tmp_path)
    assert main(["assess", "x"]) == BROKEN
    told = capsys.readouterr().err
    assert told.startswith("link-margin: something went wrong (ZeroDivisionError); the log says more: ")
    assert told.count("\n") == 1
    assert "ZeroDivisionError: of something" in text_of(tmp_path)
