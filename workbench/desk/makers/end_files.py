"""Ends of lanes from files: a port's termination, a package as a network, a transmitter's step."""

from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QGridLayout,
    QLabel,
    QPushButton,
    QWidget,
)

from workbench.board.edits.ends import PortPlace, put_edge, put_package, put_termination
from workbench.board.model import Board
from workbench.desk.background.talk import Talk
from workbench.desk.background.threads import ThreadChannels
from workbench.desk.session.document import Document
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.form_window import FormWindow
from workbench.desk.widgets.stylesheet import set_state
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import WorkbenchError
from workbench.measured.tables.decoding import text_of_file
from workbench.measured.tables.edges import read_edge
from workbench.measured.tables.reading import read_table
from workbench.measured.touchstone.ports import guessed_ports, network_of
from workbench.measured.touchstone.reading import read_touchstone
from workbench.measured.touchstone.terminations import termination_of
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.network_set import NetworkSetConditioner
from workbench.parts.edge import Edge, rise_of
from workbench.parts.network import Network
from workbench.parts.receiver import Receiver
from workbench.parts.termination import Termination, rest_ohm
from workbench.parts.transmitter import Transmitter
from workbench.quantity import show

_SIZE = (680, 240)
_READ = "file"
Found = Termination | Network | Edge


class What(NamedTuple):
    """What a file may say of a part.

    Attributes:
        kind: "termination", "package" or "edge".
        place: which port it is of.
        name: the part.
    """

    kind: str
    place: PortPlace
    name: str

    @property
    def words(self) -> str:
        """As it is chosen."""
        port = {"input": "the input of ", "output": "the output of "}.get(self.place, f"{self.place} ")
        return f"{self.kind} of {port}{self.name}"


