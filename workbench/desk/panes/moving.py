"""How a pane is looked around in: the part of its plane that is shown, and its two cursors, by pointer and keys."""

from abc import abstractmethod
from typing import ClassVar, NamedTuple

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QWidget

from workbench.desk.panes.keys import pressed
from workbench.desk.panes.link import AxisKind, CursorKind, PaneLink, Range
from workbench.desk.panes.plot.chart import Chart
from workbench.desk.session.view_state import ViewState

_NARROWEST = 1e-3
"""The least share of the whole x axis that is zoomed to."""


class Bounds(NamedTuple):
    """What a pane shows unzoomed, and the most of the x axis there is to see; in the axes' units."""

    x: Range
    y: Range
    most: Range


class MovingPane(QWidget):
    """Base of panes over a chart: ranges and cursors, in common with other panes of their kinds of axis.

    Signals:
        grow_wanted: this pane is to take all the room, or give it back.

    Attributes:
        axis: the kind of its x axis; panes of a kind zoom together.
        cursor_kind: which common cursor it shows.
        chart, link, state: what moves, what is common to the panes, where the common cursors are.
    """

    grow_wanted = Signal()

    axis: ClassVar[AxisKind]
    cursor_kind: ClassVar[CursorKind]
    chart: Chart
    link: PaneLink
    state: ViewState
    _y: Range | None = None

    @abstractmethod
    def _bounds_now(self) -> Bounds | None:
        """What there is to see; None while there is nothing."""

    @abstractmethod
    def _place_all(self) -> None:
        """Another part is shown: place what keeps its place in sight."""

    @abstractmethod
    def _read_out(self) -> None:
        """A cursor moved."""

    def _cursor_place(self) -> float | None:
        """Where the common cursor stands on this pane's x axis, in the axis's unit."""
        return self.state.time_cursor_ui

    def _mark_place(self) -> float | None:
        """Where the second cursor stands on this pane's x axis, in the axis's unit."""
        return self.link.mark_of(self.cursor_kind)

    def _move_cursor(self, x: float | None) -> None:
        """Move the common cursor."""
        self.state.set_time_cursor(x)

    def _to_axis(self, x: float) -> float:
        """A value in the axis's unit as a place on the axis."""
        return x

    def _from_axis(self, place: float) -> float:
        """A place on the axis as a value in its unit."""
        return place

    def fit(self) -> None:
        """Show everything again."""
        self._y = None
        self.link.set_range(self.axis, None)
        self._range()

    def zoom(self, factor: float, at: float | None = None) -> None:
        """Show `factor` of the present x range about a place on the axis; None: about the cursor, else the middle."""
        (low, high), _ = self.chart.ranges()
        if at is None:
            cursor = self._cursor_place()
            at = self._to_axis(cursor) if cursor is not None else (low + high) / 2.0
            at = min(max(at, low), high)
        self._take_range(at - (at - low) * factor, at + (high - at) * factor)

    def zoom_level(self, factor: float, at: float | None = None) -> None:
        """Show `factor` of the present range of levels about one of them; None: about the middle."""
        _, (low, high) = self.chart.ranges()
        at = (low + high) / 2.0 if at is None else at
        self._y = Range(at - (at - low) * factor, at + (high - at) * factor)
        self._range()

    def pan_level(self, share: float) -> None:
        """Move the range of levels by a share of itself."""
        _, (low, high) = self.chart.ranges()
        step = share * (high - low)
        self._y = Range(low + step, high + step)
        self._range()

    def toggle_mark(self) -> None:
        """Put the second cursor where the first is, from where differences count; once more takes it away."""
        there = self.link.mark_of(self.cursor_kind) is not None
        self.link.set_mark(self.cursor_kind, None if there else self._cursor_place())

    def pan(self, share: float) -> None:
        """Move the x range by a share of itself."""
        (low, high), _ = self.chart.ranges()
        step = share * (high - low)
        self._take_range(low + step, high + step)

    def step_cursor(self, share: float) -> None:
        """Move the cursor by a share of the x range and hold it there."""
        (low, high), _ = self.chart.ranges()
        cursor = self._cursor_place()
        at = self._to_axis(cursor) if cursor is not None else (low + high) / 2.0 - share * (high - low)
        self.link.held.add(self.cursor_kind)
        self._move_cursor(self._from_axis(min(max(at + share * (high - low), low), high)))

    def release_cursor(self) -> bool:
        """Let the cursor follow the pointer again; it is gone until then. Says whether there was one."""
        there = self._cursor_place() is not None or self.link.mark_of(self.cursor_kind) is not None
        self.link.held.discard(self.cursor_kind)
        self.link.set_mark(self.cursor_kind, None)
        self._move_cursor(None)
        return there

    def _connect_moves(self) -> None:
        self.link.range_changed.connect(self._follow_link)
        self.link.marks_changed.connect(self._follow_marks)
        self.chart.zoomed.connect(self._zoom_at)
        self.chart.panned.connect(self._pan_by)
        self.chart.pointed.connect(self._point)
        self.chart.picked.connect(self._pick)
        self.chart.marked.connect(self._put_mark)
        self.chart.boxed.connect(self._zoom_box)
        self.chart.fit_wanted.connect(self.fit)

    # --- ranges

    def _follow_link(self, kind: str) -> None:
        if kind == self.axis:
            self._range()

    def _range(self) -> None:
        bounds = self._bounds_now()
        if bounds is None:
            return
        x = self.link.range_of(self.axis) or bounds.x
        self.chart.set_ranges((self._to_axis(x.low), self._to_axis(x.high)), self._y or bounds.y)
        self._place_all()

    def _take_range(self, low: float, high: float) -> None:
        bounds = self._bounds_now()
        if bounds is None:
            return
        most = bounds.most
        first, last = self._to_axis(most.low), self._to_axis(most.high)
        width = min(max(high - low, _NARROWEST * (last - first)), last - first)
        low = min(max(low, first), last - width)
        self.link.set_range(self.axis, Range(self._from_axis(low), self._from_axis(low + width)))

    def _zoom_at(self, at: float, factor: float, upright: bool) -> None:
        (self.zoom_level if upright else self.zoom)(factor, at)

    def _zoom_box(self, left: float, right: float, bottom: float, top: float) -> None:
        """Show what was framed, in both directions."""
        self._y = Range(bottom, top)
        self._range()
        self._take_range(left, right)

    def _follow_marks(self, kind: str) -> None:
        if kind == self.cursor_kind and self.isVisible():
            self._read_out()

    def _pan_by(self, x: float, y: float) -> None:
        (low, high), (bottom, top) = self.chart.ranges()
        if self._y is not None:
            self._y = Range(bottom + y, top + y)
            self._range()
        self._take_range(low + x, high + x)

    # --- pointer and keys

    def _point(self, x: float | None) -> None:
        if self.cursor_kind not in self.link.held and self._bounds_now() is not None:
            self._move_cursor(None if x is None else self._from_axis(x))

    def _put_mark(self, x: float) -> None:
        self.link.set_mark(self.cursor_kind, self._from_axis(x))

    def _pick(self, x: float) -> None:
        if self.cursor_kind in self.link.held:
            self.link.held.discard(self.cursor_kind)
        else:
            self.link.held.add(self.cursor_kind)
        self._move_cursor(self._from_axis(x))

    def keyPressEvent(self, event: QKeyEvent) -> None:  # noqa: N802 - Qt's name
        """Keys that panes know; Escape goes on to the grid where there is no cursor to take away."""
        if not pressed(self, Qt.Key(event.key()), event.modifiers()):
            super().keyPressEvent(event)
