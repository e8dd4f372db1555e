"""A file as a measurement of a lane: what it is and where it was measured, and what the file does not say itself.

The file is read again after every answer, away from the GUI thread. What the reader asks for appears as a row with its
sentence; nothing is guessed that it would not guess.
"""

from contextlib import suppress
from functools import partial
from typing import NamedTuple

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFormLayout, QHBoxLayout, QLineEdit, QScrollArea, QWidget

from workbench.board.edits.measured import put_measurement
from workbench.board.measurement import Measurement
from workbench.board.model import Board
from workbench.desk.background.threads import ThreadChannels
from workbench.desk.measured.asked import AskedForm
from workbench.desk.measured.page import MeasuredPage, choices, typed
from workbench.desk.measured.reading import (
    KIND_WORDS,
    Draft,
    Given,
    Kind,
    eye_of,
    free_name,
    in_words,
    kind_of,
    measurements_of,
    table_of,
)
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.engine.lane.path import plan_of
from workbench.engine.lane.probe import PINS, probe_names
from workbench.errors import NotStatedError, TableError, WorkbenchError
from workbench.measured.tables.frequency_tables import MeasuredStretch
from workbench.measured.tables.reading import TextTable
from workbench.measured.tables.traces import Belongs
from workbench.parts.network import Network
from workbench.quantity import parse

_CHANNEL = "measurement"
_WHOLE = "whole lane up to its probe point"
_LABEL_PX = 24 * GRID_PX


