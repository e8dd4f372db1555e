"""Remedies: boards with one cheapest cure of each class, and a brute search over the same moves as referee."""

import json
import random

import pytest
from msgspec.structs import replace

from tests.lanes import assessed
from tests.studies.boards import run, section, with_few_settings, with_lanes
from tests.thinning import some, sparing
from workbench.board.edits.changes import changed
from workbench.board.edits.taking import PartsLibrary
from workbench.board.model import Bundle, Catalogue, Component, Guard, Run, Stage
from workbench.board.profile import Preset, ReceiverLimits, Sourced
from workbench.board.reading import load_board
from workbench.board.user_library import UserLibrary
from workbench.board.writing import save_board
from workbench.cli import main
from workbench.engine.assess import assess_board
from workbench.errors import StudyError
from workbench.parts.lines.coupling import SpacingCoupling
from workbench.parts.lines.dielectric import Dielectric
from workbench.parts.lines.foil import Foil, Hammerstad, Smooth
from workbench.parts.lines.stripline import StriplinePair
from workbench.reports.pages.remedies import remedy_page
from workbench.studies.figures import figures_of_assessment
from workbench.studies.kinds.remedy import RemedyStudy, classes_from_text, library_in
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.remedies.alterations import Apart
from workbench.studies.remedies.moves import LAYOUT, MATERIAL, PARTS, SETTINGS, is_sound, pairs
from workbench.studies.remedies.offered import NO_LIBRARY
from workbench.studies.remedies.search import MOVES, remedy_study
from workbench.studies.variation.tolerances import Tolerance

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


@pytest.mark.campaign
@pytest.mark.parametrize("kind", sparing(["settings", "parts", "layout", "material"], "parts"))
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
    for move in MOVES[SETTINGS](board, board.lanes[1], NO_LIBRARY):
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


def asks_for(board, better):
    """The board with a limit on height that it misses and a better one just passes."""
    now, then = (next(iter(assess_board(one, sha256="").lanes)).eye.height_v for one in (board, better))
    limit_v = then - 1.05 * board.guard.height_v
    assert now < limit_v
    where = {"source": "invented for tests", "status": "from memory"}
    return judged_by(board, limits=ReceiverLimits(at="pins", height_v=Sourced(value=limit_v, **where)))


def passive(path, **shelf):
    """One lane over a path, with other sections of the catalogue."""
    board = with_lanes(section(), "D4")
    lane = replace(board.lanes[0], path=path)
    return replace(board, lanes=(lane,), devices=(), catalogue=replace(board.catalogue, vias=(), **shelf))


def too_near():
    """Two pairs 0.2 mm apart over 0.3 m: the first is hurt by the other."""
    near = SpacingCoupling(name="near", gap_m=2.0e-4)
    path = (Run(line=INNER_PAIR.name, length_m=0.3, bundle="both"),)
    board = passive(path, lines=(INNER_PAIR,), dielectrics=(RESIN,), foils=(FOIL,), couplings=(near,))
    other = replace(board.lanes[0], name="D5")
    board = replace(board, guard=Guard(height_v=5e-4, width_ui=1e-3), lanes=(board.lanes[0], other), bundles=(
        Bundle(name="both", coupling="near", order=("D4", "D5")),))  # fmt: skip
    return asks_for(board, changed(board, (Apart("both", replace(near, name="wide", gap_m=4.0e-4)),)))


RESIN = Dielectric(name="resin", permittivity=3.7, loss_tangent=0.02, frequency_hz=1e9)
FINE = replace(RESIN, name="fine resin", loss_tangent=0.003)
FOIL = Foil(name="foil", conductivity_s_per_m=5.8e7, roughness=Hammerstad(rms_m=2e-6))
SMOOTH = replace(FOIL, name="smooth foil", roughness=Smooth())
INNER_PAIR = StriplinePair(
    name="inner", dielectric="resin", foil="foil", width_m=1.1e-4, gap_m=1.6e-4, thickness_m=1.5e-5, below_m=1.275e-4,
    above_m=1.275e-4,
)  # fmt: skip


def lossy_laminate():
    """A lane that its laminate fails, with a better one in the catalogue."""
    board = passive((Run(line="inner", length_m=0.4),), lines=(INNER_PAIR,), dielectrics=(RESIN, FINE), foils=(FOIL,))
    return asks_for(board, replace(board, catalogue=replace(
        board.catalogue, lines=(replace(INNER_PAIR, dielectric="fine resin"),))))  # fmt: skip


