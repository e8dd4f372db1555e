"""The main window: the parts in their places, one document, one engine thread."""

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDropEvent, QShowEvent
from PySide6.QtWidgets import QApplication, QWidget

from workbench.board.model import Run
from workbench.board.user_library import UserLibrary
from workbench.desk.afterwards import Afterwards, LaterMade
from workbench.desk.arrangement import SMALLEST, Arrangement, fitting_size, stacked
from workbench.desk.background.runner import Runner
from workbench.desk.background.sketching import Sketching
from workbench.desk.compare.snapshots import Comparison, TraceVerdicts
from workbench.desk.compare.table import CompareTable
from workbench.desk.details.form import ELEMENT, Details
from workbench.desk.files.autosave import Autosave, at_stake, leftovers
from workbench.desk.files.dropping import only_file
from workbench.desk.files.files import FileChooser, Files, PlatformChooser
from workbench.desk.files.handing_over import HandingOver
from workbench.desk.files.recovery import Recovery
from workbench.desk.find.button import FindButton
from workbench.desk.findings.panel import FindingsPanel
from workbench.desk.help.command_log import CommandLog
from workbench.desk.help.first_steps import FirstSteps
from workbench.desk.keyboard import FigureRegions, figure_here, focus_into, to_next
from workbench.desk.lanes.table import LaneTable
from workbench.desk.measured.panel import MeasuredPanel, PlatformMeasuredFiles
from workbench.desk.own_windows import OwnWindows
from workbench.desk.panes.grid import PaneGrid
from workbench.desk.panes.overlay.drawing import MeasuredDrawing
from workbench.desk.parts.panel import PartsPanel
from workbench.desk.session.appearance import Appearance
from workbench.desk.session.application import PROGRAM_TITLE
from workbench.desk.session.computing import Computing
from workbench.desk.session.current_lane import CurrentLane
from workbench.desk.session.document import Document
from workbench.desk.session.overlays import Overlays
from workbench.desk.session.places import place_of
from workbench.desk.session.settings import Preferences
from workbench.desk.session.view_state import AskedFigure, ViewState
from workbench.desk.status import StatusLine
from workbench.desk.strip.path_strip import PathStrip
from workbench.desk.widgets.sheet import Sheet
from workbench.desk.widgets.stylesheet import stylesheet
from workbench.desk.widgets.target_choice import PlatformTargets
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.quantity import show_imperial, shows_imperial
from workbench.reports.pages.reference import finding_id

if TYPE_CHECKING:
    from workbench.desk.studies.panel import StudiesPanel

_MENUS = ("&File", "&Edit", "&Lane", "&Path", "&Compare", "&Study", "&View", "&Help")
_SHORT_PX = 520
"""Lower than this the middle column has no room for all panes and an open panel."""


