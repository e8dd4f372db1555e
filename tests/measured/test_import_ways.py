"""`link-margin import` of a network of many pairs into several lanes in one go, and what `assess` then tells."""

import json

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import lane_board, trace
from tests.measured.networks import measured
from tests.reference.neighbours.coupled_lines import as_legs, lines_by_modes
from tests.thinning import some
from workbench.board.model import Component
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.measured.touchstone.export import exported_network, touchstone_text
from workbench.parts.lines.coupling import Ratios

F_HZ = np.arange(401) * 5e7


@pytest.fixture
def files(tmp_path):
    """A board of three lanes through connectors, and an eight-port of two coupled pairs."""
    board = lane_board((trace(0.1, "lossy"), Component(part="edge"), trace(0.1, "lossy")), receiver={"noise_v": 2e-3})
    board = replace(board, lanes=tuple(replace(board.lanes[0], name=name) for name in ("RX0", "RX1", "TX0")))
    path, packed = tmp_path / "shelf.board.json", tmp_path / "backplane.s8p"
    save_board(board, path)
    network = measured(as_legs(lines_by_modes(Ratios(0.06, 0.02), F_HZ)), F_HZ)
    packed.write_text(touchstone_text(exported_network(network)))
    return path, packed


@pytest.mark.campaign
def test_a_network_of_many_pairs_goes_into_its_lanes_in_one_go(files, capsys):
    path, packed = files
    words = ["import", str(path), str(packed), "--ports", "1,2:3,4 5,6:7,8", "--lanes", "RX0", "TX0"]
    assert main([*words, "--against", "TX0", "--in-place-of", "edge"]) == 0
    assert "RX0 by way 1, TX0 by way 2" in capsys.readouterr().out
    board = load_board(path).board
    assert [lane.path[1] for lane in board.lanes] == [
        Component(part="backplane", way=1, bundle="backplane"), Component(part="edge"),
        Component(part="backplane", way=2, bundle="backplane"),
    ]  # fmt: skip
    main(["assess", str(path), "--json"])
    lanes = {one["lane"]: one for one in json.loads(capsys.readouterr().out)["lanes"]}
    assert "crosstalk" not in lanes["RX1"] or lanes["RX1"]["crosstalk"] is None
    for lane, other in (("RX0", "TX0"), ("TX0", "RX0")):
        found = lanes[lane]["crosstalk"]
        assert [(one["lane"], one["where"], one["at"]) for one in found["aggressors"]] == [
            (other, "backplane", "receiver")
        ]
        assert found["aggressors"][0]["height_cost_v"] > 1e-3
        assert found["spans"][0]["psfext_db"] is None
        assert 20.0 < found["spans"][0]["psnext_db"] < 60.0


@pytest.mark.parametrize(
    ("words", "said"),
    some([
        (["--lanes", "RX0"], "give --lanes and --in-place-of"),
        (["--lanes", "RX0", "--in-place-of", "edge", "--against", "TX0"], "name it with --lanes too"),
        (["--lanes", "RX0", "RX1", "TX0", "--in-place-of", "edge"], "2 ways for 3 lanes"),
        (["--lanes", "RX7", "--in-place-of", "edge"], "RX7"),
        (["--lanes", "RX0", "--in-place-of", "lossy"], "twice"),
    ], 3),
)
def test_what_does_not_fit_is_refused_and_nothing_written(files, capsys, words, said):
    path, packed = files
    before = path.read_bytes()
    assert main(["import", str(path), str(packed), "--ports", "1,2:3,4 5,6:7,8", *words]) == 2
    assert said in capsys.readouterr().err
    assert path.read_bytes() == before
