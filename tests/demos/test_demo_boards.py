"""The demo boards are sound, written canonically, marked as invented, and show what they are there to show."""

import re

import pytest

from tests.demos.assessed import found, path_of, readme_block
from tests.thinning import sparing
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.reading import faults_in, load_board
from workbench.board.writing import dump_board
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import plan_lane
from workbench.engine.lane.probe import RECEIVER, resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.tails.eye import EyeReach
from workbench.engine.verdict.measures import opening
from workbench.reports.text import assessment_text
from workbench.resources import project

NAMES = ("correlator-shelf", "observing-room", "recorder-bay")
NUMBER = re.compile(r"[-+]?\d+\.\d+|[-+]?\d+")
MEANT = {"loss-budget", "lane-skew", "baseline-wander", "error-propagation", "crosstalk", "crosstalk-levels"}


def verdicts(name: str) -> dict[str, str]:
    return {lane.lane: lane.margin.verdict for lane in found(name).lanes}


def test_these_are_all_the_demo_boards():
    assert sorted(path.name for path in project().glob("*.board.json")) == [f"{name}.board.json" for name in NAMES]


@pytest.mark.parametrize("name", NAMES)
def test_a_demo_board_is_sound_and_written_as_a_save_would_write_it(name):
    path = path_of(name)
    assert faults_in(path) == ()
    assert dump_board(load_board(path).board) == path.read_bytes()


@pytest.mark.parametrize("name", NAMES)
def test_a_demo_board_says_that_it_is_invented(name):
    assert load_board(path_of(name)).board.notes.startswith("Invented scenario:")


@pytest.mark.parametrize("name", NAMES)
def test_a_demo_board_uses_all_that_it_defines(name):
    board = load_board(path_of(name)).board
    used = {board.devices[0].part} | {device.part for device in board.devices}
    for lane in board.lanes:
        used |= {lane.transmitter, lane.receiver}
        used |= {getattr(element, "line", getattr(element, "part", "")) for element in lane.path}
    used |= {bundle.coupling for bundle in board.bundles}
    named = {held for entry in board.catalogue.lines + board.catalogue.vias for _, _, held in entry.references()}
    defined = {
        entry.name for section in board.catalogue.__struct_fields__ for entry in getattr(board.catalogue, section)
    }
    assert defined == {name for name in used | named if name}


@pytest.mark.parametrize("name", sparing(NAMES, "recorder-bay"))
def test_a_demo_board_raises_no_finding_beside_its_story(name):
    assert {finding.rule for lane in found(name).lanes for finding in lane.findings} <= MEANT


def test_the_shelf_shows_near_lanes_open_far_ones_closed_and_conditioned_ones_with_good_margin():
    lanes = {lane.lane: lane for lane in found("correlator-shelf").lanes}
    assert list(lanes) == [f"RX{number}" for number in range(16)]
    seen = verdicts("correlator-shelf")
    assert [seen[f"RX{number}"] for number in range(3)] == ["pass", "pass", "marginal"]
    for number in range(3, 13):
        margin = lanes[f"RX{number}"].margin
        assert margin.verdict == "pass"
        assert margin.height_v is not None
        assert margin.height_v > 0.1
    for number in range(13, 16):
        assert seen[f"RX{number}"] == "fail"
        assert lanes[f"RX{number}"].eye.height_v < 0.06  # half of what is asked
        assert "loss-budget" in {finding.rule for finding in lanes[f"RX{number}"].findings}


def test_readmes_table_is_the_programs_own():
    printed = assessment_text(found("correlator-shelf")).split("\nFindings")[0].rstrip()
    shown = readme_block("demo table").rstrip()
    assert NUMBER.sub("#", " ".join(shown.split())) == NUMBER.sub("#", " ".join(printed.split()))
    pairs = zip(NUMBER.findall(shown), NUMBER.findall(printed), strict=True)
    for was, now in pairs:  # a digit of the last place is rounding, not another result
        assert float(now) == pytest.approx(float(was), abs=1.0 if abs(float(was)) > 10.0 else 0.01)


