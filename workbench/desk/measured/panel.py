"""The panel of measured data: the list, and in its place whatever is being imported, fitted or exported."""

from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QFileDialog, QStackedWidget, QVBoxLayout, QWidget

from workbench.board.measurement import MeasuredResponse
from workbench.desk.background.threads import ThreadChannels
from workbench.desk.measured.page import MeasuredPage
from workbench.desk.session.document import Document
from workbench.desk.session.overlays import Overlays
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import WorkbenchError

if TYPE_CHECKING:
    from workbench.desk.measured.exporting import ExportPage
    from workbench.desk.measured.fitting import FitPage
    from workbench.desk.measured.importing import TakePage
    from workbench.desk.measured.lanes import LanesPage
    from workbench.desk.measured.listing import ListPage
    from workbench.desk.measured.network import NetworkPage
    from workbench.desk.measured.reading import Given

_LEAST_PX = 60 * GRID_PX
_DATA = "Measured data (*.s*p *.ts *.csv *.txt *.tsv *.dat);;All files (*)"
_LISTS = "Lane lists (*.csv *.tsv *.txt);;All files (*)"
_NETWORKS = "Touchstone (*.s2p *.s4p);;All files (*)"


class MeasuredFiles(Protocol):
    """Lets the user choose files of measured data; None where they thought better of it."""

    def to_import(self, title: str, kinds: str) -> Path | None:
        """A file to read."""

    def to_export(self, suggested: Path) -> Path | None:
        """A file to write; one that exists was confirmed."""


class PlatformMeasuredFiles:
    """The platform's own dialogs, over a window."""

    def __init__(self, window: QWidget) -> None:
        self._window = window
        self._folder = ""

    def to_import(self, title: str, kinds: str) -> Path | None:
        """A file to read."""
        name, _ = QFileDialog.getOpenFileName(self._window, title, self._folder, kinds)
        self._folder = str(Path(name).parent) if name else self._folder
        return Path(name) if name else None

    def to_export(self, suggested: Path) -> Path | None:
        """A file to write."""
        name, _ = QFileDialog.getSaveFileName(self._window, "Export as Touchstone", str(suggested), _NETWORKS)
        return Path(name) if name else None


