"""Processes killed, studies cancelled at every stage, physics that breaks: the window stays, says so, and goes on."""

import logging
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable

import pytest
from msgspec.structs import replace

from tests.desk.background.process_jobs import begin_broken
from tests.lanes import lane_board, trace
from tests.patience import PATIENCE_S
from tests.thinning import some
from workbench.board.edits.catalogue import replace_entry
from workbench.board.edits.lanes import set_board
from workbench.board.edits.path import Gap, put, set_run_length
from workbench.board.model import Board, Component, Stage
from workbench.board.writing import dump_board
from workbench.desk.lanes.rows import LaneColumn
from workbench.desk.session.view_state import ShownTrace
from workbench.desk.studies import work as work_module
from workbench.desk.studies.pictures.map_view import MapView
from workbench.desk.studies.work import StudyChannel
from workbench.engine.assess import assess_lane
from workbench.engine.lane.path import plan_of
from workbench.engine.memo import Memo
from workbench.parts.lines.line_by_loss import LineByLoss
from workbench.parts.via import Via
from workbench.studies.pool import processes, running
from workbench.studies.pool.jobs import Basis
from workbench.studies.settings import settings_study

pytestmark = pytest.mark.usefixtures("forgetful")  # what is computed, and when, is what is looked at

LANE = "D0"
BROKEN = {ZeroDivisionError: "division by zero", FloatingPointError: "underflow encountered in exp"}
LONG_MS = 60_000


@pytest.fixture
def board() -> Board:
    path = (trace(0.3), Stage(device="U1", channel=1), trace(0.2))
    return lane_board(path, transmitter={"random_jitter_s": 1e-12}, receiver={"noise_v": 2e-3})


@pytest.fixture
def window(qtbot, place, board):
    """A window over the board whose lane is assessed."""
    place.file.write_bytes(dump_board(board))
    made = place.window(place.file)
    made.show_first_steps(False)
    qtbot.waitUntil(lambda: LANE in made.computing.assessments and not made.runner.busy, timeout=LONG_MS)
    return made


def lossier(board: Board) -> Board:
    """The board with another line, which nothing known before says anything about."""
    line = next(one for one in board.catalogue.lines if one.name == "trace")
    assert isinstance(line, LineByLoss)
    return replace_entry(board, "lines", "trace", replace(line, permittivity=line.permittivity + 0.01))


def with_via(board: Board) -> Board:
    return put(board, LANE, Gap(1), Component(part="via"))


PHYSICS = ((LineByLoss, "line_constants", lossier), (Via, "chain_matrix", with_via))


def breaking(error: type[Exception]) -> Callable[..., None]:
    def breaks(*_: object) -> None:
        raise error(BROKEN[error])

    return breaks


def settled(qtbot, window) -> None:
    qtbot.waitUntil(lambda: not window.runner.busy, timeout=LONG_MS)


def is_one_sentence(sentence: str) -> bool:
    return sentence != "" and "Traceback" not in sentence and "\n" not in sentence


def answers_as_the_engine(window) -> bool:
    board = window.document.board
    lane = board.lanes[0]
    return window.computing.assessments.get(LANE) == assess_lane(
        Memo(), plan_of(board, lane), lane.length_m, board.guard
    )


# --- physics that breaks


@pytest.mark.campaign
@pytest.mark.parametrize(
    "broken",
    [(*physics, error) for physics in PHYSICS for error in BROKEN],
    ids=[f"{part.__name__}-{error.__name__}" for part, _, _ in PHYSICS for error in BROKEN],
)
def test_physics_that_breaks_is_told_leaves_no_figures_of_before_and_the_next_edit_recovers(
    qtbot, window, monkeypatch, caplog, broken
):
    part, does, edit, error = broken
    told: list[str] = []
    window.runner.failed.connect(told.append)
    with monkeypatch.context() as patch, caplog.at_level(logging.ERROR):
        patch.setattr(part, does, breaking(error))
        assert window.document.apply("change", edit)
        settled(qtbot, window)
    assert told
    assert all(is_one_sentence(sentence) for sentence in told)
    assert error.__name__ in window.status.text
    assert "log has the details" in window.status.text
    assert BROKEN[error] in caplog.text
    assert window.isVisible()
    assert window.strip.grab().size() == window.strip.size()  # the path is painted all the same
    assert LANE not in window.computing.assessments
    row = window.lanes.model.row(0)
    assert row.found is None
    assert row.texts[LaneColumn.NAME] == LANE
    assert window.document.apply("retitle", lambda board: set_board(board, title="after"))
    settled(qtbot, window)
    assert answers_as_the_engine(window)
    assert window.status.sentence == ""


