"""Saving keeps the version before beside the file, and survives kills, full disks and folders that went away."""

import errno
import os
import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import IO

import pytest
from msgspec.structs import replace

from tests.board.sample import sample_board
from tests.campaigns.saving_kills import kill_savers
from workbench.board.previous import previous_path
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.errors import BoardFileError

FIRST, SECOND, THIRD = (replace(sample_board(), title=title) for title in ("first", "second", "third"))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "shelf.board.json"


def test_the_version_before_lies_beside_it_under_a_name_that_opens(path):
    save_board(FIRST, path, previous=True)
    assert [one.name for one in path.parent.iterdir()] == [path.name]
    save_board(SECOND, path, previous=True)
    save_board(THIRD, path, previous=True)
    beside = path.with_name("shelf.previous.board.json")
    assert previous_path(path) == beside
    assert (load_board(path).board, load_board(beside).board) == (THIRD, SECOND)
    assert len(list(path.parent.iterdir())) == 2


def test_saving_the_same_again_does_not_push_the_version_before_out(path):
    for board in (FIRST, SECOND, SECOND, SECOND):
        save_board(board, path, previous=True)
    assert load_board(previous_path(path)).board == FIRST


def test_a_file_of_another_ending_keeps_it(tmp_path):
    assert previous_path(tmp_path / "shelf.json") == tmp_path / "shelf.previous.json"
    assert previous_path(tmp_path / "shelf") == tmp_path / "shelf.previous"


def test_it_is_kept_only_where_asked_for(path):
    save_board(FIRST, path)
    save_board(SECOND, path)
    assert not previous_path(path).exists()


def test_a_file_system_without_links_copies(path, monkeypatch):
    def refuse(*_: object) -> None:
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    save_board(FIRST, path, previous=True)
    monkeypatch.setattr(os, "link", refuse)
    save_board(SECOND, path, previous=True)
    assert (load_board(path).board, load_board(previous_path(path)).board) == (SECOND, FIRST)


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS])
@pytest.mark.parametrize("call", ["copy2", "fsync", "replace"])
def test_where_it_cannot_be_kept_nothing_is_changed_and_one_sentence_says_so(path, monkeypatch, number, call):
    save_board(FIRST, path, previous=True)
    save_board(SECOND, path, previous=True)

    def fail(*_: object, **__: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "link", fail)
    monkeypatch.setattr(shutil if call == "copy2" else os, call, fail)
    with pytest.raises(BoardFileError) as caught:
        save_board(THIRD, path, previous=True)
    monkeypatch.undo()
    assert path.name in str(caught.value)
    assert "\n" not in str(caught.value)
    assert (load_board(path).board, load_board(previous_path(path)).board) == (SECOND, FIRST)
    assert len(list(path.parent.iterdir())) == 2


def test_a_folder_that_went_away_is_told_and_the_next_save_writes_again(path):
    save_board(FIRST, path, previous=True)
    away = path.parent.with_name("away")
    path.parent.rename(away)
    with pytest.raises(BoardFileError, match=r"the folder of .* does not exist"):
        save_board(SECOND, path, previous=True)
    away.rename(path.parent)
    save_board(SECOND, path, previous=True)
    assert load_board(path).board == SECOND


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_disk_that_is_really_full_is_told(path, monkeypatch):
    """The system's own refusal: /dev/full answers every write with "no space left"."""
    save_board(FIRST, path, previous=True)

    def full(handle: int, mode: str) -> IO[bytes]:
        os.close(handle)
        return Path("/dev/full").open(mode)

    monkeypatch.setattr(os, "fdopen", full)
    with pytest.raises(BoardFileError, match="there is no room left on the disk"):
        save_board(SECOND, path, previous=True)
    monkeypatch.undo()
    assert load_board(path).board == FIRST


def test_parts_of_savers_that_were_killed_are_taken_away_and_those_of_living_ones_stay(path):
    fcntl = pytest.importorskip("fcntl")
    dead, living, other = (path.with_name(name) for name in (
        ".shelf.board.json.aa.part", ".shelf.board.json.bb.part", ".other.board.json.aa.part"
    ))  # fmt: skip
    for part in (dead, living, other):
        part.write_bytes(b"half")
    with living.open("rb") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        save_board(FIRST, path)
        assert not dead.exists()
        assert living.exists()
        assert other.exists()
    save_board(SECOND, path)
    assert not living.exists()


def test_three_savers_at_once_leave_one_whole_file_and_no_parts(path):
    boards = (FIRST, SECOND, THIRD)
    with ThreadPoolExecutor(3) as savers:
        for saved in [savers.submit(save_board, boards[n % 3], path, previous=True) for n in range(60)]:
            saved.result()
    assert load_board(path).board in boards
    assert not list(path.parent.glob(".*.part"))


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
def test_a_kill_at_any_moment_leaves_the_old_or_the_new_file_whole(tmp_path):
    kills = 16
    found = kill_savers(tmp_path, kills)
    assert (found.whole, found.broken, found.previous) == (kills, 0, kills)
