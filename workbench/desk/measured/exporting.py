"""An element, a span or the whole lane out as a Touchstone file."""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFormLayout, QHBoxLayout, QWidget

from workbench.board.model import Board, Component, Lane, Run, Stage
from workbench.desk.background.threads import ThreadChannels
from workbench.desk.measured.page import MeasuredPage, choices, typed, words_label
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.engine.lane.path import plan_of
from workbench.errors import NetworkError, WorkbenchError
from workbench.measured.touchstone.export import (
    Exported,
    element_of_path,
    frequencies,
    lane_of,
    single_ended,
    span_of,
    touchstone_text,
)
from workbench.quantity import parse, show
from workbench.reports.storing import write_report

Target = Callable[[Path], Path | None]
"""Lets the user choose the file to write, given what is suggested."""

_CHANNEL = "export"
_USUAL = ("10 MHz", "20 GHz", "10 MHz")
_FORMS = (("2 ports, differential, 100 Ω", 2), ("4 ports, the legs, 50 Ω", 4))


class Part(NamedTuple):
    """What is exported of a lane: "lane", or "span" or "element" with its number from 1."""

    kind: str
    number: int = 0


class _Wanted(NamedTuple):
    board: Board
    lane: Lane
    part: Part
    band: tuple[float, float, float]
    ports: int
    common_ohm: float | None
    target: Path


class ExportPage(MeasuredPage):
    """Chooses what goes out, and over which frequencies."""

    def __init__(
        self, document: Document, state: ViewState, work: ThreadChannels, theme: Theme, parent: QWidget | None = None,
        *, target: Target,
    ) -> None:  # fmt: skip
        super().__init__("Export as Touchstone", theme, parent)
        self._document, self._state, self._work, self._target = document, state, work, target
        self.part = choices("What is exported")
        names = ("First frequency", "Last frequency", "Spacing")
        self.low, self.high, self.step = (typed(name, usual) for name, usual in zip(names, _USUAL, strict=True))
        self.ports = choices("Ports", _FORMS)
        self.common = typed("Common-mode impedance", "25 ohm", hint="where the differential one is 100 ohm")
        self.note = words_label()
        self.write_button = self.add_button("Write…", self.write, "Choose the file and write it")
        self.add_button("Cancel", self.give_up, "Write nothing (Escape)")
        self._form = QFormLayout()
        self._form.setContentsMargins(0, 0, 0, 0)
        self._form.setVerticalSpacing(GRID_PX)
        for words, field in (
            ("What", self.part), ("From", self.low), ("To", self.high), ("In steps of", self.step),
            ("As", self.ports), ("Common mode", self.common),
        ):  # fmt: skip
            self._form.addRow(words, field)
        row = QHBoxLayout()
        row.setSpacing(6 * GRID_PX)
        row.addLayout(self._form, 1)
        row.addWidget(self.note, 1)
        self.body.addLayout(row)
        self.body.addStretch(1)
        self.ports.activated.connect(lambda _: self._show_rows())
        self._show_rows()

    def begin(self, part: Part | None = None) -> None:
        """Begin with the current lane; the selected element where there is one, unless `part` says otherwise."""
        lane = _lane(self._document.board, self._state.lane)
        self.part.clear()
        self.write_button.setEnabled(lane is not None)
        if lane is None:
            self.tell("There is no lane to export yet.", refused=True)
            return
        for words, one in _parts(lane):
            self.part.addItem(words, one)
        at = self._state.element
        if part is None and at is not None and 0 <= at < len(lane.path):
            part = Part("element", at + 1)
        # Found by comparing here: the toolkit would compare the tuples as what it makes of them.
        offered = [one for _, one in _parts(lane)]
        self.part.setCurrentIndex(offered.index(part) if part in offered else 0)
        self.tell(f"Of lane {lane.name}, as the board stands now.")
        self.note.setText(
            "Passive parts are written alone, without the capacitances of what stands at their ends; a linear "
            "conditioner with its small-signal response; a limiting one has none."
        )
        self.part.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def write(self) -> None:
        """Choose the file, then compute and write away from here."""
        lane = _lane(self._document.board, self._state.lane)
        if lane is None:
            return
        ports: int = self.ports.currentData()
        part = _parts(lane)[max(self.part.currentIndex(), 0)][1]
        try:
            low, high, step = (parse(field.text(), unit="Hz") for field in (self.low, self.high, self.step))
            frequencies(low, high, step)
            common = parse(self.common.text(), unit="ohm") if ports == 4 else None
        except WorkbenchError as error:
            self.tell(str(error), refused=True)
            return
        words = lane.name if part.kind == "lane" else f"{lane.name}-{part.kind}-{part.number}"
        folder = self._document.path.parent if self._document.path is not None else Path.home()
        target = self._target(folder / f"{words}.s{ports}p")
        if target is None:
            return
        target = target if target.suffix else target.with_suffix(f".s{ports}p")
        wanted = _Wanted(self._document.board, lane, part, (low, high, step), ports, common, target)
        self.tell(f"Writing {target.name}…")
        self.write_button.setEnabled(False)
        self._work.ask(_CHANNEL, lambda _: _written(wanted), self._done)

    def give_up(self) -> None:
        """Leave without writing."""
        self._work.cancel(_CHANNEL)
        super().give_up()

    def _done(self, answer: str | WorkbenchError) -> None:
        self.write_button.setEnabled(True)
        if isinstance(answer, WorkbenchError):
            self.tell(str(answer), refused=True)
            return
        self.said.emit(answer)
        self.left.emit()

    def _show_rows(self) -> None:
        self._form.setRowVisible(self.common, self.ports.currentData() == 4)


def _parts(lane: Lane) -> list[tuple[str, Part]]:
    """What of a lane may go out, in words: the whole, its spans, its elements."""
    stages = sum(isinstance(one, Stage) for one in lane.path)
    found = [("The whole lane", Part("lane"))]
    found += [(f"Span {number}", Part("span", number)) for number in range(1, stages + 2)]
    for number, one in enumerate(lane.path, 1):
        match one:
            case Run(line=name, length_m=length_m):
                words = f"{name}, {show(length_m, 'm')}"
            case Component(part=name):
                words = name
            case Stage(device=ref, channel=channel):
                words = f"{ref} channel {channel}"
        found.append((f"Element {number}: {words}", Part("element", number)))
    return found


def _lane(board: Board, name: str) -> Lane | None:
    return next((lane for lane in board.lanes if lane.name == name), None)


def _written(wanted: _Wanted) -> str:
    """Compute and write; returns the sentence that says so."""
    ports = {".s2p": 2, ".s4p": 4}.get(wanted.target.suffix.lower())
    if ports != wanted.ports:
        name, ending = wanted.target.name, f".s{wanted.ports}p"
        raise NetworkError(f"“{name}” would not say that it has {wanted.ports} ports; let the name end with {ending}")
    exported = _exported(wanted)
    if wanted.ports == 4:
        exported = single_ended(exported) if wanted.common_ohm is None else single_ended(exported, wanted.common_ohm)
    write_report(touchstone_text(exported).encode(), wanted.target)
    return f"Written: {wanted.target.name}, {wanted.ports} ports, {exported.f_hz.size:,} points."


def _exported(wanted: _Wanted) -> Exported:
    board, lane, part = wanted.board, wanted.lane, wanted.part
    plan = plan_of(board, lane)
    f_hz = frequencies(*wanted.band)
    if part.kind == "element":
        return element_of_path(plan, part.number, f_hz)
    return span_of(plan, part.number, f_hz) if part.kind == "span" else lane_of(plan, f_hz)
