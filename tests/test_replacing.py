"""Files replaced whole: reports, sheets, exports and manuals as well as boards."""

import os
from pathlib import Path
from typing import IO

import pytest

from workbench.errors import ReportError
from workbench.replacing import replace_file
from workbench.reports.storing import write_report


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "report.html"
    path.write_bytes(b"the old report")
    path.chmod(0o640)
    return path


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs the device that is always full")
def test_a_full_disk_leaves_the_old_report(old, monkeypatch):
    def full(handle: int, mode: str) -> IO[bytes]:
        os.close(handle)
        return Path("/dev/full").open(mode)

    monkeypatch.setattr(os, "fdopen", full)
    with pytest.raises(ReportError, match="No space left"):
        write_report(b"the new report" * 10_000, old)
    monkeypatch.undo()
    assert old.read_bytes() == b"the old report"
    assert [one.name for one in old.parent.iterdir()] == [old.name]


def test_permissions_stay_and_a_link_is_followed(old):
    link = old.with_name("link.html")
    link.symlink_to(old)
    replace_file(link, b"new")
    assert link.is_symlink()
    assert old.read_bytes() == b"new"
    assert old.stat().st_mode & 0o777 == 0o640


def test_a_pipe_is_written_to_and_not_replaced(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        replace_file(pipe, b"new")
        assert os.read(reader, 10) == b"new"
    finally:
        os.close(reader)
    assert pipe.is_fifo()


def test_a_folder_is_refused(tmp_path):
    with pytest.raises(ReportError, match="choose another place"):
        write_report(b"new", tmp_path)
