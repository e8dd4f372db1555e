"""Forms made from the facts of a record's fields; nothing here knows a kind by its name."""

from collections.abc import Callable
from typing import Any, NamedTuple

import msgspec
from msgspec.structs import replace
from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from workbench.desk.details.style import breakable, named, sign_button
from workbench.desk.details.table import TableInput
from workbench.desk.details.targets import Target
from workbench.desk.widgets.choices import ChoiceInput, ChoiceItem, FlagInput, TicksInput
from workbench.desk.widgets.inputs import NumbersInput, QuantityInput, ValueInput, WordInput
from workbench.desk.widgets.texts import ReadInput, TextInput
from workbench.desk.widgets.theme import GRID_PX, letters_share
from workbench.desk.widgets.values import (
    arms_of,
    element_of,
    has_source,
    is_record,
    kind_word,
    source_words,
    told_apart,
    unit_of,
    words_of,
)
from workbench.facts import Fact, facts_of

_LABEL_PX, _LEAST_LABEL_PX = 25 * GRID_PX, 19 * GRID_PX
_LONG_TEXT = 28
_LONG_CHOICE = 14
Keys = tuple[str, ...]
Kinds = tuple[type[msgspec.Struct], ...]


class Context(NamedTuple):
    """What forms ask about the board: choices of a field, what its value names, a new record; and whether it is locked.

    Fields are named by their keys from the form's record down.
    """

    choices: Callable[[Keys, Fact], tuple[ChoiceItem, ...]]
    leads_to: Callable[[Keys, Fact, object], Target | None]
    fresh: Callable[[type[msgspec.Struct], object], msgspec.Struct]
    locked: bool = False


class FieldSpot(NamedTuple):
    """Where the keyboard is: the field's facts, its unit, its keys."""

    fact: Fact
    unit: str
    keys: Keys


def input_for(fact: Fact, keys: Keys, context: Context, value: object) -> ValueInput | None:
    """The input that suits a field.

    Args:
        fact: the field's facts.
        keys: the field.
        context: what is asked about the board.
        value: what stands in it now.

    Returns:
        None for a field of a type that no input shows.
    """
    arms, optional = arms_of(fact.type)
    element = element_of(arms[0])
    unit = unit_of(fact, keys[-2] if len(keys) > 1 else "")
    if context.locked and (has_source(arms[0]) or has_source(element)):
        return ReadInput(fact, unit)
    if all(is_record(arm) for arm in arms):
        return NestInput(fact, arms, keys, context, optional=optional)
    if is_record(element):
        return TableInput(fact, element, context.locked)
    if context.locked:
        return ReadInput(fact, unit)
    choices = context.choices(keys, fact) or _word_choices(arms[0], optional)
    return _chosen_input(fact, choices) if choices else _typed_input(fact, unit, value)


def _chosen_input(fact: Fact, choices: tuple[ChoiceItem, ...]) -> ValueInput:
    if element_of(fact.type) is str:
        return TicksInput(fact, choices)
    made = ChoiceInput(fact, choices)
    made.wide = any(len(choice.label) > _LONG_CHOICE for choice in choices)
    return made


def _typed_input(fact: Fact, unit: str, value: object) -> ValueInput | None:
    kind = arms_of(fact.type)[0][0]
    if element_of(kind) is float:
        return NumbersInput(fact, unit)
    if kind is bool:
        return FlagInput(fact)
    if kind in (int, float):
        return QuantityInput(fact, unit)
    if kind is str:
        long = isinstance(value, str) and len(value) > _LONG_TEXT
        return TextInput(fact) if fact.default == "" or long else WordInput(fact)
    return None


class Form(QWidget):
    """A record's fields below each other.

    Signals:
        tried, settled: the record as it would be; dropped: what was tried is to be forgotten.
        entered: the keyboard came to a field; carries a `FieldSpot`.
        followed: what a field names is to be shown; carries a target.

    Attributes:
        edited: the label of the field that was tried or settled last.
    """

    tried = Signal(object)
    settled = Signal(object)
    dropped = Signal()
    entered = Signal(object)
    followed = Signal(object)

    def __init__(self, record: msgspec.Struct, names: Keys, keys: Keys, context: Context) -> None:
        super().__init__()
        self._record, self._keys, self._context = record, keys, context
        self.rows: dict[str, FormRow] = {}
        self._last: FormRow | None = None
        self.edited = ""
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(GRID_PX)
        for fact in told_apart(facts_of(type(record))):
            made = None
            if not names or fact.name in names:
                made = input_for(fact, (*keys, fact.name), context, getattr(record, fact.name))
            if made is not None:
                self.rows[fact.name] = FormRow(fact, (*keys, fact.name), made, context)
                body.addWidget(self.rows[fact.name])
                self._connect(fact, self.rows[fact.name])
        self.show_record(record)

    def show_record(self, record: msgspec.Struct) -> None:
        """Show the board's values."""
        self._record = record
        for name, row in self.rows.items():
            row.show_value(getattr(record, name))

    def refuse(self, sentence: str) -> None:
        """Say at the field that was settled last why it can't be."""
        if self._last is not None:
            self._last.refuse(sentence)

    def finish(self) -> None:
        """Keep what is pending."""
        for row in self.rows.values():
            row.input.finish()

    def _connect(self, fact: Fact, row: "FormRow") -> None:
        made = row.input

        def changed(value: object) -> msgspec.Struct:
            self._last = row
            inner = made.edited if isinstance(made, NestInput) else ""
            self.edited = inner or fact.label
            return replace(self._record, **{fact.name: value})

        made.tried.connect(lambda value: self.tried.emit(changed(value)))
        made.settled.connect(lambda value: self.settled.emit(changed(value)))
        made.dropped.connect(self.dropped)
        row.entered.connect(self.entered)
        row.followed.connect(self.followed)