class TakePage(MeasuredPage):
    """Takes one file, or an eye's figures, as a measurement of a lane."""

    def __init__(
        self, document: Document, state: ViewState, work: ThreadChannels, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__("Import a measurement", theme, parent)
        self._document, self._state, self._work = document, state, work
        self._taken: Given | None = None
        self._read: tuple[Measurement, ...] = ()
        self._known: _Known | None = None
        self._guessing = False
        self._filling = False
        self._reading = self._wanted = False
        self._drafted: Draft | None = None
        self._make()
        self._lay_out()
        self._connect()

    # --- what others use

    def begin(self, taken: Given | None, kind: Kind | None) -> None:
        """Begin with a file, or with nothing but an eye's figures; None: what the file seems to hold."""
        self._taken, self._known, self._wanted = taken, None, False
        self._forget()
        self._guessing = kind is None
        self._filling = True
        self._fill_kinds(kind or "waveform")
        names = tuple(one.name for one in self._document.board.measurements)
        self.name.setText(free_name(taken.name if taken is not None else f"{self._state.lane} eye", names))
        self.notes.setText(f"file of {taken.day}" if taken is not None and taken.day else "")
        self.lane.clear()
        self.lane.addItems([lane.name for lane in self._document.board.lanes])
        self.lane.setCurrentText(self._state.lane)
        for field in (self.places, self.height_v, self.width_ui, self.ber):
            field.clear()
        for box in (self.left_fixture, self.right_fixture):
            box.clear()
            box.addItem("nothing", "")
            for entry in self._document.board.catalogue.networks:
                box.addItem(entry.name, entry.name)
        self.asked.forget()
        self._fill_probes()
        self._filling = False
        self._show_rows()
        self.name.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.name.selectAll()
        self.read()

    def read(self) -> None:
        """Read the file as the form has it by now."""
        if self._filling:
            return
        try:
            draft = self._draft()
        except WorkbenchError as error:
            self._forget()
            self.tell(str(error), refused=True)
            return
        if draft == self._drafted and draft.kind != "eye":
            return  # the keyboard only went by
        self._forget()
        self._drafted = draft
        if draft.kind == "eye":
            self._read_eye(draft)
            return
        taken = self._taken
        if taken is None:
            return
        self.tell(f"Reading {taken.name}…")
        self._reading = True
        self.take_button.setEnabled(True)  # pressed meanwhile, it takes what is read as soon as that is there
        known, guess = self._known, self._guessing
        self._work.ask(_CHANNEL, lambda _: _reading(taken, draft, known, guess=guess), self._show_read)

    def take(self) -> None:
        """Put what was read into the board, as one undo step; while it is being read, as soon as it is."""
        self._wanted = self._reading
        if not self._read:
            return
        read = self._read
        if not self._document.apply(f"import measurement {read[0].name}", partial(_put_all, read=read)):
            return
        first = read[0]
        self._state.set_lane(first.lane)
        self.said.emit(f"Measured on {first.lane}: {' and '.join(map(in_words, read))}.")
        self.left.emit()

    def give_up(self) -> None:
        """Leave without a change."""
        self._work.cancel(_CHANNEL)
        super().give_up()

    # --- making

    def _make(self) -> None:
        self.kind = choices("What was measured")
        self.name = typed("Name")
        self.lane = choices("Lane")
        self.probe = choices("Probe point")
        self.places = typed("Elements", hint=f"1-3, or empty: {_WHOLE}")
        self.reference = typed("Reference impedance of the probes", "100 ohm")
        self.left_fixture = choices("Fixture on the left, to be de-embedded")
        self.right_fixture = choices("Fixture on the right, to be de-embedded")
        self.notes = typed("Notes", hint="instrument, temperature, who and when")
        self.height_v = typed("Eye height", hint="such as 210 mV")
        self.width_ui = typed("Eye width", hint="in UI, such as 0.62")
        self.ber = typed("BER of the eye", hint="empty: the profile's")
        self.asked = AskedForm()
        self.take_button = self.add_button("Import", self.take, "Put it into the board, as one undo step")
        self.add_button("Cancel", self.give_up, "Import nothing (Escape)")

    def _lay_out(self) -> None:
        self._form = _form()
        for words, field in (
            ("What", self.kind), ("Name", self.name), ("Lane", self.lane), ("Probe point", self.probe),
            ("Elements", self.places), ("Reference", self.reference), ("De-embed left", self.left_fixture),
            ("De-embed right", self.right_fixture), ("Height", self.height_v),
            ("Width", self.width_ui), ("BER", self.ber), ("Notes", self.notes),
        ):  # fmt: skip
            self._form.addRow(words, field)
        both = QWidget()
        both.setObjectName("pageBody")
        row = QHBoxLayout(both)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6 * GRID_PX)
        row.addLayout(self._form, 1)
        row.addWidget(self.asked, 1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(both)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.body.addWidget(area, 1)

    def _connect(self) -> None:
        self.kind.activated.connect(lambda _: self._change_kind())
        self.lane.activated.connect(lambda _: self._change_lane())
        for box in (self.probe, self.left_fixture, self.right_fixture):
            box.activated.connect(lambda _: self.read())
        for field in (self.name, self.places, self.reference, self.notes, self.height_v, self.width_ui, self.ber):
            field.editingFinished.connect(self.read)
        for field in (self.height_v, self.width_ui, self.ber):
            field.textEdited.connect(lambda _: self.read())
        self.asked.answered.connect(self.read)

    # --- following

    def _fill_kinds(self, kind: Kind) -> None:
        offered: tuple[Kind, ...] = ("waveform", "step", "response")
        if kind in ("eye", "network"):
            offered = (kind,)
        self.kind.clear()
        for one in offered:
            self.kind.addItem(KIND_WORDS[one], one)
        self.kind.setCurrentIndex(self.kind.findData(kind))

    def _change_kind(self) -> None:
        self._guessing = False
        self.asked.forget()
        self._show_rows()
        self.read()

    def _change_lane(self) -> None:
        self._fill_probes()
        self.read()

    def _fill_probes(self) -> None:
        board, before = self._document.board, self.probe.currentText()
        names: tuple[str, ...] = (PINS,)
        lane = next((lane for lane in board.lanes if lane.name == self.lane.currentText()), None)
        if lane is not None:
            try:
                names = probe_names(plan_of(board, lane))
            except WorkbenchError:
                names = (PINS,)  # a lane that can't be planned says so itself, beside its name
        shown = (before, *self._state.probes)
        wanted = next((probe for probe in shown if probe in names and probe != "receiver"), PINS)
        self.probe.clear()
        self.probe.addItems(list(names))
        self.probe.setCurrentText(wanted)

    def _show_rows(self) -> None:
        kind = self.kind.currentData()
        over_frequency = kind in ("response", "network")
        for field in (self.places, self.reference):
            self._form.setRowVisible(field, over_frequency)
        for box in (self.left_fixture, self.right_fixture):
            self._form.setRowVisible(box, kind == "network" and box.count() > 1)
        for field in (self.height_v, self.width_ui, self.ber):
            self._form.setRowVisible(field, kind == "eye")
        self.asked.setVisible(kind != "eye")

    def _draft(self) -> Draft:
        """What the form says; raises TableError or QuantityError where a field is no such thing."""
        belongs = Belongs(
            self.name.text().strip(), self.lane.currentText(), self.probe.currentText(), self.notes.text().strip()
        )
        if not belongs.name or not belongs.lane:
            what = "name" if not belongs.name else "lane"
            raise TableError("the measurement", None, f"it has no {what}", f"give it a {what}")
        kind: Kind = self.kind.currentData()
        stretch = MeasuredStretch()
        if kind in ("response", "network"):
            stretch = _stretch(self.places.text(), parse(self.reference.text(), unit="ohm"))
        answers = self.asked.answers()
        left, right = (self._network(box.currentData()) for box in (self.left_fixture, self.right_fixture))
        return Draft(kind, belongs, stretch, *answers, left, right)

    def _network(self, name: str) -> Network | None:
        entries = self._document.board.catalogue.networks
        return next((one for one in entries if isinstance(one, Network) and one.name == name), None)

    def _read_eye(self, draft: Draft) -> None:
        if not self.height_v.text().strip() and not self.width_ui.text().strip():
            self.tell("Type the height or the width that the instrument gave, or both.")
            return
        try:
            eye = eye_of(
                draft.belongs, height_v=_number(self.height_v, "V"), width_ui=_number(self.width_ui, "UI"),
                ber=_number(self.ber, ""),
            )  # fmt: skip
        except WorkbenchError as error:
            self.tell(str(error), refused=True)
            return
        self._show_found((eye,))

    def _forget(self) -> None:
        self._read, self._drafted, self._reading = (), None, False
        self.take_button.setEnabled(False)

    def _show_read(self, answer: "_Answer | WorkbenchError") -> None:
        self._reading = False
        if isinstance(answer, WorkbenchError):
            self._refuse(answer)
            return
        self._known = answer.known
        if answer.known is not None:
            self.asked.set_columns(tuple(column.title for column in answer.known.table.columns))
        if self._guessing:
            self._guessing = False
            self.kind.setCurrentIndex(self.kind.findData(answer.kind))
            self._show_rows()
            with suppress(WorkbenchError):
                self._drafted = self._draft()  # what was guessed is no new question
        if isinstance(answer.found, WorkbenchError):
            self._refuse(answer.found)
        else:
            self._show_found(answer.found)

    def _refuse(self, error: WorkbenchError) -> None:
        self._wanted = False
        self.take_button.setEnabled(False)
        if isinstance(error, NotStatedError):
            self.asked.ask(error)
            self.tell(f"{error.problem[0].upper()}{error.problem[1:]}: {error.remedy}.")
        else:
            self.tell(str(error), refused=True)

    def _show_found(self, found: tuple[Measurement, ...]) -> None:
        self._read = found
        again = [one.name for one in self._document.board.measurements if one.name in {new.name for new in found}]
        replaced = f" It takes the place of {', '.join(again)}." if again else ""
        # What removing a fixture left doubtful stands after the notes that were typed.
        doubts = found[0].notes.removeprefix(self.notes.text().strip()).lstrip("; ")
        doubt = f" {doubts[0].upper()}{doubts[1:]}." if doubts else ""
        self.tell(f"It reads as {' and '.join(map(in_words, found))}.{replaced}{doubt}")
        self.take_button.setEnabled(True)
        if self._wanted:
            self._wanted = False
            self.take()


class _Known(NamedTuple):
    """A file's table, and by which decimal sign and encoding it was read."""

    table: TextTable
    read_by: tuple[str, str]


class _Answer(NamedTuple):
    """What a file reads as, or why it does not; `known` is its table, None for a network."""

    kind: Kind
    known: _Known | None
    found: tuple[Measurement, ...] | WorkbenchError


def _reading(taken: Given, draft: Draft, known: _Known | None, *, guess: bool) -> _Answer:
    if draft.kind != "network":
        read_by = (draft.decimal, draft.encoding)
        if known is None or known.read_by != read_by:
            known = _Known(table_of(taken, draft), read_by)
        draft = draft._replace(kind=kind_of(known.table)) if guess else draft
    try:
        return _Answer(draft.kind, known, measurements_of(taken, draft, known.table if known is not None else None))
    except WorkbenchError as error:
        return _Answer(draft.kind, known, error)


def _put_all(board: Board, read: tuple[Measurement, ...]) -> Board:
    for one in read:
        board = put_measurement(board, one)
    return board


def _stretch(words: str, reference_ohm: float) -> MeasuredStretch:
    if not words.strip():
        return MeasuredStretch(reference_ohm=reference_ohm)
    first, dash, last = (part.strip() for part in words.partition("-"))
    if not first.isdecimal() or (dash and not last.isdecimal()):
        raise TableError("the elements", None, f"“{words.strip()}” names none", "write them such as 1-3, or 2")
    return MeasuredStretch(int(first), int(last or first), reference_ohm)


def _number(field: QLineEdit, unit: str) -> float | None:
    words = field.text().strip()
    return parse(words, unit=unit) if words else None


def _form() -> QFormLayout:
    form = QFormLayout()
    form.setContentsMargins(0, 0, 0, 0)
    form.setVerticalSpacing(GRID_PX)
    form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.AllNonFixedFieldsGrow)
    return form
