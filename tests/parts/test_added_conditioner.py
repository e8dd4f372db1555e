"""A kind of conditioner is one file: one that the program does not have is added, with controls of its own."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """What the program makes of a board with the added kind; in another process, since kinds are found only once."""
    call = [sys.executable, str(HERE / "added" / "using_it.py"), str(tmp_path_factory.mktemp("added"))]
    environment = {**os.environ, "PYTHONPATH": str(HERE.parents[1])}
    done = subprocess.run(call, env=environment, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_file_keeps_it_with_its_controls_in_the_parts_order(made):
    assert made["same"]
    assert made["file"][0].endswith('"settings": {"slope": "high", "flat gain": "0 dB", "noise mode": "normal"}}')


def test_both_engines_give_what_a_known_kind_of_the_same_figures_gives(made):
    # The known kind's emphasis is off, its swing at unity and its boost the added one's 8 dB: the same law twice.
    for name, figure in made["known"].items():
        assert made["added"][name] == pytest.approx(figure, rel=1e-9)
    assert made["added"]["height_v"] > 0.0


def test_a_control_that_sets_noise_acts(made):
    assert made["quieter"]["height_v"] > made["added"]["height_v"] * 1.001


def test_a_margin_budget_takes_its_noise_away_wherever_the_kind_keeps_it(made):
    assert made["noiseless"]["height_v"] > made["quieter"]["height_v"] * 1.001


def test_a_position_study_tries_every_position_of_its_first_control(made):
    assert made["tried"] == ["high", "low"]


def test_an_edit_knows_its_controls(made):
    unknown, position = made["refused"]
    assert 'no control "swing"' in unknown
    assert 'no slope setting "steep"' in position


def test_the_settings_sheet_lists_its_controls(made):
    assert [row[:2] for row in made["sheet"]] == [["slope", "high"], ["flat gain", "0 dB"], ["noise mode", "normal"]]
    assert made["sheet"][0][2:] == ["boost 8 dB", ["low"]]


def test_a_settings_study_tries_all_its_positions(made):
    assert made["combinations"] == 8
    assert made["heads"][5:8] == ["slope", "flat gain", "noise mode"]
    assert "noise mode low" in made["told"]


def test_its_devices_form_has_a_choice_for_each_control(made):
    assert made["form"] == [["Slope", "low", "high"], ["Flat gain", "0 dB", "-3 dB"], ["Noise mode", "normal", "low"]]
