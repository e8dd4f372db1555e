"""The list of measurements: what, where, from which file, how far from the model; shown, hidden, removed, fitted to."""

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QEvent, QObject, QPoint, Qt, QTimer, Signal
from PySide6.QtGui import QAction, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QAbstractItemView, QMenu, QTableWidgetItem, QWidget

from workbench.board.edits.measured import remove_measurement
from workbench.board.measurement import MeasuredResponse, Measurement
from workbench.desk.measured.page import MeasuredPage, figures_table, put_row, ticked, words_label
from workbench.desk.measured.reading import in_words
from workbench.desk.session.document import Document
from workbench.desk.session.overlays import LaidOverlay, Overlays
from workbench.desk.session.view_state import MOST_PROBES, AskedFigure, ViewState
from workbench.desk.widgets.theme import Theme
from workbench.quantity import show
from workbench.reports.measured import overlay_text

TITLES = ("Name", "What", "Probe point", "Measured − model", "Source")
_NAME = 0
_SHA_SHOWN = 8
_NOTHING = "No measurement of {lane} yet: drop a Touchstone or CSV file on the window, or import one."
_HOW = "Space shows or hides, Enter shows its probe point, Delete removes."


class ListPage(MeasuredPage):
    """The current lane's measurements, or the whole board's.

    Signals:
        import_wanted: a file is to be chosen.
        eye_wanted: an eye's figures are to be typed.
        fit_wanted: values are to be fitted to the measurement of that name.
    """

    import_wanted = Signal()
    eye_wanted = Signal()
    fit_wanted = Signal(str)

    def __init__(
        self, document: Document, state: ViewState, overlays: Overlays, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__("Measured data", theme, parent)
        self._document, self._state, self._overlays = document, state, overlays
        self._listed: tuple[Measurement, ...] = ()
        self._filling = False
        self.table = figures_table("Measurements", TITLES, stretch=4)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        self.every = ticked("All lanes", "List the measurements of every lane of the board")
        self.figures = words_label()
        self.buttons.addWidget(self.every)
        # First, and far from where another page's Take and Cancel stand: a second click must not remove anything.
        self.add_button("Remove", self.remove, "Remove the chosen measurement, as one undo step (Delete)")
        self.add_button("Import…", self.import_wanted.emit, "A Touchstone or CSV file (Ctrl+I)")
        self.add_button("Eye figures…", self.eye_wanted.emit, "Eye height and width as an instrument gave them")
        self.add_button("Fit…", self.fit, "Adjust catalogue values until the chosen measurement is met")
        self.add_button("Close", self.give_up, "Hide the panel (Escape)")
        self.commands = self._actions()
        self.body.addWidget(self.table, 1)
        self.body.addWidget(self.figures)
        self.table.installEventFilter(self)
        self.table.customContextMenuRequested.connect(self._menu)
        self.table.itemChanged.connect(self._ticked)
        self.table.itemSelectionChanged.connect(self._tell_figures)
        self.table.itemDoubleClicked.connect(lambda _: self.probe())
        self.every.toggled.connect(lambda _: self.fill())
        # A row may not be replaced while it tells that it was ticked.
        self._soon = QTimer(self, singleShot=True, interval=0)
        self._soon.timeout.connect(self.fill)
        for signal in (overlays.changed, document.changed, state.traces_changed):
            signal.connect(lambda *_: self._soon.start())
        self.fill()

    # --- what others use

    @property
    def chosen(self) -> Measurement | None:
        """The measurement in the chosen row."""
        row = self.table.currentRow()
        return self._listed[row] if 0 <= row < len(self._listed) else None

    def choose(self, name: str) -> None:
        """Choose a measurement's row."""
        names = [one.name for one in self._listed]
        if name in names:
            self.table.setCurrentCell(names.index(name), _NAME)

    def probe(self) -> None:
        """Show the chosen measurement at its probe point."""
        chosen = self.chosen
        if chosen is None:
            return
        self._overlays.show(chosen.name)
        self._state.set_lane(chosen.lane)
        if chosen.probe not in self._state.probes:
            self._state.set_probes((*self._state.probes[: MOST_PROBES - 1], chosen.probe))

    def remove(self) -> None:
        """Remove the chosen measurement, as one undo step."""
        chosen = self.chosen
        name = chosen.name if chosen is not None else ""
        if name and self._document.apply(f"remove measurement {name}", partial(remove_measurement, name=name)):
            self.said.emit(f"Measurement {name} is removed; Undo brings it back.")

    def toggle(self) -> None:
        """Show the chosen measurement, or hide it."""
        chosen = self.chosen
        if chosen is not None:
            self._overlays.show(chosen.name, not self._overlays.is_shown(chosen.name))

    def fit(self) -> None:
        """Fit catalogue values to the chosen measurement."""
        chosen = self.chosen
        if not isinstance(chosen, MeasuredResponse):
            self.said.emit("Values are fitted to a response over frequency: choose a transmission or reflection.")
            return
        self.fit_wanted.emit(chosen.name)

    def fill(self) -> None:
        """Fill the table anew, keeping the chosen row."""
        chosen = self.chosen
        row = self.table.currentRow()
        board = self._document.board.measurements
        self._listed = board if self.every.isChecked() else self._overlays.of_lane()
        self._filling = True
        self.table.setRowCount(len(self._listed))
        for number, one in enumerate(self._listed):
            self._row(number, one)
        self._filling = False
        names = [one.name for one in self._listed]
        if chosen is not None and chosen.name in names:
            row = names.index(chosen.name)
        if names:
            self.table.setCurrentCell(min(max(row, 0), len(names) - 1), _NAME)
        lane = self._state.lane
        self.tell(_HOW if names else _NOTHING.format(lane=lane) if lane else "The board has no lane to measure yet.")
        self._tell_figures()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        super().set_theme(theme)
        self.fill()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802 - Qt's name
        """In the table Enter looks, Delete removes."""
        if watched is self.table and isinstance(event, QKeyEvent) and event.type() is QEvent.Type.KeyPress:
            do = {Qt.Key.Key_Return: self.probe, Qt.Key.Key_Enter: self.probe, Qt.Key.Key_Delete: self.remove}.get(
                Qt.Key(event.key())
            )
            if do is not None:
                do()
                return True
        return super().eventFilter(watched, event)

    # --- its own

    def _actions(self) -> tuple[QAction, ...]:
        made = []
        offered: tuple[tuple[str, str, Callable[[], None], str], ...] = (
            ("probe", "Show at its &probe point", self.probe, "Return"),
            ("toggle", "Show or &hide", self.toggle, "Space"),
            ("fit", "&Fit values to it…", self.fit, ""),
            ("remove", "&Remove", self.remove, "Delete"),
        )
        for name, words, do, key in offered:
            action = QAction(words, self)
            action.setObjectName(f"measured.{name}")
            # The page answers these keys itself: as shortcuts they would take them from every other part.
            action.setToolTip(f"{words.replace('&', '')} {f'({QKeySequence(key).toString()})' if key else ''}".strip())
            action.triggered.connect(lambda _=False, do=do: do())
            made.append(action)
        return tuple(made)

    def _menu(self, at: QPoint) -> None:
        if self.chosen is None:
            return
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        menu.addActions(self.commands)
        menu.popup(self.table.viewport().mapToGlobal(at))

    def _row(self, number: int, one: Measurement) -> None:
        laid = self._overlays.laid(one.name)
        refused = laid is not None and bool(laid.refusal)
        source = f"{one.source} · {one.sha256[:_SHA_SHOWN]}" if one.sha256 else one.source or "typed"
        tip = "\n".join(filter(None, (
            f"{one.name}: {in_words(one)}", f"lane {one.lane} at {one.probe}", f"source {one.source or 'typed'}",
            f"SHA-256 {one.sha256}" if one.sha256 else "", one.notes, laid.refusal if laid is not None else "",
        )))  # fmt: skip
        name = one.name if not self.every.isChecked() else f"{one.lane}: {one.name}"
        cells = (name, in_words(one).split(",")[0], self._probe_words(one), self._apart(one, laid), source)
        put_row(self.table, number, cells, ink=self.theme.failed if refused else "", tip=tip)
        tick = self.table.item(number, _NAME)
        assert tick is not None  # put there above
        tick.setFlags(tick.flags() | Qt.ItemFlag.ItemIsUserCheckable)
        tick.setCheckState(Qt.CheckState.Checked if self._overlays.is_shown(one.name) else Qt.CheckState.Unchecked)
        tick.setData(Qt.ItemDataRole.AccessibleTextRole, f"{name}, shown where ticked")

    def _probe_words(self, one: Measurement) -> str:
        looked = one.lane == self._state.lane and (one.probe in self._state.probes or isinstance(one, MeasuredResponse))
        return one.probe if looked else f"{one.probe} (not on screen)"

    def _apart(self, one: Measurement, laid: LaidOverlay | None) -> str:
        if one.lane != self._state.lane:
            return "other lane"
        if laid is None:
            return "…"
        overlay = laid.overlay
        if overlay is None:
            return "can't be overlaid"
        if overlay.difference is not None:
            left, unit = overlay.difference, overlay.y_unit
            rms, worst = show(left.rms, unit, digits=2), show(left.worst, unit, digits=2)
            return f"rms {rms}, worst {worst} at {show(left.worst_at, overlay.x_unit, digits=3)}"
        apart = [f"{one.label} {show(one.apart, one.unit, digits=2)}" for one in overlay.figures]
        return ", ".join(apart)

    def asked_figure(self) -> AskedFigure | None:
        """How far the chosen measurement is from the model; None while that is not known."""
        chosen = self.chosen
        laid = self._overlays.laid(chosen.name) if chosen is not None else None
        overlay = laid.overlay if laid is not None else None
        if chosen is None or overlay is None:
            return None
        from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

        paths = tuple(f"figures[{n}].apart" for n in range(len(overlay.figures)))
        if overlay.difference is not None:
            paths = tuple(f"difference.{one}" for one in ("rms", "worst", "worst_at"))
        whole = ExplainedAnswer(f"{chosen.name} beside {chosen.lane}", overlay, self._document.board)
        return AskedFigure(paths[0], chosen.lane, chosen.probe, answered=whole, others=paths) if paths else None

    def _ticked(self, item: QTableWidgetItem) -> None:
        if not self._filling and item.column() == _NAME and item.row() < len(self._listed):
            self._overlays.show(self._listed[item.row()].name, item.checkState() is Qt.CheckState.Checked)

    def _tell_figures(self) -> None:
        chosen = self.chosen
        laid = self._overlays.laid(chosen.name) if chosen is not None else None
        if laid is None:
            self.figures.setText("")
        elif laid.overlay is None:
            self.figures.setText(laid.refusal)
        else:
            # The first line names what the chosen row names already.
            self.figures.setText("\n".join(line.strip() for line in overlay_text(laid.overlay).splitlines()[1:]))
        self.figures.setAccessibleName(self.figures.text())
