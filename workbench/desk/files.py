"""What the File menu does: open, save, new, recent, revert; work that would be lost is asked about first."""

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from workbench.board.messages import quoted_path
from workbench.board.model import Board
from workbench.board.reading import load_board
from workbench.desk.autosave import at_stake
from workbench.desk.document import Document
from workbench.desk.settings import Settings
from workbench.desk.sheet import Answer, Sheet
from workbench.errors import WorkbenchError

ENDING = ".board.json"
KINDS = f"Boards (*{ENDING});;JSON files (*.json);;All files (*)"


class Chooser(Protocol):
    """Lets the user choose a file; None where they thought better of it."""

    def to_open(self, folder: Path) -> Path | None:
        """A file to read."""

    def to_save(self, suggested: Path) -> Path | None:
        """A file to write; one that exists was confirmed."""


class PlatformChooser:
    """The platform's own file dialogs, over a window."""

    def __init__(self, window: QWidget) -> None:
        self._window = window

    def to_open(self, folder: Path) -> Path | None:
        """A file to read."""
        name, _ = QFileDialog.getOpenFileName(self._window, "Open a board", str(folder), KINDS)
        return Path(name) if name else None

    def to_save(self, suggested: Path) -> Path | None:
        """A file to write."""
        name, _ = QFileDialog.getSaveFileName(self._window, "Save the board", str(suggested), KINDS)
        return Path(name) if name else None


class Files(QObject):
    """The document's comings and goings.

    Signals:
        settling: the board is about to be saved or left; a value that is being typed is to be kept first.
        replaced: the document holds another board than before, so that what was compared with it is void.
    """

    settling = Signal()
    replaced = Signal()

    def __init__(
        self, document: Document, settings: Settings, sheet: Sheet, chooser: Chooser, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._document, self._settings, self._sheet = document, settings, sheet
        self.chooser = chooser

    @property
    def name(self) -> str:
        """What the board is called: its file, else its title."""
        path = self._document.path
        return path.name if path is not None else self._document.board.title or "untitled board"

    def ask_then(self, doing: str, then: Callable[[], None]) -> None:
        """Do something that drops the board, first asking about unsaved work.

        Args:
            doing: how the question ends: "before the window closes".
            then: what is done once nothing is at stake any more.
        """
        self.settling.emit()
        if not at_stake(self._document):
            then()
            return
        self._sheet.ask(
            f"“{self.name}” has changes that are not saved. Save them {doing}?",
            (
                Answer("Save", lambda: self._save_then(then)),
                Answer("Discard", then),
                Answer("Cancel", _nothing, safe=True),
            ),
        )

    def open(self, path: Path) -> None:
        """Open a file; one that can't be read is told in a sentence and changes nothing."""
        try:
            load_board(path)
        except WorkbenchError as error:
            if not path.exists():
                self._settings.drop_recent(path)
            self._document.refused.emit(_about(path, error))
            return
        self.ask_then(f"before {quoted_path(path.name)} is opened", lambda: self._open(path))

    def open_chosen(self) -> None:
        """Let the user choose a file and open it."""
        path = self.chooser.to_open(self._folder())
        if path is not None:
            self.open(path)

    def show_new(self, board: Board) -> None:
        """Begin with a board that is in no file yet."""
        self.ask_then("before the new board is shown", lambda: self._show(board))

    def revert(self) -> None:
        """Read the file again; what was changed since is dropped after a question."""
        self.settling.emit()
        path = self._document.path
        if path is None:
            return
        if not at_stake(self._document):
            self._open(path)
            return
        self._sheet.ask(
            f"Go back to “{self.name}” as it was saved? All changes since then are dropped, undo included.",
            (Answer("Revert", lambda: self._open(path)), Answer("Cancel", _nothing, safe=True)),
        )

    def save(self) -> bool:
        """Write the file; a board without one asks for it.

        Returns:
            True if it is saved.
        """
        self.settling.emit()
        if self._document.path is None:
            return self.save_as()
        return self._saved(self._document.save())

    def save_as(self) -> bool:
        """Write the board to a file that the user chooses, which is its file from then on.

        Returns:
            True if it is saved.
        """
        self.settling.emit()
        path = self.chooser.to_save(self._suggested())
        if path is None:
            return False
        return self._saved(self._document.save(path if path.suffix else path.with_name(path.name + ENDING)))

    def restore(self, board: Board, path: Path | None) -> None:
        """Bring back unsaved work as one step over its file, or over what is shown where that file is gone."""
        if path is None or not path.exists() or not self._document.open(path):
            self._document.replace(self._document.board, None)
        self.replaced.emit()
        self._document.apply("recovered work", lambda _: board)

    def _save_then(self, then: Callable[[], None]) -> None:
        if self.save():
            then()

    def _saved(self, done: bool) -> bool:
        if done and self._document.path is not None:
            self._settings.add_recent(self._document.path)
        return done

    def _open(self, path: Path) -> None:
        if self._document.open(path):
            self._settings.add_recent(path)
            self.replaced.emit()

    def _show(self, board: Board) -> None:
        self._document.replace(board, None)
        self.replaced.emit()

    def _folder(self) -> Path:
        nearby = [path for path in (self._document.path, *self._settings.recent) if path is not None]
        return next((path.parent for path in nearby if path.parent.is_dir()), Path.home())

    def _suggested(self) -> Path:
        if self._document.path is not None:
            return self._document.path
        words = "".join(letter if letter.isalnum() else " " for letter in self._document.board.title.lower()).split()
        return self._folder() / ("-".join(words or ["untitled"]) + ENDING)


def _about(path: Path, error: WorkbenchError) -> str:
    """The sentence of a file that was refused: which file, then what is wrong with it."""
    sentence = str(error)
    if path.name in sentence:
        return sentence
    return f"{quoted_path(path.name)} can't be opened: {sentence[:1].lower()}{sentence[1:]}"


def _nothing() -> None:
    """The answer that changes nothing."""