def test_the_shelf_carries_four_quads_whose_lanes_share_their_settings():
    board = load_board(path_of("correlator-shelf")).board
    held = [element.device for lane in board.lanes for element in lane.path if hasattr(element, "device")]
    assert {ref: held.count(ref) for ref in held} == {"U1": 3, "U2": 3, "U3": 2, "U4": 2}
    assert all(device.part == "PCIe limiting quad" for device in board.devices)


def test_the_tool_finds_the_one_lane_whose_neighbour_is_too_near():
    lanes = {lane.lane: lane for lane in found("correlator-shelf").lanes}
    hurt = [name for name, lane in lanes.items() if "crosstalk" in {finding.rule for finding in lane.findings}]
    assert hurt == ["RX2"]
    crosstalk = lanes["RX2"].crosstalk
    assert crosstalk is not None
    worst = crosstalk.aggressors[0]
    assert (worst.lane, worst.where) == ("RX8", "midplane outer pair")
    cost_v = crosstalk.height_v_without - lanes["RX2"].eye.height_v
    assert 0.5 * cost_v < worst.height_cost_v < cost_v
    assert cost_v > 0.04
    asked_v, guard_v = lanes["RX2"].limits.height_v, load_board(path_of("correlator-shelf")).board.guard.height_v
    assert asked_v is not None
    assert crosstalk.height_v_without > asked_v + guard_v > lanes["RX2"].eye.height_v
    for name in set(lanes) - {"RX2", "RX8"}:
        beside = lanes[name].crosstalk
        assert beside is not None
        assert beside.height_v_without - lanes[name].eye.height_v < 1e-4


@pytest.mark.campaign
def test_the_bay_shows_what_the_quad_does_for_the_far_drives():
    seen = verdicts("recorder-bay")
    assert {name for name, verdict in seen.items() if verdict == "fail"} == {"DISC4", "DISC5"}
    assert {lane.profile for lane in found("recorder-bay").lanes} == {"sata-3", "sas-2"}


@pytest.mark.campaign
def test_the_tool_finds_the_drawer_that_its_neighbour_in_the_plug_hurts():
    """Coupled connectors: all three drawers' lanes pass one plug; of the long cable's the next pair takes half."""
    lanes = {lane.lane: lane for lane in found("recorder-bay").lanes}
    hurt = [name for name, lane in lanes.items() if "crosstalk" in {finding.rule for finding in lane.findings}]
    assert hurt == ["DRAWER2"]
    assert {name for name, lane in lanes.items() if lane.crosstalk is not None} == {"DRAWER0", "DRAWER1", "DRAWER2"}
    crosstalk = lanes["DRAWER2"].crosstalk
    assert crosstalk is not None
    (worst,) = crosstalk.aggressors
    assert (worst.lane, worst.where) == ("DRAWER1", "drawer plug in J7")
    assert 0.5 * crosstalk.height_v_without < worst.height_cost_v < 0.6 * crosstalk.height_v_without


def test_the_room_shows_what_the_floor_box_does_for_the_wall():
    seen = verdicts("observing-room")
    assert {name.split()[0] for name, verdict in seen.items() if verdict == "fail"} == {"RIGHT"}
    assert {lane.profile for lane in found("observing-room").lanes} == {"dp-hbr2", "hdmi-1.4"}


@pytest.mark.parametrize(
    ("name", "lane"), [("correlator-shelf", "RX0"), ("correlator-shelf", "RX14"), ("observing-room", "RIGHT TMDS0")]
)
def test_an_eye_of_the_phases_that_count_says_what_the_whole_eye_says(name, lane):
    board = load_board(path_of(name)).board
    (asked,) = (one for one in board.lanes if one.name == lane)
    profile = profile_of(board, asked.profile or board.profile)
    plan, memo, ratio = plan_lane(Index(board), asked, profile), Memo(), profile.ber.value
    probe = resolve_probe(plan, RECEIVER)
    reaches = (EyeReach.MEASURES, EyeReach.ALL)
    quick, whole = (opening(observe(memo, plan, probe, ratio, reach=reach), ratio) for reach in reaches)
    assert quick.height_v == pytest.approx(whole.height_v, abs=5e-4)
    assert quick.width_s == pytest.approx(whole.width_s, abs=1e-3 * profile.ui_s)
