"""What the path strip knows of a lane besides its layout, kept as long as board and lane are the same: no widget."""

from workbench.board.model import Board, Lane
from workbench.desk.session.document import Document
from workbench.desk.strip.ghosts import Ghost, ghost_words, ghosts_or_none
from workbench.desk.strip.scene import losses_or_none, told
from workbench.engine.memo import Memo

_MEMO_BYTES = 16 * 2**20


class KnownOfLane:
    """Losses of the elements and runs beside them; painting asks for both again and again."""

    def __init__(self, document: Document) -> None:
        self._document, self._memo = document, Memo(_MEMO_BYTES)
        self._losses: tuple[Board | None, Lane | None, tuple[float | None, ...]] = (None, None, ())
        self._ghosts: tuple[Board | None, Lane | None, tuple[Ghost, ...]] = (None, None, ())

    def losses(self, board: Board, lane: Lane) -> tuple[float | None, ...]:
        """Each element's loss at Nyquist in dB; None for a stage, and where it can't be had."""
        if self._losses[0] is not board or self._losses[1] is not lane:
            self._losses = (board, lane, losses_or_none(self._memo, board, lane))
        return self._losses[2]

    def ghosts(self, board: Board, lane: Lane) -> tuple[Ghost, ...]:
        """The runs beside the lane's own; only sketched while something is dragged."""
        if self._ghosts[0] is not board or self._ghosts[1] is not lane:
            sketch = board is not self._document.board
            self._ghosts = (board, lane, ghosts_or_none(board, lane, sketch=sketch))
        return self._ghosts[2]

    def told(self, lane: Lane, at: int | None, losses: tuple[float | None, ...]) -> str:
        """What an element of the committed board is, its losses given, and what lies beside it."""
        beside = ghost_words(self.ghosts(self._document.board, lane), at) if at is not None else ""
        return told(lane, at, losses) + beside
