"""What opens beside the desk: manual, log, cross-section, data sheet, makers' files and models, a figure explained."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget

from workbench.desk.background.runner import Runner
from workbench.desk.help.log import LogView
from workbench.desk.session.appearance import Appearance
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.places import place_of
from workbench.desk.session.view_state import AskedFigure, ViewState
from workbench.desk.widgets.target_choice import TargetChooser
from workbench.reports.pages.reference import CommandPage

if TYPE_CHECKING:
    from workbench.desk.datasheet.editor import DataSheetEditor
    from workbench.desk.explain.view import WorkingView
    from workbench.desk.help.manual import ManualView
    from workbench.desk.makers.editor import ModelEditor
    from workbench.desk.makers.end_files import EndFilesEditor
    from workbench.desk.makers.network_set import NetworkSetEditor
    from workbench.desk.section.editor import SectionEditor


class OwnWindows(QObject):
    """The windows beside the desk, each made when it is first wanted.

    Args:
        window: the desk, which they go with.
        document, state, computing, appearance: what is shown.
        runner: the engine's thread.
        targets: where files are written to.
        log_folder: where the log is.

    Attributes:
        targets: the same, as given.
        commands, keys: the command line's help and the window's keys, for the manual.
        manual, log, section_editor, data_sheet, network_set, end_files, model_editor, working: None until they are
            first shown.

    Signals:
        said: a sentence for the status line.
        entry_wanted: a catalogue entry is to be shown; carries its section and name.
    """

    said = Signal(str)
    entry_wanted = Signal(str, str)

    def __init__(
        self, window: QWidget, document: Document, state: ViewState, computing: Computing, appearance: Appearance, *,
        runner: Runner, targets: TargetChooser, log_folder: Path,
    ) -> None:  # fmt: skip
        super().__init__(window)
        self._window, self._document, self._state = window, document, state
        self._computing, self._runner, self._appearance, self.targets = computing, runner, appearance, targets
        self.log_folder = log_folder
        self.commands: Callable[[], Sequence[CommandPage]] = tuple
        self.keys: Callable[[], Sequence[tuple[str, str]]] = tuple
        self.manual: ManualView | None = None
        self.log: LogView | None = None
        self.section_editor: SectionEditor | None = None
        self.data_sheet: DataSheetEditor | None = None
        self.network_set: NetworkSetEditor | None = None
        self.end_files: EndFilesEditor | None = None
        self.model_editor: ModelEditor | None = None
        self.working: WorkingView | None = None
        appearance.theme_changed.connect(self._set_theme)

    def show_manual(self, anchor: str) -> None:
        """Show the manual at an anchor."""
        if self.manual is None:
            from workbench.desk.help.manual import ManualView  # noqa: PLC0415 - and with it every page of a report

            self.manual = ManualView(self._appearance.theme, self.commands(), self.keys(), self._window)
        self.manual.show_at(anchor)

    def show_log(self) -> None:
        """Show what was logged, to be read or to go with a bug report."""
        if self.log is None:
            self.log = LogView(self.log_folder, self._document.text, self.targets, self._window)
            self.log.said.connect(self.said)
            self._help_in(self.log)
        self.log.show_now()

    def show_section(self, line: str) -> None:
        """Show a line's cross-section; "" for the first of the board."""
        if self.section_editor is None:
            from workbench.desk.section.editor import SectionEditor  # noqa: PLC0415 - most sessions never ask

            self.section_editor = SectionEditor(self._document, self._runner, self._appearance.theme, self._window)
            self.section_editor.said.connect(self.said)
            self.section_editor.working_wanted.connect(self.show_working)
            self._help_in(self.section_editor)
        self.section_editor.show_now(line)

    def show_data_sheet(self) -> None:
        """Ask for a conditioner's figures in the order in which data sheets print them."""
        if self.data_sheet is None:
            from workbench.desk.datasheet.editor import DataSheetEditor  # noqa: PLC0415 - most sessions never ask

            self.data_sheet = DataSheetEditor(self._document, self._appearance.theme, self._window)
            self.data_sheet.said.connect(self.said)
            self._help_in(self.data_sheet)
            self.data_sheet.added.connect(self.entry_wanted)
        self.data_sheet.show_now()

    def show_network_set(self) -> None:
        """Ask for a conditioner's network files, one per setting."""
        if self.network_set is None:
            from workbench.desk.makers.network_set import NetworkSetEditor  # noqa: PLC0415 - most sessions never ask

            self.network_set = NetworkSetEditor(self._document, self._appearance.theme, self._window)
            self.network_set.said.connect(self.said)
            self._help_in(self.network_set)
            self.network_set.added.connect(self.entry_wanted)
        self.network_set.show_now()

    def show_end_files(self) -> None:
        """Ask for files of terminations, packages and edges."""
        if self.end_files is None:
            from workbench.desk.makers.end_files import EndFilesEditor  # noqa: PLC0415 - most sessions never ask

            self.end_files = EndFilesEditor(self._document, self._appearance.theme, self._window)
            self.end_files.said.connect(self.said)
            self._help_in(self.end_files)
        self.end_files.show_now()

    def show_model(self) -> None:
        """Show the maker's model of a part: its parameters, and whether its bytes are trusted."""
        if self.model_editor is None:
            from workbench.desk.makers.editor import ModelEditor  # noqa: PLC0415 - most sessions never ask

            self.model_editor = ModelEditor(self._document, self._appearance.theme, self._window)
            self.model_editor.said.connect(self.said)
            self._help_in(self.model_editor)
            self.model_editor.trust_changed.connect(self._computing.ask_anew)
        self.model_editor.show_now()

    def show_working(self, figure: AskedFigure) -> None:
        """Explain a figure."""
        if self.working is None:
            from workbench.desk.explain.view import WorkingView  # noqa: PLC0415 - most sessions never ask

            self.working = WorkingView(
                self._document, self._runner, self._appearance.theme, self._window,
                memo=self._computing.memo, symbols=lambda: self._state.symbols,
            )  # fmt: skip
            self.working.entry_wanted.connect(self.entry_wanted)
            self._help_in(self.working)
        self.working.show_figure(figure)

    def retell(self) -> None:
        """Tell every length anew: in another unit."""
        for view in (self.section_editor, self.working):
            if view is not None:
                view.retell()

    def _help_in(self, view: QWidget) -> None:
        """F1 opens the manual in a window beside the desk too."""
        key = QShortcut(QKeySequence(QKeySequence.StandardKey.HelpContents), view)
        key.activated.connect(lambda: self.show_manual(place_of(view.focusWidget() or view)))

    def _set_theme(self) -> None:
        for view in (
            self.manual, self.section_editor, self.data_sheet, self.network_set, self.end_files, self.model_editor,
            self.working,
        ):  # fmt: skip
            if view is not None:
                view.set_theme(self._appearance.theme)
