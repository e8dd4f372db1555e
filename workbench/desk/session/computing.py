"""Asking the engine on behalf of the views: the curves on screen first, then the figures of their lanes, then what is
still missing from the curves' depth, then every other lane.

What a lane's figures follow from is its plan; a lane whose plan an edit leaves as it was is not asked for again.
Everything is kept by value in one memo, so that an edit recomputes only what it reaches.
"""

from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

from PySide6.QtCore import QObject, QTimer, Signal

from workbench.board.model import Board, Guard, Lane
from workbench.desk.background.runner import FIRST, Runner
from workbench.desk.background.sketching import Sketching
from workbench.desk.background.talk import Talk
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ShownTrace, ViewState
from workbench.engine.assess import assess_lane
from workbench.engine.assessment import LaneAssessment
from workbench.engine.lane.models.resolved import resolved, trust_in
from workbench.engine.lane.path import LanePlan, plan_of
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.engine.views import LaneView, view_lane
from workbench.errors import ProbePointError, WorkbenchError

SECOND, THIRD, LATER = 1, 5, 10
REST_MS = 120
"""A pointer that did not move for so long rests: what its preview makes of the lanes is then assessed."""

_PLANNING = "planning"
_NO_PLANS: Mapping[str, LanePlan | None] = MappingProxyType({})


class Judging(NamedTuple):
    """What a lane's assessment follows from: its plan, its routed length in m, the board's guard bands, the symbols."""

    plan: LanePlan
    length_m: float
    guard: Guard
    symbols: Symbols


class Viewing(NamedTuple):
    """Which curves of a trace were asked for last, and whether they are there."""

    plan: LanePlan
    reach: EyeReach
    symbols: Symbols
    there: bool = False