def rough():
    """A lane that its foil fails, with a smooth one in the catalogue."""
    board = passive((Run(line="inner", length_m=0.4),), lines=(INNER_PAIR,), dielectrics=(RESIN,),
                    foils=(FOIL, SMOOTH))  # fmt: skip
    return asks_for(board, replace(board, catalogue=replace(
        board.catalogue, lines=(replace(INNER_PAIR, foil="smooth foil"),))))  # fmt: skip


def thin_line():
    """A lane that its line fails, with a better one in the catalogue."""
    board = lossy_lane(0.9)
    better = replace(board, lanes=(replace(board.lanes[0], path=(run(0.9, "trace"),)),))
    return asks_for(board, better)


def flat():
    """A lane whose transmitter is set flat; the profile names a preset with pre-shoot."""
    board = lossy_lane(0.9)
    (host, *others) = board.catalogue.transmitters
    plain = replace(host, preshoot_db=0.0, deemphasis_db=0.0)
    board = replace(board, catalogue=replace(board.catalogue, transmitters=(plain, *others)))
    where = {"source": "invented for tests", "status": "from memory"}
    preset = Preset(name="shot", preshoot_db=Sourced(value=3.5, **where), deemphasis_db=Sourced(value=3.5, **where))
    shot = replace(plain, preshoot_db=3.5, deemphasis_db=3.5)
    better = replace(board, catalogue=replace(board.catalogue, transmitters=(shot, *others)))
    return judged_by(asks_for(board, better), presets=(preset,))


def too_long():
    """A lane of a run that is a third too long."""
    return asks_for(lossy_lane(0.9), lossy_lane(0.65))


def unconditioned():
    """A lane that needs a conditioner in the middle of its run."""
    return lossy_lane(1.1)


KNOWN = {
    "pre-shoot": (flat, SETTINGS, "set the transmitter of D4 to 3.5 dB pre-shoot and 3.5 dB de-emphasis"),
    "a conditioner": (unconditioned, PARTS, "put a new U1"),
    "a wider gap": (too_near, LAYOUT, "lay the pairs of bundle both 400 µm apart"),
    "a conditioner moved": (misplaced, LAYOUT, "move U3"),
    "a shorter route": (too_long, LAYOUT, "route run 1 of D4 (lossy)"),
    "another line": (thin_line, MATERIAL, 'lay run 1 of D4 with "trace" instead of "lossy"'),
    "another laminate": (lossy_laminate, MATERIAL, 'make run 1 of D4 (inner) of "fine resin" instead of "resin"'),
    "another foil": (rough, MATERIAL, 'make run 1 of D4 (inner) of "smooth foil" instead of "foil"'),
    "more swing": (weak, SETTINGS, "set the swing of the transmitter of D4 to"),
    "a drilled stub": (stubbed, LAYOUT, 'backdrill 1 via "long stub" of D4'),
    "another connector": (mismatched, MATERIAL, 'use "edge" instead of "poor" in D4'),
}


@pytest.mark.parametrize("name", some(KNOWN, 3))
def test_the_one_known_cure_is_found_and_holds(name):
    make, kind, words = KNOWN[name]
    board = make()
    assert verdict_of(board) != "pass"
    found = answered(board, (kind,), lanes=(board.lanes[0].name,)).lanes[0]
    offers = [one for one in found.offers if one.moves[0].words.startswith(words)]
    assert offers, (found.said, [one.words for one in found.offers])
    cured = offers[0].edit(board)
    assert verdict_of(cured) == "pass"
    assert offers[0].cost
    assert found.chosen is not None
    assert found.chosen.moves[0].price <= offers[0].moves[0].price
    if not words.startswith("route"):
        assert sum(one.length_m for one in cured.lanes[0].path if isinstance(one, Run)) == pytest.approx(
            board.lanes[0].length_m
        )


@pytest.mark.parametrize("seed", some(range(2), 0))
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
        moves = [one for one in MOVES[kind](board, board.lanes[0], NO_LIBRARY) if is_sound(board, one.changes)]
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
    slid = [one for one in MOVES[LAYOUT](board, board.lanes[0], NO_LIBRARY) if one.words.startswith("move U3")]
    assert [one.at[0] for one in slid] == sorted(one.at[0] for one in slid)
    made = changed(board, slid[-2].changes)
    assert "towards the receivers" in slid[-2].words
    assert verdict_of(made) == "pass"
    assert made.lanes[0].length_m == pytest.approx(board.lanes[0].length_m, rel=1e-12)


