"""What the window can do without at first: it is made once the first curves are painted, a piece at a time."""

from abc import abstractmethod
from collections.abc import Callable, Sequence
from functools import cached_property, partial
from importlib import import_module
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer
from PySide6.QtWidgets import QMainWindow, QWidget

from workbench.desk.session.computing import Computing
from workbench.desk.widgets.tab_order import tab_after

if TYPE_CHECKING:
    from PySide6.QtGui import QAction
    from PySide6.QtWidgets import QMenu, QSplitter

    from workbench.desk.arrangement import Arrangement
    from workbench.desk.compare.snapshots import Comparison
    from workbench.desk.details.form import Details
    from workbench.desk.files.files import Files
    from workbench.desk.files.handing_over import HandingOver
    from workbench.desk.find.palette import Palette
    from workbench.desk.findings.panel import FindingsPanel
    from workbench.desk.help.command_log import CommandLog
    from workbench.desk.lanes.table import LaneTable
    from workbench.desk.measured.panel import MeasuredPanel
    from workbench.desk.menus import Menus, MenuSubjects, WindowCommands
    from workbench.desk.own_windows import OwnWindows
    from workbench.desk.panes.grid import PaneGrid
    from workbench.desk.parts.panel import PartsPanel
    from workbench.desk.session.appearance import Appearance
    from workbench.desk.session.document import Document
    from workbench.desk.session.settings import Preferences
    from workbench.desk.session.view_state import AskedFigure, ViewState
    from workbench.desk.strip.path_strip import PathStrip
    from workbench.desk.studies.panel import StudiesPanel
    from workbench.desk.widgets.sheet import Sheet

LATEST_MS = 1_500
"""So long after the window was shown it is made even if no curves come: a board may have no lane."""
_AFTER_PAINT_MS = 20
_LOADED = (
    "workbench.studies.study", "workbench.studies.budget", "workbench.studies.remedies.search",
    "workbench.studies.registry", "workbench.desk.studies.answer_page", "workbench.desk.studies.panel",
    "importlib.metadata", "workbench.desk.menus",
)  # fmt: skip
"""What these pieces load, in parts: loaded at once it would hold the window up for longer than is not felt."""