class FormRow(QWidget):
    """A field: its label, its input, and below that what is wrong with what was typed."""

    entered = Signal(object)
    followed = Signal(object)

    def __init__(self, fact: Fact, keys: Keys, made: ValueInput, context: Context) -> None:
        super().__init__()
        self.input, self._fact, self._keys, self._context = made, fact, keys, context
        self._value: Any = None
        self.error = named(QLabel(wordWrap=True), "error")
        self.error.setTextFormat(Qt.TextFormat.PlainText)
        self.note = named(QLabel(wordWrap=True), "note")
        self.note.setTextFormat(Qt.TextFormat.PlainText)
        self.note.setContentsMargins(2 * GRID_PX, 0, 0, GRID_PX)
        self._lay_out()
        self._go.clicked.connect(self._follow)
        made.faulted.connect(self._fault)
        made.entered.connect(self._tell)
        made.followed.connect(self.followed)

    def show_value(self, value: object) -> None:
        """Show the board's value, and whether it leads anywhere."""
        if isinstance(self.input, ChoiceInput | TicksInput):
            choices = self._context.choices(self._keys, self._fact)
            if choices:
                self.input.offer(choices)
        if value != self._value or not self.error.text():
            self._fault("")
        self._value = value
        self.input.show_value(value)
        source = source_words(value) if self._context.locked else ""
        self.note.setText(breakable(source))
        self.note.setVisible(bool(source))
        target = self._context.leads_to(self._keys, self._fact, value)
        self._go.setVisible(target is not None)
        named = target.label if target is not None else ""
        self._go.setAccessibleName(f"Show {named}")
        self._go.setToolTip(f"Show {named}")

    def refuse(self, sentence: str) -> None:
        """Say why the value can't be; the last good one is kept."""
        if not self.input.refuse(sentence):
            self._fault(f"{sentence[:1].upper()}{sentence[1:]}.")

    def _lay_out(self) -> None:
        label = _Label(self._fact.label or self._fact.name.replace("_", " "), self.input)
        label.setToolTip(self._fact.help)
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(1)
        line = QHBoxLayout()
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(GRID_PX)
        if self.input.wide:
            body.addWidget(label)
        else:
            label.setMinimumWidth(round(_LEAST_LABEL_PX * max(letters_share(), 1.0)))
            label.setMaximumWidth(round(_LABEL_PX * max(letters_share(), 1.0)))
            line.addWidget(label, 2, Qt.AlignmentFlag.AlignTop)
        line.addWidget(self.input, 3)
        body.addLayout(line)
        # Made after the input: the keyboard comes to it after that.
        self._go = sign_button("\u203a")
        line.addWidget(self._go)
        body.addWidget(self.note)
        body.addWidget(self.error)
        for quiet in (self._go, self.note, self.error):
            quiet.hide()

    def _fault(self, sentence: str) -> None:
        self.error.setText(breakable(sentence))
        self.error.setVisible(bool(sentence))
        self.input.mark(bool(sentence))
        editor = self.input.focusProxy()
        if editor is not None:
            editor.setAccessibleDescription(sentence or self._fact.help)

    def _tell(self, at: Fact | FieldSpot) -> None:
        unit = unit_of(self._fact, self._keys[-2] if len(self._keys) > 1 else "")
        owner = self._keys[-1]
        known = at if isinstance(at, FieldSpot) else (
            FieldSpot(at, unit, self._keys) if at is self._fact else FieldSpot(at, unit_of(at, owner), self._keys)
        )  # fmt: skip
        self.entered.emit(known)

    def _follow(self) -> None:
        target = self._context.leads_to(self._keys, self._fact, self._value)
        if target is not None:
            self.followed.emit(target)


