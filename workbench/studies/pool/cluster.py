"""A study's jobs on a dask.distributed cluster: the optional extra `cluster`, the same interface.

Every worker of the cluster gets the basis once, by a plugin that also reaches workers that join later; it keeps a
memo as warm as a process here does. A worker that dies loses nothing: the scheduler gives its jobs to another.
"""

import re
import socket
import uuid
from collections import OrderedDict
from collections.abc import Sequence
from concurrent.futures import CancelledError, Executor, Future
from threading import Lock
from types import TracebackType
from typing import Any, Self

from workbench.errors import StudyError
from workbench.studies.pool.identity import identity, what_differs
from workbench.studies.pool.jobs import Assessor, Basis, Done, StudyJob, do_jobs

try:
    from distributed import Client, WorkerPlugin
    from distributed.scheduler import KilledWorker
except ImportError as missing:
    raise StudyError(
        f"a scheduler needs dask.distributed, which can't be loaded ({missing}); install it with: "
        "pip install 'link-margin-workbench[cluster]'"
    ) from missing

CONNECT_S = 10
_ADDRESS = re.compile(r"(?:(?P<way>[a-z]+)://)?(?P<host>[^/\s:]+|\[[^\s\]]+\]):(?P<port>\d{1,5})/?")
_KEPT = 4
"""Studies that a worker keeps, since a cluster may serve several people."""


class _Beginning(WorkerPlugin):  # type: ignore[misc]  # dask carries no types
    """Gives a worker the basis."""

    def __init__(self, key: str, basis: Basis) -> None:
        self.name, self._key, self._basis = f"link-margin-study-{key}", key, basis

    def setup(self, worker: Any) -> None:  # noqa: ANN401 - dask carries no types
        """Called by the worker when it gets the plugin, or joins."""
        del worker
        _remember(self._key, self._basis)


def _require_listener(address: str) -> None:
    """Refuse an address where nothing listens, before the library waits for it and ends with a traceback."""
    found = _ADDRESS.fullmatch(address)
    if found is None:
        raise _no_scheduler(address, "it is not an address")
    if found["way"] in (None, "tcp", "tls"):
        try:
            socket.create_connection((found["host"].strip("[]"), int(found["port"])), CONNECT_S).close()
        except (OSError, OverflowError) as error:
            raise _no_scheduler(address, error) from error


def _no_scheduler(address: str, why: object) -> StudyError:
    return StudyError(
        f"no scheduler answers at {address!r} ({why or 'it took too long'}); write its address such as "
        "tcp://host:8786, and look whether it runs"
    )


class ClusterPool:
    """The workers of a dask scheduler.

    Args:
        basis: what they share.
        address: the scheduler's, such as "tcp://host:8786".

    Raises:
        StudyError: nothing answers there, or a worker has other sources of this program or other versions of
            what it computes with.
    """

    def __init__(self, basis: Basis, address: str) -> None:
        # A scheduler that goes away cancels what it had, or breaks the connection.
        self.lost: tuple[type[BaseException], ...] = (KilledWorker, CancelledError, OSError)
        self._basis = basis
        _require_listener(address)
        try:
            self._client = Client(address, timeout=CONNECT_S, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            raise _no_scheduler(address, error) from error
        self._require_workers(address)
        self.workers = sum(self._client.nthreads().values())
        self._plugin = ""
        self.renew()

    def submit(self, jobs: Sequence[StudyJob]) -> "Future[Done]":
        """Have jobs done by one worker."""
        return self._executor.submit(_do, self._key, tuple(jobs))

    def renew(self) -> None:
        """Give the basis to all workers, also those that took another's place.

        Raises:
            StudyError: the scheduler does not answer any more.
        """
        self._forget()
        self._key = uuid.uuid4().hex
        plugin = _Beginning(self._key, self._basis)
        if not self._answers:
            raise StudyError("the scheduler does not answer any more; what was done is kept")
        self._client.register_plugin(plugin)
        self._plugin = plugin.name
        self._executor: Executor = self._client.get_executor(pure=False)

    def stop(self) -> None:
        """Drop what is not begun."""
        # Where it does not wait, this executor cancels what is pending.
        if self._answers:
            self._executor.shutdown(wait=False)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()
        self._forget()
        self._client.close()

    def _forget(self) -> None:
        # Where the scheduler is gone, so is what it was to forget.
        if self._plugin and self._answers:
            self._client.unregister_worker_plugin(self._plugin)
        self._plugin = ""

    @property
    def _answers(self) -> bool:
        return bool(self._client.status == "running")

    def _require_workers(self, address: str) -> None:
        found = self._client.run(identity)
        if not found:
            self._client.close()
            raise StudyError(f"the scheduler at {address!r} has no workers; start some and try again")
        own = identity()
        for worker, theirs in found.items():
            differs = what_differs(theirs, own)
            if differs:
                self._client.close()
                raise StudyError(f"worker {worker} has {differs}; install the same there and start it again")


_assessors: OrderedDict[str, Assessor] = OrderedDict()
_lock = Lock()


def _remember(key: str, basis: Basis) -> None:
    with _lock:
        _assessors[key] = Assessor(basis)
        while len(_assessors) > _KEPT:
            _assessors.popitem(last=False)


def _do(key: str, jobs: tuple[StudyJob, ...]) -> Done:
    return do_jobs(_assessors[key], jobs)
