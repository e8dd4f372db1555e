"""The second process: what it is asked, tells, refuses and gives up; the line code's eye that comes from it."""

import msgspec
import pytest

from tests.desk.background.process_jobs import Broken, Deadly, Endless, Refused, Twice
from tests.desk.panes.pane_views import NEAR, Answers
from tests.desk.window_help import small_board
from workbench.board.edits import lanes as edits
from workbench.desk.background.process import ProcessChannel
from workbench.desk.background.worker import CodedJob, Desk
from workbench.desk.panes.kinds.eye import EyePane
from workbench.desk.session.coding import Coding
from workbench.desk.session.computing import Computing
from workbench.desk.session.document import Document
from workbench.desk.session.view_state import ShownTrace, ViewState
from workbench.desk.widgets.theme import DARK, LIGHT
from workbench.engine.assess import assess_lane
from workbench.engine.memo import Memo


class Heard:
    """Notes what comes of jobs."""

    def __init__(self, aside: ProcessChannel) -> None:
        self.aside = aside
        self.done, self.told, self.failed = [], [], []

    def ask(self, job) -> None:
        self.aside.ask(job, self.done.append, told=self.told.append, failed=self.failed.append)


@pytest.fixture(scope="module")
def aside(qapp):
    """One process for all: starting it is what takes the time."""
    made = ProcessChannel()
    yield made
    made.close()


@pytest.fixture
def heard(aside) -> Heard:
    return Heard(aside)


def test_a_job_is_done_without_the_toolkit_and_tells_how_far_it_is(qtbot, heard):
    heard.ask(Twice(21))
    assert heard.aside.busy
    qtbot.waitUntil(lambda: heard.done != [], timeout=20_000)
    assert (heard.done, heard.told, heard.aside.busy) == ([(42, False)], ["half of it"], False)


def test_a_newer_job_ends_the_one_under_way(qtbot, heard):
    heard.ask(Endless())
    qtbot.waitUntil(lambda: heard.told == ["begun"], timeout=20_000)
    heard.ask(Twice(3))
    qtbot.waitUntil(lambda: heard.done != [], timeout=20_000)
    assert heard.done == [(6, False)]


def test_what_is_given_up_gives_no_answer(qtbot, heard):
    heard.ask(Endless())
    qtbot.waitUntil(lambda: heard.told == ["begun"], timeout=20_000)
    heard.aside.cancel()
    assert not heard.aside.busy
    other = Heard(heard.aside)
    other.ask(Twice(1))
    qtbot.waitUntil(lambda: other.done != [], timeout=20_000)
    assert (heard.done, heard.failed) == ([], [])


def test_a_refusal_is_the_sentence_and_what_nobody_foresaw_is_logged(qtbot, heard, caplog):
    heard.ask(Refused())
    qtbot.waitUntil(lambda: heard.failed != [], timeout=20_000)
    assert heard.failed == ["this can't be done; do that"]
    heard.ask(Broken())
    qtbot.waitUntil(lambda: len(heard.failed) == 2, timeout=20_000)
    assert "log has the details" in heard.failed[1]
    assert "ZeroDivisionError" in caplog.text


def test_a_process_that_dies_is_told_and_the_next_job_has_a_new_one(qtbot, heard):
    heard.ask(Deadly())
    qtbot.waitUntil(lambda: heard.failed != [], timeout=20_000)
    assert "run it again" in heard.failed[0]
    heard.ask(Twice(2))
    qtbot.waitUntil(lambda: heard.done != [], timeout=20_000)
    assert heard.done == [(4, False)]


# --- the line code


class Prompt(ProcessChannel):
    """An aside that has its job done here and at once, or keeps it until it is let go."""

    def __init__(self) -> None:
        super().__init__()
        self.jobs = []

    def ask(self, job, done, **_):
        self.jobs.append((job, done))


@pytest.fixture
def document(qapp) -> Document:
    return Document(small_board())


@pytest.fixture
def settled(qtbot, document, state, runner) -> Computing:
    computing = Computing(document, state, runner)
    qtbot.waitUntil(lambda: NEAR in computing.assessments, timeout=20_000)
    return computing


@pytest.fixture
def coding(document, state, settled) -> Coding:
    made = Coding(document, state, settled)
    made.aside = Prompt()
    return made


def test_the_line_codes_eye_is_that_of_the_engine_and_is_asked_for_once(coding, settled, document):
    coding._ask()
    job, done = coding.aside.jobs[0]
    assert job == CodedJob(settled.judging(NEAR).plan, document.board.guard, settled.assessments[NEAR])
    found = job.run(Desk(lambda _: None, lambda: None))
    assert found.eye == assess_lane(Memo(), job.plan, 0.0, job.guard).eye
    assert found.eye.statistics == "coded"
    done(found)
    assert settled.coded == {NEAR: found}
    coding._ask()
    assert len(coding.aside.jobs) == 1


def test_a_code_eye_of_a_lane_that_has_changed_is_dropped(qtbot, coding, settled, document):
    coding._ask()
    job, done = coding.aside.jobs[0]
    done(job.found)
    assert NEAR in settled.coded
    with qtbot.waitSignal(settled.coded_ready):
        document.apply("lengthen", lambda board: edits.set_run_length(board, NEAR, 0, length_m=0.123))
    assert settled.coded == {}
    done(job.found)
    assert settled.coded == {}


def test_the_eye_pane_tells_what_the_code_makes_of_the_lane(qtbot, document, settled):
    answers, state = Answers(), ViewState()
    state.set_lane(NEAR)
    pane = EyePane(document, state, answers, LIGHT)
    qtbot.addWidget(pane)
    pane.resize(400, 300)
    pane.show()
    answers.answer(ShownTrace(NEAR, "receiver"))
    assert not pane._coded.isVisible()
    plain = settled.assessments[NEAR]
    eye = msgspec.structs.replace(plain.eye, statistics="coded", height_v=0.3617, width_ui=0.6962)
    answers.coded[NEAR] = msgspec.structs.replace(plain, eye=eye)
    answers.coded_ready.emit(NEAR)
    assert pane._coded.isVisible()
    assert pane._coded.toPlainText() == "with 8b/10b: 362 mV, 0.696 UI, pass"
    pane.set_theme(DARK)
    assert pane._coded.fill.color().name() == DARK.sheet
    state.set_probes(("pins",))
    answers.answer(ShownTrace(NEAR, "pins"))
    assert not pane._coded.isVisible()


def test_every_lane_gets_its_codes_eye_the_current_one_first_and_the_table_is_told(
    qtbot, coding, settled, document
) -> None:
    qtbot.waitUntil(lambda: len(settled.assessments) == len(document.board.lanes), timeout=30_000)
    told = []
    settled.lane_ready.connect(lambda name, found: told.append((name, found.eye.statistics)))
    coding._ask()
    asked = []
    while coding.aside.jobs:
        job, done = coding.aside.jobs.pop()
        asked.append(job.plan.name)
        done(msgspec.structs.replace(job.found, eye=msgspec.structs.replace(job.found.eye, statistics="coded")))
    names = [lane.name for lane in document.board.lanes]
    assert asked == [NEAR, *(name for name in names if name != NEAR)]
    assert told == [(name, "coded") for name in asked]
    assert {found.eye.statistics for found in settled.assessments.values()} == {"coded"}