class Computing(QObject):
    """Keeps every view's figures up to date with the document and the view state.

    Signals:
        view_ready: a trace's curves are there: (Trace, LaneView).
        lane_ready: a lane's assessment is there: (name, LaneAssessment).
        board_ready: every lane of the committed board is assessed.
        lane_lost: a lane could not be assessed, which the runner has told; carries its name.

    Attributes:
        views: the last curves of each trace on screen.
        assessments: the last assessment of each lane.
    """

    view_ready = Signal(object, object)
    lane_ready = Signal(str, object)
    board_ready = Signal()
    lane_lost = Signal(str)

    def __init__(
        self, document: Document, state: ViewState, runner: Runner, parent: QObject | None = None,
        *, sketching: Sketching | None = None, memo: Memo | None = None, at_once: EyeReach = EyeReach.PICTURE,
    ) -> None:  # fmt: skip
        """`at_once`: what is made of a picture first; the whole where nobody waits for it."""
        super().__init__(parent)
        self._at_once = at_once
        self._sketching = sketching
        self._document, self._state, self._runner = document, state, runner
        self._memo = memo if memo is not None else Memo()
        self.views: dict[ShownTrace, LaneView] = {}
        self.assessments: dict[str, LaneAssessment] = {}
        self._viewed: dict[ShownTrace, Viewing] = {}
        self._judged: dict[str, Judging] = {}
        self._asked_of: Board | None = None
        self._kept: set[str] = set()
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._assess_preview)
        document.changing.connect(self._preview)
        document.changed.connect(self._refresh)
        state.traces_changed.connect(self._follow_traces)
        state.symbols_changed.connect(self._count_anew)
        self._notice_work()
        self._ask_views()
        self._plan_ahead()

    @property
    def memo(self) -> Memo:
        """What was computed, for others that ask the engine about the same lanes."""
        return self._memo

    @property
    def symbols(self) -> Symbols:
        """By which symbols everything here is counted."""
        return self._state.symbols

    def judging(self, lane: str) -> Judging | None:
        """What a lane's figures were last asked for; None where nothing was, or it could not be planned."""
        return self._judged.get(lane)

    def plan_of(self, trace: ShownTrace) -> LanePlan | None:
        """What a trace's curves were last asked for; None where nothing was, or it could not be planned."""
        asked = self._viewed.get(trace)
        return None if asked is None else asked.plan

    # --- following

    def _preview(self, _: Board) -> None:
        """The curves follow the pointer; an assessment under way would make the next ones wait."""
        self._notice_work()
        self._ask_views()
        self._rest.start()

    def _notice_work(self) -> None:
        if self._sketching is not None:
            self._sketching.noticed()

    def _assess_preview(self) -> None:
        """Assess what is under the pointer, once its picture is there: the next ones would wait for that."""
        if any(asked.reach is EyeReach.PICTURE and not asked.there for asked in self._viewed.values()):
            self._rest.start()
            return
        self._ask_lanes(self._document.shown)

    def _refresh(self, board: Board) -> None:
        self._rest.stop()
        self._runner.cancel(_PLANNING)  # what follows plans every lane itself
        self._notice_work()
        names = {lane.name for lane in board.lanes}
        self.assessments = {name: found for name, found in self.assessments.items() if name in names}
        self._judged = {name: basis for name, basis in self._judged.items() if name in names}
        self._ask_views()
        self._ask_all(board)

    def _ask_all(self, board: Board, plans: Mapping[str, LanePlan | None] = _NO_PLANS) -> None:
        self._ask_lanes(board, plans)
        self._runner.submit("board", lambda talk: talk.check(), lambda _: self.board_ready.emit(), priority=LATER + 1)

    def _plan_ahead(self) -> None:
        """Plan the lanes on the engine's thread, then ask for their figures: the first picture need not wait for that.

        A changed board is planned anew, and that gives this up.
        """
        board = self._document.board

        def work(talk: Talk) -> dict[str, LanePlan | None]:
            plans = {}
            for lane in board.lanes:
                talk.check()
                plans[lane.name] = _plan_or_none(board, lane)
            return plans

        def begin(plans: Mapping[str, LanePlan | None] = _NO_PLANS) -> None:
            self._ask_all(board, plans)

        self._runner.submit(_PLANNING, work, begin, priority=SECOND, lost=begin)

    def ask_anew(self) -> None:
        """Something that lies outside the board has changed: which makers' models the user trusts."""
        self._viewed.clear()
        self._count_anew()

    def _count_anew(self) -> None:
        """Other symbols count: nothing that was known of an eye holds any more."""
        self._judged.clear()
        self._asked_of = None
        self._refresh(self._document.board)

    def _follow_traces(self) -> None:
        self._ask_views()
        for name in self._lanes_on_screen():
            self._runner.hasten(("lane", name), SECOND)

    def _lanes_on_screen(self) -> set[str]:
        return {self._state.lane, *(trace.lane for trace in self._state.traces if not trace.snapshot)}

    # --- curves

    def _ask_views(self) -> None:
        traces = self._state.traces
        self.views = {trace: view for trace, view in self.views.items() if trace in traces}
        self._viewed = {trace: asked for trace, asked in self._viewed.items() if trace in traces}
        for trace in traces:
            board = self._document.snapshots.get(trace.snapshot) if trace.snapshot else self._document.shown
            lane = _lane_of(board, trace.lane) if board is not None else None
            if board is not None and lane is not None:
                self._ask_view(board, lane, trace)

    def _ask_view(self, board: Board, lane: Lane, trace: ShownTrace) -> None:
        # Sections are solved anew only where the catalogue changes: then quickly, while that is under the pointer.
        sketch = board is self._document.shown and board.catalogue is not self._document.board.catalogue
        plan, asked = _plan_or_none(board, lane, sketch=sketch), self._viewed.get(trace)
        if plan is None:  # the worker meets the same, and tells it
            self._viewed.pop(trace, None)
            self._runner.submit(("view", trace), lambda _: plan_of(board, lane), lambda _: None, priority=FIRST)
        elif asked is None or (asked.plan, asked.symbols) != (plan, self._state.symbols):
            self._compute(plan, trace, self._at_once)
        else:
            self._deepen(trace)

    def _deepen(self, trace: ShownTrace) -> None:
        """Ask for all of an eye whose picture is there, unless it is being changed."""
        asked = self._viewed[trace]
        still = bool(trace.snapshot) or self._document.shown is self._document.board
        if still and asked.there and asked.reach is EyeReach.PICTURE:
            self._compute(asked.plan, trace, EyeReach.ALL)

    def _compute(self, plan: LanePlan, trace: ShownTrace, reach: EyeReach) -> None:
        symbols = self._state.symbols
        asked, first = Viewing(plan, reach, symbols), reach is EyeReach.PICTURE
        self._viewed[trace] = asked

        def work(talk: Talk) -> LaneView | None:
            talk.check()
            try:
                probe = resolve_probe(plan, trace.probe)
            except ProbePointError:
                return None  # the edit took the probe point away; the strip offers those that are left
            if first and self._sketching is not None:
                # Makers' models don't run for a picture of the moment; their last answers are known here.
                moving = resolved(self._memo, plan, run=False)
                sketched = self._sketching.view(moving, probe.name, plan.profile.ber.value, symbols)
                if sketched is not None:
                    return sketched
            return view_lane(self._memo, plan, probe, plan.profile.ber.value, reach, symbols=symbols)

        def lost() -> None:
            if self._viewed.get(trace) is asked:
                del self._viewed[trace]  # the next edit asks again

        # While the pointer drags, every picture that was begun is shown: dropped ones would leave the eye still.
        priority = FIRST if first else THIRD
        self._runner.submit(
            ("view", trace), work, lambda view: self._take(trace, asked, view), priority=priority, steady=first,
            lost=lost,
        )  # fmt: skip

    def _take(self, trace: ShownTrace, asked: Viewing, view: LaneView | None) -> None:
        """Hand over what was asked for; None where the probe point is no longer there."""
        there = asked._replace(there=True)
        if self._viewed.get(trace) is asked:
            self._viewed[trace] = there
            if self._rest.isActive():
                self._rest.start()  # the hand rests from when it sees what it did
        if view is not None and trace in self._viewed:
            self.views[trace] = view
            self.view_ready.emit(trace, view)
            if self._viewed.get(trace) is there:
                self._deepen(trace)

    # --- figures

    def _ask_lanes(self, board: Board, plans: Mapping[str, LanePlan | None] = _NO_PLANS) -> None:
        """Ask for every lane whose figures may have changed; `plans` are those that are made already."""
        shown = self._lanes_on_screen()
        before, self._asked_of = self._asked_of, board
        known = {lane.name: lane for lane in before.lanes} if before is not None and _alike(before, board) else {}
        for lane in board.lanes:
            untouched = known.get(lane.name) is lane
            if untouched and lane.name in self._judged:
                continue  # what it follows from is what it was
            plan = plans[lane.name] if lane.name in plans else _plan_or_none(board, lane)
            asked = self._ask_lane(board, lane, plan, SECOND if lane.name in shown else LATER)
            if not asked and not untouched:
                self._kept.add(lane.name)
        if self._kept:  # once everyone has heard of the board
            QTimer.singleShot(0, self, self._confirm)

    def _confirm(self) -> None:
        """Say again what is known of lanes that were touched without any effect on their figures."""
        kept, self._kept = self._kept, set()
        for name in kept:
            if name in self.assessments:
                self.lane_ready.emit(name, self.assessments[name])

    def _ask_lane(self, board: Board, lane: Lane, plan: LanePlan | None, priority: int) -> bool:
        """Ask for a lane's assessment; False where nothing that it follows from has changed."""
        name, symbols = lane.name, self._state.symbols
        basis = None if plan is None else Judging(plan, lane.length_m, board.guard, symbols)
        if basis is not None and self._judged.get(name) == basis:
            return False
        self._judged.pop(name, None)

        def work(talk: Talk) -> LaneAssessment:
            talk.check()
            return self._assessed(basis or Judging(plan_of(board, lane), lane.length_m, board.guard, symbols))

        def done(found: LaneAssessment) -> None:
            self.assessments[name] = found
            self.lane_ready.emit(name, found)

        if basis is not None:
            self._judged[name] = basis
        self._runner.submit(("lane", name), work, done, priority=priority, lost=lambda: self._forget(name))
        return True

    def _forget(self, name: str) -> None:
        """A lane could not be assessed: its figures of before hold no more, and the next edit asks again."""
        self._judged.pop(name, None)
        self.assessments.pop(name, None)
        self.lane_lost.emit(name)

    def _assessed(self, basis: Judging) -> LaneAssessment:
        return self._memo.get(
            ("assessed", basis, trust_in(basis.plan)),
            lambda: assess_lane(self._memo, basis.plan, basis.length_m, basis.guard, symbols=basis.symbols),
        )


def _alike(one: Board, other: Board) -> bool:
    """Whether two boards differ in nothing that any lane may depend on but the lanes themselves."""
    return (
        one.catalogue is other.catalogue and one.devices is other.devices and one.profiles is other.profiles
        and one.guard is other.guard and one.profile == other.profile
    )  # fmt: skip


def _lane_of(board: Board, name: str) -> Lane | None:
    return next((lane for lane in board.lanes if lane.name == name), None)


def _plan_or_none(board: Board, lane: Lane, *, sketch: bool = False) -> LanePlan | None:
    try:
        return plan_of(board, lane, sketch=sketch)
    except WorkbenchError:
        return None
