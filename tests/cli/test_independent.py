"""Which symbols count is a choice of every command that judges lanes, and its answer says which it was."""

import json
import re

import pytest
from msgspec.structs import replace

from tests.lanes import invented_profile, lane_board, sourced, trace
from workbench.board.profile import ReceiverLimits
from workbench.board.writing import save_board
from workbench.cli import main


@pytest.fixture
def board_file(tmp_path):
    """A lane in 8b/10b whose eye differs by what its symbols count as."""
    limits = ReceiverLimits(at="pins", height_v=sourced(0.05))
    profile = replace(invented_profile(coding="8b/10b"), limits=limits)
    path = tmp_path / "my.board.json"
    save_board(lane_board((trace(0.6, "lossy"),), profile=profile, receiver={"noise_v": 3e-3}), path)
    return str(path)


def answered(capsys, *words):
    main([*words, "--json"])
    return json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("words", [
    ("assess", "BOARD"), ("study", "corners", "BOARD", "--tolerance", "loss=±1%", "--workers", "1"),
    ("compare", "BOARD", "BOARD", "--workers", "1"),
], ids=lambda words: words[0])  # fmt: skip
def test_every_answer_says_which_symbols_counted_and_they_do(words, board_file, capsys):
    words = [board_file if word == "BOARD" else word for word in words]
    coded, independent = answered(capsys, *words), answered(capsys, *words, "--independent")
    said = [found.get("symbols") or found["answer"]["made"]["symbols"] for found in (coded, independent)]
    assert said == ["coded", "independent"]
    for found in (coded, independent):
        (found["answer"].pop("made") if "answer" in found else found.pop("symbols"))
    assert coded != independent


def test_a_report_judges_by_the_symbols_that_are_asked_for(board_file, tmp_path, capsys):
    margins = []
    for more in ((), ("--independent",)):
        main(["report", board_file, "-o", str(tmp_path / "report.html"), "--without", "pictures", "budget", *more])
        margins.append(float(re.search(r"worst D0 \(([+-]?\d+) mV\)", capsys.readouterr().out)[1]))
    assert margins[1] < margins[0] - 10.0
