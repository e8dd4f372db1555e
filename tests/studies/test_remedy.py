"""Remedies: boards with one cheapest cure of each class, and a brute search over the same moves as referee."""

import json
import random

import pytest
from msgspec.structs import replace

from tests.lanes import assessed
from tests.studies.boards import run, section, with_few_settings, with_lanes
from tests.thinning import some
from workbench.board.edits.changes import changed
from workbench.board.model import Component, Run, Stage
from workbench.board.profile import ReceiverLimits, Sourced
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.engine.assess import assess_board
from workbench.errors import StudyError
from workbench.studies.kinds.remedy import classes_from_text
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.remedies.moves import LAYOUT, MATERIAL, PARTS, SETTINGS, is_sound, pairs
from workbench.studies.remedies.search import MOVES, remedy_study

ALONE = Effort(workers=1)


def lossy_lane(length_m):
    """One lane without a device, of one run, and the catalogue with a conditioner."""
    board = with_few_settings(with_lanes(section(), "D4"))
    lane = replace(board.lanes[0], path=(run(length_m),))
    return replace(board, lanes=(lane,), devices=())


def answered(board, allow, **options):
    return remedy_study(Basis(board=board), allow=allow, effort=ALONE, **options)


def verdict_of(board):
    return assessed(board).margin.verdict


@pytest.mark.parametrize("kind", ["settings", "parts", "layout", "material"])
def test_a_cure_of_each_class_makes_the_lane_pass_when_the_board_is_assessed_anew(kind):
    board = with_lanes(section(), "D3") if kind == "settings" else lossy_lane(1.1)
    if kind == "settings":
        board = replace(board, lanes=(replace(board.lanes[0], path=(run(0.5), *board.lanes[0].path)),))
    assert verdict_of(board) != "pass"
    found = answered(board, (kind,)).lanes[0]
    assert found.chosen is not None, found.said
    assert found.chosen.kinds == kind
    assert found.chosen.lane.after.margin_guards >= 1.0 > found.chosen.lane.before.margin_guards
    cured = found.chosen.edit(board)
    assert verdict_of(cured) == "pass"
    lane = assess_board(cured, sha256="").lanes[0]
    assert lane.eye.height_v == pytest.approx(found.chosen.lane.after.height_v, rel=1e-12)


def test_no_single_setting_that_a_brute_search_finds_is_missed_and_none_harms_unsaid():
    board = with_lanes(section(), "D0", "D1")
    board = replace(board, lanes=tuple(replace(one, path=(run(0.5), *one.path)) for one in board.lanes))
    before = {one.lane: one.margin.verdict for one in assess_board(board, sha256="").lanes}
    assert before["D1"] != "pass"
    ranks = ("fail", "marginal", "pass")
    cures = set()
    for move in MOVES[SETTINGS](board, board.lanes[1]):
        after = {one.lane: one.margin.verdict for one in assess_board(changed(board, move.changes), sha256="").lanes}
        if after["D1"] == "pass" and ranks.index(after["D0"]) >= ranks.index(before["D0"]):
            cures.add(move.words)
    found = answered(board, (SETTINGS,), lanes=("D1",)).lanes[0]
    single = [one for one in found.offers if len(one.moves) == 1 and one.cures]
    assert cures
    assert single
    assert {one.moves[0].words for one in single} <= cures
    for offer in found.offers:
        after = {one.lane: one.margin.verdict for one in assess_board(offer.edit(board), sha256="").lanes}
        worse = {name for name in after if name != "D1" and ranks.index(after[name]) < ranks.index(before[name])}
        assert worse == set(offer.harms)
        assert {one.after.lane: one.after.verdict for one in offer.others}.items() <= after.items()


def judged_by(board, **limits):
    """The board with its own profile changed."""
    own = board.profiles[0]
    return replace(board, profiles=(replace(own, **limits),))


