"""The panes in rows of cells that the user arranges, with one legend and common axes."""

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, Qt, Signal
from PySide6.QtGui import QActionGroup, QGuiApplication, QKeyEvent
from PySide6.QtWidgets import QApplication, QMenu, QSplitter, QVBoxLayout, QWidget

from workbench.desk.panes.arrangement import KINDS, Kind, Layout, PaneArrangement, layout_of, layout_text, rearranged
from workbench.desk.panes.bits import Bits
from workbench.desk.panes.commands import NESTED, PaneActions
from workbench.desk.panes.kinds.bathtub import BathtubPane
from workbench.desk.panes.kinds.eye import EyePane
from workbench.desk.panes.kinds.frequency import FrequencyPane
from workbench.desk.panes.kinds.impedance import ImpedancePane
from workbench.desk.panes.kinds.pulse import PulsePane
from workbench.desk.panes.legend import Legend
from workbench.desk.panes.link import PaneLink
from workbench.desk.panes.pane import Pane
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.places import place_of
from workbench.desk.session.view_state import ViewState
from workbench.desk.widgets.theme import GRID_PX, Theme
from workbench.errors import WorkbenchError

if TYPE_CHECKING:
    from workbench.desk.panes.export_form import ExportForm
    from workbench.desk.panes.exports import PictureSize

PANES: dict[Kind, type[Pane]] = {
    "frequency": FrequencyPane,
    "pulse": PulsePane,
    "eye": EyePane,
    "bathtub": BathtubPane,
    "impedance": ImpedancePane,
}
_HANDLE_PX = GRID_PX


