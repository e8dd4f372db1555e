"""The main window: the parts in their places, one document, one engine thread."""

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QByteArray, QEvent, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDropEvent, QShowEvent
from PySide6.QtWidgets import QMainWindow, QSplitter, QToolButton, QVBoxLayout, QWidget

from workbench.board.model import Board, Run, Stage
from workbench.board.user_library import UserLibrary
from workbench.desk.background.runner import Runner
from workbench.desk.background.sketching import Sketching
from workbench.desk.compare.snapshots import Comparison, TraceVerdicts
from workbench.desk.compare.table import CompareTable
from workbench.desk.details.form import ELEMENT, Details
from workbench.desk.files.autosave import Autosave, at_stake, leftovers
from workbench.desk.files.files import FileChooser, Files, PlatformChooser
from workbench.desk.files.handing_over import HandingOver
from workbench.desk.files.recovery import Recovery
from workbench.desk.find.palette import Palette
from workbench.desk.findings.panel import FindingsPanel
from workbench.desk.help.command_log import CommandLog
from workbench.desk.help.first_steps import FirstSteps
from workbench.desk.help.log import LogView
from workbench.desk.help.manual import ManualView
from workbench.desk.lanes.table import LaneTable
from workbench.desk.measured.panel import MeasuredPanel, PlatformMeasuredFiles
from workbench.desk.menus import Menus, MenuSubjects, WindowCommands
from workbench.desk.panes.grid import PaneGrid
from workbench.desk.panes.overlay.drawing import MeasuredDrawing
from workbench.desk.parts.panel import PartsPanel
from workbench.desk.section.editor import SectionEditor
from workbench.desk.session.appearance import Appearance
from workbench.desk.session.application import PROGRAM_TITLE
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.overlays import Overlays
from workbench.desk.session.settings import Preferences
from workbench.desk.session.view_state import AskedFigure, ViewState
from workbench.desk.status import StatusLine
from workbench.desk.strip.path_strip import PathStrip
from workbench.desk.studies.panel import StudiesPanel
from workbench.desk.widgets.icons import icon
from workbench.desk.widgets.sheet import Sheet
from workbench.desk.widgets.stylesheet import stylesheet
from workbench.desk.widgets.target_choice import PlatformTargets
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.quantity import show_imperial
from workbench.reports.pages.manual import finding_id

if TYPE_CHECKING:
    from workbench.desk.datasheet.editor import DataSheetEditor
    from workbench.desk.explain.view import WorkingView
    from workbench.desk.makers.editor import ModelEditor

SMALLEST = (800, 460)
_FRAME = (16, 48)
"""What a window's frame and title take of the screen, px, at the most that is usual."""
USUAL = (1280, 720)
_COLUMNS_PX = (448, 560, 272)
_LEFT_PX = (400, 240)
_SHORT_PX = 520
"""Lower than this the middle column has no room for all panes and an open panel."""
_CENTRE_PX = (156, 450, 0)


