"""Strap settings for all lanes of a device: the exhaustive answer, joint or not, and how it is chosen."""

import itertools

import pytest
from msgspec.structs import replace

from tests.studies.boards import section, with_lanes
from workbench.board.edits.devices import set_settings
from workbench.engine.assess import assess_board
from workbench.engine.memo import Memo
from workbench.errors import EditError, StudyError
from workbench.parts.conditioners.controls import Settings
from workbench.studies.figures import figures_of_assessment, verdict_at
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.position import position_study
from workbench.studies.setting_search import search as settings_search
from workbench.studies.setting_search.answer import margin_map
from workbench.studies.setting_search.search import plateau_of
from workbench.studies.setting_search.settings import device_choices
from workbench.studies.settings import settings_study

BOARD = section()
ALONE = Effort(workers=1)


def exhaustive(board, refs, lanes, wanted=lambda joint: True):
    """Plain assessments of every combination that is wanted: the least margin by the devices' settings."""
    memo = Memo()
    found = {}
    for joint in filter(wanted, itertools.product(*(device_choices(board, ref)[0].combinations for ref in refs))):
        variant = board
        for ref, chosen in zip(refs, joint, strict=True):
            variant = set_settings(variant, (ref,), chosen)
        assessed = assess_board(variant, sha256="", lanes=lanes, memo=memo).lanes
        found[joint] = min(figures_of_assessment(lane, board.guard).margin_guards for lane in assessed)
    return found


def of(candidate):
    return tuple(one.settings for one in candidate.settings)


@pytest.fixture(scope="module")
def two_lanes():
    board = with_lanes(BOARD, "D0", "D1")
    return board, exhaustive(board, ("U1",), ("D0", "D1"))


@pytest.fixture(scope="module")
def single(two_lanes):
    return settings_study(Basis(board=two_lanes[0]), ("U1",), effort=ALONE).groups[0]


def test_the_ranking_is_that_of_plain_assessments_of_every_combination(single, two_lanes):
    found = {of(one): one.margin_guards for one in single.candidates}
    assert found == two_lanes[1]
    margins = [one.margin_guards for one in single.candidates]
    assert margins == sorted(margins, reverse=True)
    assert single.exact
    assert single.best.margin_guards == max(two_lanes[1].values())


def test_the_plateau_is_all_within_the_stated_margin_with_the_same_verdict(single, two_lanes):
    _, expected = two_lanes
    best = max(expected.values())
    for within in (0.5, 1.0, 3.0, 99.0):
        assert {of(one) for one in plateau_of(single.candidates, within)} == {
            key for key, margin in expected.items()
            if margin >= best - within and verdict_at(margin) == verdict_at(best)
        }  # fmt: skip
    assert single.plateau == plateau_of(single.candidates, 1.0)
    assert single.recommended in single.plateau


def test_the_recommended_one_loses_least_when_a_setting_goes_one_step(single, two_lanes):
    _, expected = two_lanes
    positions = single.positions[0]

    def nearby(settings):
        near = [expected[settings,]]
        for control, names in zip(settings, positions, strict=True):
            at = names.index(settings[control])
            for step in (at - 1, at + 1):
                if 0 <= step < len(names):
                    near.append(expected[settings | {control: names[step]},])
        return min(near)

    for one in single.candidates:
        assert one.nearby_guards == nearby(one.settings[0].settings)
    assert single.recommended.nearby_guards == max(nearby(one.settings[0].settings) for one in single.plateau)


@pytest.mark.campaign
def test_the_answer_is_an_edit_that_sets_the_device(two_lanes):
    board, _ = two_lanes
    answer = settings_study(Basis(board=board), ("U1",), effort=ALONE)
    edited = answer.edit(board)
    assert (edited.devices[0].settings,) == of(answer.groups[0].recommended)
    assert edited.lanes == board.lanes
    assessed = assess_board(edited, sha256="").lanes
    least = min(figures_of_assessment(lane, board.guard).margin_guards for lane in assessed)
    assert least == answer.groups[0].recommended.margin_guards
    with pytest.raises(EditError, match="U1"):
        answer.edit(replace(board, devices=()))


@pytest.mark.campaign
def test_devices_on_one_path_are_searched_together_and_exactly():
    board = with_lanes(BOARD, "D0", "D2")
    only = {"U1": {"equalization": ("1", "3"), "emphasis": ("off",)}, "U2": {"emphasis": ("off",)}}
    group = settings_study(Basis(board=board), ("U1", "U2"), only=only, effort=ALONE).groups[0]
    expected = exhaustive(
        board, ("U1", "U2"), ("D0", "D2"),
        lambda joint: joint[0]["equalization"] in ("1", "3") and {one["emphasis"] for one in joint} == {"off"},
    )  # fmt: skip
    assert group.exact
    assert {of(one): one.margin_guards for one in group.candidates} == expected


