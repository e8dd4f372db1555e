"""Carrying out a study's jobs: chunks to a pool, progress, time left, cancelling, workers that die.

The result does not depend on who did what: every job is a function of the basis and itself.
"""

import time
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, wait
from typing import Any, NamedTuple

from workbench.errors import StudyError
from workbench.studies.pool.jobs import Basis, Done, Shared, StudyJob
from workbench.studies.pool.processes import Cancelled, Pool, local_pool

POLL_S = 0.02
LAST_WAIT_S = 0.1
"""How long a cancelled study waits for what its workers have at that moment."""
MOST_LOSSES = 2
"""How often jobs whose worker died are tried again."""
_PARTLY_S, _PARTLY_SHARE = 0.2, 10.0
"""An answer as far as it is comes no sooner than so long after the last, nor than so many times what making it took."""
_TELLING_S, _TELLING_SHARE = 1.0, 0.02
"""How long, and for what share of the whole, results must have come before they tell how long the rest takes."""
_CHUNK, _LARGEST_CHUNK = 12, 64
"""Assessments in a chunk: enough that handing over costs nothing, few enough to see it move; in one group, more."""


class Advance(NamedTuple):
    """How far a study is: assessments done and in all, seconds left (None before the first), and what is new.

    `fresh` holds (job's number, its result) of what has come in since the last time.
    """

    done: int
    total: int
    left_s: float | None
    fresh: tuple[tuple[int, Any], ...]


class Effort(NamedTuple):
    """How a study is carried out.

    Attributes:
        workers: processes; None: as many as there are cores, and a thread for a few assessments; 1: a thread.
        scheduler: address of a dask scheduler whose workers do it instead ("tcp://host:8786").
        watch: called in the asking thread with every advance.
        cancelled: asked some fifty times a second; True ends the study with what it has.
        partly: called in the asking thread, up to five times a second, with the answer as far as it is.
    """

    workers: int | None = None
    scheduler: str | None = None
    watch: Callable[[Advance], None] | None = None
    cancelled: Cancelled = lambda: False
    partly: Callable[[Any], None] | None = None


UNHURRIED = Effort()
"""As many workers as there are cores, nobody watching."""


class Outcome(NamedTuple):
    """What came of a study's jobs.

    Attributes:
        results: by the job's number; of a study that was ended before its time, those that were done.
        assessments: how many were made.
        shared: what the workers found known.
        took_s: wall-clock time, s.
        workers: how many worked.
        stopped: why it is not complete, as a sentence; "" where it is.
    """

    results: dict[int, Any]
    assessments: int
    shared: Shared
    took_s: float
    workers: int
    stopped: str = ""

    def and_then(self, other: "Outcome") -> "Outcome":
        """The account of both, one after the other; the results are the later one's, whose numbers begin anew."""
        return Outcome(
            other.results,
            self.assessments + other.assessments,
            Shared(self.shared.asked + other.shared.asked, self.shared.known + other.shared.known),
            self.took_s + other.took_s,
            max(self.workers, other.workers),
            self.stopped or other.stopped,
        )


Answered = Callable[[Outcome], Any]
"""Makes a study's answer of what has been done; raises StudyError where that is too little."""


def pool_for(basis: Basis, effort: Effort, *, assessments: int) -> Pool:
    """The pool that an effort asks for; use it in a `with` statement.

    Raises:
        StudyError: there is no such scheduler, its workers have another version, or dask is not installed.
    """
    if effort.scheduler is not None:
        from workbench.studies.pool.cluster import ClusterPool  # noqa: PLC0415 - an optional library

        return ClusterPool(basis, effort.scheduler)
    return local_pool(basis, assessments=assessments, workers=effort.workers)


def answer_jobs(basis: Basis, jobs: Sequence[StudyJob], effort: Effort, answered: Answered | None = None) -> Outcome:
    """Carry out jobs by a pool of their own.

    Args:
        basis: what they are about.
        jobs: what is to be done.
        effort: how.
        answered: makes the study's answer of an outcome, for who watches it grow; None where nothing can be told early.

    Raises:
        StudyError: a job can't be done, or the pool can't be had.
    """
    with pool_for(basis, effort, assessments=sum(job.assessments for job in jobs)) as pool:
        return carry_out(pool, jobs, effort, answered)


def carry_out(pool: Pool, jobs: Sequence[StudyJob], effort: Effort, answered: Answered | None = None) -> Outcome:
    """Carry out jobs by a pool; the arguments are those of `answer_jobs`.

    A worker that dies loses nothing that was finished: what it was at is done again by new workers, twice at most.

    Raises:
        StudyError: a job can't be done.
    """
    run = _Run(pool, jobs, effort, answered)
    losses = 0
    while run.open and not run.stopped:
        if run.pass_over():
            losses += 1
            if losses > MOST_LOSSES:
                run.stopped = _lost_words(losses, tuple(run.open.values()))
                break
            try:
                pool.renew()
            except StudyError as error:
                run.stopped = str(error)
    return run.outcome()


Pending = dict[Future[Done], tuple[StudyJob, ...]]
"""What has been handed over and has not come back."""


