"""The inputs that the details form is made of: one value each, stepped live, committed once, restored by Escape."""

from collections.abc import Sequence
from threading import Thread
from typing import Any, NamedTuple

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QKeySequence, QWheelEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QWidget

from workbench.desk.widgets.stylesheet import set_state
from workbench.desk.widgets.values import in_unit_shown, read_number, read_numbers, stepped, stepped_text, text_of
from workbench.errors import QuantityError
from workbench.facts import Fact
from workbench.quantity import parse

BIG = 10
NOTCH = 120
_STEP_KEYS = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1, Qt.Key.Key_PageUp: BIG, Qt.Key.Key_PageDown: -BIG}
ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_NOTHING = object()
"""No value was shown yet."""


class ValueInput(QWidget):
    """One value of a record.

    Signals:
        tried: a value is to be shown, not kept yet; carries it.
        settled: a value is to be kept; carries it.
        dropped: what was tried is to be forgotten.
        faulted: what stands in the field can't be taken; carries a sentence, "" once it is mended.
        entered: the keyboard came here; carries the field's fact.
        followed: what the value names is to be shown; carries a target.

    Attributes:
        wide: it needs the form's whole width.
    """

    tried = Signal(object)
    settled = Signal(object)
    dropped = Signal()
    faulted = Signal(str)
    entered = Signal(object)
    followed = Signal(object)
    wide = False

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.row = QHBoxLayout(self)
        self.row.setContentsMargins(0, 0, 0, 0)
        self.row.setSpacing(2)

    def show_value(self, value: Any) -> None:  # noqa: ANN401 - of the field's type
        """Show the value that the board has."""
        raise NotImplementedError

    def finish(self) -> None:
        """Keep what is pending."""

    def refuse(self, sentence: str) -> bool:
        """The value that was settled was refused; True where the input shows the sentence itself."""
        del sentence
        return False

    def mark(self, faulty: bool) -> None:
        """Mark the editor as holding something that can't be taken, or as sound."""
        editor = self.focusProxy()
        if editor is not None:
            set_state(editor, "faulty", faulty)

    def _hold(self, editor: QWidget, fact: Fact) -> None:
        self.row.addWidget(editor, 1)
        self.setFocusProxy(editor)
        editor.setAccessibleName(fact.label or fact.name)
        editor.setAccessibleDescription(fact.help)


class LineInput(QLineEdit):
    """A line of text that tells steps, Enter, Escape and leaving apart."""

    stepped = Signal(int)
    done = Signal()
    left = Signal()
    escaped = Signal()
    came = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.steps = self.pending = False
        self._turned = 0

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Up, Down and the page keys step; Enter commits; Escape restores, or is left to the window."""
        by = _STEP_KEYS.get(Qt.Key(event.key()), 0) if self.steps and not self.isReadOnly() else 0
        if by:
            big = BIG if event.modifiers() & Qt.KeyboardModifier.ShiftModifier and abs(by) == 1 else 1
            self.stepped.emit(by * big)
        elif event.key() in ENTER:
            self.done.emit()
        elif event.key() == Qt.Key.Key_Escape or (self.pending and event.matches(QKeySequence.StandardKey.Undo)):
            self.escaped.emit()
        else:
            super().keyPressEvent(event)

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Step while the keyboard is here; else the form scrolls."""
        if not self.hasFocus() or not self.steps or self.isReadOnly():
            event.ignore()
            return
        self._turned += event.angleDelta().y() or event.angleDelta().x()
        notches = int(self._turned / NOTCH)
        self._turned -= notches * NOTCH
        if notches:
            self.stepped.emit(notches * (BIG if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1))
        event.accept()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Tell that the keyboard came."""
        super().focusInEvent(event)
        self._turned = 0
        self.came.emit()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Tell that it left, unless only for the field's own menu."""
        super().focusOutEvent(event)
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.left.emit()

    def event(self, event: QEvent) -> bool:
        """Undo and redo are the document's as long as nothing is typed here."""
        ours = self.isModified() or self.pending
        if event.type() == QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent) and not ours:
            undoing = event.matches(QKeySequence.StandardKey.Undo) or event.matches(QKeySequence.StandardKey.Redo)
            if undoing:
                event.ignore()
                return False
        return super().event(event)


class Pending(NamedTuple):
    """What was stepped to and is not kept yet: the text and its value."""

    text: str
    value: float | int | None


