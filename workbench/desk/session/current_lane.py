"""The current lane is always one of the board's."""

from PySide6.QtCore import QObject

from workbench.board.model import Board
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState


class CurrentLane(QObject):
    """Gives a lane that was taken away, if it was the current one, a follower: the one in its place."""

    def __init__(self, document: Document, state: ViewState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document, self._state, self._at = document, state, 0
        state.set_lane(document.board.lanes[0].name if document.board.lanes else "")

    def follow(self) -> None:
        """From now on; what shows lanes has to hear of a changed board before it hears of another lane."""
        self._document.changed.connect(self._keep)
        self._state.lane_changed.connect(self._note)

    def _keep(self, board: Board) -> None:
        names = [lane.name for lane in board.lanes]
        if self._state.lane not in names:
            at = min(self._at, len(names) - 1)
            self._state.set_lane(names[at] if names else "")
        self._note()

    def _note(self) -> None:
        names = [lane.name for lane in self._document.board.lanes]
        self._at = names.index(self._state.lane) if self._state.lane in names else 0