def stubbed():
    """A lane that only its via's stub fails."""
    board = with_lanes(section(), "D4")
    path = (run(0.1, "trace"), Component(part="long stub"), run(0.1, "trace"))
    return replace(board, lanes=(replace(board.lanes[0], path=path),), devices=())


def weak():
    """A lane that only its swing fails: it is asked for a quarter more height, the profile allows twice the swing."""
    board = lossy_lane(0.5)
    where = {"source": "invented for tests", "status": "from memory"}
    limits = ReceiverLimits(at="pins", height_v=Sourced(value=1.25 * assessed(board).eye.height_v, **where))
    return judged_by(board, swing_max_v=Sourced(value=2.0, **where), limits=limits)


def misplaced():
    """A lane whose conditioner stands too near to the transmitter."""
    board = with_few_settings(with_lanes(section("limiting"), "D3"))
    path = (run(0.05), Stage(device="U3", channel=1), run(0.95))
    devices = tuple(one for one in board.devices if one.ref == "U3")
    return replace(board, lanes=(replace(board.lanes[0], path=path),), devices=devices)


def mismatched():
    """A lane that its connector fails, with a better one in the catalogue."""
    board = with_lanes(section(), "D4")
    (edge,) = board.catalogue.connectors
    bad = replace(edge, name="poor", impedance_ohm=35.0, delay_s=1.2e-10)
    path = (run(0.1, "trace"), Component(part="poor"), run(0.07, "trace"), Component(part="poor"), run(0.1, "trace"))
    shelf = replace(board.catalogue, connectors=(edge, bad), lines=board.catalogue.lines[:1], cables=())
    return replace(board, lanes=(replace(board.lanes[0], path=path),), devices=(), catalogue=shelf)


KNOWN = {
    "more swing": (weak, SETTINGS, "set the swing of the transmitter of D4 to"),
    "a drilled stub": (stubbed, LAYOUT, 'backdrill 1 via "long stub" of D4'),
    "another connector": (mismatched, MATERIAL, 'use "edge" instead of "poor" in D4'),
}


@pytest.mark.parametrize("name", KNOWN)
def test_the_one_known_cure_is_found_and_holds(name):
    make, kind, words = KNOWN[name]
    board = make()
    assert verdict_of(board) != "pass"
    found = answered(board, (kind,)).lanes[0]
    offers = [one for one in found.offers if one.moves[0].words.startswith(words)]
    assert offers, (found.said, [one.words for one in found.offers])
    cured = offers[0].edit(board)
    assert verdict_of(cured) == "pass"
    assert offers[0].cost
    assert sum(one.length_m for one in cured.lanes[0].path if isinstance(one, Run)) == pytest.approx(
        board.lanes[0].length_m
    )


@pytest.mark.parametrize("seed", some(range(2), 1))
def test_no_cheaper_cure_than_the_one_offered_stands_among_all_single_moves(seed):
    draw = random.Random(seed)
    board = with_few_settings(with_lanes(section(), "D3"))
    path = (run(draw.uniform(0.5, 0.9)), Stage(device="U3", channel=1), run(draw.uniform(0.3, 0.7)),
            Component(part="long stub" if seed else "edge"), run(0.05))  # fmt: skip
    board = replace(board, lanes=(replace(board.lanes[0], path=path),))
    order = (SETTINGS, LAYOUT, MATERIAL)
    found = answered(board, order).lanes[0]
    cures = []
    for kind in order:
        moves = [one for one in MOVES[kind](board, board.lanes[0]) if is_sound(board, one.changes)]
        cures = [one for one in moves if verdict_of(changed(board, one.changes)) == "pass"]
        if cures:
            break
    if verdict_of(board) == "pass":
        assert found.said.endswith("passes as it is")
    elif cures:
        assert found.chosen is not None, found.said
        assert len(found.chosen.moves) == 1
        assert found.chosen.kinds == cures[0].kind
        assert found.chosen.moves[0].price <= min(one.price for one in cures)
    else:
        assert found.chosen is None or len(found.chosen.moves) == 2


