"""What every pane is: a head with a readout, a chart, the traces of the view state; cursors and zoom are `moving`'s."""

import math
from abc import abstractmethod
from collections.abc import Sequence
from typing import ClassVar, NamedTuple

from PySide6.QtCore import QPoint, Qt, QTimer, Signal
from PySide6.QtGui import QContextMenuEvent, QFocusEvent, QShowEvent
from PySide6.QtWidgets import QStackedWidget, QVBoxLayout, QWidget

from workbench.desk.panes.columns import PaneColumn
from workbench.desk.panes.head import EmptyPage, PaneHead
from workbench.desk.panes.link import PaneLink
from workbench.desk.panes.moving import Bounds, MovingPane
from workbench.desk.panes.plot.axes import Scale
from workbench.desk.panes.plot.chart import CURSOR_Z, WORDS_Z, Chart, ink_words, small_text, thin, upright_line
from workbench.desk.panes.readout import ReadoutPiece
from workbench.desk.panes.subject import Subject
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.places import MANUAL
from workbench.desk.session.view_state import MOST_PROBES, AskedFigure, ShownTrace, ViewState
from workbench.desk.widgets.theme import Theme
from workbench.engine.views import LaneView

NO_LANE = "No lane is chosen. Add one to the table, or choose one there, and its curves appear here."
FIRST_CURVES = "Computing the first curves…"
_CALM_MS = 150
_FADED = 0.35
_TAGS_FROM, _TAGS_APART = 0.14, 0.08
"""Where along the x axis the numbers of the curves stand, as shares of it."""


class Shown(NamedTuple):
    """What is drawn for a trace: its curves."""

    trace: ShownTrace
    view: LaneView


