"""What is said about the field that the keyboard is in, below the form."""

from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QLabel

from workbench.desk.details.fields import FieldSpot
from workbench.desk.widgets.theme import GRID_PX
from workbench.desk.widgets.values import default_words, range_words

_LINES = (5, 14)
"""How many lines the sentences have room for at least, so that the form seldom moves, and at most."""

HINT = (
    "Up, Down or the wheel step a value while the keyboard is in its field, with Shift tenfold. "
    "Enter keeps it, Escape takes it back. In a table F2 opens the cell."
)
"""What is said while no field has the keyboard."""


class FieldHelp(QLabel):
    """The sentences, as high as they need within limits, whatever the letters."""

    def __init__(self) -> None:
        super().__init__(wordWrap=True)
        self.setObjectName("help")
        self.setAccessibleName("About this field")
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.setAlignment(Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft)
        self.setMargin(2 * GRID_PX)
        self._make_room()

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """With other letters the sentences take another height."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.FontChange:
            self._make_room()

    def heightForWidth(self, width: int) -> int:  # noqa: N802 - Qt's name
        """Never fewer lines than the least; a column that is too low for them hides it all."""
        return max(super().heightForWidth(width), self._lines_px(_LINES[0]))

    def _make_room(self) -> None:
        self.setMaximumHeight(self._lines_px(_LINES[1]))

    def _lines_px(self, lines: int) -> int:
        return lines * self.fontMetrics().lineSpacing() + 4 * GRID_PX


def about_field(spot: FieldSpot, source: str) -> str:
    """What a field means, its range, its default and (unless "") where its value comes from, in sentences."""
    fact = spot.fact
    words = [fact.help]
    allowed = range_words(fact, spot.unit)
    words += [f"{allowed[:1].upper()}{allowed[1:]}."] if allowed else []
    default = default_words(fact, spot.unit)
    words += [f"Default {default}."] if default not in ("", "none") else []
    words += [f"Source: {source}."] if source else []
    return " ".join(words)