class PaneGrid(QWidget):
    """One to six panes; its `actions()` are those of the view menu.

    Signals:
        working_wanted: how the current pane's figure was computed is asked for.
        said: a sentence about something that was done ("eye copied").
        manual_wanted: the manual is to be opened at an anchor.
        panes_changed: other panes stand in the cells; what is drawn into them from elsewhere is to be drawn again.
    """

    working_wanted = Signal()
    said = Signal(str)
    manual_wanted = Signal(str)
    panes_changed = Signal()

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, theme: Theme, parent: QWidget | None = None,
        *, arranged: str = "",
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setObjectName("panes")
        self._document, self._state, self._computing, self._theme = document, state, computing, theme
        self.link = PaneLink(self)
        self.bits = self.link.bits = Bits(computing, self)
        self.bits.failed.connect(self.said)
        self.legend = Legend(state, theme)
        self._layout = layout_of(arranged) if arranged else Layout()
        self._rows = QSplitter(Qt.Orientation.Vertical)
        self._panes: list[Pane] = []
        self._current = 0
        self._before_eyes = ""
        self._grown = False
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self._body = QVBoxLayout(self)
        self._body.setContentsMargins(0, 0, 0, 0)
        self._body.setSpacing(0)
        self._body.addWidget(self.legend)
        self._body.addWidget(self._rows, 1)
        self.commands = PaneActions(self)
        self._build(self._layout)
        self.link.options_changed.connect(self.commands.follow)
        QApplication.instance().focusChanged.connect(self._follow_focus)  # type: ignore[union-attr]

    # --- what there is

    @property
    def panes(self) -> tuple[Pane, ...]:
        """The panes, row by row."""
        return tuple(self._panes)

    @property
    def rows(self) -> tuple[int, ...]:
        """How many panes each row has."""
        return self._layout.rows

    @property
    def current(self) -> Pane:
        """The pane that actions are about: the one that had the keyboard last."""
        return self._panes[self._current]

    @property
    def grown(self) -> bool:
        """Whether one pane has all the room."""
        return self._grown

    def layout_state(self) -> str:
        """The arrangement as text, for `restore_layout`."""
        if self._before_eyes:
            return self._before_eyes
        grown = self._grown
        widths = tuple(tuple(row.sizes()) for row in self._row_splitters())
        return layout_text(
            Layout(
                rows=self.rows,
                cells=self._kinds(),
                heights=self._layout.heights if grown else tuple(self._rows.sizes()),
                widths=self._layout.widths if grown else widths,
                log=self.link.log_frequency,
                ratios=self.link.ratios,
            )
        )

    def restore_layout(self, text: str) -> None:
        """Arrange the panes as a text of `layout_state` says; one that can't be read gives the standard arrangement."""
        layout = layout_of(text)
        self.link.set_log_frequency(layout.log)
        self.link.set_ratios(layout.ratios)
        if self._grown or self._before_eyes or (layout.rows, layout.cells) != (self.rows, self._kinds()):
            self._build(layout)
        else:  # making panes takes longer than all other parts of the window
            self._layout = layout
            self._set_sizes(layout)

    # --- what is done

    def arrange(self, choice: PaneArrangement) -> None:
        """Stand the panes in other rows; what they show is kept as far as there is room."""
        self._before_eyes = ""
        cells = rearranged(self._kinds(), choice.rows)
        self._build(Layout(rows=choice.rows, cells=cells))

    @property
    def eyes_apart(self) -> bool:
        """Whether each trace has an eye of its own."""
        return self._before_eyes != ""

    def show_eyes_apart(self) -> None:
        """An eye with its own density for each trace, as small multiples; once more brings back what was there."""
        if self._before_eyes:
            self.restore_layout(self._before_eyes)
            self._before_eyes = ""
            self.commands.follow()
            return
        self._before_eyes = self.layout_state()
        eyes: tuple[Kind, ...] = ("eye", "eye", "eye", "eye")
        self._build(Layout(rows=(2, 2), cells=eyes))
        for number, pane in enumerate(self._panes):
            pane.show_only(number)
        self.commands.follow()

    def show_kind(self, kind: Kind, at: int | None = None) -> None:
        """Show another kind of pane in a cell; None: in the current one."""
        at = self._current if at is None else at
        old = self._panes[at]
        if old.kind == kind:
            return
        had_focus = _has_focus(old)
        pane = self._pane(kind)
        self._panes[at] = pane
        row, column = self._cell(at)
        splitter = self._row_splitters()[row]
        sizes = splitter.sizes()
        splitter.replaceWidget(column, pane)
        splitter.setSizes(sizes)
        pane.setVisible(not self._grown or at == self._current)
        old.deleteLater()
        if had_focus:
            pane.setFocus()
        self.commands.follow()
        self.panes_changed.emit()

    def grow(self, grown: bool | None = None) -> None:
        """Give the current pane all the room, or (False) each its own again; None: the other of the two."""
        wanted = not self._grown if grown is None else grown
        if wanted == self._grown or (wanted and len(self._panes) == 1):
            return
        if wanted:
            self._layout = layout_of(self.layout_state())
        self._grown = wanted
        for number, pane in enumerate(self._panes):
            pane.setVisible(not wanted or number == self._current)
        row, _ = self._cell(self._current)
        for number, splitter in enumerate(self._row_splitters()):
            splitter.setVisible(not wanted or number == row)
        self.current.setFocus()
        self.commands.follow()

    def go(self, step: int) -> None:
        """Give the keyboard to the next pane, or (-1) the one before."""
        grown = self._grown
        self.grow(False)
        self._current = (self._current + step) % len(self._panes)
        self.current.setFocus(Qt.FocusReason.ShortcutFocusReason)
        if grown:
            self.grow(True)

    def copy_picture(self) -> None:
        """Put the current pane's picture on the clipboard."""
        if self._has_curves():
            from workbench.desk.panes import exports  # noqa: PLC0415 - the window starts without it

            QGuiApplication.clipboard().setMimeData(exports.copied_picture(self.current))
            self.said.emit(f"{self.current.title}: picture copied")

    def copy_data(self) -> None:
        """Put the current pane's data on the clipboard."""
        if self._has_curves():
            from workbench.desk.panes import exports  # noqa: PLC0415 - as above

            QGuiApplication.clipboard().setMimeData(exports.copied_data(self.current))
            self.said.emit(f"{self.current.title}: data copied")

    def ask_export(self) -> "ExportForm":
        """Ask for the size of the current pane's picture and its file."""
        from workbench.desk.panes.export_form import ExportForm  # noqa: PLC0415 - as above

        pane = self.current
        form = ExportForm(pane.kind, pane.width(), pane.height(), self)
        form.chosen.connect(self.export_to)
        form.help_wanted.connect(lambda: self.manual_wanted.emit(place_of(form)))
        form.open()
        return form

    def export_to(self, path: Path, size: "PictureSize | None" = None) -> bool:
        """Write the current pane as PNG, SVG or CSV, as the name ends; what fails is told through the document.

        Args:
            path: the file.
            size: of a picture; None: as it is on the screen.

        Returns:
            Whether it was written.
        """
        from workbench.desk.panes import exports  # noqa: PLC0415 - as above

        try:
            exports.export(self.current, path, size)
        except WorkbenchError as error:
            self._document.refused.emit(str(error))
            return False
        self.said.emit(f"{self.current.title}: written to {path}")
        return True

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        self._theme = theme
        self.legend.set_theme(theme)
        for pane in self._panes:
            pane.set_theme(theme)

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Escape gives every pane its room again."""
        if event.key() == Qt.Key.Key_Escape and self._grown:
            self.grow(False)
        else:
            super().keyPressEvent(event)

    # --- making

    def _build(self, layout: Layout) -> None:
        """Take the old panes away and make those of a layout."""
        had_focus = _has_focus(self)
        old = self._rows
        self._rows = _splitter(Qt.Orientation.Vertical)
        self._layout, self._grown, self._panes = layout, False, []
        cells = iter(layout.cells)
        for count in layout.rows:
            row = _splitter(Qt.Orientation.Horizontal)
            for _ in range(count):
                self._panes.append(self._pane(next(cells)))
                row.addWidget(self._panes[-1])
            self._rows.addWidget(row)
        self._body.replaceWidget(old, self._rows)
        old.hide()
        old.deleteLater()
        self._set_sizes(layout)
        self._current = min(self._current, len(self._panes) - 1)
        self.setFocusProxy(self.current)
        if had_focus:
            self.current.setFocus()
        self.commands.follow()
        self.panes_changed.emit()

    def _pane(self, kind: Kind) -> Pane:
        pane = PANES[kind](self._document, self._state, self._computing, self._theme, link=self.link)
        pane.setMinimumSize(40 * GRID_PX, 24 * GRID_PX)
        pane.menu_wanted.connect(self._open_menu)
        pane.grow_wanted.connect(self.commands.grow.trigger)
        pane.working_wanted.connect(lambda: self._explain(pane))
        menu = QMenu(pane)
        group = QActionGroup(menu)
        for other in KINDS:
            action = menu.addAction(PANES[other].title)
            action.setData(other)
            action.setCheckable(True)
            action.setChecked(other == kind)
            group.addAction(action)
        menu.triggered.connect(self._choose_kind)
        pane.head.set_menu(menu)
        return pane

    def _choose_kind(self) -> None:
        """The list of a pane's name was used: the sender tells which."""
        menu = self.sender()
        pane = menu.parent() if menu is not None else None
        if isinstance(menu, QMenu) and isinstance(pane, Pane) and pane in self._panes:
            chosen = next((action.data() for action in menu.actions() if action.isChecked()), None)
            kind = next((kind for kind in KINDS if kind == chosen), None)
            if kind is not None:
                self.show_kind(kind, self._panes.index(pane))

    def _set_sizes(self, layout: Layout) -> None:
        self._rows.setSizes(list(layout.heights) or [1000] * len(layout.rows))
        for number, row in enumerate(self._row_splitters()):
            row.setSizes(list(layout.widths[number]) if layout.widths else [1000] * layout.rows[number])

    # --- following

    def _follow_focus(self, _: QWidget | None, now: QWidget | None) -> None:
        for number, pane in enumerate(self._panes):
            if now is pane or (now is not None and pane.isAncestorOf(now)):
                if number != self._current:
                    self._current = number
                    self.setFocusProxy(pane)
                    self.commands.follow()
                return

    def _open_menu(self, place: QPoint) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.addActions([action for action in self.actions() if not action.property(NESTED)])
        menu.popup(place)

    def _explain(self, pane: Pane) -> None:
        pane.setFocus(Qt.FocusReason.MouseFocusReason)
        self.working_wanted.emit()

    # --- helpers

    def _has_curves(self) -> bool:
        if not self.current.shown:
            name = self.current.title.lower()
            self._document.refused.emit(f"the {name} pane shows no curves yet; copy it once it does")
        return bool(self.current.shown)

    def _row_splitters(self) -> list[QSplitter]:
        rows = (self._rows.widget(number) for number in range(self._rows.count()))
        return [row for row in rows if isinstance(row, QSplitter)]

    def _cell(self, at: int) -> tuple[int, int]:
        for row, count in enumerate(self.rows):
            if at < count:
                return row, at
            at -= count
        raise IndexError(at)

    def _kinds(self) -> tuple[Kind, ...]:
        return tuple(self._kind_of(pane) for pane in self._panes)

    @staticmethod
    def _kind_of(pane: Pane) -> Kind:
        return next(kind for kind in KINDS if kind == pane.kind)


def _has_focus(part: QWidget) -> bool:
    focus = QApplication.focusWidget()
    return focus is not None and (focus is part or part.isAncestorOf(focus))


def _splitter(orientation: Qt.Orientation) -> QSplitter:
    splitter = QSplitter(orientation)
    splitter.setHandleWidth(_HANDLE_PX)
    splitter.setChildrenCollapsible(False)
    return splitter
