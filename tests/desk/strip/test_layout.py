"""Where things stand on the path strip: arithmetic, no window."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.board.sample import sample_board
from workbench.board.edits.path import Cut, Gap
from workbench.board.index import Index
from workbench.board.library import builtin_profiles
from workbench.board.model import Component, Run, Stage
from workbench.desk.strip.layout import (
    GAP_PX,
    LEAST_RUN_PX,
    LabelWish,
    lay_out,
    place_labels,
    round_step_m,
    snapped_m,
    ticks,
)
from workbench.desk.strip.probe_spots import boundary_of, carried_place, carried_probes, probe_spots
from workbench.desk.strip.scene import losses_or_none
from workbench.engine.lane.path import plan_lane
from workbench.engine.lane.probe import probe_names, resolve_probe
from workbench.engine.memo import Memo
from workbench.parts.lines.line_by_loss import LineByLoss

PATH = (
    Run(line="a", length_m=0.1), Component(part="via"), Run(line="b", length_m=0.3), Stage(device="U1", channel=1),
    Run(line="b", length_m=0.2),
)  # fmt: skip

elements = st.one_of(
    st.builds(Run, line=st.just("a"), length_m=st.floats(1e-4, 50.0)),
    st.just(Component(part="via")),
    st.just(Stage(device="U1", channel=1)),
)


def test_runs_are_true_to_length():
    layout = lay_out(PATH, 900.0)
    widths = [layout.slot(at).width for at in (0, 2, 4)]
    assert widths[1] / widths[0] == pytest.approx(3.0)
    assert widths[2] / widths[0] == pytest.approx(2.0)
    assert layout.width == pytest.approx(900.0)
    assert layout.metres_per_px == pytest.approx(0.1 / widths[0])


def test_even_spacing_makes_all_as_wide():
    layout = lay_out(PATH, 900.0, even=True)
    assert len({round(layout.slot(at).width, 6) for at in range(5)}) == 1


@settings(derandomize=True, max_examples=80, deadline=None)
@given(st.lists(elements, max_size=12), st.floats(200.0, 3000.0), st.booleans())
def test_slots_touch_and_none_is_too_thin(path, width, even):
    layout = lay_out(path, width, even=even)
    assert layout.length == len(path)
    for left, right in pairwise(layout.slots):
        assert left.right == right.left
    assert all(slot.width >= LEAST_RUN_PX - 1e-6 for slot in layout.slots)
    assert layout.slots[-1].start_m == pytest.approx(sum(p.length_m for p in path if isinstance(p, Run)))
    marks = [tick.x for tick in ticks(layout)]
    assert marks == sorted(marks)


def test_a_place_near_a_boundary_is_a_gap_and_one_inside_a_run_a_cut():
    layout = lay_out(PATH, 900.0)
    run = layout.slot(2)
    assert layout.spot_at(run.left + 3.0, may_cut=True) == Gap(2)
    spot = layout.spot_at(run.centre, may_cut=True)
    assert spot == Cut(2, pytest.approx(0.15, rel=0.02))
    assert layout.spot_x(spot) == pytest.approx(run.centre, abs=1.5)
    assert layout.spot_at(run.centre + 1.0, may_cut=False) == Gap(3)
    assert layout.spot_at(-50.0, may_cut=True) == Gap(0)
    assert layout.spot_at(5000.0, may_cut=True) == Gap(5)


def test_an_opened_gap_moves_what_is_behind_it():
    layout = lay_out(PATH, 900.0)
    opened = layout.opened(Gap(2))
    assert opened.slot(1) == layout.slot(1)
    assert opened.slot(2).left == layout.slot(2).left + GAP_PX
    assert layout.opened(Cut(2, 0.1)) == layout


def test_only_the_end_of_a_run_can_be_taken_hold_of():
    layout = lay_out(PATH, 900.0)
    assert layout.edge_at(layout.slot(0).right - 1.0) == 0
    assert layout.edge_at(layout.slot(1).right) is None
    assert layout.edge_at(layout.slot(2).centre) is None


def test_lengths_snap_to_round_steps_a_pixel_can_tell():
    assert round_step_m(0.0007) == pytest.approx(0.001)
    assert round_step_m(0.0012) == pytest.approx(0.002)
    assert round_step_m(0.3) == pytest.approx(0.5)
    assert snapped_m(0.18349, 0.0007) == 0.183


def test_ruler_figures_are_round_and_apart():
    layout = lay_out(PATH, 900.0)
    major = [tick for tick in ticks(layout) if tick.major]
    assert [round(tick.at_m, 6) for tick in major] == [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6]
    assert all(right.x - left.x >= 50.0 for left, right in pairwise(major))


@settings(derandomize=True, max_examples=80, deadline=None)
@given(st.lists(st.tuples(st.floats(0.0, 800.0), st.floats(5.0, 200.0)), max_size=25))
def test_labels_never_overlap(labels):
    wanted = [LabelWish(n, centre, width, width) for n, (centre, width) in enumerate(labels)]
    placed = place_labels(wanted, rows=2, left=0.0, right=800.0)
    for one in placed:
        assert one.left >= -1e-9
        assert one.left + one.width <= 800.0 + 1e-9
        for other in placed:
            if other.owner != one.owner and other.row == one.row:
                assert one.left + one.width <= other.left or other.left + other.width <= one.left


def test_the_selected_label_is_placed_whatever_there_is_no_room_for():
    wanted = [LabelWish(n, 100.0, 60.0, 1e7 if n == 5 else 1.0) for n in range(8)]
    placed = place_labels(wanted, rows=1, left=0.0, right=800.0)
    assert [one.owner for one in placed] == [5]


def test_every_probe_point_of_the_strip_is_one_of_the_engine():
    board = sample_board()
    for lane in board.lanes:
        plan = plan_lane(Index(board), lane, builtin_profiles()["pcie-2"])
        spots = probe_spots(lane.path)
        assert len(spots) == len(lane.path) + 2
        for spot in spots:
            assert resolve_probe(plan, spot.name).name == spot.name
            assert boundary_of(lane.path, spot.name) == spot.boundary
        for name in probe_names(plan):
            assert boundary_of(lane.path, name) is not None
    assert boundary_of(PATH, "after 9") is None
    assert boundary_of(PATH, "U9 input") is None


def test_probe_points_stay_at_their_boundary_when_the_path_changes():
    longer = (*PATH[:1], Component(part="cap"), *PATH[1:])
    assert carried_probes(PATH, longer, ("after 2", "U1 input", "receiver")) == ("after 3", "U1 input", "receiver")
    assert carried_probes(longer, PATH, ("after 3", "after 1")) == ("after 2", "after 1")
    without = (*PATH[:3], *PATH[4:])
    assert carried_probes(PATH, without, ("U1 output", "receiver")) == ("after 3", "receiver")
    assert carried_place(PATH, longer, 3) == 4
    assert carried_place(PATH, longer, 5) == 6
    assert carried_place(PATH, longer, -1) == -1
    assert carried_place(PATH, without, 4) == 3


@pytest.mark.parametrize("error", [ZeroDivisionError("division by zero"), np.linalg.LinAlgError("singular")])
def test_a_path_is_drawn_without_losses_where_a_parts_formula_fails_and_a_fault_of_ours_is_not_hidden(
    monkeypatch, error
):
    board = sample_board(1)
    lane = board.lanes[0]

    def breaking(*_):
        raise error

    monkeypatch.setattr(LineByLoss, "line_constants", breaking)
    assert losses_or_none(Memo(), board, lane) == (None,) * len(lane.path)
    error = AttributeError("no such thing")
    with pytest.raises(AttributeError):
        losses_or_none(Memo(), board, lane)
