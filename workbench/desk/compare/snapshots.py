"""Comparison: what is shown beside the current lane, and the table that compares it.

A snapshot is a state of the board under a name: as it is now, or as it would be with one control set otherwise. It
follows the current lane and its probe point, so that stepping through the lanes compares each with itself.
"""

from typing import NamedTuple

from PySide6.QtCore import QObject, Signal

from workbench.board.edits.devices import set_settings
from workbench.board.model import Board, device_words
from workbench.desk.background.runner import Runner
from workbench.desk.background.talk import Talk
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import DEFAULT_PROBE, MOST_PROBES, ShownTrace, ViewState
from workbench.engine.assess import assess_lane
from workbench.engine.assessment import LaneAssessment
from workbench.engine.lane.path import plan_of
from workbench.engine.lane.probe import PINS, RECEIVER, TRANSMITTER
from workbench.engine.symbols import Symbols
from workbench.errors import WorkbenchError

EVERY_LANE_HAS = (TRANSMITTER, PINS, RECEIVER)


class Other(NamedTuple):
    """Something put beside the current lane: another lane of the open board, or ("" as lane) a snapshot of it."""

    lane: str = ""
    snapshot: str = ""


class Comparison(QObject):
    """What the user put beside the current lane; keeps the view state's further traces in step with it.

    Signals:
        changed: what is put beside, or the snapshots there are, changed.
    """

    changed = Signal()

    def __init__(self, document: Document, state: ViewState, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document, self._state = document, state
        self._others: tuple[Other, ...] = ()
        document.changed.connect(self._sync)
        state.traces_changed.connect(self._sync)

    @property
    def others(self) -> tuple[Other, ...]:
        """What is put beside, in order."""
        return self._others

    @property
    def full(self) -> bool:
        """Whether the panes show as many traces as they can."""
        return len(self._state.traces) >= MOST_PROBES

    def put_lanes(self, names: tuple[str, ...]) -> None:
        """Put other lanes beside the current one."""
        self._put(tuple(Other(lane=name) for name in names if name != self._state.lane))

    def snapshot(self, name: str = "") -> str:
        """Keep the board's state under a name and put it beside.

        Args:
            name: what it is called; "" for the next free "state N". One that is taken is replaced.

        Returns:
            The name.
        """
        name = name.strip() or self.next_name()
        self._document.snapshot(name)
        self._put((Other(snapshot=name),))
        self._sync(again=True)
        return name

    def next_name(self) -> str:
        """The next free name for a state."""
        names = (f"snapshot {n}" for n in range(1, 1 + MOST_PROBES**6))
        return next(name for name in names if name not in self._document.snapshots)

    def put_snapshot(self, name: str) -> None:
        """Put a state that was kept before beside."""
        if name in self._document.snapshots:
            self._put((Other(snapshot=name),))

    def put_setting(self, ref: str, control: str, position: str, *, channel: int | None = None) -> str:
        """Put the board as it is, but with one control of a device, or of a channel of it, set otherwise, beside.

        Returns:
            The name it is kept under; "" where the device has no such position (told through `refused`).
        """
        try:
            board = set_settings(self._document.board, (ref,), {control: position}, channel=channel)
        except WorkbenchError as error:
            self._document.refused.emit(str(error))
            return ""
        name = f"{device_words(ref, channel)} {control} {position}"
        self._document.snapshots[name] = board
        self._put((Other(snapshot=name),))
        self._sync(again=True)
        return name

    def remove(self, trace: ShownTrace) -> None:
        """Take a trace away: one put beside, or a probe point of the current lane where it has several."""
        gone = Other(snapshot=trace.snapshot) if trace.snapshot else Other(lane=trace.lane)
        if gone in self._others:
            self._others = tuple(other for other in self._others if other != gone)
            self._sync()
            self.changed.emit()
        elif trace.probe in self._state.probes and len(self._state.probes) > 1:
            self._state.set_probes(tuple(probe for probe in self._state.probes if probe != trace.probe))

    def clear(self) -> None:
        """Show and select only the current lane again, so that no edit reaches the others; snapshots are kept."""
        if self._state.lane and any(other.lane for other in self._others):
            self._state.set_lane(self._state.lane)
        self._others = ()
        self._state.set_probes(self._state.probes[:1])
        self._sync()
        self.changed.emit()

    def forget(self) -> None:
        """Another board is shown: nothing of what was kept belongs to it."""
        self._document.snapshots.clear()
        self.clear()

    def _put(self, others: tuple[Other, ...]) -> None:
        """The first ones asked for win over the rest of them, and all over what was there before."""
        kept = tuple(other for other in self._others if other not in others)
        room = max(MOST_PROBES - len(self._state.probes), 1)
        if len(self._state.probes) >= MOST_PROBES:
            self._state.set_probes(self._state.probes[: MOST_PROBES - 1])
        self._others = (*kept, *others[:room])[-room:]
        self._sync()
        self.changed.emit()

    def _sync(self, _: object = None, *, again: bool = False) -> None:
        """Bring the view state's further traces in step; `again` also where only a snapshot's content changed."""
        lane, probe = self._state.lane, self._state.probes[0]
        names = {one.name for one in self._document.board.lanes}
        self._others = tuple(other for other in self._others if not other.lane or other.lane in names)
        traces = [trace for other in self._others if (trace := self._trace(other, lane, probe)) is not None]
        wanted = tuple(dict.fromkeys(traces))
        if again:
            self._state.set_beside(())
        self._state.set_beside(wanted)

    def _trace(self, other: Other, lane: str, probe: str) -> ShownTrace | None:
        if other.snapshot:
            board = self._document.snapshots.get(other.snapshot)
            known = board is not None and any(one.name == lane for one in board.lanes)
            return ShownTrace(lane, probe, other.snapshot) if known else None
        if other.lane == lane:
            return None
        return ShownTrace(other.lane, probe if probe in EVERY_LANE_HAS else DEFAULT_PROBE)


class TraceVerdicts(QObject):
    """The verdict of each trace: the open board's from what is computed anyway, a snapshot's asked for here, once.

    Signals:
        ready: a snapshot's lane is assessed.
    """

    ready = Signal()

    def __init__(self, document: Document, computing: Computing, runner: Runner, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document, self._computing, self._runner = document, computing, runner
        self._known: dict[tuple[str, str], tuple[Board, Symbols, LaneAssessment | None]] = {}

    def assessment(self, trace: ShownTrace) -> LaneAssessment | None:
        """A trace's assessment; None while it is not there yet."""
        if not trace.snapshot:
            return self._computing.assessments.get(trace.lane)
        board = self._document.snapshots.get(trace.snapshot)
        if board is None:
            return None
        known = self._known.get((trace.snapshot, trace.lane))
        if known is None or known[0] is not board or known[1] is not self._computing.symbols:
            self._forget_others()
            self._known[trace.snapshot, trace.lane] = board, self._computing.symbols, None
            self._ask(board, trace)
            return None
        return known[2]

    def _forget_others(self) -> None:
        """Keep nothing of states that are not kept any more."""
        snapshots = self._document.snapshots
        self._known = {key: known for key, known in self._known.items() if snapshots.get(key[0]) is known[0]}

    def _ask(self, board: Board, trace: ShownTrace) -> None:
        lane, symbols = next(one for one in board.lanes if one.name == trace.lane), self._computing.symbols

        def work(talk: Talk) -> LaneAssessment:
            talk.check()
            plan = plan_of(board, lane)
            return assess_lane(self._computing.memo, plan, lane.length_m, board.guard, symbols=symbols)

        def done(found: LaneAssessment) -> None:
            self._known[trace.snapshot, trace.lane] = board, symbols, found
            self.ready.emit()

        def lost() -> None:
            self._known.pop((trace.snapshot, trace.lane), None)  # whoever asks the next time has it tried again

        self._runner.submit(("snapshot", trace.snapshot, trace.lane), work, done, priority=2, lost=lost)
