"""Whether a board's file still holds what the window read or wrote: someone else may have changed it meanwhile."""

from pathlib import Path
from typing import NamedTuple

from workbench.board.model import Board
from workbench.board.reading import load_board
from workbench.desk.session.document import Document
from workbench.errors import WorkbenchError


class DiskVersion(NamedTuple):
    """What is on the disk instead: a board, or why none can be read there; `gone`: there is no file at all."""

    board: Board | None = None
    why: str = ""
    gone: bool = False


class _Stamp(NamedTuple):
    """What tells two states of a file apart without reading it."""

    changed_ns: int
    size: int
    node: int


class OnDisk:
    """Watches one document's file; it is read only where its time, size or place on the disk are not those known."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self._saved: Board | None = None
        self._path: Path | None = None
        self._known: _Stamp | None = None

    def probe(self) -> DiskVersion | None:
        """What the file holds otherwise than the document saved or read last; None: all is as it was."""
        path, saved = self._document.path, self._document.saved
        if path is None or saved is None:
            return None
        if saved is not self._saved or path != self._path:
            self._saved, self._path, self._known = saved, path, None
        try:
            stamp = _stamp(path)
        except OSError:
            return DiskVersion(gone=True)
        if stamp == self._known:
            return None
        try:
            board = load_board(path).board
        except WorkbenchError as error:
            return DiskVersion(why=str(error))
        if board != saved:
            return DiskVersion(board)
        self._known = stamp
        return None


def _stamp(path: Path) -> _Stamp:
    found = path.stat()
    return _Stamp(found.st_mtime_ns, found.st_size, found.st_ino)