class MeasuredPanel(QWidget):
    """Everything about measured data. Hidden until it is asked for; its pages are made when they are first needed.

    Attributes:
        files: chooses files.
        overlays: the current lane's measurements beside its curves.
        work: reads, judges and fits.

    Signals:
        said: a sentence for the status line.
    """

    said = Signal(str)

    def __init__(
        self, document: Document, state: ViewState, overlays: Overlays, theme: Theme, parent: QWidget | None = None,
        *, files: MeasuredFiles,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("measured")
        self.setAccessibleName("Measured data")
        self.files = files
        self._document, self._state, self.overlays, self._theme = document, state, overlays, theme
        self.work = ThreadChannels(self)
        self.work.failed.connect(self.said)
        self.pages: dict[type[MeasuredPage], MeasuredPage] = {}
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._stack = QStackedWidget()
        self._stack.setMinimumWidth(1)  # its pages make do with what the columns leave them
        body = QVBoxLayout(self)
        body.setContentsMargins(0, 0, 0, 0)
        body.addWidget(self._stack)
        self._actions = _actions(self)
        self.setMinimumHeight(_LEAST_PX)
        self.hide()

    # --- what others use

    def actions(self) -> list[QAction]:
        """What the menus offer."""
        return list(self._actions)

    @property
    def page(self) -> MeasuredPage | None:
        """The page that is shown; None while none was."""
        shown = self._stack.currentWidget()
        return shown if isinstance(shown, MeasuredPage) else None

    def takes(self, path: Path) -> bool:
        """Whether a file that was dropped is for this panel: whatever is no board."""
        return path.suffix.lower() != ".json"

    def import_file(self, path: Path) -> None:
        """Begin to import a file: a network, or a measurement of the current lane."""
        from workbench.desk.measured.reading import given, is_touchstone  # noqa: PLC0415 - the window starts without it

        try:
            taken = given(path)
        except WorkbenchError as error:
            self.said.emit(str(error))
            return
        if is_touchstone(path):
            self._network().begin(taken)
            self._show(self._network())
        else:
            self.take_measurement(taken)

    def import_chosen(self) -> None:
        """Let the user choose a file, and begin to import it."""
        path = self.files.to_import("Import measured data", _DATA)
        if path is not None:
            self.import_file(path)

    def take_measurement(self, taken: "Given") -> None:
        """Begin to take a file as a measurement."""
        from workbench.desk.measured.reading import is_touchstone  # noqa: PLC0415 - the window starts without it

        self._show(self._take())
        self._take().begin(taken, "network" if is_touchstone(taken.name) else None)

    def take_eye(self) -> None:
        """Begin to take an eye's figures."""
        self._show(self._take())
        self._take().begin(None, "eye")

    def show_list(self) -> None:
        """Show the measurements."""
        page = self._list()
        page.fill()
        self._show(page)
        page.table.setFocus()

    def lane_list(self) -> None:
        """Begin with a lane list: cells to paste, or a file."""
        self._show(self._lanes())
        self._lanes().begin()

    def paste_lanes(self) -> None:
        """Begin with the cells on the clipboard as a lane list."""
        self.lane_list()
        self._lanes().paste()

    def lane_list_chosen(self) -> None:
        """Let the user choose a lane list, and show what it would change."""
        from workbench.desk.measured.reading import given  # noqa: PLC0415 - the window starts without it

        path = self.files.to_import("Open a lane list", _LISTS)
        if path is None:
            return
        try:
            taken = given(path)
        except WorkbenchError as error:
            self.said.emit(str(error))
            return
        self._show(self._lanes())
        self._lanes().begin(taken)

    def fit_to(self, name: str) -> None:
        """Begin to fit values to a measured response."""
        found = next((one for one in self._document.board.measurements if one.name == name), None)
        if isinstance(found, MeasuredResponse):
            self._show(self._fit())
            self._fit().begin(found)

    def export(self) -> None:
        """Begin to export an element, a span or the lane."""
        self._show(self._export())
        self._export().begin()

    def close_panel(self) -> None:
        """Put the panel away."""
        self.hide()

    def end(self) -> None:
        """End what is under way; the window is going."""
        self.work.close()
        self.overlays.work.close()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        for page in self.pages.values():
            page.set_theme(theme)

    # --- pages

    def _list(self) -> "ListPage":
        from workbench.desk.measured.listing import ListPage  # noqa: PLC0415 - the window starts without it

        page = self.pages.get(ListPage)
        if not isinstance(page, ListPage):
            page = ListPage(self._document, self._state, self.overlays, self._theme)
            page.import_wanted.connect(self.import_chosen)
            page.eye_wanted.connect(self.take_eye)
            page.fit_wanted.connect(self.fit_to)
            self._add(page)
            page.left.disconnect()
            page.left.connect(self.close_panel)
        return page

    def _network(self) -> "NetworkPage":
        from workbench.desk.measured.network import NetworkPage  # noqa: PLC0415 - the window starts without it

        page = self.pages.get(NetworkPage)
        if not isinstance(page, NetworkPage):
            page = NetworkPage(self._document, self._state, self.work, self._theme)
            page.measurement_wanted.connect(self.take_measurement)
            self._add(page)
        return page

    def _take(self) -> "TakePage":
        from workbench.desk.measured.importing import TakePage  # noqa: PLC0415 - the window starts without it

        page = self.pages.get(TakePage)
        if not isinstance(page, TakePage):
            page = TakePage(self._document, self._state, self.work, self._theme)
            self._add(page)
        return page

    def _lanes(self) -> "LanesPage":
        from workbench.desk.measured.lanes import LanesPage  # noqa: PLC0415 - the window starts without it

        page = self.pages.get(LanesPage)
        if not isinstance(page, LanesPage):
            page = LanesPage(self._document, self._state, self.work, self._theme)
            page.file_wanted.connect(self.lane_list_chosen)
            self._add(page)
        return page

    def _fit(self) -> "FitPage":
        from workbench.desk.measured.fitting import FitPage  # noqa: PLC0415 - the window starts without it

        page = self.pages.get(FitPage)
        if not isinstance(page, FitPage):
            page = FitPage(self._document, self.work, self._theme)
            self._add(page)
        return page

    def _export(self) -> "ExportPage":
        from workbench.desk.measured.exporting import ExportPage  # noqa: PLC0415 - the window starts without it

        page = self.pages.get(ExportPage)
        if not isinstance(page, ExportPage):
            page = ExportPage(self._document, self._state, self.work, self._theme, target=self._choose_target)
            self._add(page)
        return page

    def _choose_target(self, suggested: Path) -> Path | None:
        return self.files.to_export(suggested)

    def _add(self, page: MeasuredPage) -> None:
        self.pages[type(page)] = page
        page.said.connect(self.said)
        page.left.connect(self._back)
        self._stack.addWidget(page)

    def _show(self, page: MeasuredPage) -> None:
        self._stack.setCurrentWidget(page)
        self.show()

    def _back(self) -> None:
        """Back to the list; where it is empty there is nothing to go back to."""
        self.show_list()
        if not self._document.board.measurements:
            self.close_panel()


def _actions(panel: MeasuredPanel) -> list[QAction]:
    offered = (
        ("measured.import", "&Import measured data…", panel.import_chosen, "Ctrl+I"),
        ("measured.list", "&Measurements", panel.show_list, "Ctrl+M"),
        ("measured.eye", "Import measured eye &figures…", panel.take_eye, ""),
        ("measured.lanes", "&Lane list: paste or open…", panel.lane_list, "Ctrl+L"),
        ("measured.export", "E&xport as Touchstone…", panel.export, "Ctrl+Shift+T"),
    )
    made = []
    for name, words, do, key in offered:
        action = QAction(words, panel)
        action.setObjectName(name)
        if key:
            action.setShortcut(QKeySequence(key))
        action.triggered.connect(lambda _=False, do=do: do())
        made.append(action)
    return made
