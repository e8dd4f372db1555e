"""Inputs for text of some lines, and for what may only be read."""

from typing import Any

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QResizeEvent, QTextOption, QWheelEvent
from PySide6.QtWidgets import QLabel, QPlainTextEdit, QSizePolicy, QWidget

from workbench.desk.widgets.inputs import ENTER, ValueInput
from workbench.desk.widgets.values import shown_text
from workbench.facts import Fact

_MOST_LINES = 30


class TextInput(ValueInput):
    """A text of some lines: Enter keeps it, Shift+Enter begins a line."""

    wide = True

    def __init__(self, fact: Fact, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.fact = fact
        self.paper = _Paper()
        self._good = ""
        self._hold(self.paper, fact)
        self.paper.done.connect(self.finish)
        self.paper.escaped.connect(lambda: self.paper.setPlainText(self._good))
        self.paper.came.connect(lambda: self.entered.emit(fact))

    def show_value(self, value: str) -> None:
        """Show the board's text, unless another one is being written."""
        writing = self.paper.hasFocus() and self.paper.toPlainText() != self._good and value == self._good
        self._good = value
        if not writing and self.paper.toPlainText() != value:
            self.paper.setPlainText(value)

    def finish(self) -> None:
        """Keep what was written."""
        text = self.paper.toPlainText()
        if text != self._good and not self.paper.isReadOnly():
            self._good = text
            self.settled.emit(text)


class _Paper(QPlainTextEdit):
    done = Signal()
    escaped = Signal()
    came = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setTabChangesFocus(True)
        self.setWordWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        self.document().setDocumentMargin(3)
        self.document().documentLayout().documentSizeChanged.connect(self._fit)

    def resizeEvent(self, event: QResizeEvent) -> None:  # noqa: N802 - Qt's name
        """Fit the height to the lines that the text now has."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            # Not inside the layout's own pass, which would miss the new height.
            QTimer.singleShot(0, self, self._fit)

    def _fit(self) -> None:
        lines = max(int(self.document().documentLayout().documentSize().height()), 1)
        self.setFixedHeight(min(lines, _MOST_LINES) * self.fontMetrics().lineSpacing() + 12)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Enter keeps, Escape restores."""
        if event.key() in ENTER and not event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.done.emit()
        elif event.key() == Qt.Key.Key_Escape:
            self.escaped.emit()
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Tell that the keyboard came."""
        super().focusInEvent(event)
        self.came.emit()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Keep what was written."""
        super().focusOutEvent(event)
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.done.emit()

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """All lines are in sight, so that the wheel is the form's."""
        event.ignore()


class ReadInput(ValueInput):
    """A value that may be read and copied, not set."""

    def __init__(self, fact: Fact, unit: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._unit = unit
        self._fact = fact
        self.label = _Readable(wordWrap=True)
        self.label.setObjectName("readable")
        self.label.setTextFormat(Qt.TextFormat.PlainText)
        self.label.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        self._hold(self.label, fact)
        self.label.came.connect(lambda: self.entered.emit(fact))

    def show_value(self, value: Any) -> None:  # noqa: ANN401 - of the field's type
        """Show the board's value."""
        self.label.setText(shown_text(value, self._unit))


class _Readable(QLabel):
    came = Signal()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Tell that the keyboard came."""
        super().focusInEvent(event)
        self.came.emit()