@pytest.mark.campaign
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
    moves = list(MOVES[LAYOUT](board, board.lanes[0], NO_LIBRARY))
    slid = [one for one in moves if one.words.startswith("move ")]
    routed = [one for one in moves if one.words.startswith("route ")]
    assert slid
    assert routed
    assert pairs([slid[0], routed[0]]) == []


def test_swing_and_emphasis_of_one_transmitter_go_together():
    board = weak()
    moves = list(MOVES[SETTINGS](board, board.lanes[0], NO_LIBRARY))
    swing = next(one for one in moves if one.knob == "swing of D4")
    taps = next(one for one in moves if one.knob == "transmitter of D4")
    made = changed(board, (*swing.changes, *taps.changes))
    entry = next(one for one in made.catalogue.transmitters if one.name == made.lanes[0].transmitter)
    assert entry.swing_v > 1.0
    assert (entry.preshoot_db, entry.deemphasis_db) == tuple(value for _, value in taps.changes[0].fields)
    assert is_sound(made, ())


@pytest.mark.campaign
def test_the_plateau_is_the_least_of_what_is_one_step_away():
    board = weak()
    found = answered(board, (SETTINGS,)).lanes[0]
    moves = list(MOVES[SETTINGS](board, board.lanes[0], NO_LIBRARY))
    for offer in found.offers:
        (move,) = offer.moves
        near = [one for one in moves if one.is_beside(move)]
        boards = [changed(board, one.changes) for one in (move, *near)] + [board] * move.is_next_to_now
        margins = [figures_of_lane(one).margin_guards for one in boards]
        assert len(margins) >= 2
        assert offer.nearby_guards == pytest.approx(min(margins), rel=1e-12)


def figures_of_lane(board):
    return figures_of_assessment(assessed(board), board.guard)


@pytest.mark.campaign
def test_power_is_told_where_the_parts_data_state_it():
    board = weak()
    (host, *_) = [one for one in board.catalogue.transmitters if one.name == board.lanes[0].transmitter]
    stating = replace(board, catalogue=replace(board.catalogue, transmitters=tuple(
        replace(one, power_w_per_v=0.05) if one is host else one for one in board.catalogue.transmitters)))  # fmt: skip
    for one, known in ((board, False), (stating, True)):
        offers = [offer for offer in answered(one, (SETTINGS,)).lanes[0].offers if "the swing" in offer.words]
        assert offers
        for offer in offers:
            more_v = offer.edit(one).catalogue.transmitters[-1].swing_v - host.swing_v
            assert offer.power_w == (pytest.approx(0.05 * more_v) if known else None)
            assert ("mW more" in offer.cost) == known
            assert ("does not state" in offer.cost) != known
    fitted = lossy_lane(1.1)
    part = fitted.catalogue.conditioners[0]
    for power_w in (0.0, 0.3):
        parts = tuple(replace(one, power_w=power_w) for one in fitted.catalogue.conditioners)
        board = replace(fitted, catalogue=replace(fitted.catalogue, conditioners=parts))
        (move, *_) = MOVES[PARTS](board, board.lanes[0], NO_LIBRARY)
        assert part.name in move.words
        assert move.power_w == (power_w or None)
        assert ("300 mW more" in move.cost) == (power_w > 0.0)


CORNERS = (Tolerance(on="loss", low=-0.2, high=0.2), Tolerance(on="impedance", low=-0.1, high=0.1))