class EndFilesEditor(FormWindow):
    """A window of its own.

    Args:
        document: the board.
        theme: its colours.
        choose: asks for a file's path; None: the platform's dialog.

    Signals:
        said: a sentence for the status line.
    """

    said = Signal(str)

    def __init__(
        self, document: Document, theme: Theme, parent: QWidget | None = None,
        *, choose: Callable[[], Path | None] | None = None,
    ) -> None:  # fmt: skip
        super().__init__("endFiles", "Termination, package, edge", _SIZE, parent)
        self._document, self._choose = document, choose or self._chosen
        self._found: Found | None = None
        self.work = ThreadChannels(self)
        self.what, self.file = FlatCombo(), QPushButton("Choose a file…")
        self.told, self.fault = QLabel(wordWrap=True), QLabel(wordWrap=True)
        self.remove, self.cancel, self.use = QPushButton("Remove it"), QPushButton("Cancel"), QPushButton("Use it")
        self._name_things()
        self._lay_out()
        self._connect()
        self.set_theme(theme)

    def show_now(self) -> None:
        """Show what the parts have now."""
        chosen = self.what.currentData()
        with QSignalBlocker(self.what):
            self.what.clear()
            for one in _offered(self._document.board):
                self.what.addItem(one.words, one)
            at = next((n for n in range(self.what.count()) if self.what.itemData(n) == chosen), 0)
            self.what.setCurrentIndex(at)
        self._show_part()
        self.come_forward()
        self.what.setFocus()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Nobody waits for a file any more."""
        self.work.close()
        super().closeEvent(event)

    @property
    def chosen(self) -> What:
        """What is asked for, and of which part."""
        found = self.what.currentData()
        assert isinstance(found, What)
        return found

    def choose_file(self) -> None:
        """Ask for a file, and read it."""
        path = self._choose()
        if path is None:
            return
        what = self.chosen
        self._found = None
        self.told.setText(f"Reading {path.name}…")
        self.work.ask(_READ, lambda _: read_end(what, path, _), self._came)

    def take(self) -> None:
        """Put what was read on the part, in one undo step."""
        if self._found is not None:
            self._put(self._found)

    def take_off(self) -> None:
        """Take it off the part, in one undo step."""
        self._put(None)

    def _put(self, found: Found | None) -> None:
        what = self.chosen
        try:
            _with(self._document.board, what, found)
        except WorkbenchError as error:
            self._show_fault(str(error))
            return
        words = what.words if found is not None else f"no {what.words}"
        self._document.apply(words, lambda board: _with(board, what, found))
        self.said.emit(f"{words} is {'taken from its file' if found is not None else 'left'}")
        self.close()

    def _came(self, answer: Found | WorkbenchError) -> None:
        if isinstance(answer, WorkbenchError):
            self.told.setText("")
            self._show_fault(str(answer))
            return
        self._found = answer
        self.told.setText(words_of_end(answer))
        self._show_fault("")

    def _show_part(self) -> None:
        self.work.cancel(_READ)
        self._found = None
        has = _has(self._document.board, self.chosen) if self.what.count() else ""
        self.told.setText(f"Now: {has}." if has else _NOTHING.get(self.chosen.kind, "") if self.what.count() else "")
        self.remove.setEnabled(bool(has))
        self._show_fault("")

    def _show_fault(self, fault: str) -> None:
        self.fault.setText(f"{fault}." if fault else "")
        self.fault.setVisible(bool(fault))
        self.use.setEnabled(self._found is not None and not fault)

    # --- making

    def _chosen(self) -> Path | None:
        kinds = {"edge": "Tables (*.csv *.txt *.tsv)", "package": "Networks (*.s2p *.s4p *.ts)"}
        words = kinds.get(self.chosen.kind, "Networks (*.s1p *.s2p *.s4p *.ts)")
        path, _ = QFileDialog.getOpenFileName(self, self.windowTitle(), "", f"{words};;All files (*)")
        return Path(path) if path else None

    def _name_things(self) -> None:
        for label in (self.told, self.fault):
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.told.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.fault.setObjectName("fault")
        set_state(self.fault, "faulty", True)
        for part, words in {self.what: "What", self.told: "What it is", self.fault: "What is wrong"}.items():
            part.setAccessibleName(words)

    def _lay_out(self) -> None:
        head = QGridLayout()
        head.setSpacing(GRID_PX)
        head.addWidget(QLabel("What"), 0, 0)
        head.addWidget(self.what, 0, 1)
        head.addWidget(self.file, 0, 2)
        head.setColumnStretch(1, 1)
        self.stack(((head, 0), (self.told, 1), (self.fault, 0)), (self.remove, self.cancel, self.use))

    def _connect(self) -> None:
        self.what.currentIndexChanged.connect(lambda _: self._show_part())
        for button, do in (
            (self.file, self.choose_file), (self.use, self.take), (self.remove, self.take_off),
            (self.cancel, self.close),
        ):  # fmt: skip
            button.clicked.connect(lambda _=False, do=do: do())


_NOTHING = {
    "termination": "None: resistance and capacitance count. A .s1p file has its reflection; of a conditioner a .s2p or "
    ".s4p serves too.",
    "package": "None: pins and die are one. A .s2p or .s4p file has it, in the signal's direction.",
    "edge": "None: a straight ramp of the rise time. A table of times and levels has the step, measured or printed.",
}


def _offered(board: Board) -> list[What]:
    catalogue = board.catalogue
    found: list[What] = []
    for one in catalogue.transmitters:
        found += [What(kind, "transmitter", one.name) for kind in ("termination", "package", "edge")]
    for end in catalogue.receivers:
        found += [What(kind, "receiver", end.name) for kind in ("termination", "package")]
    for part in catalogue.conditioners:
        if isinstance(part, Conditioner) and not isinstance(part, NetworkSetConditioner):
            found += [What("termination", "input", part.name), What("termination", "output", part.name)]
    return found


def _has(board: Board, what: What) -> str:
    """What a part has of that now; "" for nothing."""
    section = {"transmitter": "transmitters", "receiver": "receivers"}.get(what.place, "conditioners")
    part = next(one for one in getattr(board.catalogue, section) if one.name == what.name)
    if isinstance(part, Conditioner):
        found = part.input_termination if what.place == "input" else part.output_termination
    else:
        assert isinstance(part, Transmitter | Receiver)
        if what.kind == "package":
            return f"network {part.package_network}" if part.package_network is not None else ""
        if what.kind == "edge":
            edge = getattr(part, "edge", ())
            return words_of_end(edge).rstrip(".") if edge else ""
        found = part.termination
    return words_of_end(found).rstrip(".") if found is not None else ""


def _with(board: Board, what: What, found: Found | None) -> Board:
    if what.kind == "edge":
        return put_edge(board, what.name, found if isinstance(found, tuple) else ())
    if what.kind == "package":
        end = "transmitter" if what.place == "transmitter" else "receiver"
        return put_package(board, end, what.name, found if isinstance(found, Network) else None)  # type: ignore[arg-type]
    return put_termination(board, what.place, what.name, found if isinstance(found, Termination) else None)


def read_end(what: What, path: Path, talk: Talk) -> Found:
    """What a file says of an end.

    Raises:
        TableError: the file can't be read, or is something else.
        NotStatedError: what its numbers mean has to be stated.
    """
    talk.check()
    if what.kind == "edge":
        return read_edge(read_table(text_of_file(path), all_numeric=True))
    measured = read_touchstone(path)
    ports = guessed_ports(measured) if measured.ports > 1 else None
    if what.kind == "termination":
        usable = ports if what.place in ("input", "output") else None
        return termination_of(measured, usable, output=what.place == "output")
    return network_of(measured, path.stem, guessed_ports(measured))


def words_of_end(found: Found) -> str:
    """What was read, in a sentence."""
    if isinstance(found, Termination):
        return f"{found.source}: {found.points:,} points, {show(rest_ohm(found), 'ohm', digits=3)} at 0 Hz."
    if isinstance(found, Network):
        return f"{found.source}: {found.points:,} points; it comes into the catalogue as {found.name}."
    return f"A step of {len(found)} points, {show(rise_of(found), 's', digits=3)} from 20 to 80 %."
