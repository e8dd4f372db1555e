"""Work in a process and on a thread: what it is asked, tells, refuses and gives up."""

import pytest

from tests.desk.background.process_jobs import Broken, Deadly, Endless, Refused, Twice
from workbench.desk.background.process import ProcessChannel
from workbench.desk.background.thread import ThreadChannel


class Heard:
    """Notes what comes of jobs."""

    def __init__(self, channel: ProcessChannel | ThreadChannel) -> None:
        self.channel = channel
        self.done, self.told, self.failed = [], [], []

    def ask(self, job) -> None:
        work = job if isinstance(self.channel, ProcessChannel) else job.run
        self.channel.ask(work, self.done.append, progress=self.told.append, failed=self.failed.append)


@pytest.fixture(scope="module", params=[ProcessChannel, ThreadChannel])
def channel(qapp, request):
    """One of each for all: starting a process is what takes the time."""
    made = request.param()
    yield made
    made.close()


@pytest.fixture
def heard(channel) -> Heard:
    return Heard(channel)


def test_work_is_done_and_tells_how_far_it_is_a_process_without_the_toolkit(qtbot, heard):
    heard.ask(Twice(21))
    assert heard.channel.busy
    qtbot.waitUntil(lambda: heard.done != [], timeout=60_000)
    toolkit = isinstance(heard.channel, ThreadChannel)
    assert (heard.done, heard.told, heard.channel.busy) == ([(42, toolkit)], ["half of it"], False)


def test_a_newer_job_ends_the_one_under_way(qtbot, heard):
    heard.ask(Endless())
    qtbot.waitUntil(lambda: heard.told == ["begun"], timeout=60_000)
    heard.ask(Twice(3))
    qtbot.waitUntil(lambda: heard.done != [], timeout=60_000)
    assert [number for number, _ in heard.done] == [6]


def test_what_is_given_up_gives_no_answer(qtbot, heard):
    heard.ask(Endless())
    qtbot.waitUntil(lambda: heard.told == ["begun"], timeout=60_000)
    heard.channel.cancel()
    assert not heard.channel.busy
    other = Heard(heard.channel)
    other.ask(Twice(1))
    qtbot.waitUntil(lambda: other.done != [], timeout=60_000)
    assert (heard.done, heard.failed) == ([], [])


def test_a_refusal_is_the_sentence_and_what_nobody_foresaw_is_logged(qtbot, heard, caplog):
    heard.ask(Refused())
    qtbot.waitUntil(lambda: heard.failed != [], timeout=60_000)
    assert heard.failed == ["this can't be done; do that"]
    heard.ask(Broken())
    qtbot.waitUntil(lambda: len(heard.failed) == 2, timeout=60_000)
    assert "log has the details" in heard.failed[1]
    assert "ZeroDivisionError" in caplog.text


def test_a_process_that_dies_is_told_and_the_next_job_has_a_new_one(qtbot, heard):
    if isinstance(heard.channel, ThreadChannel):
        return  # a thread ends with its work only
    heard.ask(Deadly())
    qtbot.waitUntil(lambda: heard.failed != [], timeout=60_000)
    assert "run it again" in heard.failed[0]
    heard.ask(Twice(2))
    qtbot.waitUntil(lambda: heard.done != [], timeout=60_000)
    assert heard.done == [(4, False)]