@pytest.mark.campaign
def test_corners_are_those_of_boards_varied_by_hand():
    """The lane passes as it is and fails with 20 % more loss: a cure has to pass at all four corners too."""
    board = lossy_lane(0.5)
    where = {"source": "invented for tests", "status": "from memory"}
    height_v = 0.97 * (assessed(board).eye.height_v - board.guard.height_v)
    limits = ReceiverLimits(at="pins", height_v=Sourced(value=height_v, **where))
    board = judged_by(board, limits=limits, swing_max_v=Sourced(value=1.5, **where))
    assert verdict_of(board) == "pass"
    answer = answered(board, (SETTINGS, LAYOUT), tolerances=CORNERS)
    found = answer.lanes[0]
    assert answer.corners == 5
    assert found.lane.verdict != "pass"
    assert found.chosen is not None, found.said
    for figures, one in ((found.lane, board), (found.chosen.lane.after, found.chosen.edit(board))):
        lines = tuple(
            {(loss, ohm): varied_line(line, loss, ohm) for loss in (0.8, 1.0, 1.2) for ohm in (0.9, 1.0, 1.1)}
            for line in one.catalogue.lines
        )
        at = [(1.0, 1.0), *((loss, ohm) for loss in (0.8, 1.2) for ohm in (0.9, 1.1))]
        boards = [
            replace(one, catalogue=replace(one.catalogue, lines=tuple(some[corner] for some in lines)))
            for corner in at
        ]
        margins = [figures_of_lane(b).margin_guards for b in boards]
        assert figures.margin_guards == pytest.approx(min(margins), rel=1e-9)
        effects = found.chosen.lane.corners
        assert [
            (each.before if one is board else each.after).margin_guards for each in effects
        ] == pytest.approx(margins, rel=1e-9)
        assert [each.corner for each in effects] == [
            "as it is", "loss -20 %, impedance -10 %", "loss -20 %, impedance +10 %", "loss +20 %, impedance -10 %",
            "loss +20 %, impedance +10 %",
        ]
        worst = effects[margins.index(min(margins))].corner
        assert worst == (found.chosen.lane.worst_before if one is board else found.chosen.lane.worst_after)
    told = RemedyStudy().text(answer, board.guard)
    assert all(f"{each.corner}" in told for each in effects)
    assert f"at {found.chosen.lane.worst_before})" in found.said
    assert [row[-1] for row in RemedyStudy().rows(answer)][1:6] == [each.corner for each in effects]
    assert len(remedy_page(found).corners[0]) == 5
    assert "All margins are those at the worst of the board and its 4 corners (loss ±20 %, impedance ±10 %)" in (
        RemedyStudy().present(answer).sentence
    )
    assert answer.made.assessments % 5 == 0
    assert answered(board, (SETTINGS,)).lanes == ()


def varied_line(line, loss, ohm):
    return replace(line, conductor_loss_db_per_m=line.conductor_loss_db_per_m * loss,
                   dielectric_loss_db_per_m=line.dielectric_loss_db_per_m * loss,
                   impedance_ohm=line.impedance_ohm * ohm)  # fmt: skip


@pytest.mark.campaign
def test_a_cure_is_taken_from_the_users_library_with_all_that_it_names(tmp_path, capsys):
    """Nothing on the board cures it: a better connector in the library does."""
    board = mismatched()
    edge, bad = board.catalogue.connectors
    shelf = replace(board, catalogue=replace(board.catalogue, connectors=(bad,)))
    assert answered(shelf, (MATERIAL,)).lanes[0].chosen is None
    UserLibrary(tmp_path / "mine").keep(board, "connectors", "edge", "invented for tests")
    library = library_in(str(tmp_path / "mine"))
    assert [one.name for one in library.catalogue.connectors] == ["edge"]
    found = answered(shelf, (MATERIAL,), library=library).lanes[0]
    assert found.chosen is not None, found.said
    assert 'use "edge" from your library instead of "poor"' in found.chosen.moves[0].words
    cured = found.chosen.edit(shelf)
    assert cured.catalogue.connectors == (bad, edge)
    assert {(one.entry, one.source) for one in cured.sources} == {("edge", "invented for tests")}
    assert verdict_of(cured) == "pass"
    path = tmp_path / "shelf.board.json"
    save_board(shelf, path)
    words = ["remedy", str(path), "--allow", "material", "--workers", "1", "--library", str(tmp_path / "mine")]
    assert main(words) == 0
    assert "from your library" in " ".join(capsys.readouterr().out.split())
    assert main([*words[:-1], str(tmp_path / "none")]) == 2
    assert "there is no folder" in capsys.readouterr().err


@pytest.mark.campaign
def test_a_part_of_the_library_is_fitted_with_its_own_settings():
    board = lossy_lane(1.1)
    library = PartsLibrary(Catalogue(conditioners=tuple(
        replace(one, name=f"my {one.name}") for one in board.catalogue.conditioners)))  # fmt: skip
    bare = replace(board, catalogue=replace(board.catalogue, conditioners=()))
    assert list(MOVES[PARTS](bare, bare.lanes[0], NO_LIBRARY)) == []
    found = answered(bare, (PARTS,), library=library).lanes[0]
    assert found.chosen is not None, found.said
    assert "my " in found.chosen.words
    assert verdict_of(found.chosen.edit(bare)) == "pass"


@pytest.mark.campaign
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
