"""The second process: what it is asked, tells, refuses and gives up; the line code's eye that comes from it."""

import pytest

from tests.desk.background.process_jobs import Broken, Deadly, Endless, Refused, Twice
from workbench.desk.background.process import ProcessChannel


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
