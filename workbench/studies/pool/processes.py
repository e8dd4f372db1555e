"""Who does a study's jobs: a thread here, processes of this machine, or a cluster; all through futures.

A crew hands chunks of jobs to workers that each keep the board and a warm memo. Processes are started afresh
(`spawn`), so that nothing of a window or a thread is inherited; they ignore Ctrl+C, which is the asker's to handle, and
end with the process that started them.
"""

import gc
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor, Executor, Future, ProcessPoolExecutor, ThreadPoolExecutor
from multiprocessing.connection import wait as wait_for
from multiprocessing.synchronize import Event as ProcessEvent
from types import TracebackType
from typing import Protocol, Self

from workbench.engine.assess import usable_cores
from workbench.studies.pool.jobs import Bench, Done, Job, Question, do_jobs

FEW = 24
"""So many assessments are done before a second process has started."""


class Crew(Protocol):
    """Workers that share a question.

    Attributes:
        workers: how many there are, as far as is known.
        lost: what a future raises whose worker has died.
    """

    workers: int
    lost: tuple[type[BaseException], ...]

    def submit(self, jobs: Sequence[Job]) -> "Future[Done]":
        """Have jobs done by one worker."""
        ...

    def renew(self) -> None:
        """Replace workers that were lost."""
        ...

    def stop(self) -> None:
        """Ask the workers to end what they are at, soon; jobs not begun are not done."""
        ...

    def __enter__(self) -> Self: ...

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None: ...


class _Local:
    """What threads and processes have in common."""

    workers: int
    lost: tuple[type[BaseException], ...] = (BrokenExecutor,)
    _pool: Executor

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def stop(self) -> None:
        """Ask the workers to end."""
        self._pool.shutdown(wait=False, cancel_futures=True)


class ThreadCrew(_Local):
    """One thread of this process: for a few jobs, and where no process may be started."""

    def __init__(self, question: Question) -> None:
        self.workers = 1
        self._stopped = threading.Event()
        self._bench = Bench(question, self._stopped.is_set)
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="study")

    def submit(self, jobs: Sequence[Job]) -> "Future[Done]":
        """Have jobs done."""
        return self._pool.submit(do_jobs, self._bench, jobs)

    def renew(self) -> None:
        """A thread can't be lost."""

    def stop(self) -> None:
        """End what is under way before its next assessment."""
        self._stopped.set()
        super().stop()


class ProcessCrew(_Local):
    """Processes of this machine, each with the board and a memo of its own."""

    def __init__(self, question: Question, workers: int) -> None:
        self.workers = workers
        self._question = question
        self._context = multiprocessing.get_context("spawn")
        self.renew()

    def submit(self, jobs: Sequence[Job]) -> "Future[Done]":
        """Have jobs done by one process."""
        return self._pool.submit(_do, tuple(jobs))

    def renew(self) -> None:
        """Start new processes."""
        self._stopped = self._context.Event()
        self._pool = ProcessPoolExecutor(
            self.workers, mp_context=self._context, initializer=_begin, initargs=(self._question, self._stopped)
        )

    def stop(self) -> None:
        """End what is under way before its next assessment."""
        if not self._stopped.is_set():
            self._stopped.set()
            threading.Thread(target=_see_off, args=(self._pool, self._stopped), name="study's end", daemon=True).start()


def _see_off(pool: Executor, stopped: ProcessEvent) -> None:
    """Wait for the end of processes: one that is still starting must find what it is told to stop by."""
    pool.shutdown(wait=True, cancel_futures=True)
    del stopped


def local_crew(question: Question, *, assessments: int, workers: int | None) -> Crew:
    """A crew of this machine.

    Args:
        question: what its workers share.
        assessments: how many there are to make; a few are not worth a process.
        workers: how many processes; None: as many as there are cores; 1: none, but a thread.
    """
    wanted = usable_cores() if workers is None else workers
    if wanted <= 1 or (workers is None and assessments <= FEW):
        return ThreadCrew(question)
    return ProcessCrew(question, wanted)


_bench: Bench | None = None


def _begin(question: Question, stopped: ProcessEvent) -> None:
    """What a new process does first."""
    global _bench  # noqa: PLW0603 - a process is one worker
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _bench = Bench(question, stopped.is_set)
    # What is loaded now stays: looking for garbage among it would cost a few percent of the work.
    gc.freeze()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait_for([parent.sentinel])
        os._exit(1)


def _do(jobs: tuple[Job, ...]) -> Done:
    assert _bench is not None
    return do_jobs(_bench, jobs)


Cancelled = Callable[[], bool]
"""Asked while a study runs: True ends it with what it has."""