class TypedInput(ValueInput):
    """A value typed in one line: the base of those that read text. Text stays as typed while it means the value."""

    def __init__(self, fact: Fact, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.fact = fact
        self.line = LineInput()
        self._good: Any = _NOTHING
        self._text = ""
        self._before: tuple[Any, str] = (_NOTHING, "")
        self._pending: Pending | None = None
        self._bad: str | None = None
        self._hold(self.line, fact)
        self.line.done.connect(self._enter)
        self.line.left.connect(self.finish)
        self.line.escaped.connect(self._restore)
        self.line.came.connect(self._came)

    def read(self, text: str) -> Any:  # noqa: ANN401 - of the field's type
        """The value of a text; raises QuantityError with the sentence to show."""
        raise NotImplementedError

    def written(self, value: Any) -> str:  # noqa: ANN401 - as above
        """The text of a value."""
        raise NotImplementedError

    def completed(self, text: str) -> str:
        """What is typed with what goes without saying; the text itself where nothing does."""
        return text

    def show_value(self, value: Any) -> None:  # noqa: ANN401 - as above
        """Show the board's value; while that is the same, what is typed and can't be read stays to be mended."""
        if value == self._good:
            if self._pending is not None:
                self._pend(None)
                self._set(self._text)
            return
        self._good = value
        self._pend(None)
        self._set(self.written(value))
        self._mend()

    def retell(self) -> None:
        """Write the good value anew: figures are shown in other units."""
        self._pend(None)
        self._set(self.written(self._good))
        self._mend()

    def finish(self) -> None:
        """Keep what is typed or stepped to, where it is a value; else say why not."""
        text = self.line.text()
        pending = self._pending
        if text != self._text and (pending is None or text != pending.text):
            text = self.completed(text)
        if text == self._bad or (text == self._text and pending is None):
            return
        try:
            value = pending.value if pending is not None and text == pending.text else self._read(text)
        except QuantityError as error:
            self._fault(str(error))
            return
        self._pend(None)
        self._before = self._good, self._text
        self._good, changed = value, value != self._good
        self._set(text if text.strip() else self.written(value))
        self._mend()
        if changed:
            self.settled.emit(value)
        elif pending is not None:
            self.dropped.emit()

    def refuse(self, sentence: str) -> bool:
        """What was typed stays to be mended; the last good value is known again."""
        self._good, self._text = self._before
        self._bad = self.line.text()
        return super().refuse(sentence)

    def _read(self, text: str) -> Any:  # noqa: ANN401 - as above
        # A value has more digits than are shown; one that is not touched keeps them.
        return self._good if text == self.written(self._good) else self.read(text)

    def _enter(self) -> None:
        self.finish()
        if self._bad is None:
            self.line.selectAll()

    def _restore(self) -> None:
        pending = self._pending
        self._pend(None)
        self._set(self._text)
        self._mend()
        self.line.selectAll()
        if pending is not None:
            self.dropped.emit()

    def _came(self) -> None:
        self.entered.emit(self.fact)

    def _pend(self, pending: Pending | None) -> None:
        self._pending = pending
        self.line.pending = pending is not None

    def _set(self, text: str) -> None:
        self._text = text
        self.line.setText(text)
        self.line.setCursorPosition(0)

    def _fault(self, sentence: str) -> None:
        self._bad = self.line.text()
        if self._pending is not None:
            self._pend(None)
            self.dropped.emit()
        good = self.written(self._good)
        self.faulted.emit(f"{sentence[:1].upper()}{sentence[1:]}.{f' {good} is kept.' if good else ''}")

    def _mend(self) -> None:
        self._bad = None
        self.faulted.emit("")


class QuantityInput(TypedInput):
    """A number with its unit; Up, Down and the wheel step it live."""

    def __init__(self, fact: Fact, unit: str, parent: QWidget | None = None) -> None:
        super().__init__(fact, parent)
        self._unit = unit
        self.line.steps = True
        self.line.stepped.connect(self._step)
        self.line.setPlaceholderText("none")

    def read(self, text: str) -> float | int | None:
        """The number, inside its range."""
        return read_number(text, self.fact, self._unit)

    def written(self, value: float | None) -> str:
        """The number with its unit."""
        return text_of(value, self._unit)

    def completed(self, text: str) -> str:
        """A bare number takes the unit shown."""
        return in_unit_shown(text, self._text)

    def _step(self, steps: int) -> None:
        text = self.line.text()
        if text != self._text and (self._pending is None or text != self._pending.text):
            text = self.completed(text)
        try:
            self._pend(self._stepped(text, steps))
        except QuantityError as error:
            self._fault(str(error))
            return
        assert self._pending is not None
        self._mend()
        self.line.setText(self._pending.text)
        self.line.selectAll()
        self.tried.emit(self._pending.value)

    def _stepped(self, text: str, steps: int) -> Pending:
        """A value that is shown in the field's unit steps in that; one typed in another steps in the one typed."""
        stood = self._pending
        value = stood.value if stood is not None and text == stood.text else self._good if text == self._text else None
        if text == self.written(value):
            moved = stepped(value, steps, self.fact, self._unit)
            return Pending(self.written(moved), moved)
        text = stepped_text(text, steps, self.fact, self._unit)
        return Pending(text, read_number(text, self.fact, self._unit))

    def _came(self) -> None:
        super()._came()
        _warm_up()


class NumbersInput(TypedInput):
    """A few numbers in one line, apart by semicolons."""

    def __init__(self, fact: Fact, unit: str, parent: QWidget | None = None) -> None:
        super().__init__(fact, parent)
        self._unit = unit
        self.line.setPlaceholderText("none; write 1; 2; 3")

    def read(self, text: str) -> tuple[float, ...]:
        """The numbers; raises QuantityError."""
        return read_numbers(text, self._unit)

    def written(self, value: Sequence[float] | None) -> str:
        """The numbers with their unit."""
        return "; ".join(text_of(one, self._unit) for one in value or ())


class WordInput(TypedInput):
    """A short text, such as a name."""

    def read(self, text: str) -> str:
        """The text without spaces around it; raises QuantityError where one must stand and none does."""
        if not text.strip() and self.fact.default != "":
            raise QuantityError(f"{self.fact.label or self.fact.name} is empty; write at least one character")
        return text.strip()

    def written(self, value: str | None) -> str:
        """The text as it is."""
        return value or ""


_warm: list[Thread] = []


def _warm_up() -> None:
    """Load the units in the background once a quantity may be typed, so that the first one doesn't halt the window."""
    if not _warm:
        _warm.append(Thread(target=parse, args=("1 mm",), kwargs={"unit": "m"}, daemon=True))
        _warm[0].start()
