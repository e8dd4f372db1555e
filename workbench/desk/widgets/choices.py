"""Inputs that are chosen, not typed: yes or no, and one of several, tried live while keys and wheel go through them."""

from collections.abc import Sequence
from typing import Any, NamedTuple

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QWheelEvent
from PySide6.QtWidgets import QBoxLayout, QCheckBox, QComboBox, QWidget

from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.inputs import ENTER, NOTCH, ValueInput
from workbench.facts import Fact

_PAD_PX, _CHEVRON_PX = 6, 18


class ChoiceItem(NamedTuple):
    """A value that may be chosen, and what it is called."""

    value: Any
    label: str


class FlagInput(ValueInput):
    """A choice between yes and no."""

    def __init__(self, fact: Fact, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.box = QCheckBox()
        self._hold(self.box, fact)
        self.box.clicked.connect(lambda: self.settled.emit(self.box.isChecked()))
        self.box.clicked.connect(lambda: self.entered.emit(fact))

    def show_value(self, value: bool) -> None:
        """Show the board's value."""
        self.box.setChecked(value)


class ChoiceInput(ValueInput):
    """One of several values: keys and wheel try them live, Enter or leaving keeps the last one."""

    def __init__(self, fact: Fact, choices: Sequence[ChoiceItem], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.combo = Combo()
        self._choices: tuple[ChoiceItem, ...] = ()
        self._good: Any = None
        self._pending = False
        self._hold(self.combo, fact)
        self.offer(choices)
        self.combo.stepped.connect(self._try)
        self.combo.pointed.connect(self._try)
        self.combo.picked.connect(self._settle)
        self.combo.done.connect(self.finish)
        self.combo.escaped.connect(self._restore)
        self.combo.came.connect(lambda: self.entered.emit(fact))

    @property
    def choices(self) -> tuple[ChoiceItem, ...]:
        """What may be chosen."""
        return self._choices

    def offer(self, choices: Sequence[ChoiceItem]) -> None:
        """Set what may be chosen."""
        if tuple(choices) == self._choices:
            return
        self._choices = tuple(choices)
        self.combo.clear()
        self.combo.addItems([choice.label for choice in choices])
        self.combo.setCurrentIndex(self._index(self._good))

    def show_value(self, value: Any) -> None:  # noqa: ANN401 - of the field's type
        """Show the board's value."""
        self._good, self._pending = value, False
        if self._index(value) < 0:
            self.offer((*self._choices, ChoiceItem(value, str(value))))
        self.combo.setCurrentIndex(self._index(value))

    def finish(self) -> None:
        """Keep what was tried last."""
        if self._pending:
            self._settle(self.combo.currentIndex())

    def refuse(self, sentence: str) -> bool:
        """Show the last good value again."""
        self.combo.setCurrentIndex(self._index(self._good))
        return super().refuse(sentence)

    def _index(self, value: object) -> int:
        return next((n for n, choice in enumerate(self._choices) if choice.value == value), -1)

    def _try(self, index: int) -> None:
        self._pending = True
        self.tried.emit(self._choices[index].value)

    def _settle(self, index: int) -> None:
        pending, self._pending = self._pending, False
        value = self._choices[index].value
        if value != self._good:
            self.settled.emit(value)
        elif pending:
            self.dropped.emit()

    def _restore(self) -> None:
        if self._pending:
            self._pending = False
            self.combo.setCurrentIndex(self._index(self._good))
            self.dropped.emit()


class TicksInput(ValueInput):
    """Any of several names, a box for each, in their order: below one another, or side by side."""

    def __init__(
        self, fact: Fact, choices: Sequence[ChoiceItem], parent: QWidget | None = None, *, across: bool = False
    ) -> None:
        super().__init__(parent)
        self.boxes: dict[str, QCheckBox] = {}
        self._fact = fact
        self._choices: tuple[ChoiceItem, ...] = ()
        self._good: tuple[str, ...] = ()
        self._boxes = QBoxLayout(QBoxLayout.Direction.LeftToRight if across else QBoxLayout.Direction.TopToBottom)
        self._boxes.setSpacing(2 * _PAD_PX if across else 0)
        self.row.addLayout(self._boxes)
        self.row.addStretch(1)
        self.offer(choices)

    def offer(self, choices: Sequence[ChoiceItem]) -> None:
        """Set what may be ticked."""
        if tuple(choices) == self._choices:
            return
        kept = self.ticked()
        self._choices = tuple(choices)
        for box in self.boxes.values():
            self._boxes.removeWidget(box)
            box.hide()
            box.deleteLater()
        self.boxes = {str(one.value): QCheckBox(one.label) for one in choices}
        for name, box in self.boxes.items():
            box.setAccessibleName(f"{self._fact.label}: {box.text()}")
            box.setAccessibleDescription(self._fact.help)
            box.setChecked(name in kept)
            box.clicked.connect(self._tell)
            self._boxes.addWidget(box)
        if self.boxes:
            self.setFocusProxy(next(iter(self.boxes.values())))

    def show_value(self, value: tuple[str, ...]) -> None:
        """Show the names that the board has."""
        self._good = value
        for name, box in self.boxes.items():
            box.setChecked(name in value)

    def refuse(self, sentence: str) -> bool:
        """Show what the board has again."""
        self.show_value(self._good)
        return super().refuse(sentence)

    def ticked(self) -> tuple[str, ...]:
        """The names that are ticked."""
        return tuple(name for name, box in self.boxes.items() if box.isChecked())

    def _tell(self) -> None:
        self.entered.emit(self._fact)
        self.settled.emit(self.ticked())


class Combo(FlatCombo):
    """A list to choose from that tells steps, the choice, Enter and leaving, and Escape apart."""

    stepped = Signal(int)
    pointed = Signal(int)
    picked = Signal(int)
    done = Signal()
    escaped = Signal()
    came = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._by_key = self._was_picked = False
        self._turned = 0
        self.setMinimumContentsLength(2)
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.activated.connect(self._activated)
        self.highlighted.connect(self._pointed)

    def hidePopup(self) -> None:  # noqa: N802 - Qt's name
        """A list that closes without a choice forgets what was highlighted."""
        opened = self.view().isVisible()
        self._was_picked = False
        super().hidePopup()
        if opened:
            QTimer.singleShot(0, self, self._after_popup)  # the choice is told after the list has gone

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Up and Down step; Enter keeps; Escape restores; letters search."""
        by = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()), 0)
        if by and not event.modifiers() & Qt.KeyboardModifier.AltModifier:
            self._step(by)
        elif event.key() in ENTER:
            self.done.emit()
        elif event.key() == Qt.Key.Key_Escape:
            self.escaped.emit()
        else:
            self._by_key = True
            super().keyPressEvent(event)
            self._by_key = False

    def wheelEvent(self, event: QWheelEvent) -> None:  # noqa: N802 - Qt's name
        """Step while the keyboard is here; else the form scrolls."""
        if not self.hasFocus():
            event.ignore()
            return
        self._turned += event.angleDelta().y()
        notches = int(self._turned / NOTCH)
        self._turned -= notches * NOTCH
        if notches:
            self._step(-notches)
        event.accept()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Tell that the keyboard came."""
        super().focusInEvent(event)
        self._turned = 0
        self.came.emit()

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Keep what was tried, unless the list only opens."""
        super().focusOutEvent(event)
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.done.emit()

    def _step(self, by: int) -> None:
        index = min(max(self.currentIndex() + by, 0), self.count() - 1)
        if index != self.currentIndex():
            self.setCurrentIndex(index)
            self.stepped.emit(index)

    def _pointed(self, index: int) -> None:
        """Once a list was open, the toolkit calls every entry that is shown highlighted: only in the open one it is."""
        if self.view().isVisible():
            self.pointed.emit(index)

    def _activated(self, index: int) -> None:
        self._was_picked = True
        if self._by_key and not self.view().isVisible():
            self.stepped.emit(index)
        else:
            self.picked.emit(index)

    def _after_popup(self) -> None:
        if not self._was_picked:
            self.escaped.emit()
