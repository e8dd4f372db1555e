"""Work in the background, whatever carries it: what it is asked, tells, refuses, gives up, and how its end is told."""

import sys
import threading

import pytest
import shiboken6

from tests.desk.background.process_jobs import Broken, Deadly, Endless, Refused, Twice
from tests.patience import PATIENCE_S
from workbench.desk.background.process import ProcessChannel
from workbench.desk.background.program import ProgramChannel, ProgramOutput
from workbench.desk.background.runner import Runner
from workbench.desk.background.talk import Talk
from workbench.desk.background.thread import ThreadChannel
from workbench.desk.background.threads import ThreadChannels
from workbench.errors import WorkbenchError

# What a program does in place of each job.
PROGRAMS = {
    Twice: "import sys; sys.stderr.write('\\r\\x1b[Khalf of it'); sys.stderr.flush(); print(2 * {number})",
    Endless: "import sys, time; sys.stderr.write('\\r\\x1b[Kbegun'); sys.stderr.flush(); time.sleep(600)",
    Refused: "import sys; sys.stderr.write(\"this can't be done; do that\"); sys.exit(2)",
    Broken: "1 / 0",
    Deadly: "import os, signal; os.kill(os.getpid(), signal.SIGKILL)",
}


class Heard:
    """Asks something of one kind of background work, and notes what comes of it."""

    def __init__(self, made) -> None:
        self.made = made
        self.done, self.told, self.failed = [], [], []

    def ask(self, job) -> None:
        match self.made:
            case ProcessChannel():
                self.made.ask(job, self._answered, progress=self.told.append, failed=self.failed.append)
            case ThreadChannel():
                self.made.ask(job.run, self._answered, progress=self.told.append, failed=self.failed.append)
            case ProgramChannel():
                words = ["-c", PROGRAMS[type(job)].format(**job._asdict())]
                self.made.ask(words, self._ended, progress=self.told.append, failed=self.failed.append)
            case ThreadChannels():
                self._hear_failures()
                self.made.ask("one", self._telling(job), self._answered)
            case Runner():
                self._hear_failures()
                self.made.submit("one", self._telling(job), self._answered)

    def cancel(self) -> None:
        self.made.cancel("one") if isinstance(self.made, Runner | ThreadChannels) else self.made.cancel()

    def _telling(self, job):
        # These two have no way for progress: nobody who uses them shows any.
        return lambda talk: job.run(Talk(self.told.append, talk.check))

    def _hear_failures(self) -> None:
        self.made.failed.disconnect()
        self.made.failed.connect(self.failed.append)

    def _answered(self, answer) -> None:
        if isinstance(answer, WorkbenchError):
            self.failed.append(str(answer))
        else:
            self.done.append(answer if not isinstance(answer, tuple) else answer[0])

    def _ended(self, output: ProgramOutput) -> None:
        if output.status == 0:
            self.done.append(int(output.printed))
        else:
            self.failed.append(output.complaint)


def program(parent=None) -> ProgramChannel:
    return ProgramChannel((sys.executable,), parent=parent)


@pytest.fixture(scope="module", params=[ProcessChannel, ThreadChannel, program, ThreadChannels, Runner])
def made(qapp, request):
    """One of each for all: starting a process is what takes the time."""
    channel = request.param()
    if isinstance(channel, Runner | ThreadChannels):
        channel.failed.connect(print)
    yield channel
    channel.close()


@pytest.fixture
def heard(made) -> Heard:
    return Heard(made)


def test_work_is_done_and_tells_how_far_it_is(qtbot, heard):
    heard.ask(Twice(21))
    assert heard.made.busy
    qtbot.waitUntil(lambda: heard.done != [], timeout=60_000)
    qtbot.waitUntil(lambda: not heard.made.busy, timeout=60_000)
    assert (heard.done, heard.told, heard.failed) == ([42], ["half of it"], [])


def test_a_worker_process_is_without_the_toolkit(qtbot, heard):
    if isinstance(heard.made, ProcessChannel):
        answers = []
        heard.made.ask(Twice(21), answers.append)
        qtbot.waitUntil(lambda: answers != [], timeout=60_000)
        assert answers == [(42, False)]


def test_a_newer_job_ends_the_one_under_way_and_a_stale_answer_is_dropped(qtbot, heard):
    heard.ask(Endless())
    qtbot.waitUntil(lambda: heard.told == ["begun"], timeout=60_000)
    heard.ask(Twice(3))
    qtbot.waitUntil(lambda: heard.done != [], timeout=60_000)
    assert (heard.done, heard.failed) == ([6], [])


def test_what_is_given_up_gives_no_answer(qtbot, heard):
    heard.ask(Endless())
    qtbot.waitUntil(lambda: heard.told == ["begun"], timeout=60_000)
    heard.cancel()
    qtbot.waitUntil(lambda: not heard.made.busy, timeout=60_000)
    other = Heard(heard.made)
    other.ask(Twice(1))
    qtbot.waitUntil(lambda: other.done != [], timeout=60_000)
    assert (heard.done, heard.failed) == ([], [])


def test_a_refusal_is_the_sentence_and_what_nobody_foresaw_is_told(qtbot, heard, caplog):
    heard.ask(Refused())
    qtbot.waitUntil(lambda: heard.failed != [], timeout=60_000)
    assert heard.failed == ["this can't be done; do that"]
    heard.ask(Broken())
    qtbot.waitUntil(lambda: len(heard.failed) == 2, timeout=60_000)
    # A program has a log of its own and ends with a sentence; here it is the interpreter that ends it.
    where = heard.failed[1] if isinstance(heard.made, ProgramChannel) else caplog.text
    assert "ZeroDivisionError" in where
    assert isinstance(heard.made, ProgramChannel) or "log has the details" in heard.failed[1]
    assert not heard.made.busy


def test_a_process_that_dies_is_told_and_the_next_job_has_a_new_one(qtbot, heard):
    if not isinstance(heard.made, ProcessChannel | ProgramChannel):
        return  # a thread ends with its work only
    heard.ask(Deadly())
    qtbot.waitUntil(lambda: heard.failed != [], timeout=60_000)
    assert "run it again" in heard.failed[0]
    heard.ask(Twice(2))
    qtbot.waitUntil(lambda: heard.done != [], timeout=60_000)
    assert heard.done == [4]


def test_a_program_that_is_not_there_is_told(qtbot):
    channel = ProgramChannel(("/nowhere/at/all",))
    failed = []
    channel.ask(["report"], failed.append, failed=failed.append)
    qtbot.waitUntil(lambda: failed != [], timeout=60_000)
    assert failed == [ProgramChannel.unstarted]
    assert not channel.busy


def test_what_waits_for_its_turn_is_done_after_the_other_and_can_be_given_up(qtbot):
    channels, order = ThreadChannels(), []
    channels.ask("first", Endless().run, order.append)
    channels.ask("second", lambda _: "second", order.append)
    channels.ask("third", lambda _: "third", order.append)
    qtbot.wait(1)
    assert order == []
    channels.cancel("second")
    channels.cancel("first")
    qtbot.waitUntil(lambda: not channels.busy, timeout=60_000)
    assert order == ["third"]
    channels.close()


def test_a_thread_that_outlives_its_channel_says_nothing_to_it(qapp):
    go, channel = threading.Event(), ThreadChannel()
    channel.ask(lambda talk: go.wait(PATIENCE_S), lambda _: None)
    thread = channel.thread_under_way
    shiboken6.delete(channel)
    go.set()
    thread.join(PATIENCE_S)
    assert not thread.is_alive()
