"""Network files, one a setting, as a conditioner: which setting each file has is read from its name, shown and mended.

What comes of it is one entry of the catalogue in one undo step. Files are read away from the window's thread.
"""

from collections.abc import Callable
from pathlib import Path

from msgspec.structs import replace
from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFileDialog,
    QGridLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from workbench.board.edits.catalogue import add_entry
from workbench.desk.background.talk import Talk
from workbench.desk.background.threads import ThreadChannels
from workbench.desk.session.document import Document
from workbench.desk.widgets.form_window import FormWindow
from workbench.desk.widgets.stylesheet import set_state
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import ModelError, WorkbenchError
from workbench.facts import fact_of
from workbench.measured.touchstone.network_sets import (
    FoundSettings,
    ReadSet,
    network_files,
    poor,
    read_active,
    read_set,
    settings_in,
    summary,
)
from workbench.measured.touchstone.reading import Measured
from workbench.parts.conditioners.network_set import NetworkSetConditioner

_SIZE = (820, 440)
_READ = "set"
_HELP = (
    "What changes from name to name stands in braces, with the control's name: lab_EQ{EQ}_DC{DC}.s4p. "
    "Correct it until the table is right."
)


class NetworkSetEditor(FormWindow):
    """A window of its own.

    Args:
        document: the board.
        theme: its colours.
        choose: asks for files, or for a folder where it is True; None: the platform's dialogs.

    Signals:
        said: a sentence for the status line.
        added: an entry was added: (section, name).
    """

    said = Signal(str)
    added = Signal(str, str)

    def __init__(
        self, document: Document, theme: Theme, parent: QWidget | None = None,
        *, choose: Callable[[bool], list[Path]] | None = None,
    ) -> None:  # fmt: skip
        super().__init__("networkSet", "Networks, one per setting", _SIZE, parent)
        self._document, self._choose = document, choose or self._chosen
        self._files: dict[str, Path] = {}
        self._known: dict[Path, Measured] = {}
        self._found: FoundSettings | None = None
        self.read: ReadSet | None = None
        """What the files became; None until they are read."""
        self.work = ThreadChannels(self)
        self.name, self.channels, self.pattern = QLineEdit("by networks"), QSpinBox(), QLineEdit()
        self.files, self.folder = QPushButton("Choose files…"), QPushButton("Choose a folder…")
        self.table, self.told, self.fault = QTableWidget(), QLabel(wordWrap=True), QLabel(wordWrap=True)
        self.add, self.cancel = QPushButton("Add to the catalogue"), QPushButton("Cancel")
        self._name_things()
        self._lay_out()
        self._connect()
        self.set_theme(theme)
        self._show()

    def show_now(self) -> None:
        """Show it as it was left."""
        self.come_forward()
        self.files.setFocus()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Nobody waits for files any more."""
        self.work.close()
        super().closeEvent(event)

    def take(self, paths: list[Path]) -> None:
        """Take files, or those of a folder, and guess the pattern of their names."""
        if not paths:
            return
        self._files, self._found = {}, None
        try:
            self._files = {path.name: path for path in network_files(paths)}
        except ModelError as error:
            self._show(str(error))
            return
        guessed = settings_in(tuple(self._files))
        with QSignalBlocker(self.pattern):
            self.pattern.setText(guessed.pattern.text if guessed.pattern is not None else "")
        self._follow(guessed)

    def finish(self) -> None:
        """Add the conditioner to the catalogue, in one undo step, and close."""
        if self.read is None or not self.add.isEnabled():
            return
        part = replace(self.read.part, name=self.name.text().strip(), channels=self.channels.value())
        try:
            add_entry(self._document.board, "conditioners", part)
        except WorkbenchError as error:
            self._show_fault(str(error))
            return
        self._document.apply(
            f"add {part.name} from its networks", lambda board: add_entry(board, "conditioners", part)
        )
        self.said.emit(f"{part.name} is in the catalogue; it can be put on a path")
        self.added.emit("conditioners", part.name)
        self.close()

    # --- what is shown

    def _retyped(self) -> None:
        if self._files:
            self._follow(settings_in(tuple(self._files), self.pattern.text()))

    def _follow(self, found: FoundSettings) -> None:
        """Show what the pattern reads, and have the files read where it reads a whole set."""
        self._found, self.read = found, None
        self.work.cancel(_READ)
        self._show(found.fault)
        if not found.fault:
            self.told.setText(f"Reading {len(found.settings)} files…")
            files, known = dict(self._files), self._known

            def work(talk: Talk) -> ReadSet:
                return read_set(found, lambda name: _read(files[name], known, talk), name="by networks")

            self.work.ask(_READ, work, self._came)

    def _came(self, answer: ReadSet | WorkbenchError) -> None:
        if isinstance(answer, WorkbenchError):
            self.told.setText("")
            self._show(str(answer))
            return
        self.read = answer
        self._show()

    def _show(self, fault: str = "") -> None:
        found = self._found
        controls = found.pattern.controls if found is not None and found.pattern is not None else ()
        self.table.setColumnCount(len(controls) + 2)
        self.table.setHorizontalHeaderLabels(["File", *controls, "Network"])
        names = list(found.names) if found is not None else list(self._files)
        about = self._about()
        self.table.setRowCount(len(names))
        for row, name in enumerate(names):
            settings = found.settings.get(name) if found is not None else None
            cells = [settings[one] for one in controls] if settings is not None else [""] * len(controls)
            fits = "" if settings is not None or not controls else "does not fit, left out"
            for column, text in enumerate((name, *cells, about.get(name, fits))):
                item = QTableWidgetItem(text)
                item.setToolTip(text)
                self.table.setItem(row, column, item)
        header = self.table.horizontalHeader()
        for column in range(self.table.columnCount()):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        header.setStretchLastSection(True)
        if self.read is not None:
            self.told.setText("\n".join(f"{one[:1].upper()}{one[1:]}." for one in self.read.notes))
        elif fault or not names:
            self.told.setText("" if names else "Choose the network files of all settings: .s2p, .s4p or .ts.")
        self._show_fault(fault)
        self._offer()

    def _about(self) -> dict[str, str]:
        """What is said of each file's network once it was read."""
        if self.read is None:
            return {}
        pairs = zip(self.read.part.networks, self.read.aspects, strict=True)
        return {file: "; ".join((summary(one), *poor(aspects))) for one, (file, aspects) in pairs}

    def _show_fault(self, fault: str) -> None:
        self.fault.setText(f"{fault}." if fault else "")
        self.fault.setVisible(bool(fault))

    def _offer(self) -> None:
        self.add.setEnabled(self.read is not None and bool(self.name.text().strip()))

    # --- making

    def _chosen(self, folder: bool) -> list[Path]:
        if folder:
            chosen = QFileDialog.getExistingDirectory(self, "Folder of network files")
            return [Path(chosen)] if chosen else []
        words = "Networks (*.s2p *.s3p *.s4p *.ts);;All files (*)"
        paths, _ = QFileDialog.getOpenFileNames(self, "Network files, one per setting", "", words)
        return [Path(path) for path in paths]

    def _name_things(self) -> None:
        self.channels.setRange(1, int(fact_of(NetworkSetConditioner, "channels").upper or 64))
        self.table.verticalHeader().setDefaultSectionSize(22)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.verticalHeader().hide()
        self.table.setTabKeyNavigation(False)
        self.pattern.setToolTip(_HELP)
        self.pattern.setPlaceholderText("guessed from the names")
        for label in (self.told, self.fault):
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.fault.setObjectName("fault")
        set_state(self.fault, "faulty", True)
        names = {
            self.name: "Name", self.channels: "Channels", self.pattern: "Settings in names",
            self.table: "Files and their settings", self.told: "What was read", self.fault: "What is wrong",
        }  # fmt: skip
        for part, words in names.items():
            part.setAccessibleName(words)

    def _lay_out(self) -> None:
        head = QGridLayout()
        head.setSpacing(GRID_PX)
        for column, part in enumerate(
            (QLabel("Name"), self.name, QLabel("Channels"), self.channels, self.files, self.folder)
        ):
            head.addWidget(part, 0, column)
        head.addWidget(QLabel("Settings in names"), 1, 0)
        head.addWidget(self.pattern, 1, 1, 1, 5)
        head.setColumnStretch(1, 1)
        told = QScrollArea(widgetResizable=True)
        told.setWidget(self.told)
        told.setFixedHeight(16 * GRID_PX)
        told.setFrameShape(QScrollArea.Shape.NoFrame)
        self.told.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.stack(((head, 0), (self.table, 1), (told, 0)), (self.cancel, self.add), beside=self.fault)

    def _connect(self) -> None:
        self.pattern.textChanged.connect(lambda _: self._retyped())
        self.name.textChanged.connect(lambda _: self._offer())
        for button, do in (
            (self.files, lambda: self.take(self._choose(False))), (self.folder, lambda: self.take(self._choose(True))),
            (self.cancel, self.close), (self.add, self.finish),
        ):  # fmt: skip
            button.clicked.connect(lambda _=False, do=do: do())


def _read(path: Path, known: dict[Path, Measured], talk: Talk) -> Measured:
    """A file, read once however often the pattern is corrected."""
    talk.check()
    if path not in known:
        known[path] = read_active(path)
    return known[path]
