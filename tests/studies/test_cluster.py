"""A study on dask.distributed: a local scheduler with two workers, one of which is killed midway."""

import os
import signal
import sys

import pytest

pytest.importorskip("distributed", reason="the optional extra `cluster` is not installed")

from distributed import LocalCluster

from tests.studies.boards import section, with_lanes
from workbench.errors import StudyError
from workbench.studies.pool import cluster
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.settings import settings_study


@pytest.fixture
def two_workers(tmp_path):
    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, host="127.0.0.1", dashboard_address=None, silence_logs=50,
        local_directory=str(tmp_path),
    ) as local:  # fmt: skip
        yield local


@pytest.mark.campaign
def test_a_worker_killed_midway_changes_nothing(two_workers):
    basis = Basis(board=with_lanes(section(), "D0", "D3"))
    killed = []

    def watch(advance):
        if not killed and advance.done >= 2:
            killed.append(next(iter(two_workers.workers.values())).process.pid)
            os.kill(killed[0], signal.SIGKILL)

    effort = Effort(scheduler=two_workers.scheduler_address, watch=watch)
    found = settings_study(basis, ("U1", "U3"), effort=effort)
    here = settings_study(basis, ("U1", "U3"), effort=Effort(workers=1))
    assert killed
    assert found.groups == here.groups
    assert found.made.stopped == ""
    assert found.made.workers == 2
    assert found.made.assessments == here.made.assessments == 16


def test_no_scheduler_there_is_one_sentence(monkeypatch):
    monkeypatch.setattr(cluster, "CONNECT_S", 0.2)
    with pytest.raises(StudyError, match=r"no scheduler answers at .tcp") as caught:
        settings_study(Basis(board=section()), ("U1",), effort=Effort(scheduler="tcp://127.0.0.1:1"))
    assert "\n" not in str(caught.value)


def test_without_dask_the_sentence_says_how_to_get_it(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    monkeypatch.delitem(sys.modules, "workbench.studies.pool.cluster")
    with pytest.raises(StudyError, match=r"a scheduler needs dask.distributed.*link-margin-workbench\[cluster\]"):
        settings_study(Basis(board=section()), ("U1",), effort=Effort(scheduler="tcp://127.0.0.1:1"))
