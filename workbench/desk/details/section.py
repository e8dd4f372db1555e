"""One form of the details and what belongs to it: who shares or uses the record, copies, deleting with a substitute."""

from collections.abc import Callable
from typing import Any

import msgspec
from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from workbench.board.edits.catalogue import put_profile, remove_entry, remove_profile
from workbench.board.edits.devices import remove_device
from workbench.board.index import Index
from workbench.board.model import Board
from workbench.desk.details.device_targets import DeviceTarget
from workbench.desk.details.fields import Context, NestInput
from workbench.desk.details.pages import Section, direct_words, lanes_of_device, lanes_using, use_words
from workbench.desk.details.style import named, word_button
from workbench.desk.details.targets import EntryTarget, ProfileTarget, Target
from workbench.desk.session.document import Document
from workbench.desk.session.own_entries import copied_entry
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.choices import Combo
from workbench.desk.widgets.theme import GRID_PX
from workbench.desk.widgets.values import fresh
from workbench.errors import WorkbenchError
from workbench.facts import Fact

_WHOLE = Fact(name="kind", label="Kind", help="What kind of part this is.")


class SectionForm(QWidget):
    """A target's form, its edits tried and applied through the document.

    Signals:
        entered: the keyboard came to a field; carries a `FieldSpot`.
        followed: something is to be shown; carries a target.
        renamed: the record gets another name; carries the target before and after. Sent before the edit is applied.
        applied: the edit was applied.
        raised: something appeared that is to be in sight; carries the widget.
        copied: an entry was copied; carries its section and the copy's name, which is to be typed.
    """

    entered = Signal(object)
    followed = Signal(object)
    renamed = Signal(object, object)
    applied = Signal()
    raised = Signal(object)
    copied = Signal(str, str)

    def __init__(self, document: Document, state: ViewState, section: Section) -> None:
        super().__init__()
        self._document, self._state = document, state
        self.target = section.target
        self._own = False
        self._told: Board | None = None
        self._locked = self.target.locked(document.board)
        self._caption = named(QLabel(section.caption), "caption")
        self._note = named(QLabel(section.note, wordWrap=True), "note")
        context = Context(self._choices, self._leads_to, self._fresh, self._locked)
        kinds = self.target.kinds(document.board)
        self.root = NestInput(_WHOLE, kinds, (), context, names=self.target.fields())
        self.foot = _foot_for(document, state, self)
        self._caption.setIndent(0)
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(GRID_PX)
        for part in (self._caption, self._note, self.root, self.foot):
            if part is not None:
                body.addWidget(part)
        self.show_section(section)
        self.root.tried.connect(self._try)
        self.root.settled.connect(self._settle)
        self.root.dropped.connect(document.cancel_preview)
        self.root.entered.connect(self.entered)
        self.root.followed.connect(self.followed)

    def fits(self, section: Section) -> bool:
        """Whether the form can show a section without being made anew."""
        return section.target == self.target and self.target.locked(self._document.board) == self._locked

    def show_section(self, section: Section) -> None:
        """Show what the board on screen has; not while it is this form's own preview."""
        self._caption.setVisible(bool(section.caption))
        self._note.setText(section.note)
        self._note.setVisible(bool(section.note))
        record = self.target.read(self._document.shown)
        if self._own or record is None:
            return
        self.root.show_value(record)
        if self.foot is not None and self._document.board is not self._told:
            # Who uses what takes a walk through all lanes: not while something is dragged.
            self._told = self._document.board
            self.foot.show_board(self._told)

    def finish(self) -> None:
        """Keep what is pending."""
        self.root.finish()

    def ask_deletion(self) -> None:
        """Delete the catalogue entry; where it is in use, ask what takes its place."""
        if isinstance(self.foot, EntryFoot):
            self.foot.ask_deletion()

    def name_editor(self) -> QWidget | None:
        """Where the record's name is typed; None where it has none."""
        row = self.root.form.rows.get("name") if self.root.form is not None else None
        return row.input.focusProxy() if row is not None else None

    def rest(self) -> None:
        """It goes out of sight: a question that was not answered is not asked any more."""
        if isinstance(self.foot, EntryFoot):
            self.foot.asking.hide()

    def _try(self, record: msgspec.Struct) -> None:
        target = self.target
        self._own = True
        try:
            self._document.preview(lambda board: target.write(board, record))
        finally:
            self._own = False

    def _settle(self, record: msgspec.Struct) -> None:
        target, board = self.target, self._document.board
        try:
            target.write(board, record)
        except WorkbenchError as error:
            self._document.cancel_preview()
            self.root.refuse(str(error))
            return
        self.target = target.after(record)
        if self.target != target:
            self.renamed.emit(target, self.target)
        what = (self.root.edited or "kind").lower()
        self._document.apply(f"set {what} of {target.name(board)}", lambda board: target.write(board, record))
        self.applied.emit()

    def _choices(self, keys: tuple[str, ...], fact: Fact) -> tuple[Any, ...]:
        return self.target.choices(self._document.shown, keys, fact)

    def _leads_to(self, keys: tuple[str, ...], fact: Fact, value: object) -> Target | None:
        return self.target.leads_to(self._document.shown, keys, fact, value)

    def _fresh(self, kind: type[msgspec.Struct], like: object) -> msgspec.Struct:
        return fresh(kind, like, self._document.board)


