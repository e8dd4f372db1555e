"""Pictures of the moment from a process of their own: the same as without it, and never waited for in vain."""

import numpy as np
import pytest

from tests.desk.window_help import retitle
from tests.patience import PATIENCE_S
from workbench.board.edits.path import set_run_length
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.desk.app import demo_board
from workbench.desk.background.runner import Runner
from workbench.desk.background.sketching import Sketching
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ViewState
from workbench.engine.lane.path import plan_lane
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.engine.views import view_lane

pytestmark = pytest.mark.usefixtures("sketches")


def plan_of(board, lane):
    found = next(one for one in board.lanes if one.name == lane)
    return plan_lane(Index(board), found, profile_of(board, found.profile or board.profile))


@pytest.fixture(scope="module")
def awake(qapp):
    """One process for all: starting it is what takes the time."""
    made = Sketching()
    for _ in range(4):
        made.noticed()
    assert made.worker.line.poll(PATIENCE_S)
    assert made.awake
    yield made
    made.close()


def test_the_picture_is_the_one_that_the_engine_makes_here(awake):
    plan = plan_of(demo_board(), "RX3")
    found = awake.view(plan, "receiver", 1e-12, Symbols.CODED)
    here = view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12, EyeReach.PICTURE)
    for one, other in zip(found.eye, here.eye, strict=True):
        assert np.array_equal(one, other)
    assert np.array_equal(found.pulse.pulse_v, here.pulse.pulse_v)


def test_no_process_is_started_for_a_board_that_is_only_looked_at():
    sketching = Sketching()
    for _ in range(3):
        sketching.noticed()
    assert sketching.worker is None
    assert sketching.view(plan_of(demo_board(), "RX3"), "receiver", 1e-12, Symbols.CODED) is None
    sketching.close()
    sketching.noticed()
    assert sketching.worker is None


def test_what_the_process_cannot_make_is_left_to_who_asked(awake):
    assert awake.view(plan_of(demo_board(), "RX3"), "U9 input", 1e-12, Symbols.CODED) is None
    assert awake.view(plan_of(demo_board(), "RX0"), "receiver", 1e-12, Symbols.CODED) is not None


@pytest.mark.campaign
def test_pictures_of_a_hand_that_goes_on_come_from_there_and_without_it_after_its_death(qtbot, awake, caplog):
    document, state, runner = Document(demo_board()), ViewState(), Runner()
    computing = Computing(document, state, runner, sketching=awake)
    asked = []
    view = awake.view
    awake.view = lambda *arguments: asked.append(view(*arguments)) or asked[-1]
    with qtbot.waitSignal(computing.view_ready, timeout=20_000):
        state.set_lane("RX3")
    with qtbot.waitSignal(computing.view_ready, timeout=20_000) as seen:
        document.preview(lambda board: set_run_length(board, "RX3", 0, length_m=0.03))
    assert asked[-1] is seen.args[1]
    awake.worker.process.kill()
    awake.worker.process.join()
    with qtbot.waitSignal(computing.view_ready, timeout=20_000) as seen:
        document.preview(lambda board: set_run_length(board, "RX3", 0, length_m=0.04))
    assert asked[-1] is None
    assert seen.args[1].eye.height_v > 0.0
    assert "the drawing process has ended" in caplog.text
    for number in range(5):
        document.apply("title", retitle(f"again {number}"))
    assert awake.worker is not None
    runner.close()