def test_a_conditioner_is_moved_to_where_its_lane_passes():
    board = misplaced()
    assert verdict_of(board) == "fail"
    slid = [one for one in MOVES[LAYOUT](board, board.lanes[0]) if one.words.startswith("move U3")]
    assert [one.at[0] for one in slid] == sorted(one.at[0] for one in slid)
    made = changed(board, slid[-2].changes)
    assert "towards the receivers" in slid[-2].words
    assert verdict_of(made) == "pass"
    assert made.lanes[0].length_m == pytest.approx(board.lanes[0].length_m, rel=1e-12)


def test_a_free_channel_comes_before_a_new_device():
    board = with_few_settings(with_lanes(section(), "D0", "D4"))
    far = replace(board.lanes[1], path=(run(1.1),))
    board = replace(board, lanes=(board.lanes[0], far), devices=board.devices[:1])
    found = answered(board, (PARTS,), lanes=("D4",)).lanes[0]
    assert found.chosen is not None, found.said
    assert "the free channel" in found.chosen.words
    assert found.chosen.cost == "a free channel"
    assert len(found.chosen.edit(board).devices) == len(board.devices)


def test_moves_of_one_lanes_runs_are_not_paired():
    board = misplaced()
    moves = list(MOVES[LAYOUT](board, board.lanes[0]))
    slid = [one for one in moves if one.words.startswith("move ")]
    routed = [one for one in moves if one.words.startswith("route ")]
    assert slid
    assert routed
    assert pairs([slid[0], routed[0]]) == []


def test_swing_and_emphasis_of_one_transmitter_go_together():
    board = weak()
    moves = list(MOVES[SETTINGS](board, board.lanes[0]))
    swing = next(one for one in moves if one.knob == "swing of D4")
    taps = next(one for one in moves if one.knob == "transmitter of D4")
    made = changed(board, (*swing.changes, *taps.changes))
    entry = next(one for one in made.catalogue.transmitters if one.name == made.lanes[0].transmitter)
    assert entry.swing_v > 1.0
    assert (entry.preshoot_db, entry.deemphasis_db) == tuple(value for _, value in taps.changes[0].fields)
    assert is_sound(made, ())


def test_where_nothing_suffices_the_nearest_miss_is_told():
    found = answered(lossy_lane(6.0), (SETTINGS,)).lanes[0]
    assert not found.offers
    assert "nothing that was tried" in found.said
    assert found.nearest is None or found.nearest.lane.after.margin_guards > found.lane.margin_guards


def test_a_limit_that_is_reached_is_said():
    found = answered(lossy_lane(1.1), ("settings", "parts"), limit=8)
    assert "limit of 8 assessments was reached" in found.made.stopped


def test_classes_and_lanes_that_are_not_there_are_refused():
    assert classes_from_text("layout, settings") == ("layout", "settings")
    with pytest.raises(StudyError, match='no class of changes "paint"; choose "settings"'):
        classes_from_text("paint")
    with pytest.raises(StudyError, match='no lane "D9"'):
        answered(lossy_lane(1.1), (SETTINGS,), lanes=("D9",))


def test_the_command_prints_the_cure_and_writes_the_board(tmp_path, capsys):
    path, out = tmp_path / "shelf.board.json", tmp_path / "cured.board.json"
    save_board(lossy_lane(1.1), path)
    options = ["remedy", str(path), "--allow", "layout", "--workers", "1"]
    assert main([*options, "--board-out", str(out)]) == 0
    printed = capsys.readouterr().out
    assert "1. Route run 1 of D4 (lossy)" in printed
    assert max(map(len, printed.splitlines())) <= 100
    assert load_board(out).board.lanes[0].length_m < 1.1
    assert verdict_of(load_board(out).board) == "pass"
    assert main([*options, "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["study"] == "remedy"
    assert plain["answer"]["lanes"][0]["offers"][0]["lane"]["after"]["verdict"] == "pass"
