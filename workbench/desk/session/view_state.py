"""What the user looks at, and how it is counted, shared by every view: lanes, probe points, element, cursors, symbols.

Never part of the board.
"""

from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import QObject, Signal

from workbench.board.model import Board
from workbench.engine.symbols import Symbols

if TYPE_CHECKING:
    from workbench.engine.figures.answered import ExplainedAnswer

MOST_PROBES = 4
DEFAULT_PROBE = "receiver"


class ShownTrace(NamedTuple):
    """One curve set in every pane: a lane at a probe point of a board ("": the open one; else a snapshot by name)."""

    lane: str
    probe: str
    snapshot: str = ""

    @property
    def label(self) -> str:
        """What legends call it."""
        return f"{self.lane} · {self.probe}" + (f" · {self.snapshot}" if self.snapshot else "")


class AskedFigure(NamedTuple):
    """Which figure is asked about.

    Attributes:
        name: its name; in an answer its path.
        lane: its lane; in an answer the one that is looked at.
        probe: the probe point.
        snapshot: the board, by its snapshot's name; "" for the one that is shown.
        board: a variant of the board that it is of instead; None for none.
        answered: the answer that it stands in; None for a lane's own figure.
        others: what is told with it in the same place, each by its name.
    """

    name: str
    lane: str
    probe: str = DEFAULT_PROBE
    snapshot: str = ""
    board: Board | None = None
    answered: "ExplainedAnswer | None" = None
    others: tuple[str, ...] = ()


class ViewState(QObject):
    """The shared state of all views.

    Signals:
        traces_changed: which traces are shown, or their order, changed.
        lane_changed: the current lane (the one on the path strip) changed.
        selection_changed: the selected lanes, or the selected element, changed.
        time_cursor_changed: the common time cursor moved; UI from the mean crossing, or None.
        frequency_cursor_changed: the common frequency cursor moved; Hz, or None.
        hover_changed: the element under the pointer changed; its number in the path, or None.
        symbols_changed: eyes are counted by other symbols.
    """

    traces_changed = Signal()
    lane_changed = Signal(str)
    selection_changed = Signal()
    time_cursor_changed = Signal(object)
    frequency_cursor_changed = Signal(object)
    hover_changed = Signal(object)
    symbols_changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._lane = ""
        self._lanes: tuple[str, ...] = ()
        self._element: int | None = None
        self._probes: tuple[str, ...] = (DEFAULT_PROBE,)
        self._others: tuple[ShownTrace, ...] = ()
        self.time_cursor_ui: float | None = None
        self.frequency_cursor_hz: float | None = None
        self.hovered: int | None = None
        self._symbols = Symbols.CODED

    @property
    def lane(self) -> str:
        """The current lane's name; "" on a board without lanes."""
        return self._lane

    @property
    def lanes(self) -> tuple[str, ...]:
        """The selected lanes, the current one among them."""
        return self._lanes

    @property
    def element(self) -> int | None:
        """Which element of the current lane is selected, from 0; -1 the transmitter, len(path) the receiver."""
        return self._element

    @property
    def probes(self) -> tuple[str, ...]:
        """The probe points on the current lane, at most four."""
        return self._probes

    @property
    def traces(self) -> tuple[ShownTrace, ...]:
        """What every pane shows, at most four: the current lane's probe points, then lanes and snapshots beside it."""
        own = tuple(ShownTrace(self._lane, probe) for probe in self._probes) if self._lane else ()
        return (*own, *self._others)[:MOST_PROBES]

    @property
    def symbols(self) -> Symbols:
        """By which symbols every eye, figure and study is counted."""
        return self._symbols

    def count_by(self, symbols: Symbols) -> None:
        """Count every eye by these symbols from now on."""
        if symbols is not self._symbols:
            self._symbols = symbols
            self.symbols_changed.emit()

    def set_lane(self, lane: str, lanes: tuple[str, ...] | None = None) -> None:
        """Make a lane current; `lanes` are all that are selected with it."""
        lanes = lanes if lanes is not None else ((lane,) if lane else ())
        if (lane, lanes) == (self._lane, self._lanes):
            return
        moved = lane != self._lane
        self._lane, self._lanes = lane, lanes
        if moved:
            self._element = None
            self._probes = (DEFAULT_PROBE,)
            self.lane_changed.emit(lane)
            self.traces_changed.emit()
        self.selection_changed.emit()

    def select_element(self, element: int | None) -> None:
        """Select an element of the current lane."""
        if element != self._element:
            self._element = element
            self.selection_changed.emit()

    def set_probes(self, probes: tuple[str, ...]) -> None:
        """Set the probe points of the current lane: one to four."""
        probes = tuple(dict.fromkeys(probes))[:MOST_PROBES] or (DEFAULT_PROBE,)
        if probes != self._probes:
            self._probes = probes
            self.traces_changed.emit()

    def set_beside(self, others: tuple[ShownTrace, ...]) -> None:
        """Set what is shown beside the current lane's probe points."""
        if others != self._others:
            self._others = others
            self.traces_changed.emit()

    def set_time_cursor(self, time_ui: float | None) -> None:
        """Move the common time cursor."""
        if time_ui != self.time_cursor_ui:
            self.time_cursor_ui = time_ui
            self.time_cursor_changed.emit(time_ui)

    def set_frequency_cursor(self, frequency_hz: float | None) -> None:
        """Move the common frequency cursor, Hz."""
        if frequency_hz != self.frequency_cursor_hz:
            self.frequency_cursor_hz = frequency_hz
            self.frequency_cursor_changed.emit(frequency_hz)

    def hover(self, element: int | None) -> None:
        """Say which element is under the pointer."""
        if element != self.hovered:
            self.hovered = element
            self.hover_changed.emit(element)
