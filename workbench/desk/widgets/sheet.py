"""A question or a sentence in place: a strip above the work with its answers, instead of a window that blocks."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget
from shiboken6 import isValid

from workbench.desk.widgets.theme import GRID_PX


class Answer(NamedTuple):
    """One answer: its word, what follows; `safe` is the one that Escape gives and that changes nothing."""

    word: str
    then: Callable[[], object]
    safe: bool = False


class Sheet(QFrame):
    """Asks one thing at a time; a new question takes the place of one that was not answered (as its safe answer)."""

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("sheet")
        self._sentence = QLabel(wordWrap=True)
        self._sentence.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._field = QLineEdit()
        self._field.setMaximumWidth(80 * GRID_PX)
        self._field.setAccessibleName("Answer")
        self._field.returnPressed.connect(self._take_first)
        self._body = QVBoxLayout()
        self._answers_row = QHBoxLayout()
        self.answers: tuple[Answer, ...] = ()
        self._buttons: list[QPushButton] = []
        self._extra: QWidget | None = None
        self._before: QWidget | None = None
        row = QHBoxLayout()
        row.addWidget(self._sentence, 1)
        row.addWidget(self._field)
        row.addLayout(self._answers_row)
        self._body.addLayout(row)
        self._body.setContentsMargins(4 * GRID_PX, 3 * GRID_PX, 4 * GRID_PX, 3 * GRID_PX)
        self.setLayout(self._body)
        self.hide()

    @property
    def field(self) -> QLineEdit:
        """Where something is typed, where the question has a field."""
        return self._field

    @property
    def sentence(self) -> str:
        """What is asked or said; "" while nothing is."""
        return "" if self.isHidden() else self._sentence.text()

    def ask(
        self, sentence: str, answers: Sequence[Answer], *, field: str | None = None, extra: QWidget | None = None
    ) -> None:
        """Show a question.

        Args:
            sentence: what is asked.
            answers: left to right; the first is what Enter in the field gives.
            field: what stands in the field at first; None: there is no field.
            extra: a form below the sentence; the sheet owns it from now on.
        """
        if not self.isHidden():
            self.escape()
        self._before = self.window().focusWidget()
        self._sentence.setText(sentence)
        self.answers = tuple(answers)
        self._buttons = [self._button(answer) for answer in answers]
        for button in self._buttons:
            self._answers_row.addWidget(button)
        self._extra = extra
        if extra is not None:
            self._body.addWidget(extra)
        self._field.setVisible(field is not None)
        self._field.setText(field or "")
        self._field.setAccessibleName(sentence)
        self.show()
        self._focus(field is not None)

    def answer(self, word: str) -> None:
        """Give an answer by its word."""
        chosen = next(answer for answer in self.answers if answer.word == word)
        self._put_away()
        chosen.then()

    def escape(self) -> None:
        """Give the safe answer."""
        chosen = next((answer for answer in self.answers if answer.safe), None)
        self._put_away()
        if chosen is not None:
            chosen.then()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape gives the safe answer."""
        if event.key() == Qt.Key.Key_Escape:
            self.escape()
        else:
            super().keyPressEvent(event)

    def _button(self, answer: Answer) -> QPushButton:
        button = QPushButton(answer.word)
        button.setObjectName(f"answer {answer.word}")
        button.setAutoDefault(True)
        button.setAccessibleDescription(self._sentence.text())
        button.clicked.connect(lambda: self.answer(answer.word))
        return button

    def _focus(self, has_field: bool) -> None:
        if has_field:
            self._field.setFocus()
            self._field.selectAll()
        elif self._buttons:
            self._buttons[0].setFocus()

    def _take_first(self) -> None:
        if self.answers:
            self.answer(self.answers[0].word)

    def _put_away(self) -> None:
        self.hide()
        self.answers = ()
        for button in self._buttons:
            self._answers_row.removeWidget(button)
            button.hide()
            button.deleteLater()
        self._buttons = []
        if self._extra is not None:
            self._body.removeWidget(self._extra)
            self._extra.hide()
            self._extra.deleteLater()
            self._extra = None
        if self._before is not None and isValid(self._before):
            self._before.setFocus()
        self._before = None
