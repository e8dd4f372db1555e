"""Neighbours with makers' models, bit-by-bit: sent through their models, told where they are not."""

import pytest
from msgspec.structs import replace

from tests.lanes import assessed, invented_profile, lane_board, sourced, trace
from tests.makers.compiled import ami, use_of
from tests.thinning import sparing
from workbench.board.model import Bundle, Device, Stage
from workbench.engine.assess import assess_board
from workbench.engine.lane.path import plan_of
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.errors import ModelError
from workbench.parts.conditioners.by_model import ModelConditioner
from workbench.parts.conditioners.controls import Settings
from workbench.parts.lines.coupling import LevelCoupling
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

FEW = WaveformSettings(pattern="prbs9", bits=60_000, error_ratio=1e-3, corner_per_rate=0.0)
PLAIN, THIRD = ({"taps/-1": 0.0, "taps/0": size, "taps/1": 0.0} for size in (1.0, 1.0 / 3.0))

pytestmark = pytest.mark.usefixtures("home")


def beside(**loud):
    """Lane A with B beside it, which a transmitter of its own drives; strongly coupled."""
    one = lane_board((trace(0.2, "lossy"),))
    (run_,) = one.lanes[0].path
    level = LevelCoupling(name="near", next_db=24.0, fext_db=20.0, frequency_hz=2.5e9, length_m=0.2)
    host = one.catalogue.transmitters[0]
    other = replace(host, name="loud", **loud)
    path = (replace(run_, bundle="b"),)
    lanes = (replace(one.lanes[0], name="A", path=path), replace(one.lanes[0], name="B", path=path, transmitter="loud"))
    return replace(
        one, lanes=lanes, bundles=(Bundle(name="b", coupling="near"),),
        catalogue=replace(one.catalogue, couplings=(level,), transmitters=(host, other)),
    )  # fmt: skip


def counted(board):
    plan = plan_of(board, board.lanes[0])
    return run(plan, resolve_probe(plan, "receiver"), FEW, memo=Memo()).measures


def height(measures) -> float:
    return measures.openings[0].height_v


@pytest.fixture(scope="module")
def own():
    """Counted with a neighbour of the program's own: as loud, and three times."""
    return height(counted(beside())), height(counted(beside(swing_v=3.0)))


@pytest.mark.campaign
@pytest.mark.parametrize("wave", sparing([True, False], True), ids=["by wave", "by response"])
def test_a_neighbour_through_its_model_takes_what_the_programs_own_takes(own, wave):
    quiet, loud = own
    assert quiet - loud > 0.1  # of a swing of 1 V: three times as much of it is seen
    for chosen, known in ((PLAIN, loud), (THIRD, quiet)):
        found = counted(beside(swing_v=3.0, model=use_of("TAPS", chosen, ami(wave=wave))))
        assert height(found) == pytest.approx(known, abs=0.012)
        assert found.notes == ()


def beside_redriver(hears, drives=None, **sent):
    """Lane A with B beside it, which a redriver drives by models of its two ends."""
    board = beside(swing_v=3.0, **sent)
    part = ModelConditioner(name="redriver", channels=1, input_model=hears, output_model=drives, output_limit_v=10.0)
    lane = board.lanes[1]
    path = (trace(0.02), Stage(device="U2", channel=1), *lane.path)
    parts = replace(board.catalogue, conditioners=(*board.catalogue.conditioners, part))
    devices = (*board.devices, Device(ref="U2", part="redriver", settings=Settings()))
    return replace(board, lanes=(board.lanes[0], replace(lane, path=path)), catalogue=parts, devices=devices)


def test_a_neighbours_redriver_gets_its_waves():
    with pytest.raises(ModelError, match="AMI_GetWave crashed"):
        counted(beside_redriver(use_of("CRASH_LATE")))


@pytest.mark.campaign
@pytest.mark.parametrize("wave", [True, False], ids=["by wave", "by response"])
def test_a_neighbour_through_a_redrivers_model_takes_what_one_of_that_gain_takes(own, wave):
    quiet, loud = own
    for gain, known in ((1.0, loud), (1.0 / 3.0, quiet)):
        found = counted(beside_redriver(use_of("GAIN", {"gain": gain}, ami(wave=wave))))
        assert height(found) == pytest.approx(known, abs=0.012)
        assert found.notes == ()


@pytest.mark.campaign
def test_a_neighbour_goes_through_its_transmitters_and_both_of_its_redrivers_models(own):
    both = use_of("GAIN", {"gain": 1.0 / 3.0}), use_of("GAIN", {"gain": 1.0})
    board = beside_redriver(*both, model=use_of("TAPS", PLAIN))
    assert height(counted(board)) == pytest.approx(own[0], abs=0.012)


def test_a_neighbours_redriver_that_is_not_trusted_is_told():
    found = counted(beside_redriver(use_of("GAIN", {"gain": 1.0}, trusted=False)))
    assert len(found.notes) == 1
    assert found.notes[0].startswith("beside A, B: U2: ")
    assert found.notes[0].endswith("its gain is taken as 1 at every frequency")


def test_the_model_of_a_neighbour_works_in_a_process_that_can_crash_in_one_sentence():
    with pytest.raises(ModelError, match="AMI_GetWave crashed"):
        counted(beside(model=use_of("CRASH_LATE")))


def test_a_neighbour_whose_model_is_not_trusted_is_told_in_both_flows():
    board = beside(model=use_of("TAPS", PLAIN, trusted=False))
    found = counted(board)
    assert len(found.notes) == 1
    assert found.notes[0].startswith("beside A, B: ")
    assert "not trusted" in found.notes[0]
    lanes = {lane.lane: lane for lane in assess_board(board, sha256="").lanes}
    [said] = [one.text for one in lanes["A"].findings if one.rule == "model-says"]
    assert said.startswith("beside it, B: loud")
    assert lanes["B"].margin.verdict == "not judged"


def test_a_neighbour_of_another_rate_stands_as_a_filter_and_that_is_told():
    board = beside(model=use_of("TAPS", PLAIN))
    slow = replace(invented_profile(), id="slow", rate_bps=sourced(2.5e9))
    lanes = (board.lanes[0], replace(board.lanes[1], profile="slow"))
    found = counted(replace(board, lanes=lanes, profiles=(*board.profiles, slow)))
    assert [one for one in found.notes if "another rate than this lane" in one]


def test_without_neighbours_nothing_is_said():
    assert assessed(lane_board((trace(0.2, "lossy"),))).crosstalk is None