class LaterMade(QMainWindow):
    """Base of the window: the parts of it that are made when they are first asked for, at the latest after the start.

    Attributes:
        studies, palette_box, menus: these; whoever names one makes it.
    """

    document: "Document"
    state: "ViewState"
    settings: "Preferences"
    files: "Files"
    beside: "Comparison"
    appearance: "Appearance"
    sheet: "Sheet"
    arrangement: "Arrangement"
    command_log: "CommandLog"
    own_windows: "OwnWindows"
    handing: "HandingOver"
    lanes: "LaneTable"
    strip: "PathStrip"
    section: "PartsPanel"
    panes: "PaneGrid"
    findings: "FindingsPanel"
    measured: "MeasuredPanel"
    details: "Details"
    _bar: "list[QMenu]"
    _section_action: "QAction"
    _studies_place: QWidget

    @abstractmethod
    def tell(self, sentence: str) -> None:
        """Say something in the status line."""

    @abstractmethod
    def show_first_steps(self, shown: bool = True) -> None:
        """Show the first-steps card, or put it away for good."""

    @abstractmethod
    def show_manual(self, anchor: str = "") -> None:
        """Show the manual."""

    @abstractmethod
    def show_working(self, asked: "AskedFigure | None" = None) -> None:
        """Explain a figure."""

    @abstractmethod
    def take_preferences(self) -> None:
        """Follow the preferences."""

    @abstractmethod
    def next_region(self, step: int = 1) -> None:
        """Move the keyboard to the next region."""

    @abstractmethod
    def _make_room_for(self, panel: "FindingsPanel | StudiesPanel") -> None:
        """A panel that is opened takes its height from the panes."""

    @cached_property
    def studies(self) -> "StudiesPanel":
        """The studies' panel."""
        from workbench.desk.studies.panel import StudiesPanel  # noqa: PLC0415 - the window starts without it

        made = StudiesPanel(self.document, self.state, self.appearance.theme)
        put_in_place(self.arrangement.centre, self._studies_place, made)
        made.said.connect(self.tell)
        made.working_wanted.connect(self.show_working)
        made.opened.connect(lambda: self._make_room_for(made))
        self.__dict__["studies"] = made  # it is there from now on
        self._tell_studies()
        return made

    @cached_property
    def palette_box(self) -> "Palette":
        """The box that finds anything."""
        from workbench.desk.find.palette import Palette  # noqa: PLC0415 - the window starts without it

        made = Palette(self.menus.all, self.document, self.state, self.appearance.theme, self)
        made.entry_chosen.connect(self.details.show_entry)
        made.device_chosen.connect(self.details.show_device)
        return made

    @cached_property
    def menus(self) -> "Menus":
        """What the menus hold."""
        from workbench.desk.menus import Menus  # noqa: PLC0415 - the window starts without it

        made = Menus(self, self._bar, self._desk(), self._commands())
        self.command_log.follow(made.all())
        return made

    @property
    def studies_made(self) -> bool:
        """Whether there is a studies' panel yet."""
        return "studies" in self.__dict__

    @property
    def made(self) -> "list[StudiesPanel | Palette]":
        """What there is of these, to follow a theme."""
        return [self.__dict__[name] for name in ("studies", "palette_box") if name in self.__dict__]

    def find_anything(self) -> None:
        """Open the box that finds anything."""
        self.palette_box.open()

    def keys(self) -> list[tuple[str, str]]:
        """Every command that has a key, and its keys."""
        return self.menus.keys()

    def _pieces(self) -> list[Callable[[], object]]:
        loaded = [partial(import_module, name) for name in _LOADED]
        return [*loaded, lambda: self.studies, lambda: self.menus, lambda: self.palette_box]

    def _tell_studies(self) -> None:
        """What the preferences say about studies, where there are any."""
        if self.studies_made:
            self.studies.work.workers = self.settings.cores or None
            self.studies.question.allowed.library_folder = self.settings.library_folder

    def _desk(self) -> "MenuSubjects":
        from workbench.desk.menus import MenuSubjects  # noqa: PLC0415 - as above

        return MenuSubjects(
            self.document, self.state, self.settings, self.files, self.beside, self.appearance, self.sheet
        )  # fmt: skip

    def _commands(self) -> "WindowCommands":
        from workbench.desk.menus import WindowCommands  # noqa: PLC0415 - as above

        return WindowCommands(
            find=self.find_anything,
            first_steps=self.show_first_steps,
            standard_sizes=self.arrangement.standard,
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
            log=self.own_windows.show_log,
            working=self.show_working,
        )


def put_in_place(column: "QSplitter", place: QWidget, part: QWidget) -> None:
    """Put a part where an empty, hidden widget kept its place, on the column and for the Tab key; that widget goes."""
    column.insertWidget(column.indexOf(place), part)
    tab_after(place, part)
    place.setParent(None)
    place.deleteLater()


class Afterwards(QObject):
    """Makes pieces of a window one after the other, between which the window is free to do what is asked of it.

    Args:
        computing: its first curves are waited for.
        pieces: what makes each; whatever somebody wanted earlier is there already, and making it costs nothing.
        parent: the window.
    """

    def __init__(self, computing: Computing, pieces: Sequence[Callable[[], object]], parent: QObject) -> None:
        super().__init__(parent)
        self._computing, self._pieces = computing, list(pieces)
        self._next = QTimer(self, singleShot=True, interval=LATEST_MS)
        self._next.timeout.connect(self._go_on)
        computing.view_ready.connect(self._begin)

    def add(self, piece: Callable[[], object]) -> None:
        """Something more to be made, after all that is known yet."""
        self._pieces.append(piece)

    def wait(self) -> None:
        """From now on the first curves are waited for, but not for ever."""
        self._next.start()

    def finish(self) -> None:
        """Make all that is left now."""
        while self._pieces:
            self._pieces.pop(0)()

    def stop(self) -> None:
        """Make nothing more: the window goes."""
        self._next.stop()
        self._pieces.clear()

    def _begin(self) -> None:
        self._computing.view_ready.disconnect(self._begin)
        self._next.start(_AFTER_PAINT_MS)

    def _go_on(self) -> None:
        if self._pieces:
            self._pieces.pop(0)()
            self._next.start(0)
