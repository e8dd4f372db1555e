"""Widgets in a row that goes on in the next line where there is no room."""

from collections.abc import Iterator

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget

from workbench.desk.widgets.theme import GRID_PX


class WrappingRow(QLayout):
    """Widgets from left to right, none narrower than it asks to be; a line breaks where the next has no room.

    Args:
        apart: where all stands in one line, the first is at its left end and the others at its right.
    """

    def __init__(self, parent: QWidget | None = None, *, apart: bool = False, spacing_px: int = GRID_PX) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self._apart = apart
        self.setContentsMargins(0, 0, 0, 0)
        self.setSpacing(spacing_px)

    def addItem(self, item: QLayoutItem) -> None:  # noqa: N802 - Qt's name
        """One more at the end."""
        self._items.append(item)

    def count(self) -> int:
        """How many there are."""
        return len(self._items)

    def itemAt(self, index: int) -> QLayoutItem | None:  # noqa: N802 - Qt's name; it asks beyond the end
        """The one at a place; None beyond the end."""
        return self._items[index] if 0 <= index < len(self._items) else None

    def takeAt(self, index: int) -> QLayoutItem | None:  # noqa: N802 - as above
        """Take one out; None beyond the end."""
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:  # noqa: N802 - Qt's name
        """It takes the width that it gets."""
        return Qt.Orientation.Horizontal

    def hasHeightForWidth(self) -> bool:  # noqa: N802 - Qt's name
        """More lines in less width."""
        return True

    def heightForWidth(self, width: int) -> int:  # noqa: N802 - Qt's name
        """How high its lines are together, px."""
        lines = list(self._lines(width))
        return sum(_height(line) for line in lines) + self.spacing() * max(len(lines) - 1, 0)

    def sizeHint(self) -> QSize:  # noqa: N802 - Qt's name
        """All in one line."""
        shown = self._shown()
        return QSize(self._width(shown), _height(shown))

    def minimumSize(self) -> QSize:  # noqa: N802 - Qt's name
        """As wide as its widest, one below the other."""
        shown = self._shown()
        return QSize(max((one.sizeHint().width() for one in shown), default=0), _height(shown))

    def setGeometry(self, rect: QRect) -> None:  # noqa: N802 - Qt's name
        """Put each where it belongs."""
        super().setGeometry(rect)
        top = rect.top()
        lines = list(self._lines(rect.width()))
        for line in lines:
            height, left = _height(line), rect.left()
            for number, item in enumerate(line):
                size = item.sizeHint()
                if number == 1 and self._apart and len(lines) == 1:
                    left += rect.width() - self._width(line)
                item.setGeometry(QRect(QPoint(left, top + (height - size.height()) // 2), size))
                left += size.width() + self.spacing()
            top += height + self.spacing()

    def _shown(self) -> list[QLayoutItem]:
        return [one for one in self._items if not one.isEmpty()]

    def _width(self, items: list[QLayoutItem]) -> int:
        return sum(one.sizeHint().width() for one in items) + self.spacing() * max(len(items) - 1, 0)

    def _lines(self, width: int) -> Iterator[list[QLayoutItem]]:
        line: list[QLayoutItem] = []
        for item in self._shown():
            if line and self._width([*line, item]) > width:
                yield line
                line = []
            line.append(item)
        if line:
            yield line


def _height(items: list[QLayoutItem]) -> int:
    return max((one.sizeHint().height() for one in items), default=0)
