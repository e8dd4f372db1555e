"""What is done in a window, for its log: which commands, which steps, and how large the board is; no names."""

from collections.abc import Iterable

from PySide6.QtCore import QObject
from PySide6.QtGui import QAction

from workbench.board.model import Board
from workbench.desk.background.runner import Runner
from workbench.desk.session.document import Document
from workbench.logbook import LOG


class CommandLog(QObject):
    """Follows a window's commands and its document."""

    def __init__(self, document: Document, runner: Runner, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self._seen: Board | None = None
        self._names: frozenset[str] = frozenset()
        document.changed.connect(self._follow)
        document.refused.connect(lambda _: LOG.info("refused"))
        runner.failed.connect(lambda _: LOG.info("told that work failed"))

    def follow(self, actions: Iterable[QAction]) -> None:
        """Write down each of these whenever it is asked for; first what the board is like."""
        LOG.info("board: %s", _size(self._document.board))
        for action in actions:
            name = action.objectName() or "without a name"
            action.triggered.connect(lambda _=False, name=name: LOG.info("command %s", name))

    def names(self) -> frozenset[str]:
        """What any board of this session calls its parts: none of it may be written, also where it was undone."""
        board = self._document.board
        if self._seen is not board:
            path = self._document.path
            file = {path.name, path.stem, str(path)} if path is not None else set[str]()
            self._names = self._names | names_of(board) | frozenset(self._document.snapshots) | file
            self._seen = board
        return self._names

    def _follow(self, board: Board) -> None:
        LOG.info("board changed (%s): %s", self._document.undo_name or "begun with", _size(board))


def names_of(board: Board) -> frozenset[str]:
    """Every name that a board's owner has given."""
    catalogue = board.catalogue
    entries = (entry.name for section in catalogue.__struct_fields__ for entry in getattr(catalogue, section))
    measured = (name for one in board.measurements for name in (one.name, one.source, one.notes))
    return frozenset({
        board.title, *board.title.split(), *entries, *measured,
        *(lane.name for lane in board.lanes), *(device.ref for device in board.devices),
        *(profile.id for profile in board.profiles),
    })  # fmt: skip


def _size(board: Board) -> str:
    catalogue = board.catalogue
    entries = sum(len(getattr(catalogue, section)) for section in catalogue.__struct_fields__)
    return (
        f"{len(board.lanes)} lanes, {len(board.devices)} devices, {entries} catalogue entries, "
        f"{len(board.measurements)} measurements"
    )