class _Run:
    """The state of jobs being carried out."""

    def __init__(self, pool: Pool, jobs: Sequence[StudyJob], effort: Effort, answered: Answered | None) -> None:
        self.open = {chunk[0].number: chunk for chunk in chunks_of(jobs, pool.workers)}
        self.stopped = ""
        self._pool, self._effort, self._answered = pool, effort, answered
        self._results: dict[int, Any] = {}
        self._weight = {job.number: job.assessments for job in jobs}
        self._total = sum(self._weight.values())
        self._done = self._asked = self._known = 0
        self._began_s = self._partly_at_s = time.monotonic()
        self._pace = Pace()

    def pass_over(self) -> bool:
        """Have every open chunk done; True where workers were lost, and chunks are open still."""
        pending: Pending = {}
        lost = not all(self._submit(pending, chunk) for chunk in tuple(self.open.values()) if not self._cancelled())
        while pending and not self._cancelled():
            done = wait(pending, timeout=POLL_S, return_when=FIRST_COMPLETED).done
            for future in sorted(done, key=lambda one: pending[one][0].number):  # what came together, in its order
                left = self._take(future, pending.pop(future))
                if left is None or (left and not self._submit(pending, left)):
                    lost = True
        if self._cancelled() and self.open:
            self._end(pending)
            return False
        return lost

    def _cancelled(self) -> bool:
        return self._effort.cancelled()

    def _submit(self, pending: "Pending", chunk: tuple[StudyJob, ...]) -> bool:
        """Hand a chunk over; False where there is nobody left to take it."""
        try:
            pending[self._pool.submit(chunk)] = chunk
        except self._pool.lost:
            return False
        return True

    def outcome(self) -> Outcome:
        """What there is."""
        took_s = time.monotonic() - self._began_s
        shared = Shared(self._asked, self._known)
        results = dict(sorted(self._results.items()))
        return Outcome(results, self._done, shared, took_s, self._pool.workers, self.stopped)

    def _take(self, future: "Future[Done]", chunk: tuple[StudyJob, ...]) -> tuple[StudyJob, ...] | None:
        """Keep what a future brought; what is left of its chunk, or None where its worker was lost."""
        try:
            done = future.result()
        except self._pool.lost:
            return None
        self._keep(done)
        if done.problem:
            raise StudyError(done.problem)
        left = tuple(job for job in chunk if job.number not in self._results)
        del self.open[chunk[0].number]
        if left:
            self.open[left[0].number] = left
        return left

    def _keep(self, done: Done) -> None:
        self._results.update(done.results)
        self._done += sum(self._weight[number] for number, _ in done.results)
        self._asked += done.shared.asked
        self._known += done.shared.known
        if self._effort.watch is not None:
            self._effort.watch(Advance(self._done, self._total, self._left_s(), done.results))
        self._tell_partly()

    def _tell_partly(self) -> None:
        """Hand over the answer as far as it is, unless the last was just now or it is whole."""
        began_s = time.monotonic()
        partly = self._effort.partly
        if partly is None or self._answered is None or began_s < self._partly_at_s or self._done == self._total:
            return
        so_far = self.outcome()._replace(stopped=f"{self._done} of {self._total} assessments so far")
        try:
            answer = self._answered(so_far)
        except StudyError:
            return  # too little yet
        partly(answer)
        now_s = time.monotonic()
        self._partly_at_s = now_s + max(_PARTLY_S, _PARTLY_SHARE * (now_s - began_s))

    def _left_s(self) -> float | None:
        return self._pace.left_s(time.monotonic(), self._done, self._total)

    def _end(self, pending: "Pending") -> None:
        self._pool.stop()
        for future in wait(pending, timeout=LAST_WAIT_S).done:
            if not future.cancelled() and future.exception() is None:
                self._keep(future.result())
        self.stopped = f"the study was cancelled with {self._done} of {self._total} assessments done"


class Pace:
    """How long what is left will take, by how fast results have come since the first ones did.

    Until then workers start and load; that time says nothing of what an assessment takes.
    """

    def __init__(self) -> None:
        self._first: tuple[float, int] | None = None

    def left_s(self, now_s: float, done: int, total: int) -> float | None:
        """How long the rest will take, s; None while too little is done to tell.

        Args:
            now_s: by any clock that runs evenly.
            done: assessments done until now.
            total: all of them.
        """
        if done >= total:
            return 0.0
        if self._first is None:
            if done:
                self._first = now_s, done
            return None
        since_s, before = now_s - self._first[0], self._first[1]
        if done <= before or since_s < _TELLING_S or (done - before) < _TELLING_SHARE * total:
            return None
        return since_s / (done - before) * (total - done)


def chunks_of(jobs: Iterable[StudyJob], workers: int) -> Iterable[tuple[StudyJob, ...]]:
    """Jobs in handfuls, in their order; a group stays in one as far as that leaves every worker something to do."""
    jobs = list(jobs)
    total = sum(job.assessments for job in jobs)
    wanted = max(1, min(_CHUNK, total // (2 * workers)))
    chunk: list[StudyJob] = []
    weight = 0
    for job in jobs:
        same = chunk and job.group >= 0 and job.group == chunk[-1].group
        if chunk and weight >= (_LARGEST_CHUNK if same else wanted):
            yield tuple(chunk)
            chunk, weight = [], 0
        chunk.append(job)
        weight += job.assessments
    if chunk:
        yield tuple(chunk)


def _lost_words(losses: int, left: Sequence[tuple[StudyJob, ...]]) -> str:
    jobs = sum(job.assessments for chunk in left for job in chunk)
    often = "" if losses == 1 else f" {losses} times"
    return (
        f"a worker process ended unexpectedly{often} and {jobs} assessments could not be made; what was done is kept; "
        "look whether memory ran out, or work with one worker"
    )
