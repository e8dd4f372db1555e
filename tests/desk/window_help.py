"""What tests of the whole window share: a temporary home for it, and stand-ins for the platform's file dialogs."""

from collections.abc import Callable
from pathlib import Path

from msgspec.structs import replace
from PySide6.QtWidgets import QApplication

from workbench.board.edits.lanes import set_board
from workbench.board.library import builtin_profiles
from workbench.board.model import Board
from workbench.board.reading import load_board
from workbench.board.writing import dump_board
from workbench.desk.app import demo_board
from workbench.desk.session.document import Document
from workbench.desk.session.settings import Preferences
from workbench.desk.window import Window
from workbench.resources import project

DEMO = project("correlator-shelf.board.json")
OTHER = project("recorder-bay.board.json")
SMALL = ("RX0", "RX3", "RX4", "RX15")


def small_board() -> Board:
    """The demo with four of its lanes: open, with a conditioner (two of them share one), closed.

    They are scrambled here, since the eye of a line code takes three times as long.
    """
    board = load_board(DEMO).board
    scrambled = replace(builtin_profiles()[board.profile], coding="scrambled")
    lanes = tuple(lane for lane in board.lanes if lane.name in SMALL)
    return replace(board, profiles=(scrambled,), lanes=lanes)


class Choices:
    """Stands for the platform's file dialogs: what the user would have chosen."""

    def __init__(self) -> None:
        self.open: Path | None = None
        self.save: Path | None = None
        self.suggested: Path | None = None

    def to_open(self, folder: Path) -> Path | None:
        return self.open

    def to_save(self, suggested: Path) -> Path | None:
        self.suggested = suggested
        return self.save


class Place:
    """A temporary home: a board file, settings, and windows that end with the test."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.choices = Choices()
        self.file = root / "shelf.board.json"
        self.other = root / "bay.board.json"
        self.write_files()
        self.unsaved = root / "unsaved"
        self.windows: list[Window] = []

    def write_files(self) -> None:
        """Make both files what they are at first."""
        self.file.write_bytes(dump_board(small_board()))
        self.other.write_bytes(OTHER.read_bytes())

    @property
    def settings(self) -> Preferences:
        return Preferences(self.root / "desk.ini")

    def window(self, path: Path | None = None) -> Window:
        document = Document(load_board(path).board, path) if path is not None else Document(demo_board())
        window = Window(document, self.settings, self.unsaved, self.choices)
        window.show()
        self.windows.append(window)
        return window

    def forget(self, window: Window) -> None:
        """A window that was closed for itself."""
        self.windows.remove(window)

    def close(self) -> None:
        for window in self.windows:
            try:
                window.stop_work()
                window.deleteLater()
            except RuntimeError:  # its C++ half went when it was closed
                continue
        self.windows.clear()


def retitle(title: str) -> Callable:
    return lambda board: set_board(board, title=title)


def edit(window: Window, title: str = "Another") -> None:
    assert window.document.apply("change the title", retitle(title))


def gone(window: Window) -> Callable[[], bool]:
    state = []
    window.closed.connect(lambda: state.append(True))
    return lambda: bool(state)


def put_back(window: Window, place: Place) -> None:
    """Make a window that tests share what it was at first."""
    window.sheet.escape()
    place.write_files()
    window.document.replace(small_board(), place.file)
    window.beside.forget()
    window.status.clear()
    window.appearance.choose("light")
    window.state.set_lane(SMALL[0])
    for recent in window.settings.recent:
        window.settings.drop_recent(recent)
    QApplication.processEvents()
