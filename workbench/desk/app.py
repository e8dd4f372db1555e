"""Starting the program: the application object, folders, the board to begin with, the window."""

import gc
import signal
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import platformdirs
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication

from workbench.board.model import Board
from workbench.board.reading import load_board
from workbench.desk.background.sweeping import Sweeping, keep_together
from workbench.desk.help.failures import Failures
from workbench.desk.session.application import make_application
from workbench.desk.session.document import Document
from workbench.desk.session.home import unwritable_words
from workbench.desk.session.settings import PROGRAM, Preferences
from workbench.desk.widgets.theme import scale_letters
from workbench.desk.window import Window
from workbench.errors import WorkbenchError
from workbench.logbook import log_folder, session_file
from workbench.reports.pages.reference import CommandPage
from workbench.resources import project

DEMO = "correlator-shelf.board.json"
SWITCH_S = 1e-3
"""How long the engine's thread may go on while the window waits for the interpreter: the usual 5 ms add up to jerks."""


def run(path: Path | None, commands: Callable[[], Sequence[CommandPage]] = tuple) -> int:
    """Open the window and stay until it is closed.

    Args:
        path: the board file to open; None: the last one, at the first start the demo.
        commands: the command line's own help, for the manual.

    Returns:
        The exit status, 0.
    """
    keep_together()
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # Ctrl+C in the terminal ends it; unsaved work is kept apart
    application = make_application()
    failures = Failures(session_file(log_folder()))
    failures.install(**_screens(application))
    sys.setswitchinterval(SWITCH_S)
    window = open_window(path, failures)
    window.own_windows.commands = commands
    window.later.add(failures.tell_session)
    window.show()
    QTimer.singleShot(0, window, window.offer_leftovers)
    # What stands now lasts as long as the program. Left out of every later search for garbage, it can't stop a drag.
    gc.freeze()
    sweeping = Sweeping()
    status: int = application.exec()
    sweeping.close()
    failures.close()
    return status


def _screens(application: QApplication) -> dict[str, str]:
    shown = [(one.size(), one.devicePixelRatio()) for one in application.screens()]
    words = (f"{size.width()}x{size.height()} at {ratio:g}" for size, ratio in shown)
    return {"screens": ", ".join(words), "window system": application.platformName()}


def open_window(path: Path | None, failures: Failures) -> Window:
    """The window over a board; a file that can't be read is told in its status line, over the demo.

    Args:
        path: the board file; None: the last one, else the demo.
        failures: tells what nobody foresaw.
    """
    settings = Preferences(platformdirs.user_config_path(PROGRAM, appauthor=False) / "desk.ini")
    scale_letters(settings.font_percent / 100.0)
    document, refusal = first_document(path, settings)
    folder = platformdirs.user_state_path(PROGRAM, appauthor=False) / "unsaved"
    window = Window(document, settings, folder)
    failures.told.connect(window.tell)
    failures.hide(window.command_log.names)
    window.own_windows.log_folder = failures.path.parent
    if not refusal and document.path is not None:
        settings.add_recent(document.path)
    unkept = unwritable_words(
        {"preferences": settings.folder, "copies of unsaved work": folder, "logs": failures.path.parent}
    )
    window.autosave.told = bool(unkept)
    if refusal or unkept:
        window.status.warn(" ".join(filter(None, (refusal, unkept))))
    return window


def first_document(path: Path | None, settings: Preferences) -> tuple[Document, str]:
    """The document to begin with, and a sentence if the file that was asked for can't be read."""
    last = next((one for one in settings.recent if one.is_file()), None)
    wanted = path if path is not None else last
    if wanted is not None:
        try:
            return Document(load_board(wanted).board, wanted), ""
        except WorkbenchError as error:
            return Document(demo_board()), str(error)
    return Document(demo_board()), ""


def demo_board() -> Board:
    """The demo, as a board that is in no file of the user's, so that saving asks where.

    Raises:
        BoardFileError: the installed data is missing or damaged.
    """
    return load_board(project(DEMO)).board