class Window(LaterMade):
    """The whole desk over one document.

    Args:
        document: the board to show first.
        settings: what is remembered between sessions.
        autosave_folder: where unsaved work is kept apart from the user's files.
        chooser: how files are chosen; None: the platform's dialogs.

    Signals:
        closed: the window is gone for good.

    Attributes:
        own_windows: what opens beside it.
        later: makes after the first paint what that does not need.
    """

    closed = Signal()

    def __init__(
        self, document: Document, settings: Preferences, autosave_folder: Path, chooser: FileChooser | None = None
    ) -> None:
        super().__init__()
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setAcceptDrops(True)
        self.document, self.settings = document, settings
        self._folder, self._leaving = autosave_folder, False
        self._was_away = False
        document.setParent(self)
        self.state = ViewState(self)
        self._lane = CurrentLane(document, self.state, self)
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
        self._bar = [self.menuBar().addMenu(title) for title in _MENUS]
        self.own_windows.keys = self.keys
        self.command_log = CommandLog(document, self.runner, self)
        self._find = FindButton(self.find_anything, self.appearance.theme)
        self.menuBar().setCornerWidget(self._find)
        self._connect()
        self._restore()
        self._follow_file()
        self.later = Afterwards(self.computing, self._pieces(), self)
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
        """Show the manual: at an anchor, else where it tells of what has the keyboard."""
        self.own_windows.show_manual(anchor or place_of(QApplication.focusWidget()))

    def make_it_pass(self, lane: str = "") -> None:
        """Look for what would make a lane pass, or ("") every lane that does not; the studies' panel shows it."""
        self.studies.make_it_pass(lane)

    def show_working(self, asked: AskedFigure | None = None) -> None:
        """Explain a figure: the one that is asked for, else the one where the keyboard is."""
        regions = FigureRegions(self.lanes, self.strip, self.panes)
        if asked is not None or self.state.lane:
            self.own_windows.show_working(asked or figure_here(self.focusWidget(), self.state, regions))
        else:
            self.tell("No lane is chosen, so there is no figure to explain; choose one in the table")

    def show_section(self) -> None:
        """Show a line's cross-section: that of the selected element where it has one, else the first of the board."""
        at, path = self.state.element, self.strip.path
        element = path[at] if at is not None and 0 <= at < len(path) else None
        self.own_windows.show_section(element.line if isinstance(element, Run) else "")

    def take_preferences(self) -> None:
        """Follow the preferences: every length is told anew, studies take as many cores as they may."""
        other = shows_imperial() != self.settings.imperial
        show_imperial(self.settings.imperial)
        self.library.folder = self.settings.library_folder
        self._tell_studies()
        self.appearance.follow_letters()
        self.lanes.model.retell()
        self.details.retell()
        if self.studies_made:
            self.studies.retell()
        self.own_windows.retell()
        self.document.changed.emit(self.document.board)
        if other:  # findings name lengths too
            self.computing.ask_anew()

    def next_region(self, step: int = 1) -> None:
        """Move the keyboard to the next region of the window, or (-1) the one before."""
        to_next(self.regions(), self.focusWidget(), step)

    # --- making

    def _make_parts(self) -> None:
        shared = (self.document, self.state, self.computing, self.appearance.theme)
        self.lanes = LaneTable(*shared)
        self.library = UserLibrary(self.settings.library_folder)
        self.section = PartsPanel(self.document, self.state, self.appearance.theme, library=self.library)
        self.strip = PathStrip(*shared)
        self.panes = PaneGrid(*shared, arranged=self.settings.panes)
        judged = TraceVerdicts(self.document, self.computing, self.runner, self)
        self.compare = CompareTable(*shared, beside=self.beside, judged=judged)
        self.overlays = Overlays(self.document, self.state, self.computing, self)
        self.measured = MeasuredPanel(
            self.document, self.state, self.overlays, self.appearance.theme, files=PlatformMeasuredFiles(self)
        )
        self.findings = FindingsPanel(*shared)
        self._studies_place = QWidget()
        self._studies_place.setFocusPolicy(Qt.FocusPolicy.TabFocus)  # hidden: it keeps a place for the Tab key too
        self._studies_place.hide()
        self.drawing = MeasuredDrawing(self.panes, self.state, self.overlays, self.appearance.theme, self)
        self._section_action = QAction("Cross-section…", self)
        self._section_action.setObjectName("path.section")
        self._section_action.triggered.connect(lambda _=False: self.show_section())
        self.handing = HandingOver(self.document, self.state, PlatformTargets(self), self)
        self.own_windows: OwnWindows = OwnWindows(
            self, self.document, self.state, self.computing, self.appearance, runner=self.runner,
            targets=self.handing.targets, log_folder=self._folder.parent / "log",
        )  # fmt: skip
        for words, name, show in (
            ("From a data sheet…", "parts.data-sheet", self.own_windows.show_data_sheet),
            ("Networks, one per setting…", "parts.networks", self.own_windows.show_network_set),
            ("Termination, package, edge…", "parts.ends", self.own_windows.show_end_files),
            ("Maker's model…", "parts.model", self.own_windows.show_model),
        ):
            action = QAction(words, self)
            action.setObjectName(name)
            action.triggered.connect(lambda _=False, show=show: show())
            self.section.addAction(action)
        self.details = Details(*shared, runner=self.runner, library=self.library)
        self.first_steps = FirstSteps(self.appearance.theme)
        self.first_steps.setVisible(not self.settings.first_steps_done)
        self.status = StatusLine(*shared, runner=self.runner)

    def _lay_out(self) -> None:
        self.arrangement = Arrangement(
            self.settings,
            left=(self.lanes, self.section),
            centre=(self.strip, self.panes, self.compare, self.measured, self._studies_place, self.findings),
            right=(self.first_steps, self.details),
        )
        columns = self.arrangement.columns
        self.status.setFixedHeight(6 * GRID_PX)
        self.setCentralWidget(stacked(self.sheet, columns, self.status, stretched=columns))
        self.setMinimumSize(*SMALLEST)
        self.resize(fitting_size(self))

    def _connect(self) -> None:
        self._lane.follow()
        self.document.file_changed.connect(self._follow_file)
        self.files.guard.held.connect(self._follow_file)
        self.files.replaced.connect(self.beside.forget)
        self.appearance.theme_changed.connect(self._set_theme)
        self.first_steps.dismissed.connect(lambda: self.show_first_steps(False))
        self.files.settling.connect(self.details.finish)
        self.strip.follow(self.section.drag)
        self.lanes.paste_wanted.connect(self.measured.paste_lanes)
        self.lanes.lane_chosen.connect(lambda _: focus_into(self.strip))
        self.lanes.working_wanted.connect(self.show_working)
        self.panes.working_wanted.connect(self.show_working)
        self.lanes.remedy_wanted.connect(self.make_it_pass)
        self.details.remedy_wanted.connect(self.make_it_pass)
        self.details.working_wanted.connect(self.show_working)
        self.strip.details_requested.connect(self.details.focus_first)
        self.section.entry_selected.connect(self.details.show_entry)
        self.section.naming.connect(self.details.name_entry)
        self.section.deleting.connect(self.details.delete_entry)
        self.details.entry_shown.connect(self.section.show_entry)
        for inserted in (self.section.drag.dropped, self.section.drag.wanted):
            inserted.connect(lambda *_: self.details.show_page(ELEMENT))
        for region in (self.details, self.panes):
            region.manual_wanted.connect(self.show_manual)
        self.section.said.connect(self.tell)
        self.panes.said.connect(self.tell)
        self.handing.said.connect(self.status.warn)
        self.handing.going_on.connect(self.status.stay)
        self.handing.written.connect(self.status.offer)
        self.status.findings_wanted.connect(self.findings.open)
        self.findings.manual_wanted.connect(lambda rule: self.show_manual(finding_id(rule)))
        self.findings.remedy_wanted.connect(self.make_it_pass)
        self.findings.said.connect(self.tell)
        self.details.flagged.panel_wanted.connect(self.findings.open)
        self.findings.opened.connect(lambda: self._make_room_for(self.findings))
        self.measured.said.connect(self.tell)
        self.own_windows.said.connect(self.tell)
        self.own_windows.entry_wanted.connect(self.details.show_entry)
        self.closed.connect(self.measured.end)
        self.state.traces_changed.connect(self._make_room)

    # --- following

    def _follow_file(self) -> None:
        mark = " (read only)" if self.files.guard.read_only else ""
        self.setWindowTitle(f"{self.files.name}[*]{mark} – {PROGRAM_TITLE}")
        self.setWindowModified(at_stake(self.document))
        path = self.document.path
        self.setWindowFilePath(str(path) if path is not None else "")

    def _make_room(self) -> None:
        """The comparison gets the height it needs when it appears."""
        if len(self.state.traces) > 1:
            self.arrangement.make_room(self.compare, self.compare.height_wanted(), 1.0 / 3.0)

    def _make_room_for(self, panel: "FindingsPanel | StudiesPanel") -> None:
        """A panel that is opened takes its height from the panes."""
        if self.arrangement.middle.height() < _SHORT_PX and not self.panes.grown:
            self.panes.grow(True)
            self.tell("Only one pane fits while the window is this low; F8 shows all of them")
        self.arrangement.make_room(panel, panel.height_wanted(), 0.5)

    def _set_theme(self, theme: Theme) -> None:
        self.setStyleSheet(stylesheet(theme))
        for part in (
            self.lanes, self.section, self.strip, self.panes, self.compare, self.first_steps, self.status,
            self.measured, self.drawing, self.details, *self.made,
        ):  # fmt: skip
            part.set_theme(theme)
        self._find.set_theme(theme)

    # --- coming and going

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802 - Qt's name
        """Give the keyboard to the lanes at first."""
        super().showEvent(event)
        if self.focusWidget() is None:
            focus_into(self.lanes)
        self.later.wait()

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Ask about unsaved work in place; the window goes once that is settled."""
        if not self._leaving:
            self.files.settling.emit()
        if not self._leaving and at_stake(self.document):
            event.ignore()
            self.files.ask_then("before the window closes", self._leave)
            return
        self.arrangement.remember(self)
        self.settings.panes = self.panes.layout_state()
        self.settings.lane_columns = self.lanes.columns_state
        self.settings.write()
        self.stop_work()
        event.accept()
        self.closed.emit()

    def stop_work(self) -> None:
        """End every thread and process of the window's, and give its file and its unsaved copy free."""
        self.later.stop()
        if self.studies_made:
            self.studies.work.close()
        for worker in (
            self.handing, self.runner, self.sketching, self.panes.bits,
            self.autosave, self.files.guard, self.files.effects,
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
        path = only_file(event.mimeData())
        if isinstance(path, str):
            self.tell(path)
            return
        event.acceptProposedAction()
        # Only after the drag has ended: a question would otherwise hold up the program it came from.
        take = self.measured.import_file if self.measured.takes(path) else self.files.open
        QTimer.singleShot(0, self, lambda: take(path))

    def _leave(self) -> None:
        self._leaving = True
        QTimer.singleShot(0, self, self.close)

    # --- regions

    def _restore(self) -> None:
        self.arrangement.restore(self)
        self.lanes.restore_columns(self.settings.lane_columns)
        if self.settings.panes:
            self.panes.restore_layout(self.settings.panes)

    def regions(self) -> tuple[QWidget, ...]:
        """The regions that the keyboard walks through, in order; some may be hidden."""
        studies = (self.studies,) if self.studies_made else ()
        lower = (self.compare, self.measured, *studies, self.findings)
        return (self.lanes, self.section, self.strip, self.panes, *lower, self.details)
