"""Losses of single elements, held against the figures that define them and against textbook formulas."""

import math

import pytest
from msgspec.structs import replace

from tests.board.sample import sample_board
from workbench.board.index import Index
from workbench.board.library import builtin_profiles
from workbench.board.model import Component, Lane, Run
from workbench.engine.lane.path import LanePlan, plan_lane
from workbench.engine.memo import Memo
from workbench.engine.verdict.measures import span_results
from workbench.engine.verdict.shares import element_losses_db
from workbench.parts.capacitor import Capacitor


def planned(lane: Lane, board=None) -> LanePlan:
    return plan_lane(Index(board or sample_board()), lane, builtin_profiles()["pcie-2"])


def test_a_matched_line_loses_its_stated_loss_per_metre_at_nyquist():
    # "card trace" states 7 + 6 dB/m at 2.5 GHz into 100 ohm; PCI Express 2.0 at 5 Gb/s has its Nyquist there.
    lane = replace(sample_board().lanes[0], path=(Run(line="card trace", length_m=0.2),))
    (loss_db,) = element_losses_db(Memo(), planned(lane))
    assert loss_db == pytest.approx(13.0 * 0.2, rel=0.01)


def test_a_capacitor_loses_what_a_series_impedance_does():
    # From memory, after D. M. Pozar, Microwave Engineering (chain matrix of a series impedance, turned into S):
    # Z in the path between two Z0 has S21 = 2 Z0 / (2 Z0 + Z).
    part = Capacitor(name="small", capacitance_f=2e-12, inductance_h=0.0, pad_capacitance_f=0.0)
    board = sample_board()
    board = replace(board, catalogue=replace(board.catalogue, capacitors=(*board.catalogue.capacitors, part)))
    lane = replace(board.lanes[0], path=(Component(part="small"),))
    impedance = 2.0 / (2j * math.pi * 2.5e9 * 2e-12)  # one in each leg
    expected = -20.0 * math.log10(abs(200.0 / (200.0 + impedance)))
    (loss_db,) = element_losses_db(Memo(), planned(lane, board))
    assert loss_db == pytest.approx(expected, rel=1e-6)


def test_a_stage_has_none_and_the_others_keep_their_order():
    lane = sample_board().lanes[0]
    losses = element_losses_db(Memo(), planned(lane))
    assert [loss is None for loss in losses] == [False, False, False, True, False, False, False]
    assert losses[4] == pytest.approx(1.5 * losses[0], rel=1e-3)  # 0.3 m and 0.2 m, nearly matched


def test_matched_elements_add_up_to_their_span():
    path = (Run(line="card trace", length_m=0.2), Run(line="twinax", length_m=1.0))
    lane = replace(sample_board().lanes[0], path=path)
    plan = planned(lane)
    bare = replace(plan.spans[0], source=replace(plan.spans[0].source, capacitance_f=0.0),
                   load=replace(plan.spans[0].load, capacitance_f=0.0))
    plan = replace(plan, spans=(bare,))
    memo = Memo()
    assert sum(element_losses_db(memo, plan)) == pytest.approx(span_results(memo, plan)[0].loss_db, abs=0.01)
