"""A maker's model for a part: its files, trust in their bytes, its parameters as a form made from its tree.

Nothing is run here. What comes of it is a part with a model, in one undo step; trust is the user's own and no part of
the board.
"""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QWidget,
)

from workbench.board.edits.models import ModelPlace, model_on, put_model
from workbench.board.model import Board
from workbench.desk.makers.parameters import ParameterForm
from workbench.desk.session.document import Document
from workbench.desk.widgets.flat_combo import FlatCombo
from workbench.desk.widgets.form_window import FormWindow
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import ModelError, WorkbenchError
from workbench.makers.ami import AmiFile
from workbench.makers.files import candidates_of, use_of_files
from workbench.makers.flows import refusals
from workbench.makers.stated import unused
from workbench.makers.trust import Candidate, Kept, Trust
from workbench.makers.values import CORNERS, CornerName
from workbench.parts.conditioners.by_model import ModelConditioner
from workbench.parts.model_use import ModelUse
from workbench.wording import quoted

_SIZE = (820, 440)
NEW_REDRIVER = "redriver by model"
WARNING = (
    "This is program code that will run with your rights. It runs in a process of its own: that guards against "
    "crashes, not against malice."
)


class ModelEditor(FormWindow):
    """A window of its own.

    Args:
        document: the board.
        theme: its colours.
        choose: asks for a file's path; None: the platform's dialog.

    Signals:
        said: a sentence for the status line.
        trust_changed: the user trusts a library now.
    """

    said = Signal(str)
    trust_changed = Signal()

    def __init__(
        self, document: Document, theme: Theme, parent: QWidget | None = None,
        *, choose: Callable[[], Path | None] | None = None,
    ) -> None:  # fmt: skip
        super().__init__("modelEditor", "Maker's model", _SIZE, parent)
        self._document, self._choose = document, choose or self._chosen_file
        self._candidates: list[Candidate] = []
        self._kept: Kept | None = None
        self.place, self.model, self.corner = FlatCombo(), FlatCombo(), FlatCombo()
        self.files, self.trust = QPushButton("Choose files…"), QPushButton("Trust this library")
        self.use, self.remove, self.cancel = QPushButton("Use it"), QPushButton("Remove it"), QPushButton("Cancel")
        self.who, self.told, self.fault = (QLabel(wordWrap=True) for _ in range(3))
        self.form = ParameterForm()
        self._name_things()
        self._lay_out()
        self._connect()
        self.set_theme(theme)

    def show_now(self, place: ModelPlace | None = None, name: str = "") -> None:
        """Show the model of a part, or the part shown last."""
        self._offer_places(place, name)
        self._show_part()
        self.come_forward()
        self.place.setFocus()

    @property
    def at(self) -> tuple[ModelPlace, str]:
        """Where the model belongs: the place, and the part's name."""
        place, name = self.place.currentData()
        return place, name

    # --- what is shown

    def _offer_places(self, place: ModelPlace | None, name: str) -> None:
        wanted = (place, name) if place is not None else self.place.currentData()
        with QSignalBlocker(self.place):
            self.place.clear()
            for one, words in _places(self._document.board):
                self.place.addItem(words, one)
            at = next((n for n in range(self.place.count()) if self.place.itemData(n) == wanted), 0)
            self.place.setCurrentIndex(at)

    def _show_part(self) -> None:
        """The model that stands on the part, if the user trusts it; else files have to be chosen."""
        used = model_on(self._document.board, *self.at)
        self.remove.setEnabled(used is not None)
        self._candidates, self._kept = [], None
        if used is None:
            self._show_model(None)
            self.who.setText("There is no model yet: choose its parameter file (.ami) or the maker's .ibs file.")
            return
        self.corner.setCurrentText(used.corner)
        try:
            found = Trust().find(used.model, used.library_sha256, used.ami_sha256)
        except ModelError:
            self._show_model(None)
            self.who.setText(
                f"Model {quoted(used.model)} of {used.maker or 'a maker not stated'}, library {quoted(used.library)}, "
                f"SHA-256 {used.library_sha256}, is not trusted on this computer; choose its files."
            )
            return
        self._kept = found.kept
        self._show_model(found.ami, {one.parameter: one.value for one in used.parameters})
        self._say_who()

    def choose_files(self) -> None:
        """Ask for a file, and show the model in it."""
        path = self._choose()
        if path is None:
            return
        try:
            self._candidates = candidates_of(path)
        except ModelError as error:
            self._show_fault(str(error))
            return
        self._show_fault("")
        with QSignalBlocker(self.model):
            self.model.clear()
            self.model.addItems([f"{one.ami.root} ({one.ami.source})" for one in self._candidates])
        self.model.setVisible(len(self._candidates) > 1)
        self._show_candidate()

    def _show_candidate(self) -> None:
        one = self._candidate
        if one is not None:
            self._kept = one.kept
            self._show_model(one.ami)
            self._say_who()

    @property
    def _candidate(self) -> Candidate | None:
        at = max(self.model.currentIndex(), 0)
        return self._candidates[at] if self._candidates else None

    def _say_who(self) -> None:
        kept = self._kept
        assert kept is not None
        trusted = bool(Trust().stamp(kept.library_sha256, kept.ami_sha256))
        size = f", {kept.size:,} bytes" if kept.size else ""
        self.who.setText(
            f"Maker: {kept.maker or 'not stated'}. Library: {kept.library}{size}.\nSHA-256 {kept.library_sha256}\n"
            + ("You trust this library." if trusted else WARNING)
        )
        self.trust.setVisible(not trusted)
        self.trust.setEnabled(self._candidate is not None)

    def _show_model(self, ami: AmiFile | None, texts: dict[str, str] | None = None) -> None:
        self.form.show_file(ami, texts or {})
        self.trust.setVisible(False)
        self.model.setVisible(len(self._candidates) > 1)
        told = [] if ami is None else [*refusals(ami, "statistical"), *refusals(ami, "bit-by-bit"), *unused(ami)]
        self.told.setText("\n".join(f"{one[:1].upper()}{one[1:]}".rstrip(".") + "." for one in dict.fromkeys(told)))
        self.told.setVisible(bool(told))
        self._follow_form()

    def _follow_form(self) -> None:
        self._show_fault(self.form.fault)
        self.use.setEnabled(self._kept is not None and not self.form.fault)

    def _show_fault(self, fault: str) -> None:
        self.fault.setText(f"{fault}." if fault else "")  # it may begin with a name, which keeps its letters
        self.fault.setVisible(bool(fault))

    # --- what is done

    def trust_now(self) -> None:
        """Trust the bytes on show from now on: the user's own say, kept apart from every board."""
        one = self._candidate
        if one is None:
            return
        try:
            Trust().add(one)
        except ModelError as error:
            self._show_fault(str(error))
            return
        self._say_who()
        self.trust_changed.emit()

    def take(self) -> None:
        """Put the model on the part, in one undo step."""
        if self._kept is None or self.form.file is None:
            return
        try:
            used = use_of_files(self._kept, self.form.file, self.form.texts(), self._corner)
        except ModelError as error:
            self._show_fault(str(error))
            return
        self._put(used, f"model {used.model}")

    def take_off(self) -> None:
        """Take the model off the part, in one undo step."""
        self._put(None, "no model")

    def _put(self, used: ModelUse | None, words: str) -> None:
        place, name = self.at
        try:
            put_model(self._document.board, place, name, used)
        except WorkbenchError as error:
            self._show_fault(str(error))
            return
        self._document.apply(f"{words} on {name}", lambda board: put_model(board, place, name, used))
        self.said.emit(f"{name} has {words}")
        self.close()

    @property
    def _corner(self) -> CornerName:
        return CORNERS[self.corner.currentIndex()]

    def _chosen_file(self) -> Path | None:
        path, _ = QFileDialog.getOpenFileName(self, "Maker's model", "", "Models (*.ami *.ibs)")
        return Path(path) if path else None

    # --- making

    def _name_things(self) -> None:
        self.corner.addItems(list(CORNERS))
        for label in (self.who, self.told, self.fault):
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.who.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.fault.setObjectName("fault")
        names = {
            self.place: "Part", self.model: "Model", self.corner: "Corner", self.who: "Maker and hash",
            self.told: "What is not run", self.fault: "What is wrong",
        }  # fmt: skip
        for part, words in names.items():
            part.setAccessibleName(words)

    def _lay_out(self) -> None:
        head = QGridLayout()
        head.setSpacing(GRID_PX)
        head.addWidget(QLabel("Part"), 0, 0)
        head.addWidget(self.place, 0, 1)
        head.addWidget(self.files, 0, 2)
        head.addWidget(QLabel("Corner"), 0, 3)
        head.addWidget(self.corner, 0, 4)
        head.addWidget(self.model, 1, 1, 1, 4)
        head.setColumnStretch(1, 1)
        who = QHBoxLayout()
        who.addWidget(self.who, 1)
        who.addWidget(self.trust, 0, Qt.AlignmentFlag.AlignBottom)
        scroll = QScrollArea(widgetResizable=True)
        scroll.setFrameShape(QFrame.Shape.NoFrame)
        scroll.setWidget(self.form)
        parts = ((head, 0), (who, 0), (scroll, 1), (self.told, 0))
        self.stack(parts, (self.remove, self.cancel, self.use), beside=self.fault)

    def _connect(self) -> None:
        self.place.currentIndexChanged.connect(lambda _: self._show_part())
        self.model.currentIndexChanged.connect(lambda _: self._show_candidate())
        self.form.changed.connect(self._follow_form)
        for button, do in (
            (self.files, self.choose_files), (self.trust, self.trust_now), (self.use, self.take),
            (self.remove, self.take_off), (self.cancel, self.close),
        ):  # fmt: skip
            button.clicked.connect(lambda _=False, do=do: do())


def _places(board: Board) -> list[tuple[tuple[ModelPlace, str], str]]:
    """Every place for a model: what it is, and its words."""
    catalogue = board.catalogue
    found: list[tuple[tuple[ModelPlace, str], str]] = []
    found += [(("transmitter", one.name), f"transmitter {one.name}") for one in catalogue.transmitters]
    found += [(("receiver", one.name), f"receiver {one.name}") for one in catalogue.receivers]
    names = [one.name for one in catalogue.conditioners if isinstance(one, ModelConditioner)]
    for name in names or [NEW_REDRIVER]:
        new = "" if names else " (new)"
        found += [(("input", name), f"input of {name}{new}"), (("output", name), f"output of {name}{new}")]
    return found