class _Foot(QWidget):
    """Below a form: one quiet line that leads to lanes, and what can be done with the whole record."""

    def __init__(self) -> None:
        super().__init__()
        self.body = QVBoxLayout(self)
        self.body.setContentsMargins(0, GRID_PX, 0, 0)
        self.body.setSpacing(GRID_PX)
        self.tools = QHBoxLayout()
        self.tools.setSpacing(GRID_PX)

    def show_board(self, board: Board) -> None:
        """Follow the board."""
        raise NotImplementedError

    def button(self, words: str, then: Callable[[], None]) -> QPushButton:
        """A button of the row of tools."""
        button = word_button(words)
        button.clicked.connect(lambda _=False: then())
        self.tools.addWidget(button)
        return button


class EntryFoot(_Foot):
    """Of a catalogue entry: where it is used, a copy of it, deleting it."""

    def __init__(self, document: Document, state: ViewState, form: SectionForm) -> None:
        super().__init__()
        self._document, self._state, self._form = document, state, form
        self.used = word_button("", link=True)
        self.used.clicked.connect(self._select)
        self.body.addWidget(self.used)
        self.copy = self.button("Copy", self._copy)
        self.copy.setToolTip("Add a copy of this entry under another name, and show it")
        self.delete = self.button("Delete", self.ask_deletion)
        self.tools.addStretch(1)
        self.body.addLayout(self.tools)
        self.question = named(QLabel(wordWrap=True), "question")
        self.substitute = Combo()
        self.substitute.setAccessibleName("Replace with")
        self.replace = word_button("Replace and delete")
        self.replace.clicked.connect(self._replace)
        self.keep = word_button("Keep")
        self.keep.clicked.connect(lambda: self._ask(False))
        self.asking = named(QWidget(), "asking")
        inside = QVBoxLayout(self.asking)
        inside.setContentsMargins(0, GRID_PX, 0, 0)
        inside.addWidget(self.question)
        inside.addWidget(self.substitute)
        answers = QHBoxLayout()
        answers.addWidget(self.replace)
        answers.addWidget(self.keep)
        answers.addStretch(1)
        inside.addLayout(answers)
        self.body.addWidget(self.asking)
        self.asking.hide()

    def show_board(self, board: Board) -> None:
        """Say where the entry is used."""
        target = self._target()
        if target.read(board) is None:
            return
        lanes = lanes_using(board, target.section, target.entry)
        self.used.setText(use_words(board, target, lanes))
        self.used.setToolTip(f"Select {', '.join(lanes)}" if lanes else "")
        self.used.setEnabled(bool(lanes))

    def _target(self) -> EntryTarget:
        assert isinstance(self._form.target, EntryTarget)
        return self._form.target

    def _select(self) -> None:
        lanes = lanes_using(self._document.board, self._target().section, self._target().entry)
        if lanes:
            first = self._state.lane if self._state.lane in lanes else lanes[0]
            self._state.set_lane(first, lanes)

    def _copy(self) -> None:
        target, board = self._target(), self._document.board
        made = copied_entry(board, target.section, target.entry)
        if self._document.apply(f"copy {target.entry}", lambda _: made.board):
            self._form.copied.emit(target.section, made.name)

    def ask_deletion(self) -> None:
        """Delete the entry; where it is in use, ask what takes its place."""
        target, board = self._target(), self._document.board
        words = direct_words(board, target.section, target.entry)
        if not words:
            self._document.apply(f"delete {target.entry}", lambda b: remove_entry(b, target.section, target.entry))
            return
        others = [name for name in Index(board).names((target.section,)) if name != target.entry]
        remedy = "Replace with" if others else "Nothing else in this section could replace it."
        self.question.setText(f"{target.entry} is used by {words}. {remedy}")
        self.substitute.clear()
        self.substitute.addItems(others)
        self.substitute.setVisible(bool(others))
        self.replace.setVisible(bool(others))
        self._ask(True)

    def _replace(self) -> None:
        target, other = self._target(), self.substitute.currentText()
        done = self._document.apply(
            f"replace {target.entry} with {other}",
            lambda board: remove_entry(board, target.section, target.entry, substitute=other),
        )
        self._ask(False)
        if done:
            self._form.followed.emit(EntryTarget(target.section, other))

    def _ask(self, asking: bool) -> None:
        self.asking.setVisible(asking)
        to = self.delete if not asking else self.substitute if self.substitute.count() else self.keep
        to.setFocus()
        if asking:
            self._form.raised.emit(self.asking)


