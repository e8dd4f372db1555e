"""What differs between two boards as a short list to read, select and copy."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QFontMetrics
from PySide6.QtWidgets import QPlainTextEdit, QWidget

from workbench.board.difference import differences
from workbench.board.model import Board

_MOST_LINES = 8


def changes_between(old: Board, new: Board) -> tuple[str, ...]:
    """A sentence a piece that the new board has otherwise."""
    return tuple(one.sentence for one in differences(old, new))


def counted(sentences: tuple[str, ...]) -> str:
    """How many changes: "nothing", "one change", "5 changes"."""
    return {0: "nothing", 1: "one change"}.get(len(sentences), f"{len(sentences)} changes")


class ChangesList(QPlainTextEdit):
    """The sentences, one a line; as high as they need, up to eight lines."""

    def __init__(self, sentences: tuple[str, ...], parent: QWidget | None = None) -> None:
        super().__init__("\n".join(sentences), parent)
        self.setReadOnly(True)
        self.setAccessibleName("What differs")
        self.setLineWrapMode(QPlainTextEdit.LineWrapMode.NoWrap)
        self.setTabChangesFocus(True)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        lines = min(max(len(sentences), 1), _MOST_LINES)
        line_px = QFontMetrics(self.font()).lineSpacing()
        bar_px = self.horizontalScrollBar().sizeHint().height()
        self.setFixedHeight(lines * line_px + bar_px + 2 * int(self.document().documentMargin()) + 2)
