"""Measurements laid beside the lane on screen, worked out off the GUI thread, and which of them are shown."""

from typing import TYPE_CHECKING, NamedTuple

from PySide6.QtCore import QObject, QTimer, Signal

from workbench.board.measurement import MeasuredStep, MeasuredWaveform, Measurement
from workbench.board.model import Board
from workbench.desk.background.talk import Talk
from workbench.desk.background.threads import ThreadChannels
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.engine.lane.path import LanePlan, plan_of
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.reflection import impedance_profile
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.errors import WorkbenchError

if TYPE_CHECKING:
    from workbench.measured.overlay.figures import Overlay
    from workbench.measured.overlay.fold import FoldedEye

REST_MS = 150
"""So long a board has to stand still before its measurements are laid beside it again."""


class LaidOverlay(NamedTuple):
    """A measurement beside its lane.

    Attributes:
        measurement: what was measured.
        overlay: it and the model's curve on one axis; None where the two can't be overlaid.
        eye: a waveform folded at its own clock; None for everything else.
        ui_s: the lane's unit interval, s.
        start_s: one-way time of flight from the transmitter to the span that a step was sent into, s.
        refusal: why there is no overlay, in a sentence; "" where there is one.
    """

    measurement: Measurement
    overlay: "Overlay | None"
    eye: "FoldedEye | None" = None
    ui_s: float = 0.0
    start_s: float = 0.0
    refusal: str = ""


class _Asked(NamedTuple):
    measurement: Measurement
    plan: LanePlan | None
    symbols: Symbols


class Overlays(QObject):
    """The measurements of the current lane beside its curves.

    Attributes:
        work: lays them beside the lane.

    Signals:
        changed: one came in, went, was shown or hidden.
    """

    changed = Signal()

    def __init__(
        self, document: Document, state: ViewState, computing: Computing, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._document, self._state, self._computing = document, state, computing
        # A thread of its own: a long waveform takes seconds, and the lane's own curves must not wait for it.
        self.work = ThreadChannels(self)
        self._asked: dict[str, _Asked] = {}
        self._laid: dict[str, LaidOverlay] = {}
        self._hidden: set[str] = set()
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._follow)
        document.changing.connect(lambda _: self._rest.start())
        document.changed.connect(lambda _: self._follow())
        state.lane_changed.connect(lambda _: self._follow())
        state.symbols_changed.connect(self._follow)
        self._follow()

    def of_lane(self) -> tuple[Measurement, ...]:
        """The current lane's measurements, in the board's order."""
        return tuple(one for one in self._document.board.measurements if one.lane == self._state.lane)

    def laid(self, name: str) -> LaidOverlay | None:
        """A measurement beside its lane; None while that is not known."""
        return self._laid.get(name)

    def shown(self) -> tuple[LaidOverlay, ...]:
        """Those of the current lane that are shown and known, in the board's order."""
        found = (self._laid.get(one.name) for one in self.of_lane() if one.name not in self._hidden)
        return tuple(one for one in found if one is not None and one.overlay is not None)

    def is_shown(self, name: str) -> bool:
        """Whether a measurement is shown where its probe point is."""
        return name not in self._hidden

    def show(self, name: str, shown: bool = True) -> None:
        """Show or hide a measurement; that is no edit of the board."""
        if shown != self.is_shown(name):
            (self._hidden.discard if shown else self._hidden.add)(name)
            self.changed.emit()

    # --- following

    def _follow(self) -> None:
        board, wanted = self._document.shown, {one.name: one for one in self.of_lane()}
        for name in [name for name in self._asked if name not in wanted]:
            self.work.cancel(name)
            del self._asked[name]
            self._laid.pop(name, None)
        plan = _plan_or_none(board, self._state.lane) if wanted else None
        for measurement in wanted.values():
            self._ask(measurement, plan)
        self.changed.emit()

    def _ask(self, measurement: Measurement, plan: LanePlan | None) -> None:
        name, asked = measurement.name, _Asked(measurement, plan, self._state.symbols)
        if self._asked.get(name) == asked:
            return
        self._asked[name] = asked
        self._laid.pop(name, None)

        def work(talk: Talk) -> LaidOverlay:
            talk.check()
            return self._beside(asked)

        def done(found: LaidOverlay) -> None:
            if self._asked.get(name) is asked:
                self._laid[name] = found
                self.changed.emit()

        self.work.ask(name, work, done)

    def _beside(self, asked: _Asked) -> LaidOverlay:
        from workbench.measured.overlay.fold import fold  # noqa: PLC0415 - as above
        from workbench.measured.overlay.response import beside_lane  # noqa: PLC0415 - the window starts without it

        measurement, plan = asked.measurement, asked.plan
        if plan is None:
            return LaidOverlay(measurement, None, refusal="the lane can't be computed as it is")
        memo = self._computing.memo
        try:
            overlay = beside_lane(memo, plan, measurement, asked.symbols)
            eye, start_s = None, 0.0
            if isinstance(measurement, MeasuredStep):
                start_s = _start_s(memo, plan, measurement.probe)
            if isinstance(measurement, MeasuredWaveform):
                eye = fold(measurement, plan.profile.ui_s, levels=plan.profile.levels)
        except WorkbenchError as error:
            return LaidOverlay(measurement, None, refusal=str(error))
        return LaidOverlay(measurement, overlay, eye, plan.profile.ui_s, start_s)


def _start_s(memo: Memo, plan: LanePlan, probe: str) -> float:
    """Time of flight to the span that holds a probe point, s."""
    before = sum(len(span.elements) for span in plan.spans[: resolve_probe(plan, probe).span])
    return impedance_profile(memo, plan).boundary_s[before]


def _plan_or_none(board: Board, name: str) -> LanePlan | None:
    lane = next((lane for lane in board.lanes if lane.name == name), None)
    if lane is None:
        return None
    try:
        return plan_of(board, lane)
    except WorkbenchError:
        return None
