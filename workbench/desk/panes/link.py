"""What the panes of a window have in common besides the view state: ranges by kind of axis, switches, a held cursor."""

from typing import Literal, NamedTuple

from PySide6.QtCore import QObject, Signal

from workbench.desk.panes.bits import Bits
from workbench.engine.views import ERROR_RATIOS

AxisKind = Literal["frequency", "time", "phase", "delay"]
CursorKind = Literal["time", "frequency", "delay"]
USUAL_RATIOS = (1e-6, 1e-12)


class Range(NamedTuple):
    """An x range in the axis's own unit: Hz, UI, UI of one symbol, s."""

    low: float
    high: float


class PaneLink(QObject):
    """Joins panes: zooming one zooms all with the same kind of x axis.

    Signals:
        range_changed: the x range of a kind of axis changed; carries the kind.
        options_changed: a switch that all panes share changed.
        marks_changed: the second cursor of a kind was put somewhere else; carries the kind of cursor.

    Attributes:
        bits: sends bits for the eye panes; None where nobody can ask for them, as in a report.
        held: the cursors ("time", "frequency", "delay") that stay where they were put rather than follow the pointer.
    """

    range_changed = Signal(str)
    options_changed = Signal()
    marks_changed = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._ranges: dict[str, Range] = {}
        self._log_frequency = False
        self._ratios: tuple[float, ...] = USUAL_RATIOS
        self.held: set[str] = set()
        self._marks: dict[str, float] = {}
        self.bits: Bits | None = None

    def range_of(self, kind: AxisKind) -> Range | None:
        """The range that was zoomed to; None: everything is shown."""
        return self._ranges.get(kind)

    def set_range(self, kind: AxisKind, chosen: Range | None) -> None:
        """Zoom every pane of a kind; None shows everything again."""
        if chosen == self._ranges.get(kind):
            return
        if chosen is None:
            del self._ranges[kind]
        else:
            self._ranges[kind] = chosen
        self.range_changed.emit(kind)

    def mark_of(self, cursor: CursorKind) -> float | None:
        """Where the second cursor of a kind stands, in its axis's unit; None where there is none."""
        return self._marks.get(cursor)

    def set_mark(self, cursor: CursorKind, place: float | None) -> None:
        """Put the second cursor of a kind somewhere, from which differences count; None takes it away."""
        if place == self._marks.get(cursor):
            return
        if place is None:
            del self._marks[cursor]
        else:
            self._marks[cursor] = place
        self.marks_changed.emit(cursor)

    @property
    def log_frequency(self) -> bool:
        """Whether frequency axes are logarithmic."""
        return self._log_frequency

    def set_log_frequency(self, log: bool) -> None:
        """Make frequency axes logarithmic or linear."""
        if log != self._log_frequency:
            self._log_frequency = log
            self.options_changed.emit()

    @property
    def ratios(self) -> tuple[float, ...]:
        """The error ratios whose eye contours are drawn beside the profile's own, the largest first."""
        return self._ratios

    def set_ratios(self, ratios: tuple[float, ...]) -> None:
        """Choose contours; those that no view has are left out."""
        known = tuple(ratio for ratio in ERROR_RATIOS if ratio in ratios)
        if known != self._ratios:
            self._ratios = known
            self.options_changed.emit()