@pytest.mark.campaign
def test_elimination_finds_the_same_best_where_combinations_are_too_many_to_rank(monkeypatch):
    board = with_lanes(BOARD, "D0", "D2")
    only = {ref: {"emphasis": ("off",), "equalization": ("1", "3")} for ref in ("U1", "U2")}
    ranked = settings_study(Basis(board=board), ("U1", "U2"), only=only, effort=ALONE).groups[0]
    monkeypatch.setattr(settings_search, "RANKED", 3)
    group = settings_study(Basis(board=board), ("U1", "U2"), only=only, effort=ALONE).groups[0]
    assert group.exact
    assert group.best.margin_guards == ranked.best.margin_guards
    assert len(group.candidates) == 1 + 1 + 1


@pytest.mark.campaign
def test_a_search_device_by_device_says_that_it_is_not_exact():
    board = with_lanes(BOARD, "D0", "D2")
    only = {ref: {"emphasis": ("off",), "equalization": ("1", "2", "3")} for ref in ("U1", "U2")}
    basis = Basis(board=board)
    # Exactly it would take 3 on D0 and 3 x 3 on D2.
    group = settings_study(basis, ("U1", "U2"), only=only, limit=11, effort=ALONE).groups[0]
    exact = settings_study(basis, ("U1", "U2"), only=only, effort=ALONE).groups[0]
    assert not group.exact
    assert "NOT exact" in group.how
    assert group.current.margin_guards <= group.best.margin_guards <= exact.best.margin_guards


def test_devices_that_share_no_lane_are_answered_apart():
    only = {ref: {"emphasis": ("off",), "equalization": ("2",)} for ref in ("U1", "U2", "U3")}
    answer = settings_study(Basis(board=BOARD), ("U3", "U1", "U2"), only=only, effort=ALONE)
    assert [group.devices for group in answer.groups] == [("U3",), ("U1", "U2")]
    assert answer.groups[1].lanes == ("D0", "D1", "D2")


def test_a_map_over_two_settings_holds_the_ranking_s_margins(single):
    found = margin_map(single, "U1", "emphasis", "equalization")
    assert found.columns == ("off", "on")
    assert found.rows == ("0", "1", "2", "3")
    by_settings = {of(one)[0]: one.margin_guards for one in single.candidates}
    for row, name in zip(found.margin_guards, found.rows, strict=True):
        for margin, column in zip(row, found.columns, strict=True):
            assert margin == by_settings[of(single.best)[0] | {"equalization": name, "emphasis": column}]


@pytest.mark.parametrize(
    ("devices", "options", "sentence"),
    [
        ((), {}, "no device is named"),
        (("U7",), {}, 'there is no device "U7"'),
        (("U9",), {}, 'no lane passes through "U9"'),
        (("U1",), {"only": {"U1": {"equalization": ("9",)}}}, 'no equalization setting of "linear" "9"'),
        (("U1",), {"only": {"U1": {"boost": ("9",)}}}, 'no control "boost"'),
        (("U1",), {"limit": 10}, "this takes 24 assessments, about .* and the limit is 10"),
        (("U1",), {"limit": 0}, "a limit of 0 assessments allows none"),
    ],
)
def test_what_cannot_be_answered_is_one_sentence(devices, options, sentence):
    with pytest.raises(StudyError, match=sentence) as caught:
        settings_study(Basis(board=BOARD), devices, effort=ALONE, **options)
    assert "\n" not in str(caught.value)


def test_a_cancelled_study_answers_from_what_it_has():
    seen = []
    effort = Effort(workers=1, watch=seen.append, cancelled=lambda: bool(seen))
    answer = settings_study(Basis(board=with_lanes(BOARD, "D0")), ("U1",), effort=effort)
    group = answer.groups[0]
    assert 0 < len(group.candidates) < 8
    assert not group.exact
    assert "cancelled" in answer.made.stopped
    with pytest.raises(StudyError, match="cancelled with 0 of 8"):
        settings_study(
            Basis(board=with_lanes(BOARD, "D0")), ("U1",), effort=Effort(workers=1, cancelled=lambda: True)
        )


def test_a_million_combinations_are_refused_with_their_count_and_time_before_they_are_made():
    board = with_lanes(BOARD, "D0")
    part = board.catalogue.conditioners[0]
    many = replace(
        part,
        **{
            control: tuple(
                replace(part.positions(control)[0], setting=f"{n}", **{value: first + 0.05 * n}) for n in range(100)
            )
            for control, value, first in (
                ("equalization", "boost_db", 0.0), ("swing", "gain_db", 0.0), ("emphasis", "deemphasis_db", 0.0)
            )
        },
    )  # fmt: skip
    board = replace(
        board, catalogue=replace(board.catalogue, conditioners=(many,)),
        devices=(replace(board.devices[0], settings=Settings(equalization="0", swing="0", emphasis="0")),),
    )  # fmt: skip
    sentence = r"this takes 1,000,000 assessments, about \d+ (min|h|days) with 1 worker, .* a limit of 1000000"
    with pytest.raises(StudyError, match=sentence):
        settings_study(Basis(board=board), ("U1",), effort=ALONE)
    with pytest.raises(StudyError, match="this takes 50,000,000 assessments"):
        position_study(Basis(board=board), "U1", from_m=-0.1, to_m=-0.05, settings="all", effort=ALONE)