class ProfileFoot(_Foot):
    """Of a profile: a customized copy of it, and removing that."""

    def __init__(self, document: Document, form: SectionForm) -> None:
        super().__init__()
        self._document, self._form = document, form
        self.own = self.button("Customize for this board", self._make)
        self.own.setToolTip("The copy stands in this board's file and takes the place of the built-in profile here")
        self.drop = self.button("Remove the customized copy", self._drop)
        self.tools.addStretch(1)
        self.body.addLayout(self.tools)
        self.show_board(document.board)

    def show_board(self, board: Board) -> None:
        """Offer what can be done."""
        own = not self._form.target.locked(board)
        self.own.setVisible(not own)
        self.drop.setVisible(own)

    def _target(self) -> ProfileTarget:
        assert isinstance(self._form.target, ProfileTarget)
        return self._form.target

    def _make(self) -> None:
        target = self._target()
        profile = target.read(self._document.board)
        if profile is not None:
            self._document.apply(f"customize {target.id}", lambda board: put_profile(board, profile))

    def _drop(self) -> None:
        target = self._target()
        name = f"remove the customized copy of {target.id}"
        self._document.apply(name, lambda board: remove_profile(board, target.id))


class DeviceFoot(_Foot):
    """Of a device that no lane passes: taking it off the board."""

    def __init__(self, document: Document, form: SectionForm) -> None:
        super().__init__()
        self._document, self._form = document, form
        self.remove = self.button("Remove device", self._remove)
        self.remove.setToolTip("No lane passes through it")
        self.tools.addStretch(1)
        self.body.addLayout(self.tools)
        self.show_board(document.board)

    def show_board(self, board: Board) -> None:
        """Offer it where no lane passes the device."""
        self.setVisible(not lanes_of_device(board, self._target().ref))

    def _target(self) -> DeviceTarget:
        assert isinstance(self._form.target, DeviceTarget)
        return self._form.target

    def _remove(self) -> None:
        ref = self._target().ref
        self._document.apply(f"remove {ref}", lambda board: remove_device(board, ref))


def _foot_for(document: Document, state: ViewState, form: SectionForm) -> _Foot | None:
    if isinstance(form.target, EntryTarget):
        return EntryFoot(document, state, form)
    if isinstance(form.target, DeviceTarget):
        return DeviceFoot(document, form)
    return ProfileFoot(document, form) if isinstance(form.target, ProfileTarget) else None
