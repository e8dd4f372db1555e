"""A lane over a measured network has an eye that opens to its middle and closes again: no bump in between.

The network is the sample of `link-margin demo`: a jumper cable, 10 MHz to 20 GHz.
"""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.thinning import some
from workbench.board.model import Component
from workbench.board.reading import load_board
from workbench.cli import main
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import plan_of
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.engine.views import view_lane
from workbench.parts.networks.block import block_of


@pytest.fixture(scope="module")
def board(tmp_path_factory):
    folder = tmp_path_factory.mktemp("trial")
    assert main(["demo", str(folder)]) == 0
    shelf, out = folder / "correlator-shelf.board.json", folder / "with.board.json"
    assert main(["import", str(shelf), str(folder / "jumper.s4p"), "-o", str(out)]) == 0
    return load_board(out).board


@pytest.mark.campaign
@pytest.mark.parametrize("name", some(["RX0", "RX15"], 1))
def test_the_bathtub_of_a_lane_with_a_network_falls_to_its_deepest_and_rises_again(board, name):
    lane = next(one for one in board.lanes if one.name == name)
    network = board.catalogue.networks[0].name
    over = replace(lane, path=(lane.path[0], Component(part=network), *lane.path[1:]))
    plan = plan_of(board, over)
    bathtub = view_lane(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12).eye.bathtub
    deepest = int(np.argmin(bathtub))
    assert bathtub[deepest] < -4.0
    # A fiftieth of a decade is what interpolation between phases may make.
    assert np.diff(bathtub[: deepest + 1]).max() < 0.02
    assert np.diff(bathtub[deepest:]).min() > -0.02


def test_a_network_without_low_frequencies_is_looked_at_in_a_window_that_helps(board):
    """Its pulse begins before its cause, which counts as what is left at any window's end: the longest took minutes."""
    whole = board.catalogue.networks[0]
    f_hz, s = whole.matrices()
    some = f_hz >= 1e9
    cut = replace(whole, points=int(some.sum()), data=block_of(f_hz[some], s[:, :, some]))
    lane = next(one for one in board.lanes if one.name == "RX0")
    over = replace(lane, path=(lane.path[0], Component(part=whole.name), *lane.path[1:]))
    with_cut = replace(board, catalogue=replace(board.catalogue, networks=(cut,)))
    plan = replace(plan_of(with_cut, over), neighbours=())
    seen = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12, reach=EyeReach.PICTURE,
                   symbols=Symbols.INDEPENDENT)  # fmt: skip
    assert seen.tail_left > 1e-4
    assert seen.received.waves.grid.window_ui <= 512