def test_figures_of_before_do_not_come_back_with_an_edit_that_leaves_the_lane_alone(qtbot, window, monkeypatch):
    before = window.computing.assessments[LANE]
    monkeypatch.setattr(LineByLoss, "line_constants", breaking(ZeroDivisionError))
    window.document.apply("change", lossier)
    settled(qtbot, window)
    ready: list[object] = []
    window.computing.lane_ready.connect(lambda _, found: ready.append(found))
    window.document.apply("retitle", lambda board: set_board(board, title="after"))
    settled(qtbot, window)
    assert before not in ready
    assert window.lanes.model.row(0).found is None


@pytest.mark.campaign
def test_physics_that_breaks_in_a_study_is_told_and_the_next_run_answers(qtbot, window, monkeypatch):
    panel = window.studies
    panel.work.workers = 1
    panel.open("settings")
    with monkeypatch.context() as patch:
        patch.setattr(LineByLoss, "line_constants", breaking(ZeroDivisionError))
        with qtbot.waitSignal(panel.work.failed, timeout=LONG_MS):
            panel.run()
    assert panel.sentence.startswith("The study went wrong (ZeroDivisionError)")
    assert panel.run_button.text() == "Run"
    whole_answer(qtbot, window)


@pytest.mark.campaign
def test_physics_that_breaks_in_a_studys_process_is_told(qtbot, window, monkeypatch):
    panel = window.studies
    panel.work.workers = 2
    monkeypatch.setattr(processes, "_begin", begin_broken)
    panel.open("settings")
    with qtbot.waitSignal(panel.work.failed, timeout=LONG_MS):
        panel.run()
    assert panel.sentence.startswith("The study went wrong (FloatingPointError)")
    assert window.isVisible()


# --- processes killed


def kill(process: multiprocessing.process.BaseProcess) -> None:
    assert process.pid is not None
    os.kill(process.pid, signal.SIGKILL)


@pytest.mark.campaign
def test_bits_whose_process_is_killed_are_told_and_can_be_sent_again(qtbot, window):
    bits, trace_ = window.panes.bits, ShownTrace(LANE, "receiver")
    qtbot.waitUntil(lambda: bits._computing.plan_of(trace_) is not None, timeout=LONG_MS)
    bits.wish = bits.wish._replace(bits=100_000_000)
    bits.send(trace_)
    with qtbot.waitSignal(bits.failed, timeout=LONG_MS) as told:
        kill(bits.channel.process)
    assert is_one_sentence(told.args[0])
    assert not bits.running
    bits.wish = bits.wish._replace(bits=20_000)
    bits.send(trace_)
    qtbot.waitUntil(lambda: not bits.running, timeout=LONG_MS)
    assert bits.result(trace_) is not None


@pytest.mark.campaign
@pytest.mark.usefixtures("sketches")
def test_pictures_go_on_without_their_process(qtbot, window):
    sketching = window.sketching
    for number in range(5):
        window.document.apply("longer", lambda board, n=number: set_run_length(board, LANE, 0, length_m=0.1 + n))
    qtbot.waitUntil(lambda: sketching.awake, timeout=LONG_MS)
    settled(qtbot, window)
    kill(sketching.worker.process)
    with qtbot.waitSignal(window.computing.view_ready, timeout=LONG_MS):
        window.document.apply("shorter", lambda board: set_run_length(board, LANE, 0, length_m=0.05))
    settled(qtbot, window)
    assert answers_as_the_engine(window)


@pytest.mark.campaign
@pytest.mark.usefixtures("sketches")
def test_pictures_are_made_where_the_system_gives_no_process_for_them(qtbot, window, monkeypatch):
    def refuse(_: object) -> None:
        raise BlockingIOError(11, "Resource temporarily unavailable")

    monkeypatch.setattr(multiprocessing.context.SpawnProcess, "start", refuse)
    for number in range(5):
        window.document.apply("longer", lambda board, n=number: set_run_length(board, LANE, 0, length_m=0.1 + n))
    assert not window.sketching.awake
    settled(qtbot, window)
    assert answers_as_the_engine(window)


