"""Curves of the demo board, computed once, and a computing that answers when it is told to."""

from functools import lru_cache

from PySide6.QtCore import QObject, Signal

from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.reading import load_board
from workbench.desk.session.view_state import ShownTrace
from workbench.engine.lane.path import LanePlan, plan_lane
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.views import LaneView, view_lane
from workbench.resources import project

DEMO = project("correlator-shelf.board.json")
NEAR, FAR, STAGED = "RX0", "RX15", "RX3"  # open wide, closed if its symbols were independent, with a stage

_MEMO = Memo()


@lru_cache
def plan_for(lane: str) -> LanePlan:
    board = load_board(DEMO).board
    found = next(one for one in board.lanes if one.name == lane)
    return plan_lane(Index(board), found, profile_of(board, found.profile or board.profile))


@lru_cache
def view_of(lane: str, probe: str = "receiver") -> LaneView:
    plan = plan_for(lane)
    return view_lane(_MEMO, plan, resolve_probe(plan, probe), plan.profile.ber.value)


@lru_cache
def independent_view_of(lane: str) -> LaneView:
    """The lane as independent bits would show it, line code or not."""
    plan = plan_for(lane)
    receiver = resolve_probe(plan, "receiver")
    return view_lane(_MEMO, plan, receiver, plan.profile.ber.value, symbols=Symbols.INDEPENDENT)


class Answers(QObject):
    """Stands for the computing: nothing is there until `answer`."""

    view_ready = Signal(object, object)
    lane_ready = Signal(str, object)
    lane_lost = Signal(str)
    board_ready = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.views: dict[ShownTrace, LaneView] = {}
        self.assessments: dict[str, object] = {}
        self.coded: dict[str, object] = {}

    def plan_of(self, trace: ShownTrace) -> LanePlan:
        return plan_for(trace.lane)

    def answer(self, trace: ShownTrace, view: LaneView | None = None) -> LaneView:
        found = view if view is not None else view_of(trace.lane, trace.probe)
        self.views[trace] = found
        self.view_ready.emit(trace, found)
        return found
