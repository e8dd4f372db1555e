"""Something under way from Parts to the path strip: no drag of the platform, so that one event loop serves all."""

from PySide6.QtCore import QObject, QPoint, Signal

from workbench.board.edits.part_items import PartItem


class DragSession(QObject):
    """One item being dragged, fed by Parts and watched by the strip.

    Signals:
        moved: the item, where the pointer is on the screen, and whether a device of its own is asked for.
        dropped: the same, where it was let go.
        cancelled: it was put back.
        wanted: an item is to be inserted without a drag: the item, whether on a device of its own, and whether into the
            middle of the selected run.
    """

    moved = Signal(object, QPoint, bool)
    dropped = Signal(object, QPoint, bool)
    cancelled = Signal()
    wanted = Signal(object, bool, bool)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.item: PartItem | None = None

    def move(self, item: PartItem, place: QPoint, *, fresh: bool) -> None:
        """The pointer is at a place with an item."""
        self.item = item
        self.moved.emit(item, place, fresh)

    def drop(self, place: QPoint, *, fresh: bool) -> None:
        """The pointer lets go."""
        item, self.item = self.item, None
        if item is not None:
            self.dropped.emit(item, place, fresh)

    def cancel(self) -> None:
        """The item is put back."""
        if self.item is not None:
            self.item = None
            self.cancelled.emit()