@pytest.mark.campaign
@pytest.mark.parametrize("losses", [pytest.param(2, marks=pytest.mark.campaign), 0])
def test_a_studys_process_that_is_killed_midway_is_replaced_or_told(qtbot, window, monkeypatch, losses):
    """As often as a study may lose one it answers all the same; else it says so, and what was done is kept."""
    monkeypatch.setattr(running, "MOST_LOSSES", losses)
    monkeypatch.setattr(processes, "FEW", 0)
    monkeypatch.setattr(running, "_CHUNK", 2)
    panel = window.studies
    panel.work.workers = 2
    panel.open("settings")
    others = {*multiprocessing.active_children()}
    with qtbot.waitSignal(panel.work.advanced, timeout=LONG_MS):
        panel.run()
    with qtbot.waitSignal(panel.work.answered, timeout=LONG_MS) as answered:
        for process in {*multiprocessing.active_children()} - others:
            kill(process)
    stopped = answered.args[0].made.stopped
    if losses:
        assert stopped == ""
        assert panel.answer.table.rowCount() == len(group_of(window).candidates)
    else:
        assert "a worker process ended unexpectedly" in panel.sentence
    assert not panel.work.busy


# --- studies cancelled


def group_of(window):
    return settings_study(Basis(board=window.document.board), ("U1",)).groups[0]


def whole_answer(qtbot, window) -> None:
    """The chosen study, asked again, answers what it answers without a window."""
    panel = window.studies
    with qtbot.waitSignal(panel.work.answered, timeout=LONG_MS):
        panel.run()
    group = group_of(window)
    assert panel.answer.table.rowCount() == len(group.candidates)
    assert panel.answer.map.current.margin_guards == pytest.approx(group.recommended.margin_guards)


def before_the_start(patch, cancel) -> None:
    run = StudyChannel._run

    def late(work, *asked) -> None:
        cancel()
        run(work, *asked)

    patch.setattr(work_module.StudyChannel, "_run", late)


def while_it_is_set_up(patch, cancel) -> None:
    made = processes.Assessor

    def late(*asked):
        cancel()
        return made(*asked)

    patch.setattr(processes, "Assessor", late)


def at(share: float):
    """When so much of the study is done; 0: at the first result."""

    def arrange(patch, cancel) -> None:
        keep = running._Run._keep

        def kept(run, done) -> None:
            keep(run, done)
            if run._done >= share * run._total:
                cancel()

        patch.setattr(running._Run, "_keep", kept)

    return arrange


def while_it_is_drawn(patch, cancel) -> None:
    draw = MapView.show_picture

    def drawn(view, picture) -> None:
        cancel()
        draw(view, picture)

    patch.setattr(MapView, "show_picture", drawn)


STAGES = {
    "before the start": before_the_start,
    "while it is set up": while_it_is_set_up,
    "at the first result": at(0.0),
    "midway": at(0.5),
    "at the last result": at(1.0),
    "while it is drawn": while_it_is_drawn,
}


@pytest.mark.campaign
@pytest.mark.parametrize("name", some(STAGES, 1))
def test_a_study_cancelled_at_any_stage_says_how_far_it_came_and_can_be_asked_again(qtbot, window, monkeypatch, name):
    stage, panel = STAGES[name], window.studies
    panel.work.workers = 1
    panel.open("settings")
    ended: list[object] = []
    panel.work.answered.connect(ended.append)
    panel.work.failed.connect(ended.append)
    with monkeypatch.context() as patch:
        for constant, value in (("_PARTLY_S", 0.0), ("_PARTLY_SHARE", 0.0), ("_CHUNK", 2)):
            patch.setattr(running, constant, value)
        stage(patch, panel.work.cancel)
        panel.run()
        qtbot.waitUntil(lambda: ended != [], timeout=LONG_MS)
    sentence = panel.sentence
    assert len(ended) == 1
    assert is_one_sentence(sentence)
    assert not panel.work.busy
    assert panel.run_button.text() == "Run"
    if stage is not STAGES["at the last result"] and stage is not while_it_is_drawn:
        assert "cancelled" in sentence.lower()
    assert window.isVisible()
    whole_answer(qtbot, window)


@pytest.mark.campaign
def test_a_study_that_ends_while_its_processes_start_leaves_no_traceback(board, capfd):
    with processes.ProcessPool(Basis(board=board), 2) as workers:
        workers.submit(())
        workers.submit(())
    del workers
    for thread in threading.enumerate():
        if thread.name == "study's end":
            thread.join(PATIENCE_S)
            assert not thread.is_alive()
    assert capfd.readouterr().err == ""
