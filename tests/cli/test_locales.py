"""File names and typed words are what they are, whatever the locale: tried in processes of their own."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.thinning import some

PLACES = {"C": {"LC_ALL": "C", "PYTHONUTF8": "0"}, "POSIX": {"LC_ALL": "POSIX"}, "UTF-8": {"LC_ALL": "C.UTF-8"}}
BOARD = "ü.board.json".encode()


@pytest.mark.skipif(sys.platform == "win32", reason="file names are Unicode there, in every locale")
@pytest.mark.parametrize("place", some(PLACES, 1))
def test_a_board_whose_name_is_not_ascii_is_written_read_and_named(place: str, tmp_path: Path) -> None:
    def said(*words: bytes) -> tuple[int, str]:
        done = subprocess.run(
            [sys.executable.encode(), b"-m", b"workbench", *words], cwd=tmp_path, check=False,
            env={**os.environ, **PLACES[place]}, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=300,
        )  # fmt: skip
        return done.returncode, done.stdout.decode("utf-8")

    status, printed = said(b"new", BOARD)
    assert (status, printed.partition(";")[0]) == (0, 'wrote "ü.board.json"')
    assert json.loads((tmp_path / os.fsdecode(BOARD)).read_bytes())["title"] == "ü"
    assert said(b"check", BOARD)[0] == 0
    status, printed = said(b"assess", BOARD, b"--json")
    assert status in (0, 1)
    assert json.loads(printed)["board"] == "ü"
    assert said(b"check", "nö.json".encode()) == (
        2, 'link-margin: there is no file "nö.json"; check the name and the folder\n'
    )  # fmt: skip
