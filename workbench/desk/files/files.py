"""What the File menu does: open, save, new, recent, revert; work that would be lost is asked about first."""

from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from msgspec.structs import replace
from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFileDialog, QWidget

from workbench.board.model import Board
from workbench.board.reading import load_board
from workbench.desk.files.autosave import at_stake
from workbench.desk.files.effects import ChangesWithEffects, EffectsChannel
from workbench.desk.files.guard import FileGuard
from workbench.desk.session.document import Document
from workbench.desk.session.settings import Preferences
from workbench.desk.widgets.changes_list import changes_between, counted
from workbench.desk.widgets.sheet import Answer, Sheet
from workbench.errors import WorkbenchError
from workbench.wording import quoted_path

ENDING = ".board.json"
KINDS = f"Boards (*{ENDING});;JSON files (*.json);;All files (*)"


class FileChooser(Protocol):
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
        self,
        document: Document,
        settings: Preferences,
        sheet: Sheet,
        chooser: FileChooser,
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._document, self._settings, self._sheet = document, settings, sheet
        self.chooser = chooser
        self.guard = FileGuard(document, sheet, self)
        self.effects = EffectsChannel(self)

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
                Answer("Save", lambda: self.save(then)),
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
        self.ask_then(f"before {quoted_path(path.name)} is opened", lambda: self._open_or_ask(path))

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

    def save(self, then: Callable[[], None] | None = None) -> bool:
        """Write the file; a board without one asks for it, and so does one whose file someone else changed.

        Args:
            then: what is done once it is saved, also where that is after a question.

        Returns:
            True if it is saved.
        """
        self.settling.emit()
        if self._document.path is None:
            return self.save_as(then)
        if not self.guard.may_save(lambda: self._written(None, then), lambda: self.save_as(then)):
            return False
        return self._written(None, then)

    def save_as(self, then: Callable[[], None] | None = None) -> bool:
        """Write the board to a file that the user chooses, which is its file from then on.

        Returns:
            True if it is saved.
        """
        self.settling.emit()
        path = self.chooser.to_save(self._suggested())
        if path is None:
            return False
        path = path if path.suffix else path.with_name(path.name + ENDING)
        if path == self._document.path:
            return self.save(then)
        holder = self.guard.others(path)
        if holder:
            name = quoted_path(path.name)
            self._document.refused.emit(f"{name} can't be written: {holder} has it; choose another name")
            return False
        return self._written(path, then)

    def show_changes(self) -> None:
        """Say what changed since the file was read or written last."""
        self.settling.emit()
        saved = self._document.saved
        if saved is None:
            self._document.refused.emit(f"“{self.name}” is in no file yet; save it to have something to compare with")
        else:
            self._tell_changes("since it was saved", saved, self._document.board)

    def show_changes_from_chosen(self) -> None:
        """Let the user choose a file, such as a version that was sent, and say what is otherwise in this board."""
        self.settling.emit()
        path = self.chooser.to_open(self._folder())
        if path is None:
            return
        try:
            other = load_board(path).board
        except WorkbenchError as error:
            self._document.refused.emit(_about(path, error))
            return
        self._tell_changes(f"since {quoted_path(path.name)}", other, self._document.board)

    def restore(self, board: Board, path: Path | None) -> None:
        """Bring back unsaved work as one step over its file, or over what is shown where that file is gone."""
        if path is None or not path.exists() or self.guard.others(path) or not self._document.open(path):
            self._document.replace(self._document.board, None)
        self.replaced.emit()
        self._document.apply("recovered work", lambda _: board)

    def work_on_copy(self) -> None:
        """Go on with a copy of the board that is shown, which is in no file yet."""
        self._copy(self._document.board)

    def _tell_changes(self, since: str, old: Board, new: Board) -> None:
        told = f"What changed in “{self.name}” {since}"
        if not changes_between(old, new):
            self._sheet.ask(f"{told}: nothing.", (Answer("Close", _nothing, safe=True),))
            return
        self._sheet.escape()  # what it shows is of another comparison
        shown = ChangesWithEffects(old, new, self.effects, workers=self._settings.cores or None)

        def copy() -> None:
            QGuiApplication.clipboard().setText(shown.text)
            self.effects.cancel()

        self._sheet.ask(
            f"{told}: {counted(shown.sentences)}.",
            (Answer("Copy", copy), Answer("Close", self.effects.cancel, safe=True)),
            extra=shown,
        )

    def _written(self, path: Path | None, then: Callable[[], None] | None) -> bool:
        done = self._document.save(path)
        if done and self._document.path is not None:
            self._settings.add_recent(self._document.path)
        if done and then is not None:
            then()
        return done

    def _open_or_ask(self, path: Path) -> None:
        self.guard.open_or_ask(path, lambda: self._open(path), lambda: self._open_copy(path))

    def _open_copy(self, path: Path) -> None:
        try:
            self._copy(load_board(path).board)
        except WorkbenchError as error:
            self._document.refused.emit(_about(path, error))

    def _copy(self, board: Board) -> None:
        self._show(replace(board, title=f"{board.title} copy".strip()))

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
