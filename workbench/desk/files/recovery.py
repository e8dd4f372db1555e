"""Work that an earlier session could not save: offered with what it would change, never put back by itself."""

from collections.abc import Callable

from workbench.board.reading import load_board
from workbench.desk.files.autosave import Leftover
from workbench.desk.files.files import Files
from workbench.desk.widgets.changes_list import ChangesList, changes_between, counted
from workbench.desk.widgets.sheet import Answer, Sheet
from workbench.errors import WorkbenchError


class Recovery:
    """Offers a leftover in a window's sheet.

    Args:
        sheet: where it is asked.
        files: what puts the board back.
        tell: says why it can't be done.
    """

    def __init__(self, sheet: Sheet, files: Files, tell: Callable[[str], None]) -> None:
        self._sheet, self._files, self._tell = sheet, files, tell

    def offer(self, leftover: Leftover) -> None:
        """Ask what is to become of it."""
        when = leftover.at.strftime("%H:%M on %d %B")
        changes = _changes_of(leftover)
        what = f" It has {counted(changes)} over the file." if changes else ""
        self._sheet.ask(
            f"“{leftover.title}” was not saved when the program ended; there is a copy from {when}.{what}",
            (
                Answer("Restore", lambda: self._restore(leftover)),
                Answer("Discard", leftover.discard),
                Answer("Later", leftover.release, safe=True),
            ),
            extra=ChangesList(changes) if changes else None,
        )

    def _restore(self, leftover: Leftover) -> None:
        try:
            board = leftover.board()
        except WorkbenchError as error:
            leftover.release()
            self._tell(f"The copy can't be restored: {error}")
            return
        self._files.restore(board, leftover.path)
        leftover.discard()


def _changes_of(leftover: Leftover) -> tuple[str, ...]:
    """What restoring would change in the file; nothing where either can't be read, which restoring will tell."""
    if leftover.path is None or not leftover.path.exists():
        return ()
    try:
        return changes_between(load_board(leftover.path).board, leftover.board())
    except WorkbenchError:
        return ()
