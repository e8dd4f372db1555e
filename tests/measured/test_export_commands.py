"""`workbench import`, `quality` and `export` on files, and what a network does to a lane's assessment."""

import json
from pathlib import Path

import numpy as np
import pytest
import skrf
from msgspec.structs import replace

from tests.lanes import assessed, lane_board, trace
from tests.measured.networks import F_HZ, channel, legs, measured
from workbench.board.edits.catalogue import add_entry
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Component
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.engine.lane.path import plan_lane
from workbench.measured.touchstone.export import exported_network, frequencies, lane_of, single_ended, touchstone_text
from workbench.measured.touchstone.ports import guessed_ports, network_of
from workbench.measured.touchstone.reading import touchstone_of_bytes

CORPUS = Path(__file__).parent / "corpus"


@pytest.fixture
def board_file(tmp_path) -> Path:
    path = tmp_path / "lane.board.json"
    save_board(lane_board((trace(0.1), Component(part="edge"), trace(0.1))), path)
    return path


@pytest.fixture
def jumper(tmp_path) -> Path:
    path = tmp_path / "jumper.s4p"
    path.write_text(touchstone_text(exported_network(measured(legs([(1, 3), (2, 4)])))))
    return path


def test_a_network_is_imported_into_a_board(board_file, jumper, capsys):
    assert main(["import", str(board_file), str(jumper), "--name", "front jumper"]) == 0
    (network,) = load_board(board_file).board.catalogue.networks
    assert (network.name, network.source, network.ports, network.points) == ("front jumper", "jumper.s4p", 4, 800)
    assert np.array_equal(network.matrices().s, legs([(1, 3), (2, 4)]))
    said = capsys.readouterr().out
    assert "port 1 passes to port 3" in said
    assert "pairs: 1,2:3,4" in said


