"""Carrying out many jobs: the same results whoever does them, progress, cancelling, workers that die."""

import threading

import pytest

from tests.studies.boards import section
from tests.studies.jobs import Dying, Loaded, Long, Square, Wrong
from tests.thinning import some
from workbench.board.edits.changes import Controls
from workbench.engine.assess import assess_board
from workbench.errors import StudyError
from workbench.studies.figures import figures_of_assessment
from workbench.studies.pool import running
from workbench.studies.pool.jobs import Assess, Basis
from workbench.studies.pool.running import Effort, answer_jobs, chunks_of
from workbench.studies.setting_search.settings import device_choices

BOARD = section()
QUESTION = Basis(board=BOARD)


def settings_jobs(count: int) -> list[Assess]:
    combinations = device_choices(BOARD, "U1")[0].combinations
    return [
        Assess(number=n, changes=(Controls("U1", combinations[n % len(combinations)]),), lanes=("D0", "D1"))
        for n in range(count)
    ]


def test_figures_are_those_of_a_full_assessment():
    found = answer_jobs(QUESTION, [Assess(number=0, lanes=("D0", "D2", "D4"))], Effort())
    assessed = assess_board(BOARD, sha256="", lanes=("D0", "D2", "D4"))
    assert found.results[0] == tuple(figures_of_assessment(lane, BOARD.guard) for lane in assessed.lanes)


def test_processes_find_what_one_thread_finds_and_load_no_window():
    jobs = [*settings_jobs(4), Loaded(number=8), Square(number=9)]
    alone = answer_jobs(QUESTION, jobs, Effort(workers=1))
    together = answer_jobs(QUESTION, jobs, Effort(workers=2))
    loaded = together.results.pop(8)
    alone.results.pop(8)
    assert together.results == alone.results
    assert list(together.results) == sorted(together.results)
    assert not {"PySide6", "pyqtgraph", "scipy", "skrf"} & set(loaded)
    assert (alone.workers, together.workers) == (1, 2)
    assert together.stopped == ""


@pytest.mark.campaign
@pytest.mark.usefixtures("forgetful")
def test_what_lanes_and_variants_share_is_computed_once():
    one, many = (answer_jobs(QUESTION, settings_jobs(count), Effort(workers=1)).shared for count in (1, 4))
    # Spans, lines and surveys stay what they are when straps change: four settings make hardly more than one.
    assert many.asked - many.known < 3 * (one.asked - one.known)
    assert many.asked > 2 * one.asked
    assert many.ratio > one.ratio


@pytest.mark.parametrize("times", some([1, 2], 1))
def test_a_worker_that_dies_loses_nothing(tmp_path, times):
    jobs = [*(Square(number=n) for n in range(8)), Dying(number=8, folder=str(tmp_path), times=times)]
    seen: list[int] = []
    effort = Effort(workers=2, watch=lambda advance: seen.extend(number for number, _ in advance.fresh))
    found = answer_jobs(QUESTION, jobs, effort)
    assert found.results == {**{n: n**2 for n in range(8)}, 8: 8}
    assert sorted(seen) == list(range(9))
    assert found.stopped == ""


@pytest.mark.campaign
def test_after_too_many_deaths_it_says_so_and_keeps_what_was_done(tmp_path, monkeypatch):
    assert running.MOST_LOSSES == 2
    monkeypatch.setattr(running, "MOST_LOSSES", 0)
    jobs = [*(Square(number=n) for n in range(4)), Dying(number=4, folder=str(tmp_path), times=9)]
    found = answer_jobs(QUESTION, jobs, Effort(workers=2))
    assert len(list(tmp_path.iterdir())) == 1
    assert 4 not in found.results
    assert "ended unexpectedly and " in found.stopped
    assert "work with one worker" in found.stopped


@pytest.mark.parametrize("workers", [1, 2])
def test_cancelling_ends_work_under_way_and_keeps_what_was_done(workers):
    cancelled = threading.Event()

    def watch(_):
        cancelled.set()

    jobs = [*(Square(number=n) for n in range(6)), *(Long(number=n) for n in range(6, 12))]
    found = answer_jobs(QUESTION, jobs, Effort(workers=workers, watch=watch, cancelled=cancelled.is_set))
    assert found.results.keys() >= {0}
    assert not found.results.keys() & set(range(6, 12))
    assert found.stopped == f"the study was cancelled with {len(found.results)} of 12 assessments done"


@pytest.mark.campaign
def test_progress_counts_to_the_end():
    seen = []
    answer_jobs(QUESTION, settings_jobs(4), Effort(workers=1, watch=seen.append))
    assert [advance.total for advance in seen] == [8] * len(seen)
    done = [advance.done for advance in seen]
    assert done == sorted(done)
    assert done[-1] == 8
    assert seen[-1].left_s == 0.0
    assert len(seen) >= 2


def test_a_job_that_cannot_be_done_is_a_sentence():
    with pytest.raises(StudyError, match="lane D0 has no probe point 'U5 input'"):
        answer_jobs(QUESTION, [Square(number=0), Wrong(number=1)], Effort(workers=1))


@pytest.mark.parametrize("workers", [1, 2, 7])
def test_chunks_hold_every_job_once_in_order_and_keep_groups_together(workers):
    jobs = [Square(number=n, group=n // 10) for n in range(95)]
    chunks = list(chunks_of(jobs, workers))
    assert [job for chunk in chunks for job in chunk] == jobs
    assert len(chunks) >= workers
    places = {}
    for place, chunk in enumerate(chunks):
        for job in chunk:
            places.setdefault(job.group, set()).add(place)
    assert all(len(found) == 1 for found in places.values())
