"""What differs between two boards in sentences: nothing untold, nothing told that is alike, each piece by its name."""

import pytest
from hypothesis import given, settings
from msgspec.structs import replace

from tests.strategies import boards
from workbench.board.difference import BoardDifference, differences
from workbench.board.edits.devices import set_settings
from workbench.board.edits.lanes import remove_lanes, rename_lane, set_board, set_lanes, step_lanes
from workbench.board.edits.path import Gap, relocate, set_run_length
from workbench.board.model import Component, Run
from workbench.board.reading import load_board
from workbench.resources import project

DEMO = load_board(project("correlator-shelf.board.json")).board
SHORT = DEMO.lanes[3].path.index(next(one for one in DEMO.lanes[3].path if isinstance(one, Run)))


def sentences(new, old=DEMO) -> list[str]:
    return [one.sentence for one in differences(old, new)]


@pytest.mark.campaign
@given(boards(), boards())
@settings(derandomize=True, max_examples=5, deadline=None)
def test_equal_boards_and_no_others_have_no_differences(one, other):
    assert differences(one, one) == ()
    assert bool(differences(one, other)) == (one != other)
    for found in differences(one, other):
        assert found.said
        assert "\n" not in found.sentence


def test_each_piece_is_told_by_its_name_and_both_values():
    line = DEMO.catalogue.lines[0]
    other = replace(line, **{"name": line.name})
    assert sentences(replace(DEMO, catalogue=replace(DEMO.catalogue, lines=(other, *DEMO.catalogue.lines[1:])))) == []
    assert sentences(set_board(DEMO, title="Shelf B")) == [f"Board: title {DEMO.title} became Shelf B."]
    assert sentences(set_board(DEMO, notes="new")) == ["Board: notes were edited."]
    assert sentences(set_board(DEMO, guard=replace(DEMO.guard, height_v=0.125))) == [
        f"Board: height guard {DEMO.guard.height_v * 1e3:g} mV became 125 mV."
    ]
    old = DEMO.lanes[3].path[SHORT]
    assert sentences(set_run_length(DEMO, "RX3", SHORT, length_m=0.5)) == [
        f'Lane "RX3": element {SHORT + 1}: "{old.line}" {old.length_m * 1e3:g} mm became "{old.line}" 500 mm.'
    ]


def test_what_is_new_gone_renamed_or_moved_is_told():
    fewer = remove_lanes(DEMO, ["RX5"])
    assert sentences(fewer) == ['Lane "RX5" was removed.']
    assert sentences(DEMO, fewer)[0] == 'Lane "RX5" was added.'
    assert sentences(rename_lane(DEMO, "RX5", "clock")) == ['Lane "RX5" was removed.', 'Lane "clock" was added.']
    listed = [lane.name for lane in DEMO.lanes]
    assert sentences(step_lanes(DEMO, ["RX5"], -1, listed)) == ["Board: the order of the lanes changed."]
    assert sentences(relocate(DEMO, "RX3", 0, Gap(2)))[0].startswith('Lane "RX3": ')


def test_settings_of_a_device_and_a_row_of_a_part_are_told_by_their_labels():
    ref = DEMO.devices[0].ref
    controls = sentences(set_settings(DEMO, [ref], {"equalization": "7"}))
    assert controls == [f'Device "{ref}": equalization {DEMO.devices[0].settings["equalization"]} became 7.']
    part = DEMO.catalogue.conditioners[0]
    row = replace(part.equalization[1], boost_db=3.25)
    changed = replace(part, equalization=(part.equalization[0], row, *part.equalization[2:]))
    catalogue = replace(DEMO.catalogue, conditioners=(changed, *DEMO.catalogue.conditioners[1:]))
    (told,) = sentences(replace(DEMO, catalogue=catalogue))
    assert told == (
        f'Catalogue, conditioners: "{part.name}": equalization row 2 boost '
        f"{part.equalization[1].boost_db:g} dB became 3.25 dB."
    )


@pytest.mark.parametrize("by", [1e-5, 1e-8, 1e-13])
def test_values_that_differ_little_are_told_with_as_many_digits_as_it_takes(by):
    old = DEMO.lanes[3].path[SHORT]
    (told,) = differences(DEMO, set_run_length(DEMO, "RX3", SHORT, length_m=old.length_m * (1 + by)))
    before, after = told.said[0].split(": ", 1)[1].split(" became ")
    assert before != after
    (guard,) = differences(DEMO, set_board(DEMO, guard=replace(DEMO.guard, height_v=DEMO.guard.height_v * (1 + by))))
    assert len(set(guard.said[0].removeprefix("height guard ").split(" became "))) == 2


def test_a_lane_is_told_once_with_all_that_changed():
    both = set_lanes(set_run_length(DEMO, "RX3", SHORT, length_m=0.5), ["RX3"], profile="sata-3")
    (one,) = differences(DEMO, both)
    assert isinstance(one, BoardDifference)
    assert len(one.said) == 2
    assert one.said[0] == "profile none became sata-3"


def test_a_part_of_another_kind_in_its_place_is_told_as_that():
    path = DEMO.lanes[3].path
    at = next(n for n, one in enumerate(path) if isinstance(one, Component))
    lane = replace(DEMO.lanes[3], path=(*path[:at], *path[at + 1 :]))
    new = replace(DEMO, lanes=(*DEMO.lanes[:3], lane, *DEMO.lanes[4:]))
    assert sentences(new) == [f'Lane "RX3": element {at + 1}: "{path[at].part}" removed.']
