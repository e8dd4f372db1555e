"""A board made in memory is held to the same rules as one that is read."""

import math
from itertools import pairwise

import msgspec
import numpy as np
import pytest
from msgspec.structs import replace

from tests.board.sample import sample_board
from workbench.board.channel_limit import LimitSegment
from workbench.board.checking import check, cycle_in, name_groups, require_sound
from workbench.board.index import section_names
from workbench.board.library import builtin_profiles
from workbench.board.model import Board, Component, Lane, Run, Stage
from workbench.board.sourced import Sourced
from workbench.errors import BoardFileError


def with_path(*path: object) -> Board:
    board = sample_board()
    return replace(board, lanes=(replace(board.lanes[0], path=tuple(path)), *board.lanes[1:]))


def only_fault(board: Board) -> BoardFileError:
    (fault,) = check(board)
    with pytest.raises(BoardFileError) as caught:
        require_sound(board)
    assert str(caught.value) == str(fault)
    return fault


def test_a_sound_board_has_no_faults() -> None:
    assert check(sample_board()) == ()
    require_sound(sample_board())


@pytest.mark.parametrize(
    "length_m", [math.nan, math.inf, -math.inf, 0.0, -1.0, 1e9, True, "0.2", None, np.float64(0.2)]
)
def test_a_length_that_no_file_may_hold_is_refused_in_memory_too(length_m: object) -> None:
    fault = only_fault(with_path(Run(line="card trace", length_m=length_m)))
    assert fault.place == "$.lanes[0].path[0].length_m"
    assert "Length is" in fault.problem
    assert fault.remedy == "write a number above 0 m and at most 100 m"


def test_a_whole_number_is_a_length() -> None:
    assert check(with_path(Run(line="card trace", length_m=1))) == ()


def test_a_list_where_a_tuple_belongs_is_refused_because_the_board_would_not_be_hashable() -> None:
    board = sample_board()
    fault = only_fault(replace(board, lanes=list(board.lanes)))
    assert "would not give back" in fault.problem


def test_a_record_of_a_foreign_kind_is_refused() -> None:
    assert check(with_path("a run"))[0].place == "$.lanes[0].path[0]"
    lane = Lane(name="x", transmitter="host", receiver="card", path=())
    assert check(with_path(lane))[0].place.startswith("$.lanes[0].path[0]")


def test_numbers_of_a_profile_must_be_finite() -> None:
    from workbench.board.library import builtin_profiles

    profile = builtin_profiles()["pcie-2"]
    for value in (math.nan, math.inf):
        spoilt = replace(profile, rate_bps=replace(profile.rate_bps, value=value))
        fault = check(replace(sample_board(), profiles=(spoilt,)))[0]
        assert fault.place == "$.profiles[0].rate_bps.value"


FIVE, KR = builtin_profiles()["pcie-5"], builtin_profiles()["10gbase-kr"]


def number(value: float) -> Sourced:
    return replace(FIVE.rate_bps, value=value)


HOSTILE_PROFILES = {
    "rate_bps": replace(FIVE, rate_bps=number(0.0)),
    "ber": replace(FIVE, ber=number(2.0)),
    "levels": replace(FIVE, levels=(1.0,)),
    "package": replace(FIVE, package=replace(FIVE.package, delay_s=number(0.0))),
    "presets": replace(FIVE, presets=(replace(FIVE.presets[0], preshoot_db=number(1e9)),)),
    "channel[0].fit_to_hz": replace(KR, channel=(replace(KR.channel[0], fit_to_hz=0.0),)),
    "channel[0].measure": replace(KR, channel=(replace(KR.channel[0], line=()),)),
    "channel[0].line": replace(
        KR, channel=(replace(KR.channel[1], line=(LimitSegment(from_hz=5e11, to_hz=6e11),)),)
    ),
    "channel[0].line[0].to_hz": replace(
        KR, channel=(replace(KR.channel[1], line=(LimitSegment(from_hz=5e9, to_hz=1e9),)),)
    ),
}  # fmt: skip


@pytest.mark.parametrize("field", HOSTILE_PROFILES)
def test_what_no_interface_can_have_is_refused_at_its_place(field: str) -> None:
    fault = only_fault(replace(sample_board(), profiles=(HOSTILE_PROFILES[field],)))
    assert fault.place == f"$.profiles[0].{field}"
    assert fault.remedy


def test_a_board_of_another_version_is_refused() -> None:
    assert only_fault(replace(sample_board(), version=3)).place == "$.version"


def test_an_own_profile_counts_and_its_id_may_be_a_built_in_one() -> None:
    from workbench.board.library import builtin_profiles

    own = replace(builtin_profiles()["pcie-2"], id="house")
    board = replace(sample_board(), profile="house")
    assert only_fault(board).place == "$.profile"
    assert check(replace(board, profiles=(own, builtin_profiles()["pcie-3"]))) == ()
    assert only_fault(replace(board, profiles=(own, own))).place == "$.profiles[1].id"


def test_a_path_without_a_run_is_a_path() -> None:
    assert check(with_path(Component(part="card edge"))) == ()
    assert only_fault(with_path()).place == "$.lanes[0].path"


def test_one_channel_twice_on_one_lane_is_refused() -> None:
    stage = Stage(device="U1", channel=1)
    fault = only_fault(with_path(stage, Run(line="card trace", length_m=0.1), stage))
    assert fault.place == "$.lanes[0].path[2].channel"


def test_shelves_that_one_field_picks_from_share_their_names() -> None:
    groups = name_groups()
    assert ("lines", "cables") in groups
    assert ("vias", "connectors", "capacitors", "networks") in groups
    assert sorted(section for group in groups for section in group) == sorted(section_names())


def test_a_circle_of_definitions_is_found_whatever_else_there_is() -> None:
    def node(name: str) -> tuple[str, str]:
        return ("vias", name)

    chain = {node("a"): [node("b")], node("b"): [node("c")], node("c"): [], node("d"): [node("b")]}
    assert cycle_in(chain) == ()
    circle = {**chain, node("c"): [node("a")]}
    found = cycle_in(circle)
    assert found[0] == found[-1]
    assert {name for _, name in found} == {"a", "b", "c"}
    assert all(after in circle[before] for before, after in pairwise(found))
    assert cycle_in({node("a"): [node("a")]}) == (node("a"), node("a"))


def test_a_circle_in_the_catalogue_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    # No kind of today refers to its own shelf; a via that takes another via for its laminate stands in for one.
    from workbench.board.checking import _catalogue_faults
    from workbench.parts.via import Via

    monkeypatch.setattr(Via, "references", lambda via: (("dielectric", ("vias",), via.dielectric),))
    monkeypatch.setattr("workbench.board.checking._reference_faults", lambda *_: iter(()))
    board = sample_board()
    (via,) = board.catalogue.vias
    vias = (replace(via, dielectric="second"), replace(via, name="second", dielectric="through via"))
    board = replace(board, catalogue=replace(board.catalogue, vias=vias))
    (fault,) = _catalogue_faults(board.catalogue)
    assert fault.place in ("$.catalogue.vias[0]", "$.catalogue.vias[1]")
    assert '"second" needs "through via"' in fault.problem
    assert "circle" in fault.problem


def test_records_hash_and_compare_by_value() -> None:
    assert hash(sample_board()) == hash(sample_board())
    assert msgspec.json.decode(msgspec.json.encode(sample_board()), type=Board) == sample_board()
