"""The open board: its undo history, its file, and what is being tried out.

`changing` says that a board is shown as a preview (during a gesture or while a value is turned); `changed` says that a
board was committed as one named step. Widgets ask the document for edits and never keep a board of their own.
"""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from PySide6.QtCore import QObject, Signal

from workbench.board.model import Board
from workbench.board.reading import load_board
from workbench.board.writing import dump_board, save_board
from workbench.errors import WorkbenchError

Edit = Callable[[Board], Board]


class HistoryStep(NamedTuple):
    """One entry of the history: what was done, and the board after it."""

    name: str
    board: Board


class Document(QObject):
    """The board that the window shows.

    Signals:
        changing: a preview board is shown, or (board committed) the preview ended.
        changed: the committed board is another one: after an edit, undo, redo, open, new or revert.
        file_changed: path or modified mark changed.
        refused: an edit or file operation could not be done; carries one sentence.
    """

    changing = Signal(object)
    changed = Signal(object)
    file_changed = Signal()
    refused = Signal(str)

    def __init__(self, board: Board, path: Path | None = None, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._steps = [HistoryStep("", board)]
        self._at = 0
        self._saved: Board | None = board if path is not None else None
        self._path = path
        self._preview: Board | None = None
        self.snapshots: dict[str, Board] = {}

    @property
    def board(self) -> Board:
        """The committed board."""
        return self._steps[self._at].board

    @property
    def shown(self) -> Board:
        """The board on screen: the preview while there is one, else the committed board."""
        return self.board if self._preview is None else self._preview

    @property
    def path(self) -> Path | None:
        """The file the board is kept in; None before it was saved."""
        return self._path

    @property
    def saved(self) -> Board | None:
        """The board as its file was read or written last; None where there is no file, or it is gone."""
        return self._saved

    @property
    def modified(self) -> bool:
        """Whether the committed board differs from the file."""
        return self._saved is None or (self.board is not self._saved and self.board != self._saved)

    @property
    def undo_name(self) -> str:
        """What undo would take back; "" if nothing."""
        return self._steps[self._at].name if self._at > 0 else ""

    @property
    def redo_name(self) -> str:
        """What redo would do again; "" if nothing."""
        return self._steps[self._at + 1].name if self._at + 1 < len(self._steps) else ""

    def apply(self, name: str, edit: Edit) -> bool:
        """Commit an edit as one undo step.

        Args:
            name: what the user did, as undo shows it ("set length of RX3").
            edit: board -> board; a `WorkbenchError` it raises is told through `refused` and changes nothing.

        Returns:
            True if it was done (also if it changed nothing).
        """
        try:
            board = edit(self.board)
        except WorkbenchError as error:
            self.cancel_preview()
            self.refused.emit(str(error))
            return False
        had_preview, self._preview = self._preview is not None, None
        if board == self.board:
            if had_preview:
                self.changing.emit(self.board)
            return True
        del self._steps[self._at + 1 :]
        self._steps.append(HistoryStep(name, board))
        self._at += 1
        self._announce()
        return True

    def preview(self, edit: Edit) -> bool:
        """Show what an edit would do, without committing it; a refused one leaves the last preview.

        Returns:
            True if the edit could be done.
        """
        try:
            board = edit(self.board)
        except WorkbenchError:
            return False
        self._preview = board
        self.changing.emit(board)
        return True

    def cancel_preview(self) -> None:
        """Show the committed board again."""
        if self._preview is not None:
            self._preview = None
            self.changing.emit(self.board)

    def undo(self) -> None:
        """Take the last step back."""
        if self._at > 0:
            self._preview = None
            self._at -= 1
            self._announce()

    def redo(self) -> None:
        """Do the step again that was taken back last."""
        if self._at + 1 < len(self._steps):
            self._preview = None
            self._at += 1
            self._announce()

    def open(self, path: Path) -> bool:
        """Replace the board by a file's; a file that can't be read is told through `refused` and changes nothing."""
        try:
            loaded = load_board(path)
        except WorkbenchError as error:
            self.refused.emit(str(error))
            return False
        self.replace(loaded.board, path)
        return True

    def replace(self, board: Board, path: Path | None) -> None:
        """Start a new history with a board; without a path it counts as not saved."""
        self._steps, self._at, self._preview = [HistoryStep("", board)], 0, None
        self._path, self._saved = path, board if path is not None else None
        self._announce()

    def follow_file(self, board: Board | None) -> None:
        """The file holds another board than was read or written last (None: it is gone); the committed board stays."""
        self._saved = board
        self.file_changed.emit()

    def revert(self) -> bool:
        """Read the file again, dropping the history."""
        return self._path is not None and self.open(self._path)

    def save(self, path: Path | None = None) -> bool:
        """Write the board to its file, or to `path`, which is its file from then on; what it held is kept beside it."""
        target = path if path is not None else self._path
        if target is None:
            return False
        try:
            save_board(self.board, target, previous=True)
        except WorkbenchError as error:
            self.refused.emit(str(error))
            return False
        self._path, self._saved = target, self.board
        self.file_changed.emit()
        return True

    def text(self) -> bytes:
        """The committed board as its file would have it."""
        return dump_board(self.board)

    def snapshot(self, name: str) -> None:
        """Keep the committed board under a name, to compare with."""
        self.snapshots[name] = self.board
        self.file_changed.emit()

    def _announce(self) -> None:
        self.changed.emit(self.board)
        self.file_changed.emit()
