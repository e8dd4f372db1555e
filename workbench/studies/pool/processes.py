"""Who does a study's jobs: a thread here, processes of this machine, or a cluster; all through futures.

A pool hands chunks of jobs to workers that each keep the board and a warm memo. Processes are started afresh
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
from workbench.studies.pool.jobs import Assessor, Basis, Done, StudyJob, do_jobs

FEW = 24
"""So many assessments are done before a second process has started."""


class Pool(Protocol):
    """Workers that share a basis.

    Attributes:
        workers: how many there are, as far as is known.
        lost: what a future raises whose worker has died.
    """

    workers: int
    lost: tuple[type[BaseException], ...]

    def submit(self, jobs: Sequence[StudyJob]) -> "Future[Done]":
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
    _executor: Executor

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def stop(self) -> None:
        """Ask the workers to end."""
        self._executor.shutdown(wait=False, cancel_futures=True)


class ThreadPool(_Local):
    """One thread of this process: for a few jobs, and where no process may be started."""

    def __init__(self, basis: Basis) -> None:
        self.workers = 1
        self._stopped = threading.Event()
        self._assessor = Assessor(basis, self._stopped.is_set)
        self._executor = ThreadPoolExecutor(1, thread_name_prefix="study")

    def submit(self, jobs: Sequence[StudyJob]) -> "Future[Done]":
        """Have jobs done."""
        return self._executor.submit(do_jobs, self._assessor, jobs)

    def renew(self) -> None:
        """A thread can't be lost."""

    def stop(self) -> None:
        """End what is under way before its next assessment."""
        self._stopped.set()
        super().stop()


class ProcessPool(_Local):
    """Processes of this machine, each with the board and a memo of its own."""

    def __init__(self, basis: Basis, workers: int) -> None:
        self.workers = workers
        self._basis = basis
        self._context = multiprocessing.get_context("spawn")
        self.renew()

    def submit(self, jobs: Sequence[StudyJob]) -> "Future[Done]":
        """Have jobs done by one process."""
        return self._executor.submit(_do, tuple(jobs))

    def renew(self) -> None:
        """Start new processes."""
        self._stopped = self._context.Event()
        self._executor = ProcessPoolExecutor(
            self.workers, mp_context=self._context, initializer=_begin, initargs=(self._basis, self._stopped)
        )

    def stop(self) -> None:
        """End what is under way before its next assessment."""
        if not self._stopped.is_set():
            self._stopped.set()
            seen_off = (self._executor, self._stopped)
            threading.Thread(target=_see_off, args=seen_off, name="study's end", daemon=True).start()


def _see_off(executor: Executor, stopped: ProcessEvent) -> None:
    """Wait for the end of processes: one that is still starting must find what it is told to stop by."""
    executor.shutdown(wait=True, cancel_futures=True)
    del stopped


def local_pool(basis: Basis, *, assessments: int, workers: int | None) -> Pool:
    """A pool of this machine.

    Args:
        basis: what its workers share.
        assessments: how many there are to make; a few are not worth a process.
        workers: how many processes; None: as many as there are cores; 1: none, but a thread.
    """
    wanted = usable_cores() if workers is None else workers
    if wanted <= 1 or (workers is None and assessments <= FEW):
        return ThreadPool(basis)
    return ProcessPool(basis, wanted)


_assessor: Assessor | None = None


def _begin(basis: Basis, stopped: ProcessEvent) -> None:
    """What a new process does first."""
    global _assessor  # noqa: PLW0603 - a process is one worker
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _assessor = Assessor(basis, stopped.is_set)
    # What is loaded now stays: looking for garbage among it would cost a few percent of the work.
    gc.freeze()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait_for([parent.sentinel])
        os._exit(1)


def _do(jobs: tuple[StudyJob, ...]) -> Done:
    assert _assessor is not None
    return do_jobs(_assessor, jobs)


Cancelled = Callable[[], bool]
"""Asked while a study runs: True ends it with what it has."""