class Window(QMainWindow):
    """The whole desk over one document.

    Args:
        document: the board to show first.
        settings: what is remembered between sessions.
        autosave_folder: where unsaved work is kept apart from the user's files.
        chooser: how files are chosen; None: the platform's dialogs.

    Signals:
        closed: the window is gone for good.

    Attributes:
        manual, log, section_editor, data_sheet, model_editor, working: windows of their own; None until they are first
            shown.
    """

    closed = Signal()

    def __init__(
        self, document: Document, settings: Preferences, autosave_folder: Path, chooser: FileChooser | None = None
    ) -> None:
        super().__init__()
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setAcceptDrops(True)
        self.document, self.settings = document, settings
        self._folder, self._leaving, self._lane_at = autosave_folder, False, 0
        self.manual: ManualView | None = None
        self.log: LogView | None = None
        self.section_editor: SectionEditor | None = None
        self.data_sheet: DataSheetEditor | None = None
        self.model_editor: ModelEditor | None = None
        self.working: WorkingView | None = None
        self.log_folder = autosave_folder.parent / "log"
        self._was_away = False
        document.setParent(self)
        self.state = ViewState(self)
        self.state.set_lane(document.board.lanes[0].name if document.board.lanes else "")
        self.runner = Runner(self)
        self.sketching = Sketching()
        self.computing = Computing(document, self.state, self.runner, self, sketching=self.sketching)
        self.appearance = Appearance(settings, self)
        self.sheet = Sheet()
        self.files = Files(document, settings, self.sheet, chooser or PlatformChooser(self), self)
        self.beside = Comparison(document, self.state, self)
        self.autosave = Autosave(document, self.runner, autosave_folder, self)
        self.setStyleSheet(stylesheet(self.appearance.theme))  # before there are parts: each would be polished again
        self._make_parts()
        self._lay_out()
        self.menus = Menus(self, self._desk(), self._commands())
        self.command_log = CommandLog(document, self.runner, self.menus.all(), self)
        self._add_find_button()
        self._connect()
        self._restore_sizes()
        self._follow_file()
        if self.settings.imperial or self.settings.cores:
            self.take_preferences()

    def offer_leftovers(self) -> None:
        """Offer work that an earlier session could not save, the latest first."""
        found = leftovers(self._folder)
        for later in found[1:]:
            later.release()
        if found:
            Recovery(self.sheet, self.files, self.tell).offer(found[0])
        else:
            self.files.guard.tell_holder(self.files.work_on_copy)

    def tell(self, sentence: str) -> None:
        """Say something in the status line."""
        self.status.tell(sentence)

    def show_first_steps(self, shown: bool = True) -> None:
        """Show the first-steps card, or put it away for good."""
        self.first_steps.setVisible(shown)
        self.settings.first_steps_done = not shown

    def show_manual(self, anchor: str = "") -> None:
        """Show the manual: at an anchor, else at the field that the keyboard is in."""
        if self.manual is None:
            self.manual = ManualView(self.appearance.theme, self)
        self.manual.show_at(anchor or self.details.manual_anchor)

    def make_it_pass(self, lane: str = "") -> None:
        """Look for what would make a lane pass, or ("") every lane that does not; the studies' panel shows it."""
        self.studies.make_it_pass(lane)

    def show_working(self, asked: AskedFigure | None = None) -> None:
        """Explain a figure: the one that is asked for, else the one where the keyboard is."""
        if self.working is None:
            from workbench.desk.explain.view import WorkingView  # noqa: PLC0415 - most sessions never ask

            self.working = WorkingView(
                self.document, self.runner, self.appearance.theme, self,
                memo=self.computing.memo, symbols=lambda: self.state.symbols,
            )  # fmt: skip
            self.working.entry_wanted.connect(self.details.show_entry)
        if asked is not None or self.state.lane:
            self.working.show_figure(asked or self._figure_here())
        else:
            self.tell("No lane is chosen, so there is no figure to explain; choose one in the table")

    def _figure_here(self) -> AskedFigure:
        """The figure where the keyboard is: a lane's cell, a pane's read-out, an element's loss, a study's margin."""
        focus = self.focusWidget()
        if _within(focus, self.panes) and self.panes.current.shown:
            trace = self.panes.current.shown[0][1].trace
            return AskedFigure(self.panes.current.figure, trace.lane, trace.probe, trace.snapshot)
        if _within(focus, self.studies):
            return AskedFigure("normalized_margin", self.state.lane)
        at = self.state.element
        if _within(focus, self.strip) or focus is self.strip:
            there = at is not None and 0 <= at < len(self.strip.path) and not isinstance(self.strip.path[at], Stage)
            return AskedFigure(f"path[{at}].loss_db" if there else "loss_db", self.state.lane)
        return AskedFigure(self.lanes.figure if _within(focus, self.lanes) else "eye.height_v", self.state.lane)

    def show_section(self) -> None:
        """Show a line's cross-section: that of the selected element where it has one, else the first of the board."""
        if self.section_editor is None:
            self.section_editor = SectionEditor(self.document, self.runner, self.appearance.theme, self)
            self.section_editor.said.connect(self.tell)
        at, path = self.state.element, self.strip.path
        element = path[at] if at is not None and 0 <= at < len(path) else None
        self.section_editor.show_now(element.line if isinstance(element, Run) else "")

    def show_data_sheet(self) -> None:
        """Ask for a conditioner's figures in the order in which data sheets print them."""
        if self.data_sheet is None:
            from workbench.desk.datasheet.editor import DataSheetEditor  # noqa: PLC0415 - most sessions never ask

            self.data_sheet = DataSheetEditor(self.document, self.appearance.theme, self)
            self.data_sheet.said.connect(self.tell)
            self.data_sheet.added.connect(self.details.show_entry)
        self.data_sheet.show_now()

    def take_preferences(self) -> None:
        """Follow the preferences: every length is told anew, studies take as many cores as they may."""
        show_imperial(self.settings.imperial)
        self.studies.work.workers = self.settings.cores or None
        self.library.folder = self.settings.library_folder
        self.lanes.model.retell()
        self.details.retell()
        self.document.changed.emit(self.document.board)

    def show_model(self) -> None:
        """Show the maker's model of a part: its parameters, and whether its bytes are trusted."""
        if self.model_editor is None:
            from workbench.desk.makers.editor import ModelEditor  # noqa: PLC0415 - most sessions never ask

            self.model_editor = ModelEditor(self.document, self.appearance.theme, self)
            self.model_editor.said.connect(self.tell)
            self.model_editor.trust_changed.connect(self.computing.ask_anew)
        self.model_editor.show_now()

    def show_log(self) -> None:
        """Show what was logged, to be read or to go with a bug report."""
        if self.log is None:
            targets = self.handing.targets
            self.log = LogView(self.log_folder, self.document.text, targets, self)
            self.log.said.connect(self.tell)
        self.log.show_now()

    def next_region(self, step: int = 1) -> None:
        """Move the keyboard to the next region of the window, or (-1) the one before."""
        regions = [part for part in self.regions() if part.isVisible()]
        focus = self.focusWidget()
        at = next((n for n, part in enumerate(regions) if focus is part or _within(focus, part)), -1 if step > 0 else 0)
        _focus_into(regions[(at + step) % len(regions)])

    def standard_sizes(self) -> None:
        """Go back to the standard arrangement."""
        self.settings.forget_sizes()
        for splitter, sizes in self._splitters():
            splitter.setSizes(sizes)

    # --- making

    def _make_parts(self) -> None:
        shared = (self.document, self.state, self.computing, self.appearance.theme)
        self.lanes = LaneTable(*shared)
        self.library = UserLibrary(self.settings.library_folder)
        self.section = PartsPanel(self.document, self.state, self.appearance.theme, library=self.library)
        self.strip = PathStrip(*shared)
        self.panes = PaneGrid(*shared)
        judged = TraceVerdicts(self.document, self.computing, self.runner, self)
        self.compare = CompareTable(*shared, beside=self.beside, judged=judged)
        self.overlays = Overlays(self.document, self.state, self.computing, self)
        self.measured = MeasuredPanel(
            self.document, self.state, self.overlays, self.appearance.theme, files=PlatformMeasuredFiles(self)
        )
        self.findings = FindingsPanel(*shared)
        self.studies = StudiesPanel(self.document, self.state, self.appearance.theme)
        self.drawing = MeasuredDrawing(self.panes, self.state, self.overlays, self.appearance.theme, self)
        self._sheet_action = QAction("From a data sheet…", self)
        self._sheet_action.setObjectName("parts.data-sheet")
        self._sheet_action.triggered.connect(lambda _=False: self.show_data_sheet())
        self.section.addAction(self._sheet_action)
        self._model_action = QAction("Maker's model…", self)
        self._model_action.setObjectName("parts.model")
        self._model_action.triggered.connect(lambda _=False: self.show_model())
        self.section.addAction(self._model_action)
        self._section_action = QAction("Cross-section…", self)
        self._section_action.setObjectName("path.section")
        self._section_action.triggered.connect(lambda _=False: self.show_section())
        self.handing = HandingOver(self.document, self.state, PlatformTargets(self), self)
        self.details = Details(*shared, runner=self.runner)
        self.first_steps = FirstSteps(self.appearance.theme)
        self.first_steps.setVisible(not self.settings.first_steps_done)
        self.status = StatusLine(*shared, runner=self.runner)
        self.palette_box = Palette(self._all_actions, self.document, self.state, self.appearance.theme, self)

    def _lay_out(self) -> None:
        self.left = _splitter(Qt.Orientation.Vertical, self.lanes, self.section)
        self.centre = _splitter(
            Qt.Orientation.Vertical, self.strip, self.panes, self.compare, self.measured, self.studies, self.findings
        )
        self.centre.setStretchFactor(1, 1)
        right = _column(self.first_steps, self.details)
        self.columns = _splitter(Qt.Orientation.Horizontal, self.left, self.centre, right)
        self.columns.setStretchFactor(1, 1)
        whole = QWidget()
        body = QVBoxLayout(whole)
        body.setContentsMargins(0, 0, 0, 0)
        body.setSpacing(0)
        body.addWidget(self.sheet)
        body.addWidget(self.columns, 1)
        body.addWidget(self.status)
        self.status.setFixedHeight(6 * GRID_PX)
        self.setCentralWidget(whole)
        self.setMinimumSize(*SMALLEST)
        self.resize(self._fitting_size())

    def _fitting_size(self) -> QSize:
        """The usual size, or what the screen has room for with a frame and a title around it."""
        return QSize(*USUAL).boundedTo(self.screen().availableGeometry().size() - QSize(*_FRAME)).expandedTo(
            QSize(*SMALLEST)
        )

    def _all_actions(self) -> list[QAction]:
        return self.menus.all()

    def _desk(self) -> MenuSubjects:
        return MenuSubjects(
            self.document, self.state, self.settings, self.files, self.beside, self.appearance, self.sheet
        )  # fmt: skip

    def _commands(self) -> WindowCommands:
        return WindowCommands(
            find=self.palette_box.open,
            first_steps=self.show_first_steps,
            standard_sizes=self.standard_sizes,
            next_region=self.next_region,
            lane_actions=self.lanes.actions,
            path_actions=lambda: [*self.strip.actions(), *self.section.actions(), self._section_action],
            offer_path=self.strip.offer_in,
            view_actions=lambda: [*self.panes.actions(), *self.findings.actions()],
            data_actions=self.measured.actions,
            study_actions=self.studies.actions,
            report_actions=self.handing.actions,
            take_preferences=self.take_preferences,
            manual=self.show_manual,
            log=self.show_log,
            working=self.show_working,
        )

    def _add_find_button(self) -> None:
        self._find = QToolButton(autoRaise=True)
        self._find.setObjectName("find")
        self._find.setText("Find anything  Ctrl+K")
        self._find.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self._find.setAccessibleName("Find an action, lane or part")
        self._find.clicked.connect(self.palette_box.open)
        self._ink_find(self.appearance.theme)
        self.menuBar().setCornerWidget(self._find)

    def _connect(self) -> None:
        self.document.changed.connect(self._keep_lane)
        self.document.file_changed.connect(self._follow_file)
        self.files.guard.held.connect(self._follow_file)
        self.state.lane_changed.connect(self._note_lane)
        self.files.replaced.connect(self.beside.forget)
        self.appearance.theme_changed.connect(self._set_theme)
        self.first_steps.dismissed.connect(lambda: self.show_first_steps(False))
        self.files.settling.connect(self.details.finish)
        self.strip.follow(self.section.drag)
        self.lanes.paste_wanted.connect(self.measured.paste_lanes)
        self.lanes.lane_chosen.connect(lambda _: _focus_into(self.strip))
        self.lanes.working_wanted.connect(self.show_working)
        self.panes.working_wanted.connect(self.show_working)
        self.lanes.remedy_wanted.connect(self.make_it_pass)
        self.details.remedy_wanted.connect(self.make_it_pass)
        self.strip.details_requested.connect(self.details.focus_first)
        self.section.entry_selected.connect(self.details.show_entry)
        self.section.naming.connect(self.details.name_entry)
        self.section.deleting.connect(self.details.delete_entry)
        self.details.entry_shown.connect(self.section.show_entry)
        for inserted in (self.section.drag.dropped, self.section.drag.wanted):
            inserted.connect(lambda *_: self.details.show_page(ELEMENT))
        self.palette_box.entry_chosen.connect(self.details.show_entry)
        self.palette_box.device_chosen.connect(self.details.show_device)
        self.details.manual_wanted.connect(self.show_manual)
        self.section.said.connect(self.tell)
        self.panes.said.connect(self.tell)
        self.studies.said.connect(self.tell)
        self.handing.said.connect(self.status.warn)
        self.handing.going_on.connect(self.status.stay)
        self.handing.written.connect(self.status.offer)
        self.status.findings_wanted.connect(self.findings.open)
        self.findings.manual_wanted.connect(lambda rule: self.show_manual(finding_id(rule)))
        self.findings.remedy_wanted.connect(self.studies.make_it_pass)
        self.findings.said.connect(self.tell)
        self.details.flagged.panel_wanted.connect(self.findings.open)
        self.findings.opened.connect(lambda: self._make_room_for(self.findings))
        self.studies.opened.connect(lambda: self._make_room_for(self.studies))
        self.measured.said.connect(self.tell)
        self.closed.connect(self.measured.end)
        self.state.traces_changed.connect(self._make_room)

    # --- following

    def _follow_file(self) -> None:
        mark = " (read only)" if self.files.guard.read_only else ""
        self.setWindowTitle(f"{self.files.name}[*]{mark} – {PROGRAM_TITLE}")
        self.setWindowModified(at_stake(self.document))
        path = self.document.path
        self.setWindowFilePath(str(path) if path is not None else "")

    def _keep_lane(self, board: Board) -> None:
        """The current lane must be one of the board; one that was taken away gives way to the one in its place."""
        names = [lane.name for lane in board.lanes]
        if self.state.lane not in names:
            at = min(self._lane_at, len(names) - 1)
            self.state.set_lane(names[at] if names else "")
        self._note_lane()

    def _note_lane(self) -> None:
        names = [lane.name for lane in self.document.board.lanes]
        self._lane_at = names.index(self.state.lane) if self.state.lane in names else 0

    def _make_room(self) -> None:
        """The comparison gets the height it needs when it appears."""
        sizes = self.centre.sizes()
        wanted = self.compare.height_wanted() if len(self.state.traces) > 1 else 0
        if wanted and sizes[2] < wanted:
            wanted = min(wanted, self.centre.height() // 3)
            self.centre.setSizes([sizes[0], max(sizes[1] + sizes[2] - wanted, 0), wanted])

    def _make_room_for(self, panel: FindingsPanel | StudiesPanel) -> None:
        """A panel that is opened takes its height from the panes."""
        if self.centre.height() < _SHORT_PX and not self.panes.grown:
            self.panes.grow(True)
            self.tell("One pane has the others' room while the window is so low; F8 shows all of them")
        sizes, at = self.centre.sizes(), self.centre.indexOf(panel)
        wanted = min(panel.height_wanted(), self.centre.height() // 2)
        if sizes[at] < wanted:
            sizes[1] = max(sizes[1] + sizes[at] - wanted, 0)
            sizes[at] = wanted
            self.centre.setSizes(sizes)

    def _set_theme(self, theme: Theme) -> None:
        self.setStyleSheet(stylesheet(theme))
        for part in (
            self.lanes, self.section, self.strip, self.panes, self.compare, self.first_steps, self.status,
            self.palette_box, self.measured, self.drawing, self.studies, self.details,
        ):  # fmt: skip
            part.set_theme(theme)
        for view in (self.manual, self.section_editor, self.data_sheet, self.working):
            if view is not None:
                view.set_theme(theme)
        self._ink_find(theme)

    def _ink_find(self, theme: Theme) -> None:
        self._find.setIcon(icon("find", theme.quiet))

    # --- coming and going

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802 - Qt's name
        """Give the keyboard to the lanes at first."""
        super().showEvent(event)
        if self.focusWidget() is None:
            _focus_into(self.lanes)

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Ask about unsaved work in place; the window goes once that is settled."""
        if not self._leaving:
            self.files.settling.emit()
        if not self._leaving and at_stake(self.document):
            event.ignore()
            self.files.ask_then("before the window closes", self._leave)
            return
        self._remember_sizes()
        self.settings.write()
        self.stop_work()
        event.accept()
        self.closed.emit()

    def stop_work(self) -> None:
        """End every thread and process of the window's, and give its file and its unsaved copy free."""
        for worker in (
            self.studies.work, self.handing, self.runner, self.sketching, self.panes.bits,
            self.autosave, self.files.guard,
        ):  # fmt: skip
            worker.close()

    def changeEvent(self, event: QEvent) -> None:  # noqa: N802 - Qt's name
        """Back from another window: someone may have changed the file meanwhile."""
        super().changeEvent(event)
        if event.type() is QEvent.Type.ActivationChange and not self._leaving:
            if self._was_away and self.isActiveWindow():
                QTimer.singleShot(0, self, lambda: self.files.guard.check(self.files.save_as))
            self._was_away = not self.isActiveWindow()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802 - Qt's name
        """Take files, nothing else."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802 - Qt's name
        """Open the board, or take in the measured data, that was dropped."""
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        if len(paths) != 1:
            self.tell("One file at a time can be opened: drop a single board or data file." if paths else
                      "What was dropped is not a file on this computer: drop a board or data file.")  # fmt: skip
            return
        event.acceptProposedAction()
        # Only after the drag has ended: a question would otherwise hold up the program it came from.
        take = self.measured.import_file if self.measured.takes(paths[0]) else self.files.open
        QTimer.singleShot(0, self, lambda: take(paths[0]))

    def _leave(self) -> None:
        self._leaving = True
        QTimer.singleShot(0, self, self.close)

    # --- sizes

    def _splitters(self) -> tuple[tuple[QSplitter, list[int]], ...]:
        return ((self.columns, list(_COLUMNS_PX)), (self.left, list(_LEFT_PX)), (self.centre, list(_CENTRE_PX)))

    def _restore_sizes(self) -> None:
        geometry = self.settings.sizes("window")
        if not geometry.isEmpty():
            self.restoreGeometry(geometry)
        for splitter, sizes in self._splitters():
            splitter.setSizes(sizes)
        names = ("columns", "left", "centre")
        for name, (splitter, _) in zip(names, self._splitters(), strict=True):
            splitter.restoreState(self.settings.sizes(name))
        self.lanes.restore_columns(self.settings.lane_columns)
        if self.settings.panes:
            self.panes.restore_layout(self.settings.panes)

    def _remember_sizes(self) -> None:
        names = ("columns", "left", "centre")
        for name, (splitter, _) in zip(names, self._splitters(), strict=True):
            self.settings.set_sizes(name, splitter.saveState())
        self.settings.set_sizes("window", QByteArray(self.saveGeometry()))
        self.settings.panes = self.panes.layout_state()
        self.settings.lane_columns = self.lanes.columns_state

    def regions(self) -> tuple[QWidget, ...]:
        """The regions that the keyboard walks through, in order; some may be hidden."""
        lower = (self.compare, self.measured, self.studies, self.findings)
        return (self.lanes, self.section, self.strip, self.panes, *lower, self.details)


def _splitter(orientation: Qt.Orientation, *parts: QWidget) -> QSplitter:
    splitter = QSplitter(orientation)
    splitter.setHandleWidth(GRID_PX)
    splitter.setChildrenCollapsible(False)
    for part in parts:
        splitter.addWidget(part)
    return splitter


def _column(*parts: QWidget) -> QWidget:
    column = QWidget()
    body = QVBoxLayout(column)
    body.setContentsMargins(0, 0, 0, 0)
    body.setSpacing(GRID_PX)
    for part in parts:
        body.addWidget(part)
    body.setStretchFactor(parts[-1], 1)
    return column


def _within(widget: QWidget | None, part: QWidget) -> bool:
    return widget is not None and part.isAncestorOf(widget)


def _focus_into(part: QWidget) -> None:
    """Give the keyboard to the widget that a part names for it, else to its first one that takes it."""
    takes = Qt.FocusPolicy.TabFocus
    inside = [one for one in part.findChildren(QWidget) if one.focusPolicy() & takes == takes and one.isVisible()]
    itself = part.focusProxy() is not None or part.focusPolicy() & takes == takes or not inside
    (part if itself else inside[0]).setFocus(Qt.FocusReason.ShortcutFocusReason)
