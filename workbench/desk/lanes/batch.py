"""The strip above the lane table in which one value is set in all selected lanes at once, previewed as it is typed."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QFrame, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from workbench.board.edits.lane_fields import LaneField, Value, choices_of, fields_of, values_of, with_value
from workbench.board.edits.lanes import in_words
from workbench.board.model import Board
from workbench.desk.session.document import Document, Edit
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.stylesheet import set_state
from workbench.desk.widgets.theme import GRID_PX
from workbench.desk.widgets.values import in_unit_shown
from workbench.errors import EditError, WorkbenchError
from workbench.quantity import parse, show

_VARIOUS = "various"


class LaneBatch(QFrame):
    """Chooses a field and its value for the selected lanes.

    Signals:
        closed: it was put away, with or without an edit.
    """

    closed = Signal()

    def __init__(self, document: Document, state: ViewState, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("laneBatch")
        self._document, self._state = document, state
        self._fields: tuple[LaneField, ...] = ()
        self._head = QLabel()
        self.field, self.choice, self.length = FlatCombo(), FlatCombo(), QLineEdit()
        self.set_button, self.cancel_button = QPushButton("Set"), QPushButton("Cancel")
        self.note = QLabel(wordWrap=True)
        self.note.setObjectName("note")
        self.field.setAccessibleName("What to set in the selected lanes")
        self.choice.setAccessibleName("Value for the selected lanes")
        self.length.setAccessibleName("Length for the selected lanes")
        self._shown = ""
        for box in (self.field, self.choice):
            box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
            box.setMinimumContentsLength(8)
        self._lay_out()
        self.field.currentIndexChanged.connect(self._show_value)
        self.choice.activated.connect(self._touch)
        self.length.textEdited.connect(self._touch)
        self.set_button.clicked.connect(self.commit)
        self.cancel_button.clicked.connect(self.close_form)
        state.selection_changed.connect(self._follow_selection)
        document.changed.connect(self._follow_selection)
        self.hide()

    def open_form(self) -> None:
        """Offer it for the selected lanes, with the keyboard in it."""
        if self._state.lanes:
            self.show()
            self._fill()
            self.field.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def close_form(self) -> None:
        """Put it away; what was tried out is gone."""
        if not self.isHidden():
            self._document.cancel_preview()
            self.hide()
            self.closed.emit()

    def commit(self) -> None:
        """Set the value, as one step of the history; a value that can't be is told beside it."""
        try:
            edit = self._edit()
            edit(self._document.board)
        except WorkbenchError as error:
            self._tell(str(error), refused=True)
            return
        if self._document.apply(f"set {self._called()} in {in_words(self._state.lanes)}", edit):
            self.close_form()

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Enter sets, Escape puts away."""
        if event.key() == Qt.Key.Key_Escape:
            self.close_form()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.commit()
        else:
            super().keyPressEvent(event)

    # --- making

    def _lay_out(self) -> None:
        first, second = QHBoxLayout(), QHBoxLayout()
        first.addWidget(self._head)
        first.addWidget(self.field, 1)
        second.addWidget(self.choice, 1)
        second.addWidget(self.length, 1)
        second.addWidget(self.set_button)
        second.addWidget(self.cancel_button)
        body = QVBoxLayout(self)
        body.setContentsMargins(2 * GRID_PX, GRID_PX, GRID_PX, GRID_PX)
        body.setSpacing(GRID_PX)
        for row in (first, second):
            row.setSpacing(GRID_PX)
            body.addLayout(row)
        body.addWidget(self.note)

    # --- what is set

    @property
    def _field(self) -> LaneField | None:
        number = self.field.currentIndex()
        return self._fields[number] if 0 <= number < len(self._fields) else None

    def _called(self) -> str:
        field = self._field
        assert field is not None
        return field.label[:1].lower() + field.label[1:]

    def _edit(self) -> Edit:
        """The edit that the form says; raises WorkbenchError where it says none."""
        field = self._field
        assert field is not None
        names = self._state.lanes
        typed = in_unit_shown(self.length.text(), self._shown)
        value: Value = parse(typed, unit="m") if field.is_length else self._chosen()
        return lambda board: with_value(board, names, field, value)

    def _chosen(self) -> str:
        if self.choice.currentIndex() < 0:
            raise EditError("no value is chosen; choose one")
        data: str = self.choice.currentData()
        return data

    def _touch(self) -> None:
        """Show what the value would do; one that can't be is told, and the last one that can stays shown."""
        try:
            edit = self._edit()
            edit(self._document.board)
        except WorkbenchError as error:
            self._tell(str(error), refused=True)
            return
        self._document.preview(edit)
        self._tell(self._reach())

    # --- what is shown

    def _follow_selection(self, _: Board | None = None) -> None:
        if self.isHidden():
            return
        if not any(lane.name in self._state.lanes for lane in self._document.board.lanes):
            self.close_form()
            return
        self._document.cancel_preview()
        self._fill()

    def _fill(self) -> None:
        count, kept = len(self._state.lanes), self._field
        self._head.setText(f"Set in {count} lanes" if count > 1 else f"Set in {self._state.lane}")
        self._fields = fields_of(self._document.board, self._state.lanes)
        self.field.blockSignals(True)
        self.field.clear()
        self.field.addItems([field.label for field in self._fields])
        same = next((n for n, field in enumerate(self._fields) if kept and field[::2] == kept[::2]), 0)
        self.field.setCurrentIndex(same)
        self.field.blockSignals(False)
        self._show_value()

    def _show_value(self) -> None:
        field = self._field
        if field is None:
            return
        self._document.cancel_preview()
        values = values_of(self._document.board, self._state.lanes, field)
        self.length.setVisible(field.is_length)
        self.choice.setVisible(not field.is_length)
        if field.is_length:
            self._show_length([float(value) for value in values])
        else:
            self._show_choice(field, {str(value) for value in values})
        self._tell(self._reach())

    def _show_length(self, lengths_m: list[float]) -> None:
        least, most = (show(value, "m") for value in (min(lengths_m), max(lengths_m)))
        self._shown = least
        self.length.setText(least if least == most else "")
        self.length.setPlaceholderText(f"{_VARIOUS}, {least} to {most}")
        self.length.selectAll()

    def _show_choice(self, field: LaneField, now: set[str]) -> None:
        board = self._document.board
        self.choice.blockSignals(True)
        self.choice.clear()
        for name in choices_of(board, field):
            self.choice.addItem(name or f"the board's own ({board.profile})", name)
        self.choice.setPlaceholderText(_VARIOUS)
        self.choice.setCurrentIndex(self.choice.findData(next(iter(now))) if len(now) == 1 else -1)
        self.choice.blockSignals(False)

    def _reach(self) -> str:
        """Which of the lanes the edit does not reach."""
        field, names = self._field, self._state.lanes
        if field is None or not field.is_length:
            return ""
        missed = len(names) - len(values_of(self._document.board, names, field))
        return f"{missed} of the {len(names)} lanes have no such run and are unchanged" if missed else ""

    def _tell(self, sentence: str, *, refused: bool = False) -> None:
        self.note.setText(sentence[:1].upper() + sentence[1:])
        self.note.setVisible(bool(sentence))
        set_state(self.note, "refused", refused)