class Pane(MovingPane):
    """Base of the panes.

    Signals:
        menu_wanted: the context menu is asked for, at a global place.
        working_wanted: how this pane's figure was computed is asked for.

    Attributes:
        kind, title: its short name in layouts, and as people read it.
        figure: which figure of the registry its read-out shows, or rests on.
        chart, head, link: its parts, and what it shares with other panes.
        only: the number of the one trace that it shows; None: all of them.
    """

    menu_wanted = Signal(QPoint)
    working_wanted = Signal()

    kind: ClassVar[str]
    title: ClassVar[str]
    figure: ClassVar[str]

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, theme: Theme, parent: QWidget | None = None,
        *, link: PaneLink | None = None,
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self.setProperty(MANUAL, self.kind)
        self.document, self.state, self.computing, self.theme = document, state, computing, theme
        self.link = link if link is not None else PaneLink(self)
        self.subject = Subject(document)
        self.head, self.chart = PaneHead(self.title), Chart(*self._scales())
        self._empty, self._pages = EmptyPage(), QStackedWidget()
        self._slots: list[Shown | None] = [None] * MOST_PROBES
        self._gone: tuple[Shown, ...] = ()
        self._stale = [False] * MOST_PROBES
        self.only: int | None = None
        self._tags = [small_text((0.5, 0.5)) for _ in range(MOST_PROBES)]
        for number, tag in enumerate(self._tags):
            tag.set_text(f"{number + 1}")
            tag.hide()
            self.chart.add(tag, WORDS_Z)
        self._due = True
        self.cursor_line, self.mark_line = upright_line(), upright_line()
        for line in (self.cursor_line, self.mark_line):
            self.chart.add(line, CURSOR_Z)
        self._calm = QTimer(self, singleShot=True, interval=_CALM_MS)
        self._calm.timeout.connect(self._fade)
        self._lay_out()
        self._make_items()
        self._connect()
        self.set_theme(theme)
        self._follow_traces()

    # --- what each kind of pane says for itself

    @abstractmethod
    def _scales(self) -> tuple[Scale, Scale]:
        """How x and y count."""

    @abstractmethod
    def _make_items(self) -> None:
        """Make everything that is drawn, once."""

    @abstractmethod
    def _draw(self, number: int, shown: Shown) -> None:
        """Fill the items of trace `number`."""

    @abstractmethod
    def _clear(self, number: int) -> None:
        """Hide the items of trace `number`."""

    @abstractmethod
    def _fade_items(self, number: int, opacity: float) -> None:
        """Draw the items of trace `number` paler, since newer ones are on their way."""

    @abstractmethod
    def _mark(self) -> None:
        """Place what belongs to the first trace's board: limits, Nyquist, boundaries."""

    @abstractmethod
    def _ink(self) -> None:
        """Give every item the theme's colours."""

    @abstractmethod
    def _bounds(self, shown: Sequence[Shown]) -> Bounds:
        """What is shown unzoomed; `shown` is never empty."""

    @abstractmethod
    def _read(self, x: float | None) -> list[ReadoutPiece]:
        """The readout at x, or (None) the figures that matter most."""

    @abstractmethod
    def _reading(self, shown: Shown, x: float) -> object:
        """What a trace's curves have at x, as a record whose fields the read-out's figures name."""

    @abstractmethod
    def _level(self, shown: Shown, x: float) -> float:
        """What a trace has at x, in the y axis's unit; not a number where it has nothing there."""

    @abstractmethod
    def _apart(self, x: float, level: float) -> tuple[str, str]:
        """A difference along x and one of levels, in words."""

    @abstractmethod
    def columns(self) -> list[PaneColumn]:
        """What is drawn, as data."""

    def _place_words(self) -> None:
        """Place words in the chart where there is room for them; asked for when ranges or the size change."""

    # --- what the grid asks

    @property
    def shown(self) -> list[tuple[int, Shown]]:
        """What is drawn and up to date: number and curves of each trace."""
        return [(n, one) for n, one in enumerate(self._slots) if one is not None and not self._stale[n]]

    def asked_figure(self) -> AskedFigure | None:
        """The figure of the read-out that was clicked, else the first, with the others; None where there is none."""
        figures, known = self.head.readout.figures, dict(self.shown)
        if not figures or figures[0].slot not in known:
            return None
        one = known[figures[0].slot]
        names = tuple(dict.fromkeys(piece.figure for piece in figures if piece.slot == figures[0].slot))
        x, trace = self._cursor_place(), one.trace
        reading = self._reading(one, x) if x is not None else None
        fields: tuple[str, ...] = getattr(reading, "__struct_fields__", ())
        if names[0] not in fields:
            return AskedFigure(names[0], trace.lane, trace.probe, trace.snapshot, others=names)
        from workbench.engine.figures.answered import ExplainedAnswer  # noqa: PLC0415 - most sessions never ask

        whole = ExplainedAnswer(f"{self.title} of {trace.lane} at the cursor", reading)
        board = self.document.snapshots.get(trace.snapshot, self.document.shown)
        others = tuple(name for name in names if name in fields)
        return AskedFigure(names[0], trace.lane, trace.probe, board=board, answered=whole, others=others)

    @property
    def sentence(self) -> str:
        """What stands in place of curves; "" where there are some."""
        return self._empty.text() if self._pages.currentWidget() is self._empty else ""

    @property
    def _traces(self) -> tuple[ShownTrace, ...]:
        """The traces that this pane is to show."""
        traces = self.state.traces
        return traces if self.only is None else traces[self.only : self.only + 1]

    def show_only(self, number: int) -> None:
        """Show one of the traces by itself, in its colour."""
        self.only = number
        self.head.name.setText(f"{self.title} {number + 1}")
        self.set_theme(self.theme)
        self._follow_traces()

    def set_theme(self, theme: Theme) -> None:
        """Take another theme's colours."""
        if self.only is not None:
            ink = theme.traces[self.only]
            theme = theme._replace(traces=(ink, ink, ink, ink))
        self.theme = theme
        self.head.set_theme(theme, focused=self.hasFocus())
        self.chart.set_theme(theme)
        self.cursor_line.set_pen(thin(theme.quiet))
        self.mark_line.set_pen(thin(theme.accent, dashed=True))
        for tag, ink in zip(self._tags, theme.traces, strict=True):
            ink_words(tag, ink, theme.sheet)
        self._ink()
        self._read_out()

    def insert_below_head(self, part: QWidget) -> None:
        """Put a line of controls between head and chart."""
        self._body.insertWidget(1, part)

    # --- following

    def _connect(self) -> None:
        self.computing.view_ready.connect(self._take)
        self.state.traces_changed.connect(self._follow_traces)
        self.state.hover_changed.connect(self._follow_pointer)
        self.document.changed.connect(self._follow_board)
        cursor = {"time": self.state.time_cursor_changed, "frequency": self.state.frequency_cursor_changed}
        if self.cursor_kind in cursor:
            cursor[self.cursor_kind].connect(self._follow_pointer)
        self.link.options_changed.connect(self._redraw)
        self._connect_moves()
        self.chart.resized.connect(self._follow_size)
        self.head.readout.clicked.connect(self.working_wanted)

    def _follow_traces(self) -> None:
        traces = self._traces
        known = {one.trace: one for one in (*self._slots, *self._gone) if one is not None}
        found: list[Shown | None] = []
        for number in range(MOST_PROBES):
            trace = traces[number] if number < len(traces) else None
            view = self.computing.views.get(trace) if trace is not None else None
            if trace is None:
                found.append(None)
            elif view is not None:
                found.append(Shown(trace, view))
            else:
                found.append(known.get(trace, self._slots[number]))
        kept = {id(one) for one in found}
        self._gone = tuple(one for one in self._slots if one is not None and id(one) not in kept)
        self._slots = found
        self._redraw()

    def _take(self, trace: ShownTrace, view: LaneView) -> None:
        for number, wanted in enumerate(self._traces):
            if wanted == trace:
                self._slots[number] = shown = Shown(trace, view)
                self._refresh([(number, shown)])

    def _follow_board(self) -> None:
        """Limits and names may have changed without any curve."""
        if self.isVisible() and self.shown:
            self._mark()
            self._read_out()

    def _follow_pointer(self) -> None:
        if self.isVisible():
            self._read_out()

    def _follow_size(self) -> None:
        self._place_words()

    def _redraw(self) -> None:
        for number, one in enumerate(self._slots):
            if one is None:
                self._clear(number)
        self._refresh([(number, one) for number, one in enumerate(self._slots) if one is not None])

    def _refresh(self, changed: Sequence[tuple[int, Shown]]) -> None:
        traces = self._traces
        self._stale = [one is not None and one.trace not in traces[n : n + 1] for n, one in enumerate(self._slots)]
        if not self.isVisible():
            self._due = True
            return
        for number, shown in changed:
            self._draw(number, shown)
            if not self._stale[number]:
                self._fade_items(number, 1.0)
        if any(self._stale):
            self._calm.start()
        self._choose_page()
        self._mark()
        self._range()
        self._read_out()

    def _choose_page(self) -> None:
        self._empty.setText(FIRST_CURVES if self._traces else NO_LANE)
        anything = any(one is not None for one in self._slots)
        self._pages.setCurrentWidget(self.chart if anything else self._empty)

    def _fade(self) -> None:
        """Curves of what is no longer looked at grow pale while the new ones are on their way."""
        for number, stale in enumerate(self._stale):
            if stale:
                self._fade_items(number, _FADED)

    def _read_out(self) -> None:
        cursor = self._cursor_place()
        self.cursor_line.set_visible(cursor is not None)
        if cursor is not None:
            self.cursor_line.set_value(self._to_axis(cursor))
        mark = self._mark_place()
        self.mark_line.set_visible(mark is not None)
        if mark is not None:
            self.mark_line.set_value(self._to_axis(mark))
        pieces = self._read(cursor) if self.shown else []
        if cursor is not None and mark is not None and self.shown:
            pieces = [*self._differences(cursor, mark), *pieces]
        self.head.readout.say(pieces)
        self.setAccessibleDescription(self._spoken(cursor) or self.sentence)

    def _spoken(self, cursor: float | None) -> str:
        """The read-out for those who hear it: at the cursor what each trace has, by its name and with its unit."""
        if cursor is None or not self.shown:
            return self.head.readout.text
        levels = [(one.trace.label, self._level(one, cursor)) for _, one in self.shown]
        told = (f"{label} {self._value_words(level)}" for label, level in levels if math.isfinite(level))
        return f"At {self._apart(cursor, 0.0)[0]}: {', '.join(told)}"

    def _value_words(self, level: float) -> str:
        """What a trace has at a place, in words with the unit."""
        return self._apart(0.0, level)[1]

    def _differences(self, cursor: float, mark: float) -> list[ReadoutPiece]:
        """From the second cursor to the first: along x, and of each trace."""
        levels = [(n, self._level(one, cursor) - self._level(one, mark)) for n, one in self.shown]
        along, _ = self._apart(cursor - mark, 0.0)
        told = [ReadoutPiece(f"Δ {self._apart(0.0, level)[1]}", self.theme.traces[n]) for n, level in levels
                if math.isfinite(level)]  # fmt: skip
        return [ReadoutPiece(f"Δ {along}", self.theme.accent), *told]

    # --- ranges

    def _bounds_now(self) -> Bounds | None:
        shown = [one for one in self._slots if one is not None]
        return self._bounds(shown) if shown else None

    def _place_all(self) -> None:
        self._place_words()
        self._place_tags()

    def _place_tags(self) -> None:
        """A number on each of several curves, so that they are told apart not only by colour."""
        (low, high), (bottom, top) = self.chart.ranges()
        shown = dict(self.shown)
        for number, tag in enumerate(self._tags):
            one = shown.get(number) if len(shown) > 1 else None
            place = low + (_TAGS_FROM + _TAGS_APART * number) * (high - low)
            level = self._level(one, self._from_axis(place)) if one is not None else math.nan
            tag.set_visible(bottom < level < top)
            if bottom < level < top:
                tag.set_place(place, level)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:  # noqa: N802 - Qt's name
        """Ask for the menu."""
        self.setFocus(Qt.FocusReason.PopupFocusReason)
        self.menu_wanted.emit(event.globalPos())

    def showEvent(self, event: QShowEvent) -> None:  # noqa: N802 - Qt's name
        """Draw what was due."""
        super().showEvent(event)
        if self._due:
            self._due = False
            self._redraw()

    def focusInEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """Show that the keyboard is here."""
        super().focusInEvent(event)
        self.head.set_theme(self.theme, focused=True)

    def focusOutEvent(self, event: QFocusEvent) -> None:  # noqa: N802 - Qt's name
        """The keyboard went elsewhere."""
        super().focusOutEvent(event)
        self.head.set_theme(self.theme, focused=False)

    # --- making

    def _lay_out(self) -> None:
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(f"{self.title} pane")
        self._pages.addWidget(self._empty)
        self._pages.addWidget(self.chart)
        self._body = QVBoxLayout(self)
        self._body.setContentsMargins(0, 0, 0, 0)
        self._body.setSpacing(0)
        self._body.addWidget(self.head)
        self._body.addWidget(self._pages, 1)
