"""Keeping unsaved work apart from the user's file, so that a kill or a power cut loses seconds, not hours.

Each window keeps one copy in the state folder while its board differs from its file; a lock beside it names the living
process. A copy whose process is gone is offered at the next start.
"""

import secrets
from contextlib import suppress
from datetime import datetime
from pathlib import Path

import msgspec
from PySide6.QtCore import QLockFile, QObject, QTimer

from workbench.board.model import Board
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.desk.background.runner import Runner
from workbench.desk.background.talk import Talk
from workbench.desk.session.document import Document
from workbench.errors import WorkbenchError
from workbench.replacing import replace_file

DELAY_MS = 2_000
_COPY, _ABOUT, _LOCK = ".board.json", ".about.json", ".lock"
_CHANNEL = "autosave"


class About(msgspec.Struct, frozen=True):
    """What a copy is of: the user's file (None where it was never saved) and the board's title."""

    path: str | None = None
    title: str = ""


def at_stake(document: Document) -> bool:
    """Whether closing the board would lose something; a new board or demo that nobody touched is no loss."""
    return document.modified and (document.path is not None or bool(document.undo_name))


class Autosave(QObject):
    """Keeps a copy of one document's unsaved work.

    Args:
        document: what is kept.
        runner: writes the copy, off the GUI thread; a failure is told by its `failed`.
        folder: where copies lie; made when first needed.
        delay_ms: how long after an edit the copy is written at the latest.

    Attributes:
        told: it was said that no copies can be kept; it is said once.
    """

    def __init__(
        self, document: Document, runner: Runner, folder: Path, parent: QObject | None = None, delay_ms: int = DELAY_MS
    ) -> None:
        super().__init__(parent)
        self._document, self._runner, self._folder = document, runner, folder
        self._id = secrets.token_hex(8)
        self._lock: QLockFile | None = None
        self.told = False
        self._timer = QTimer(self, singleShot=True, interval=delay_ms)
        self._timer.timeout.connect(self._keep)
        document.changed.connect(self._note)
        document.file_changed.connect(self._note)

    @property
    def copy(self) -> Path:
        """Where this window's copy lies while there is one."""
        return self._folder / f"{self._id}{_COPY}"

    def close(self) -> None:
        """The work was saved or given up: take the copy away. Call it after the runner was closed."""
        self._timer.stop()
        if self._lock is not None:
            with suppress(OSError):  # closing goes on; a copy that stays is offered at the next start
                _remove(self._folder, self._id)
            self._lock.unlock()
            self._lock = None

    def _note(self) -> None:
        # Not restarted by the next edit: someone who edits without a pause is kept safe as well.
        if not at_stake(self._document):
            self._timer.stop()
            if self._lock is not None:
                self._runner.submit(_CHANNEL, lambda _: _remove(self._folder, self._id), _ignore, priority=-1)
        elif not self._timer.isActive():
            self._timer.start()

    def _keep(self) -> None:
        board, path = self._document.board, self._document.path
        about = About(None if path is None else str(path.absolute()), board.title)
        try:
            self._hold()
        except OSError as error:
            if not self.told:
                why = error.strerror or str(error)
                self._runner.failed.emit(f"Unsaved work can't be kept safe ({why}); save it to a file of your own.")
            self.told = True
            return
        self.told = False
        self._runner.submit(_CHANNEL, lambda talk: self._write(talk, board, about), _ignore, priority=-1)

    def _hold(self) -> None:
        """Mark the copy as that of a living process."""
        if self._lock is None:
            self._folder.mkdir(parents=True, exist_ok=True)
            lock = _lock(self._folder, self._id)
            if not lock.tryLock(0):
                raise OSError("its folder can't be written")
            self._lock = lock

    def _write(self, talk: Talk, board: Board, about: About) -> None:
        talk.check()
        try:
            replace_file(self._folder / f"{self._id}{_ABOUT}", msgspec.json.encode(about))
        except OSError as error:
            why = error.strerror or str(error)
            raise WorkbenchError(f"unsaved work can't be kept safe ({why}); save it to a file of your own") from error
        save_board(board, self.copy)


class Leftover:
    """Unsaved work of a process that is gone. It is this process's to offer until `release` or `discard`."""

    def __init__(self, folder: Path, name: str, lock: QLockFile) -> None:
        self._folder, self._name, self._lock = folder, name, lock
        self.at = datetime.fromtimestamp(self._copy.stat().st_mtime)
        about = _about(folder / f"{name}{_ABOUT}")
        self.path = None if about.path is None else Path(about.path)
        self.title = about.title or (self.path.name if self.path is not None else "a board without a title")

    def board(self) -> Board:
        """The board as it was.

        Raises:
            BoardFileError: the copy can't be read.
        """
        return load_board(self._copy).board

    def release(self) -> None:
        """Leave it for the next start."""
        self._lock.unlock()

    def discard(self) -> None:
        """Take it away."""
        _remove(self._folder, self._name)
        self._lock.unlock()

    @property
    def _copy(self) -> Path:
        return self._folder / f"{self._name}{_COPY}"


def leftovers(folder: Path) -> list[Leftover]:
    """The unsaved work that ended processes left in a folder, the latest first."""
    found = []
    for copy in folder.glob(f"*{_COPY}"):
        name = copy.name.removesuffix(_COPY)
        lock = _lock(folder, name)
        if lock.tryLock(0):  # its process is gone: such a lock is taken over
            found.append(Leftover(folder, name, lock))
    return sorted(found, key=lambda one: one.at, reverse=True)


def _lock(folder: Path, name: str) -> QLockFile:
    lock = QLockFile(str(folder / f"{name}{_LOCK}"))
    lock.setStaleLockTime(0)  # only the death of its process makes a lock stale, no age
    return lock


def _about(path: Path) -> About:
    try:
        return msgspec.json.decode(path.read_bytes(), type=About)
    except (OSError, msgspec.MsgspecError):
        return About()  # the copy itself is what matters


def _remove(folder: Path, name: str) -> None:
    for ending in (_COPY, _ABOUT):
        (folder / f"{name}{ending}").unlink(missing_ok=True)


def _ignore(_: object) -> None:
    """Nothing follows a copy that was written."""