class NestInput(ValueInput):
    """A record inside a record; where several kinds (or none) may stand there, one is chosen above its fields."""

    wide = True

    def __init__(
        self, fact: Fact, kinds: Kinds, keys: Keys, context: Context, *, optional: bool = False, names: Keys = ()
    ) -> None:
        super().__init__()
        self._fact, self._keys, self._context, self._names = fact, keys, context, names
        self._value: msgspec.Struct | None = None
        self._fresh: msgspec.Struct | None = None
        self._of_kind = False
        self.form: Form | None = None
        self._frame = QFrame(self)
        self.kind: ChoiceInput | None = None
        self._body = QVBoxLayout()
        self._body.setContentsMargins(0, 0, 0, 0)
        self._body.setSpacing(GRID_PX)
        self.row.addLayout(self._body)
        choices = [ChoiceItem(None, "none")] if optional else []
        choices += [ChoiceItem(kind, kind_word(kind)) for kind in kinds]
        if len(choices) > 1 and not context.locked:
            self.kind = ChoiceInput(fact, choices)
            self._body.addLayout(self._kind_line(self.kind))
            self.kind.tried.connect(lambda kind: self.tried.emit(self._as(kind)))
            self.kind.settled.connect(lambda kind: self.settled.emit(self._as(kind)))
            self.kind.dropped.connect(self.dropped)
            # The outermost has no row around it that would say where this is.
            self.kind.entered.connect(lambda at: self.entered.emit(at if keys else FieldSpot(at, "", keys)))
            self.setFocusProxy(self.kind)

    @property
    def edited(self) -> str:
        """The label of the inner field that was changed last; "" where it was the kind."""
        return "" if self._of_kind or self.form is None else self.form.edited

    def show_value(self, value: msgspec.Struct | None) -> None:
        """Show the board's record."""
        if self.kind is not None:
            self.kind.show_value(None if value is None else type(value))
        if type(value) is not type(self._value):
            self._rebuild(value)
        elif self.form is not None and value is not None:
            self.form.show_record(value)
        self._value = value

    def finish(self) -> None:
        """Keep what is pending."""
        if self.kind is not None:
            self.kind.finish()
        if self.form is not None:
            self.form.finish()

    def refuse(self, sentence: str) -> bool:
        """Say it where it was changed."""
        if self._of_kind and self.kind is not None:
            return self.kind.refuse(sentence)
        if self.form is not None:
            self.form.refuse(sentence)
        return self.form is not None

    def _kind_line(self, kind: ChoiceInput) -> QHBoxLayout:
        """The choice of a kind; a form of its own has no label above that would say so."""
        line = QHBoxLayout()
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(GRID_PX)
        if not self._keys:
            label = _Label(self._fact.label, kind)
            label.setFixedWidth(round(_LABEL_PX * max(letters_share(), 1.0)))
            line.addWidget(label, 0, Qt.AlignmentFlag.AlignTop)
        line.addWidget(kind, 1)
        return line

    def _as(self, kind: type[msgspec.Struct] | None) -> msgspec.Struct | None:
        self._of_kind = True
        if kind is None or kind is type(self._value):
            return None if kind is None else self._value
        return self._context.fresh(kind, self._value)

    def _rebuild(self, value: msgspec.Struct | None) -> None:
        old, self.form = self.form, None
        if old is not None:
            old.hide()
            self._frame.deleteLater()
        if value is None:
            return
        self.form = Form(value, self._names, self._keys, self._context)
        self._frame = frame = named(QFrame(), "nest" if self._keys else "root")
        inside = QVBoxLayout(frame)
        inside.setContentsMargins(2 * GRID_PX if self._keys else 0, 0, 0, 0)
        inside.addWidget(self.form)
        self._body.addWidget(frame)
        frame.setVisible(bool(self.form.rows))
        self.form.tried.connect(lambda record: self._pass(self.tried, record))
        self.form.settled.connect(lambda record: self._pass(self.settled, record))
        self.form.dropped.connect(self.dropped)
        self.form.entered.connect(self.entered)
        self.form.followed.connect(self.followed)

    def _pass(self, signal: Any, record: msgspec.Struct) -> None:  # noqa: ANN401 - a bound signal
        self._of_kind = False
        signal.emit(record)


class _Label(QLabel):
    """A field's label; a click on it goes to the field."""

    def __init__(self, text: str, to: QWidget) -> None:
        super().__init__(text, wordWrap=True)
        self.setObjectName("label")
        self._to = to
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setContentsMargins(0, 3, 0, 0)

    def mousePressEvent(self, event: QMouseEvent) -> None:  # noqa: N802 - Qt's name
        """Go to the field."""
        if event.button() == Qt.MouseButton.LeftButton:
            self._to.setFocus(Qt.FocusReason.MouseFocusReason)


def _word_choices(kind: Any, optional: bool) -> tuple[ChoiceItem, ...]:  # noqa: ANN401 - a type hint is anything
    words = words_of(kind)
    none = (ChoiceItem(None, "none"),) if optional and words else ()
    return (*none, *(ChoiceItem(word, word) for word in words))
