"""Some of several words in an order of the user's: buttons that are pressed or not, and that change places."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLabel, QToolButton, QWidget

from workbench.desk.widgets.theme import GRID_PX

_FIRST = 1
"""Where the words begin in their row, after the caption."""
_NARROW_PX = 1280
"""In a window less wide than this it takes two lines."""
_STEPS = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}


class _Word(QToolButton):
    """One word. Ctrl with an arrow, or dragging it past the middle of its neighbour, moves it one place."""

    moved = Signal(int)

    def __init__(self, word: str) -> None:
        super().__init__()
        self.setText(word)
        self.setCheckable(True)
        self.setChecked(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._dragged = False

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Move with Ctrl and an arrow."""
        step = _STEPS.get(Qt.Key(event.key()))
        if step is not None and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self.moved.emit(step)
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """A press may become a drag."""
        self._dragged = False
        super().mousePressEvent(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Move past a neighbour."""
        x = event.position().x()
        step = -1 if x < -self.width() / 2.0 else 1 if x > 1.5 * self.width() else 0
        if event.buttons() & Qt.MouseButton.LeftButton and step:
            self._dragged = True
            self.moved.emit(step)
        else:
            super().mouseMoveEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """After a drag the word stays as pressed or not as it was."""
        if self._dragged:
            self.setDown(False)
        else:
            super().mouseReleaseEvent(event)


class OrderedChoice(QWidget):
    """Words to allow, in the order in which they are tried.

    Attributes:
        row: the words after their caption.
        below: what else belongs there: beside the words, in a narrow window below them.

    Signals:
        changed: another choice, or another order.
    """

    changed = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("orderedChoice")
        self._words: list[_Word] = []
        self.row, self.below = QHBoxLayout(), QHBoxLayout()
        self._body = QBoxLayout(QBoxLayout.Direction.LeftToRight, self)
        self._body.setContentsMargins(0, 0, 0, 0)
        self._body.setSpacing(GRID_PX)
        for line, share in ((self.row, 0), (self.below, 1)):
            line.setSpacing(GRID_PX)
            self._body.addLayout(line, share)
        caption = QLabel("Try in this order", wordWrap=True)
        caption.setObjectName("note")
        self.row.addWidget(caption, 1)

    @property
    def buttons(self) -> tuple[QToolButton, ...]:
        """The words' buttons in their order."""
        return tuple(self._words)

    @property
    def chosen(self) -> tuple[str, ...]:
        """The words that are allowed, the first to try first."""
        return tuple(one.text() for one in self._words if one.isChecked())

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802 - Qt's name
        """Take one line or two."""
        super().showEvent(event)
        self._take_lines()

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Take one line or two."""
        super().resizeEvent(event)
        self._take_lines()

    def offer(self, words: tuple[str, ...], about: str) -> None:
        """Offer words, all of them allowed; the same words again keep what was chosen."""
        if {one.text() for one in self._words} == set(words):
            return
        for one in self._words:
            self.row.removeWidget(one)
            one.deleteLater()
        self._words = [self._made(word, about) for word in words]
        for place, one in enumerate(self._words):
            self.row.insertWidget(_FIRST + place, one)

    def _take_lines(self) -> None:
        """By the window's width: its columns make room for one line as long as they have it."""
        narrow = self.window().width() < _NARROW_PX
        self._body.setDirection(QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight)

    def _made(self, word: str, about: str) -> _Word:
        made = _Word(word)
        made.setToolTip(f"{about}\nClick to allow it or not; drag it, or press Ctrl+Left or Ctrl+Right, to move it.")
        made.setAccessibleName(f"Allow {word}")
        made.toggled.connect(lambda _: self.changed.emit())
        made.moved.connect(lambda step: self._move(made, step))
        return made

    def _move(self, word: _Word, step: int) -> None:
        at = self._words.index(word)
        to = at + step
        if 0 <= to < len(self._words):
            self._words.insert(to, self._words.pop(at))
            self.row.removeWidget(word)
            self.row.insertWidget(_FIRST + to, word)
            word.setFocus()
            self.changed.emit()
