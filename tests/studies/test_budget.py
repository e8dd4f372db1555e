"""The margin budget: each thing made ideal is the assessment of a board without it, made by hand."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import catalogue
from tests.reference.neighbours.test_neighbours import shared
from tests.studies.boards import section, with_few_settings, with_lanes
from workbench.board.edits.bundles import take_apart
from workbench.board.model import Component
from workbench.engine.assess import assess_board
from workbench.errors import StudyError
from workbench.parts.record import Parts
from workbench.parts.twoport import s_parameters
from workbench.studies.budget import budget_study
from workbench.studies.figures import figures_of_assessment
from workbench.studies.ideal import EQUALIZATION, NEIGHBOURS, SKEW, STEPS, MatchedElement
from workbench.studies.pool.jobs import Basis
from workbench.studies.pool.running import Effort
from workbench.studies.settings import settings_study

ALONE = Effort(workers=1)


def board_of(*names):
    """Lanes with a via of a long stub in them."""
    board = with_few_settings(with_lanes(section(), *names))
    stub = Component(part="long stub")
    lanes = (replace(lane, path=(*lane.path[:-1], stub, lane.path[-1])) for lane in board.lanes)
    return replace(board, lanes=tuple(lanes))


BOARD = board_of("D1", "D4")


@pytest.fixture(scope="module")
def answer():
    return budget_study(Basis(board=BOARD), effort=ALONE)


def on(board, **sections):
    """The board with fields of every entry of some sections set by hand, where it has them."""
    changed = {
        section_name: tuple(
            replace(entry, **{name: value for name, value in fields.items() if name in entry.__struct_fields__})
            for entry in getattr(board.catalogue, section_name)
        )
        for section_name, fields in sections.items()
    }
    return replace(board, catalogue=replace(board.catalogue, **changed))


QUIET = {"random_jitter_s": 0.0}
STILL = {"deterministic_jitter_s": 0.0}
LOSSLESS = {"conductor_loss_db_per_m": 0.0, "dielectric_loss_db_per_m": 0.0}


@pytest.mark.parametrize(
    ("step", "by_hand"),
    [
        ("loss", on(BOARD, lines=LOSSLESS, connectors={"loss_db": 0.0}, dielectrics={"loss_tangent": 0.0})),
        ("via stubs", on(BOARD, vias={"stub_m": 0.0})),
        ("random jitter", on(BOARD, transmitters=QUIET, conditioners=QUIET, receivers=QUIET)),
        ("deterministic jitter", on(BOARD, transmitters=STILL, conditioners=STILL, receivers=STILL)),
        ("noise", on(BOARD, conditioners={"input_noise_v": 0.0}, receivers={"noise_v": 0.0})),
    ],
)
def test_a_thing_made_ideal_is_the_assessment_of_a_board_without_it(answer, step, by_hand):
    expected = assess_board(by_hand, sha256="").lanes
    for lane, one in zip(answer.lanes, expected, strict=True):
        item = next(item for item in lane.items if item.name == step)
        assert item.alone == figures_of_assessment(one, BOARD.guard)
        assert item.alone_guards == item.alone.margin_guards - lane.now.margin_guards
        assert item.alone_height_v == item.alone.height_v - lane.now.height_v


def test_equalization_left_on_the_table_is_the_best_of_a_settings_study(answer):
    lane = answer.lanes[0]
    item = next(item for item in lane.items if item.name == EQUALIZATION)
    best = settings_study(Basis(board=board_of("D1")), ("U1",), effort=ALONE).groups[0].best
    assert item.alone.margin_guards == best.margin_guards
    assert EQUALIZATION not in [item.name for item in answer.lanes[1].items]


def test_neighbours_taken_away_leave_the_lane_alone():
    board = shared(fext_db=30.0)
    lane = budget_study(Basis(board=board), lanes=("B",), settings=False, effort=ALONE).lanes[0]
    item = next(item for item in lane.items if item.name == NEIGHBOURS)
    alone = next(one for one in assess_board(take_apart(board, "b"), sha256="").lanes if one.lane == "B")
    assert item.alone == figures_of_assessment(alone, board.guard)
    assert item.alone_height_v > 0.01
    # All else made ideal, reflections too, neighbours still take something.
    assert item.reverse_guards > 0.0
    assert "neighbours further off" in lane.said


@pytest.mark.campaign
def test_legs_made_alike_leave_the_lane_without_skew(answer):
    plain = board_of("D1")
    lane = plain.lanes[0]
    run, *rest = lane.path
    board = replace(plain, lanes=(replace(lane, path=(replace(run, skew_s=5e-11), *rest)),))
    told = budget_study(Basis(board=board), lanes=("D1",), settings=False, effort=ALONE).lanes[0]
    item = next(item for item in told.items if item.name == SKEW)
    assert item.alone == figures_of_assessment(assess_board(plain, sha256="").lanes[0], plain.guard)
    assert item.alone_height_v > 1e-3
    assert all(item.name != SKEW for lane in answer.lanes for item in lane.items)


def test_a_lane_in_no_bundle_has_no_neighbours_to_lose(answer):
    assert all(item.name != NEIGHBOURS for lane in answer.lanes for item in lane.items)


def test_steps_in_turn_add_up_to_everything_in_both_orders(answer):
    for lane in answer.lanes:
        whole = lane.ideal.margin_guards - lane.now.margin_guards
        assert sum(item.forward_guards for item in lane.items) == pytest.approx(whole)
        assert sum(item.reverse_guards for item in lane.items) == pytest.approx(whole)
        assert tuple(item.name for item in lane.items) == tuple(
            step for step in STEPS if step in {item.name for item in lane.items}
        )
        # The first of an order is the same as alone.
        assert lane.items[0].forward_guards == lane.items[0].alone_guards
        assert lane.items[-1].reverse_guards == lane.items[-1].alone_guards


def test_what_would_help_most_is_the_largest_alone(answer):
    words = {"loss": "less loss", "deterministic jitter": "less deterministic jitter", "via stubs": "shorter via stubs"}
    for lane in answer.lanes:
        most = max(lane.items, key=lambda item: item.alone_guards)
        assert f"{words[most.name]} would help it most" in lane.said
        assert f"{most.alone.margin_guards:+.2f}" in lane.said


@pytest.mark.parametrize("name", ["edge", "via", "long stub", "step"])
def test_a_matched_element_lets_through_what_the_element_does_and_reflects_nothing(name):
    sections = catalogue({}, {})
    entry = next(e for kind in (sections.connectors, sections.vias, sections.lines) for e in kind if e.name == name)
    parts = Parts.of({field: sections.dielectrics[0] for field, _, _ in entry.references()})
    length_m = 0.1 if name == "step" else None
    f_hz = np.linspace(0.0, 2e10, 101)
    matched = MatchedElement(name=name, inner=entry, length_m=length_m, nyquist_hz=2.5e9)
    seen = s_parameters(matched.chain_matrix(f_hz, parts))
    from workbench.parts.twoport import line

    plain = line(entry.line_constants(f_hz, parts), length_m) if length_m else entry.chain_matrix(f_hz, parts)
    expected = s_parameters(plain)
    assert np.abs(seen.s21 - expected.s21).max() < 1e-12
    assert np.abs(seen.s12 - expected.s21).max() < 1e-12
    assert np.abs(seen.s11).max() < 1e-12
    assert np.abs(expected.s11).max() > 0.02


def test_an_unknown_lane_or_too_much_is_one_sentence():
    with pytest.raises(StudyError, match='there is no lane "D9"'):
        budget_study(Basis(board=BOARD), lanes=("D9",), effort=ALONE)
    with pytest.raises(StudyError, match="and the limit is 5"):
        budget_study(Basis(board=BOARD), limit=5, effort=ALONE)
