"""The variant of the board that a point of an answer stands for, in the panes without being applied."""

from PySide6.QtCore import QObject, Signal

from workbench.desk.session.document import Document
from workbench.desk.studies.asked import AskedStudy, Edit
from workbench.studies.presentation import Point


class ShownVariant(QObject):
    """What the panes show of an answer: a point that was chosen, or the one that the pointer is over.

    Attributes:
        point: the chosen point; None while the panes show the board.
        asked: the study whose answer is looked at, which may speak of another gap than the board has.

    Signals:
        said: a sentence for the status line.
        changed: another point is chosen.
    """

    said = Signal(str)
    changed = Signal()

    def __init__(self, document: Document, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document = document
        self.point: Point | None = None
        self.asked: AskedStudy | None = None

    def choose(self, point: Point) -> None:
        """Show a variant in the panes without committing it."""
        edit = self._edit(point)
        if edit is None:
            return
        if self._document.preview(edit):
            self.point = point
            self.said.emit(f"Shown, not applied: {point.words}")
        self.changed.emit()

    def glance(self, point: Point | None) -> None:
        """Show a variant as long as the pointer is over its line; then again what was chosen, or the board."""
        shown = point if point is not None else self.point
        edit = None if shown is None else self._edit(shown)
        if shown is None or edit is None:
            self._document.cancel_preview()
        elif self._document.preview(edit):
            self.said.emit(f"Shown, not applied: {shown.words}")

    def drop(self) -> None:
        """Take the variant back, if there is one."""
        if self.point is not None:
            self.point = None
            self._document.cancel_preview()

    def forget(self) -> None:
        """The board is another one, or has the variant: there is nothing to take back."""
        self.point = None

    def _edit(self, point: Point) -> Edit | None:
        return point.edit if point.edit is None or self.asked is None else self.asked.edited(point.edit)
