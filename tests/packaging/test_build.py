"""The stand-alone build: refuses in one sentence what it can't begin; the build itself is tried by hand."""

import importlib.util
import re
import sys
from pathlib import Path

import pytest

from workbench.board.reading import load_board
from workbench.engine.assess import assess_board
from workbench.packaging import build as packaging
from workbench.resources import project

ROOT = Path(__file__).parents[2]


def test_without_a_folder_it_says_how_it_is_used(capsys: pytest.CaptureFixture[str]) -> None:
    assert packaging.main([]) == 2
    assert capsys.readouterr().err == packaging.USAGE


def test_without_its_tool_it_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path
) -> None:
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None)
    assert packaging.main([str(tmp_path)]) == 2
    assert "[standalone]" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


@pytest.mark.campaign
@pytest.mark.skipif(sys.platform == "win32", reason="a script stands for the program")
def test_a_build_is_tried_by_what_its_window_shows(tmp_path) -> None:
    """What starts the finished program, run by this Python: with stand-ins for what stays out of the folder."""
    start = tmp_path / "start.py"
    start.write_text(packaging.START, encoding="utf-8")
    program = tmp_path / "program"
    program.write_text(f'#!/bin/sh\nPYTHONPATH="{ROOT}" exec "{sys.executable}" "{start}" "$@"\n', encoding="utf-8")
    program.chmod(0o755)
    answer = packaging.window_of(program)
    assert (answer.status, answer.complained) == (0, "")
    height_mv = float(re.fullmatch(r"RX0: eye ([\d.]+) mV\n", answer.said)[1])
    loaded = load_board(project("correlator-shelf.board.json"))
    (lane,) = assess_board(loaded.board, sha256=loaded.sha256, lanes=("RX0",)).lanes
    assert height_mv == pytest.approx(lane.eye.height_v * 1e3, rel=0.02)


def test_a_window_that_shows_nothing_is_told(tmp_path) -> None:
    program = tmp_path / "program"
    program.write_text("#!/bin/sh\necho no eye came >&2; exit 1\n", encoding="utf-8")
    program.chmod(0o755)
    answer = packaging.window_of(program)
    assert (answer.status, answer.complained) == (1, "no eye came\n")
