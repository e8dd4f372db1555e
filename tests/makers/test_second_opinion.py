"""A second opinion: a model that equals the program's own figures differs by nothing, another by what it says."""

import json

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, trace
from tests.makers.compiled import ami, library_of, use_of, written_as
from tests.makers.test_models_in_lanes import CHOSEN
from workbench.board.model import Device, Stage
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.errors import StudyError
from workbench.parts.conditioners.controls import Settings
from workbench.parts.conditioners.table import GainPoint, TableConditioner, TableSetting
from workbench.studies.second_opinion import EyeBeside, GainBeside, SecondOpinion, second_opinion

PATH = (trace(0.3, "lossy"), trace(0.05, "step"), trace(0.3, "lossy"))
OWN = {"preshoot_db": 1.9, "deemphasis_db": 3.5}

pytestmark = pytest.mark.usefixtures("home")


def test_a_model_that_equals_the_transmitter_differs_by_nothing():
    found = second_opinion(lane_board(PATH, transmitter=OWN), "D0", "transmitter", use_of("TAPS", CHOSEN), bits=100_000)
    assert found.gains.model_db == pytest.approx(found.gains.own_db, abs=1e-6)
    assert found.gains.apart_db == pytest.approx(np.zeros(17), abs=1e-6)
    assert found.model.height_v == pytest.approx(found.own.height_v, rel=1e-6)
    assert found.counted.height_v == pytest.approx(found.model_again.height_v, abs=0.01)


def test_a_gain_of_a_half_is_six_decibels_off():
    found = second_opinion(lane_board(PATH), "D0", "receiver", use_of("GAIN", {"gain": 0.5}), bits=0)
    heard = np.isfinite(found.gains.model_db)
    assert heard.sum() > 8
    assert np.array(found.gains.apart_db)[heard] == pytest.approx(-6.0206, abs=1e-3)
    assert found.model.height_v == pytest.approx(0.5 * found.own.height_v, rel=1e-4)
    assert found.counted is None


def staged_board():
    """A lane through a device whose data sheet has a table."""
    part = TableConditioner(
        name="sheet", channels=1, compression_v=5.0,
        settings=(TableSetting(control="EQ", setting="1"), TableSetting(control="swing", setting="high", gain_db=2.0)),
        gains=tuple(
            GainPoint(control="EQ", setting="1", frequency_hz=f, gain_db=g) for f, g in ((1e8, 0.0), (2.5e9, 4.0))
        ),
    )  # fmt: skip
    board = lane_board((trace(0.2, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy")))
    parts = (*board.catalogue.conditioners, part)
    devices = (Device(ref="U1", part="sheet", settings=Settings(EQ="1", swing="high")),)
    return replace(board, catalogue=replace(board.catalogue, conditioners=parts), devices=devices)


def test_a_conditioners_model_stands_beside_its_data_sheets_table():
    found = second_opinion(staged_board(), "D0", "U1", use_of("GAIN", {"gain": 2.0}), bits=0)
    assert found.gains.table_hz == pytest.approx([1e8, 2.5e9])
    assert found.gains.table_db == pytest.approx([2.0, 6.0])
    assert found.gains.model_at_table_db == pytest.approx([6.0206, 6.0206], abs=1e-3)


def test_the_differences_are_those_of_what_stands_beside_them():
    eyes = [EyeBeside(height_v, width_ui, 1e-12) for height_v, width_ui in ((0.2, 0.5), (0.3, 0.6), (0.4, 0.7))]
    gains = GainBeside((1e9,), (1.0,), (3.0,), (2e9,), (5.0,), (1.0,))
    found = SecondOpinion("D0", "U1", gains, *eyes, EyeBeside(0.37, 0.71, 1e-3))
    assert (found.gains.apart_db, found.gains.table_apart_db) == ((-2.0,), (-4.0,))
    assert (found.apart_v, found.apart_ui) == pytest.approx((0.1, 0.1))
    assert (found.counted_apart_v, found.counted_apart_ui) == pytest.approx((0.03, -0.01))
    assert found._replace(counted=None).counted_apart_v is None


@pytest.mark.parametrize(
    ("at", "lane", "says"),
    [("U9", "D0", "no device"), ("transmitter", "D9", "no lane"), ("transmitter", "D0", "is not trusted")],
)
def test_what_can_not_be_compared_is_refused(at, lane, says):
    with pytest.raises(StudyError, match=says):
        second_opinion(lane_board(PATH), lane, at, use_of("TAPS", trusted=False), bits=0)


@pytest.mark.campaign
def test_the_command_tells_both_opinions(home, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    use_of("TAPS", CHOSEN, ami())
    (tmp_path / "tests.ami").write_bytes(written_as[ami().sha256])
    (tmp_path / "tests.so").write_bytes(library_of("TAPS").data)
    save_board(lane_board(PATH, transmitter=OWN), tmp_path / "board.json")
    taps = [f"{name}={value}" for name, value in CHOSEN.items()]
    words = ["model", "compare", "tests.ami", "--board", "board.json", "--lane", "D0", "--at", "transmitter"]
    assert main([*words, "--bits", "0", "--set", *taps]) == 0
    said = capsys.readouterr().out
    assert "own figures" in said
    assert "difference +0.0 mV, +0.000 UI" in said or "difference -0.0 mV" in said
    assert main([*words, "--bits", "0", "--json", "--set", *taps]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["apart_v"] == pytest.approx(content["model"]["height_v"] - content["own"]["height_v"])
    assert main([*words, "--bits", "0", "--explain", "apart_v", "--set", *taps]) == 0
    told = capsys.readouterr().out
    assert "Δh = h_model − h_own" in told
    assert "eye.height_v of lane D0, with the model in its place" in told
    assert content["model"]["height_v"] == pytest.approx(content["own"]["height_v"], rel=1e-6)