def test_ports_are_stated_and_repairs_named_in_json(board_file, jumper, tmp_path, capsys):
    target = tmp_path / "new.board.json"
    before = board_file.read_bytes()
    words = ["import", str(board_file), str(jumper), "--ports", "2,1:4,3", "--repair", "passivity", "rest"]
    assert main([*words, "-o", str(target), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["network"]["pairs"] == [{"left": 2, "left_minus": 1, "right": 4, "right_minus": 3}]
    assert [repair["kind"] for repair in answer["network"]["repairs"]] == ["passivity", "rest"]
    assert answer["network"]["quality"]["low_hz"] == 0.0
    (network,) = load_board(target).board.catalogue.networks
    assert network.original_matrices().f_hz[0] == F_HZ[0]
    assert board_file.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["import", "{board}", "{jumper}", "--name", "edge"], "is taken by"),
        (["import", "{board}", "{jumper}", "--ports", "1,2"], "the ports are given as"),
        (["import", "{board}", "{jumper}", "--differential"], "state which differential ports"),
        (["import", "{board}", str(CORPUS / "nan.s2p")], "nan.s2p, line 3"),
        (["import", "{board}", "nowhere.s2p"], "there is no file"),
        (["quality", str(CORPUS / "unsorted.s2p")], "unsorted.s2p, line 4"),
        (["quality", "{jumper}", "--rate=-5Gbps"], "sends nothing"),
        (["quality", "{jumper}", "--rate", "5 m"], "5 m"),
        (["export", "{board}", "--lane", "D0", "-o", "x.csv"], ".s2p or .s4p"),
        (["export", "{board}", "--lane", "D9", "-o", "x.s2p"], "D9"),
        (["export", "{board}", "--lane", "D0", "--element", "9", "-o", "x.s2p"], "no element 9"),
        (["export", "{board}", "--lane", "D0", "-o", "x.s2p", "--common", "30"], "no common mode"),
        (["export", "{board}", "--lane", "D0", "-o", "x.s2p", "--to", "1 Hz"], "invalid sweep"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said_in_one_line_and_leaves_the_board_alone(words, said, board_file, jumper, capsys):
    before = board_file.read_bytes()
    assert main([word.format(board=board_file, jumper=jumper) for word in words]) == 2
    errors = capsys.readouterr().err
    assert said in errors
    assert errors.count("\n") == 1
    assert board_file.read_bytes() == before


def test_a_quality_card_is_printed(jumper, capsys):
    assert main(["quality", str(jumper), "--rate", "5Gbps"]) == 0
    said = capsys.readouterr().out
    for words in ("4 ports in 50 ohm", "800 points from 25 MHz to 20 GHz", "passivity", "causality", "rate"):
        assert words in said
    assert main(["quality", str(jumper), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["quality"]["points"] == 800
    assert answer["quality"]["rate_bps"] is None


def test_a_card_of_one_port_leaves_out_what_needs_two(tmp_path, capsys):
    path = tmp_path / "load.s1p"
    path.write_text("# GHz S RI R 50\n1 0.1 0\n2 0.1 -0.1\n3 0.05 -0.2\n")
    assert main(["quality", str(path)]) == 0
    said = capsys.readouterr().out
    assert "load.s1p: 1 ports" in said
    assert "left out" in said


@pytest.mark.parametrize(("ending", "ports"), [(".s2p", 2), (".s4p", 4)])
def test_a_lane_is_exported_for_any_reader(ending, ports, board_file, tmp_path, capsys):
    target = tmp_path / f"d0{ending}"
    words = ["export", str(board_file), "--lane", "D0", "-o", str(target), "--to", "5 GHz", "--step", "50 MHz"]
    assert main(words) == 0
    assert f"{ports} ports, 100 points from 50 MHz to 5 GHz" in capsys.readouterr().out
    found = skrf.Network(str(target))
    assert found.s.shape == (100, ports, ports)
    assert main([*words[:-4], "--element", "2", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["comments"][0] == "element 2 of lane D0: edge"


# In an assessment ------------------------------------------------------------------------------------------------


def board_through(network):
    """A lane whose whole path is one network."""
    board = add_entry(lane_board((trace(0.1),)), "networks", network)
    (lane,) = board.lanes
    return replace(board, lanes=(replace(lane, path=(Component(part=network.name),)),))


@pytest.mark.campaign
@pytest.mark.parametrize("ports", [2, 4])
def test_a_lane_through_its_own_exported_network_has_its_own_eye(ports):
    path = (trace(0.15, "lossy"), Component(part="edge"), trace(0.1, "lossy"))
    board = lane_board(path)
    plan = plan_lane(Index(board), board.lanes[0], profile_of(board, board.profile))
    exported = lane_of(plan, frequencies(1e7, 2e10, 1e7))
    text = touchstone_text(exported if ports == 2 else single_ended(exported))
    found = touchstone_of_bytes(text.encode(), f"lane.s{ports}p")
    own = assessed(board)
    again = assessed(board_through(network_of(found, "lane itself", guessed_ports(found))))
    assert again.pulse.peak_v == pytest.approx(own.pulse.peak_v, rel=2e-3)
    assert again.eye.height_v == pytest.approx(own.eye.height_v, rel=1e-2)
    # Another flight time, another place of the pulse between samples: a sample is 1/32 UI.
    assert again.eye.width_s == pytest.approx(own.eye.width_s, abs=own.pulse.ui_s / 32.0)
    assert again.loss_db == pytest.approx(own.loss_db, abs=1e-3)
    assert again.delay_s == pytest.approx(own.delay_s, rel=2e-2)
    assert not [finding for finding in again.findings if finding.rule == "model-range"]


@pytest.mark.campaign
def test_findings_say_what_a_networks_data_lack():
    few = (F_HZ >= 2e8) & (F_HZ < 3e9)
    s = channel()[:, :, few]
    s[:, :, 10] *= 1.2 / np.linalg.svd(s[:, :, 10], compute_uv=False)[0]
    found = measured(s, F_HZ[few], 100.0)
    lane = assessed(board_through(network_of(found, "poor", guessed_ports(found))))
    texts = [finding.text for finding in lane.findings if finding.rule in {"model-range", "network-data"}]
    for words in ("is not passive", "end at 2.98 GHz", "begins at 200 MHz"):
        assert any(words in text for text in texts), words
    assert len(texts) == 4  # and a single point that is off answers at all times, also early ones
