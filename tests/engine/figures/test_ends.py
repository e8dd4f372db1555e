"""What is told of a lane's ends: what is stated of them, or what a network, a table or an edge makes of them."""

import math

import numpy as np
import pytest

from tests.engine.test_ends_by_networks import PATH, termination
from tests.lanes import lane_board
from workbench.engine.figures.explaining import case_of, explain
from workbench.parts.edge import EdgePoint
from workbench.parts.port_curve import ReturnLossPoint


def inputs(path="pulse.peak_v", **changes):
    board = lane_board(PATH, **changes)
    return {one.symbol: one for one in explain(case_of(board, "D0"), path).inputs}


def test_what_is_stated_is_told_by_its_field():
    found = inputs(receiver={"resistance_ohm": 90.0, "capacitance_f": 3e-13})
    assert (found["R_L"].value, found["C_L"].value) == (90.0, 3e-13)
    assert found["C_L"].where == "receivers/card/capacitance_f"


@pytest.mark.parametrize(("end", "ohm", "farad"), [("transmitter", "R_S", "C_S"), ("receiver", "R_L", "C_L")])
def test_a_termination_by_a_network_stands_in_place_of_resistance_and_capacitance(end, ohm, farad):
    # A network that is 85 ohm beside 0.4 pF, over a part that states 100 ohm and 3 pF of which nothing counts.
    found = inputs(**{end: {"resistance_ohm": 100.0, "capacitance_f": 3e-12, "termination": termination(85.0, 4e-13)}})
    assert found[ohm].value == pytest.approx(85.0, rel=1e-6)
    assert found[farad].value == pytest.approx(4e-13, rel=1e-6)
    for symbol in (ohm, farad):
        assert "termination" in found[symbol].meaning
        assert f"{end}s/" in found[symbol].where
        assert "capacitance_f" not in found[symbol].where


def test_a_return_loss_stands_in_place_of_the_capacitance():
    # 20 dB at Nyquist of 100 ohm with C across: |x| / sqrt(4 + x^2) = 0.1, x = 2 pi f C 100 ohm. Derived.
    found = inputs(receiver={"capacitance_f": 3e-12,
                             "return_loss": (ReturnLossPoint(frequency_hz=2.5e9, return_loss_db=20.0),)})  # fmt: skip
    x = 2.0 * 0.1 / math.sqrt(1.0 - 0.1**2)
    assert found["C_L"].value == pytest.approx(x / (2.0 * math.pi * 2.5e9 * 100.0), rel=1e-6)
    assert "return loss" in found["C_L"].meaning
    assert found["R_L"].where == "receivers/card/resistance_ohm"


def test_a_span_tells_what_lies_across_its_ends():
    measured = {"capacitance_f": 3e-12, "termination": termination(100.0, 4e-13)}
    found = inputs("spans[0].return_loss_db", receiver=measured, transmitter={"capacitance_f": 2e-13})
    assert found["C_k"].value == pytest.approx((2e-13, 4e-13), rel=1e-6)
    assert "network of a termination" in found["C_k"].meaning


def test_an_edge_by_its_points_stands_in_place_of_the_rise_time():
    edge = tuple(EdgePoint(time_s=t * 1e-10, level=t) for t in np.linspace(0.0, 1.0, 5).tolist())
    found = inputs(transmitter={"rise_time_s": 9e-12, "edge": edge})
    assert found["t_rise"].value == pytest.approx(6e-11, rel=1e-6)
    assert "edge" in found["t_rise"].where
