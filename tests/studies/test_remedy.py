"""Remedies: boards with one cheapest cure of each class, and a brute search over the same moves as referee."""

import json

import pytest
from msgspec.structs import replace

from tests.lanes import assessed
from tests.studies.boards import run, section, with_few_settings, with_lanes
from workbench.board.edits.changes import changed
from workbench.board.reading import load_board
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.engine.assess import assess_board
from workbench.errors import StudyError
from workbench.studies.kinds.remedy import classes_from_text
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.remedies.moves import SETTINGS
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
