"""What is asked of the engine, in which order, and what is not asked again; the runner that answers."""

import threading

import pytest
from msgspec.structs import replace
from PySide6.QtCore import QTimer

from tests.desk.window_help import small_board
from tests.patience import PATIENCE_S
from workbench.board.edits.lanes import remove_lanes, set_board, set_lanes
from workbench.board.edits.path import set_run_length
from workbench.desk.background import runner as runner_module
from workbench.desk.background.runner import FIRST, Runner
from workbench.desk.session import computing as module
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ShownTrace
from workbench.engine.tails.eye import EyeReach

pytestmark = pytest.mark.usefixtures("forgetful")  # what is computed, and when, is what is looked at


class Engine:
    """Stands for the engine: notes what is asked and answers at once with what was asked for."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.asked: list[tuple[str, ...]] = []
        monkeypatch.setattr(module, "view_lane", self.view)
        monkeypatch.setattr(module, "assess_lane", self.assess)

    def view(self, _memo, plan, probe, _ratio, reach, **_):
        self.asked.append(("view", plan.name, probe.name, reach.value))
        return plan, reach

    def assess(self, _memo, plan, *_, **__):
        self.asked.append(("assess", plan.name))
        return plan


@pytest.fixture
def engine(monkeypatch) -> Engine:
    return Engine(monkeypatch)


@pytest.fixture
def document(qapp) -> Document:
    return Document(small_board())


@pytest.fixture
def computing(qtbot, engine, document, state, runner) -> Computing:
    made = Computing(document, state, runner)
    qtbot.waitUntil(lambda: not runner.busy)
    return made


def lengthened(lane: str, length_m: float = 0.123):
    return lambda board: set_run_length(board, lane, 0, length_m=length_m)


# --- order


def test_curves_come_first_then_the_figures_of_their_lane_then_the_other_lanes(computing, engine):
    del computing
    deep = ("view", "RX0", "receiver", EyeReach.ALL.value)
    engine.asked.remove(deep)  # asked for once the picture is drawn, whatever has been assessed by then
    assert engine.asked == [
        ("view", "RX0", "receiver", EyeReach.PICTURE.value),
        *(("assess", lane) for lane in ("RX0", "RX3", "RX4", "RX15")),
    ]


def test_an_edit_asks_only_for_what_it_reaches(qtbot, computing, engine, document, runner):
    engine.asked.clear()
    with qtbot.waitSignal(computing.board_ready):
        document.apply("lengthen", lengthened("RX4"))
    assert engine.asked == [("assess", "RX4")]
    engine.asked.clear()
    with qtbot.waitSignal(computing.board_ready):
        document.apply("retitle", lambda board: set_board(board, title="Another"))
    assert engine.asked == []


def test_lanes_that_an_edit_touches_without_effect_are_told_again_not_computed(qtbot, computing, engine, document):
    engine.asked.clear()
    said: list[str] = []
    computing.lane_ready.connect(lambda name, _: said.append(name))
    board = document.board
    spare = replace(board.catalogue.vias[0], name="spare via")
    catalogue = replace(board.catalogue, vias=(*board.catalogue.vias, spare))
    document.apply("add a part", lambda board: replace(board, catalogue=catalogue))
    qtbot.waitUntil(lambda: sorted(said) == sorted(lane.name for lane in board.lanes))
    assert engine.asked == []
    said.clear()
    profile = board.profile
    document.apply("name the profile", lambda board: set_lanes(board, ("RX3",), profile=profile))
    qtbot.waitUntil(lambda: said == ["RX3"])
    assert engine.asked == []


def test_a_preview_asks_for_curves_and_once_the_hand_rests_for_the_lane(qtbot, computing, engine, document, runner):
    engine.asked.clear()
    with qtbot.waitSignal(computing.view_ready):
        document.preview(lengthened("RX0"))
    assert engine.asked == [("view", "RX0", "receiver", EyeReach.PICTURE.value)]
    with qtbot.waitSignal(computing.lane_ready):
        pass
    assert engine.asked[1:] == [("assess", "RX0")]
    engine.asked.clear()
    document.apply("lengthen", lengthened("RX0"))  # what the pointer showed: only the eye's depth is missing
    qtbot.waitUntil(lambda: not runner.busy)
    assert engine.asked == [("view", "RX0", "receiver", EyeReach.ALL.value)]


def test_a_preview_is_assessed_only_once_its_picture_is_there(qtbot, computing, document, runner):
    gate = Held(runner)
    gate.ask("gate", "gate", held=True)
    before = computing.judging("RX0")
    rest = computing.findChild(QTimer)
    document.preview(lengthened("RX0"))
    for _ in range(2):
        with qtbot.waitSignal(rest.timeout):
            pass
        assert computing.judging("RX0") is before
    gate.go.set()
    with qtbot.waitSignal(computing.lane_ready):
        pass
    assert computing.judging("RX0") != before


def test_a_lane_whose_probe_point_went_is_assessed_all_the_same(qtbot, computing, document, state, runner):
    state.set_lane("RX3")
    state.set_probes(("nowhere",))
    qtbot.waitUntil(lambda: not runner.busy)
    before = computing.judging("RX3")
    document.preview(lengthened("RX3"))
    qtbot.waitUntil(lambda: computing.judging("RX3") != before and not runner.busy)
    assert ShownTrace("RX3", "nowhere") not in computing.views


@pytest.mark.usefixtures("engine")
def test_the_first_picture_waits_for_no_other_lanes_plan(qtbot, document, state, runner, monkeypatch):
    planned: list[str] = []

    def plan(board, lane, **how):
        planned.append(lane.name)
        return real(board, lane, **how)

    real = module.plan_of
    gate = Held(runner)
    gate.ask("gate", "gate", held=True)
    monkeypatch.setattr(module, "plan_of", plan)
    made = Computing(document, state, runner)
    assert planned == ["RX0"]
    assert made.judging("RX3") is None
    gate.go.set()
    qtbot.waitUntil(lambda: not runner.busy)
    assert set(made.assessments) == {lane.name for lane in document.board.lanes}


def test_a_preview_that_is_given_up_brings_the_old_figures_back(qtbot, computing, engine, document, runner):
    before = computing.assessments["RX0"]
    with qtbot.waitSignal(computing.lane_ready):
        document.preview(lengthened("RX0"))
    assert computing.assessments["RX0"] != before
    with qtbot.waitSignal(computing.lane_ready):
        document.cancel_preview()
    qtbot.waitUntil(lambda: not runner.busy)
    assert computing.assessments["RX0"] == before
    assert computing.views[ShownTrace("RX0", "receiver")][1] is EyeReach.ALL


def test_a_lane_that_goes_takes_its_figures_along_and_comes_back_with_undo(qtbot, computing, document, runner):
    document.apply("delete", lambda board: remove_lanes(board, ["RX3"]))
    assert "RX3" not in computing.assessments
    document.undo()
    qtbot.waitUntil(lambda: "RX3" in computing.assessments)


# --- the runner


class Held:
    """Work that begins, waits until it is let go, and notes what was answered."""

    def __init__(self, runner: Runner) -> None:
        self.runner, self.answers = runner, []
        self.began, self.go = threading.Event(), threading.Event()

    def ask(self, channel: str, answer: str, *, held: bool = False, **how: object) -> None:
        def work(_):
            if held:
                self.began.set()
                assert self.go.wait(PATIENCE_S)
            return answer

        self.runner.submit(channel, work, self.answers.append, **how)
        if held:
            assert self.began.wait(PATIENCE_S)


@pytest.fixture
def held(runner) -> Held:
    return Held(runner)


def test_a_running_answer_that_a_newer_request_replaced_is_dropped(qtbot, held):
    held.ask("eye", "old", held=True)
    held.ask("eye", "new")
    held.go.set()
    qtbot.waitUntil(lambda: not held.runner.busy)
    assert held.answers == ["new"]


def test_a_steady_answer_under_way_is_given_before_the_newer_one(qtbot, held):
    held.ask("eye", "old", held=True, steady=True)
    held.ask("eye", "never begun", steady=True)
    held.ask("eye", "new", steady=True)
    held.go.set()
    qtbot.waitUntil(lambda: not held.runner.busy)
    assert held.answers == ["old", "new"]


def test_what_was_cancelled_is_not_answered_steady_or_not(qtbot, held):
    held.ask("eye", "old", held=True, steady=True)
    held.runner.cancel("eye")
    held.go.set()
    qtbot.waitUntil(lambda: not held.runner.busy)
    assert held.answers == []


def test_what_waits_can_be_hastened(qtbot, held):
    held.ask("first", "first", held=True)
    held.ask("a", "a", priority=5)
    held.ask("b", "b", priority=9)
    held.runner.hasten("b", 1)
    held.runner.hasten("nothing", 1)
    held.go.set()
    qtbot.waitUntil(lambda: not held.runner.busy)
    assert held.answers == ["first", "b", "a"]


def test_the_lane_that_becomes_current_is_assessed_before_the_others(qtbot, engine, document, state, runner):
    gate = Held(runner)
    gate.ask("gate", "gate", held=True)
    Computing(document, state, runner, document)
    state.set_lane("RX15")
    gate.go.set()
    qtbot.waitUntil(lambda: not runner.busy)
    assessed = [one[1] for one in engine.asked if one[0] == "assess"]
    assert set(assessed[:2]) == {"RX0", "RX15"}


def test_what_comes_second_waits_for_the_drawing_of_what_came_first(qtbot, held, monkeypatch):
    monkeypatch.setattr(runner_module, "DRAWING_S", 3600.0)
    held.ask("eye", "first", priority=FIRST)
    qtbot.waitUntil(lambda: held.answers == ["first"])
    held.ask("table", "later", priority=5)
    held.ask("eye", "again", priority=FIRST)
    qtbot.waitUntil(lambda: held.answers == ["first", "again"])
    assert held.runner.busy
    monkeypatch.setattr(runner_module, "DRAWING_S", 0.0)
    held.ask("eye", "last", priority=FIRST)
    qtbot.waitUntil(lambda: not held.runner.busy)
    assert held.answers == ["first", "again", "last", "later"]
