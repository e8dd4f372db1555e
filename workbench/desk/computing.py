"""Asking the engine on behalf of the views: the current lane's curves first, the table after.

Everything is kept by value in one memo, so that an edit recomputes only what it reaches.
"""

from PySide6.QtCore import QObject, Signal

from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Board, Guard, Lane
from workbench.desk.document import Document
from workbench.desk.runner import Runner, Token
from workbench.desk.viewstate import Trace, ViewState
from workbench.engine.assess import assess_lane
from workbench.engine.assessment import LaneAssessment
from workbench.engine.eye import Reach
from workbench.engine.look import resolve_look
from workbench.engine.memo import Memo
from workbench.engine.path import LanePlan, plan_lane
from workbench.engine.views import LaneView, view_lane
from workbench.errors import LookPointError

FIRST, SECOND, LATER = 0, 1, 10


class Computing(QObject):
    """Keeps every view's figures up to date with the document and the view state.

    Signals:
        view_ready: a trace's curves are there: (Trace, LaneView).
        lane_ready: a lane's assessment is there: (name, LaneAssessment).
        board_ready: every lane of the committed board is assessed.

    Attributes:
        views: the last curves of each trace on screen.
        assessments: the last assessment of each lane.
    """

    view_ready = Signal(object, object)
    lane_ready = Signal(str, object)
    board_ready = Signal()

    def __init__(self, document: Document, state: ViewState, runner: Runner, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._document, self._state, self._runner = document, state, runner
        self._memo = Memo()
        self.views: dict[Trace, LaneView] = {}
        self.assessments: dict[str, LaneAssessment] = {}
        document.changing.connect(self._preview)
        document.changed.connect(self._refresh)
        state.traces_changed.connect(self._ask_views)
        self._refresh(document.board)

    def _preview(self, board: Board) -> None:
        self._ask_views()
        self._ask_lane(board, self._state.lane, SECOND)

    def _refresh(self, board: Board) -> None:
        names = [lane.name for lane in board.lanes]
        self.assessments = {name: found for name, found in self.assessments.items() if name in set(names)}
        self._ask_views()
        for name in names:
            self._ask_lane(board, name, SECOND if name == self._state.lane else LATER)
        self._runner.submit("board", lambda token: token.check(), lambda _: self.board_ready.emit(), priority=LATER + 1)

    def _ask_views(self) -> None:
        traces = self._state.traces
        self.views = {trace: view for trace, view in self.views.items() if trace in traces}
        for trace in traces:
            board = self._document.pins.get(trace.pin) if trace.pin else self._document.shown
            lane = _lane_of(board, trace.lane) if board is not None else None
            if board is not None and lane is not None:
                self._ask_view(board, lane, trace)

    def _ask_view(self, board: Board, lane: Lane, trace: Trace) -> None:
        reach = Reach.PICTURE if board is not self._document.board and not trace.pin else Reach.ALL

        def work(token: Token) -> LaneView | None:
            token.check()
            plan = plan_lane(Index(board), lane, profile_of(board, lane.profile or board.profile))
            try:
                look = resolve_look(plan, trace.look)
            except LookPointError:
                return None  # the edit took the look point away; the strip offers those that are left
            return view_lane(self._memo, plan, look, plan.profile.ber.value, reach)

        def done(view: LaneView | None) -> None:
            if view is not None and trace in self._state.traces:
                self.views[trace] = view
                self.view_ready.emit(trace, view)

        self._runner.submit(("view", trace), work, done, priority=FIRST)

    def _ask_lane(self, board: Board, name: str, priority: int) -> None:
        lane = _lane_of(board, name)
        if lane is None:
            return

        def work(token: Token) -> LaneAssessment:
            token.check()
            plan = plan_lane(Index(board), lane, profile_of(board, lane.profile or board.profile))
            return self._assessed(plan, lane.length_m, board.guard)

        def done(found: LaneAssessment) -> None:
            self.assessments[name] = found
            self.lane_ready.emit(name, found)

        self._runner.submit(("lane", name), work, done, priority=priority)

    def _assessed(self, plan: LanePlan, length_m: float, guard: Guard) -> LaneAssessment:
        key = ("assessed", plan, length_m, guard)
        return self._memo.get(key, lambda: assess_lane(self._memo, plan, length_m, guard))


def _lane_of(board: Board, name: str) -> Lane | None:
    return next((lane for lane in board.lanes if lane.name == name), None)
