"""A port's return loss against frequency: what is stated comes out, and a lane has the eye of the same capacitance."""

import numpy as np
import pytest

from tests.lanes import assessed, lane_board, trace
from workbench.parts.port_curve import ReturnLossPoint, port_curve

PATH = (trace(0.2, "lossy"),)


def reflected_db(resistance_ohm, capacitance_f, f_hz):
    """Return loss in 100 ohm, by its definition."""
    admittance = 1.0 / resistance_ohm + 2j * np.pi * f_hz * capacitance_f
    return -20.0 * np.log10(np.abs((0.01 - admittance) / (0.01 + admittance)))


@pytest.mark.parametrize("resistance_ohm", [100.0, 88.0])
def test_what_is_stated_comes_out(resistance_ohm):
    stated = {1e9: 18.0, 4e9: 11.0, 8e9: 7.0}
    points = tuple(ReturnLossPoint(frequency_hz=f, return_loss_db=level) for f, level in stated.items())
    curve = port_curve(points, resistance_ohm)
    f_hz = np.array(list(stated))
    capacitance_f = curve.admittance_s(f_hz).imag / (2.0 * np.pi * f_hz)
    assert reflected_db(resistance_ohm, capacitance_f, f_hz) == pytest.approx(list(stated.values()))


def test_a_resistance_that_reflects_more_than_is_stated_has_nothing_across_it():
    curve = port_curve((ReturnLossPoint(frequency_hz=1e9, return_loss_db=40.0),), 70.0)
    assert curve.capacitance_f == (0.0,)


@pytest.mark.parametrize("end", ["transmitter", "receiver"])
def test_the_return_loss_of_a_capacitance_is_that_capacitance(end):
    f_hz = np.array([5e8, 2.5e9, 6e9])
    levels = reflected_db(100.0, 3e-13, f_hz)
    points = tuple(
        ReturnLossPoint(frequency_hz=f, return_loss_db=level)
        for f, level in zip(f_hz.tolist(), levels.tolist(), strict=True)
    )
    found = assessed(lane_board(PATH, **{end: {"return_loss": points}}))
    same = assessed(lane_board(PATH, **{end: {"capacitance_f": 3e-13}}))
    assert found.eye.height_v == pytest.approx(same.eye.height_v, rel=1e-9)
    assert found.eye.height_v < assessed(lane_board(PATH)).eye.height_v
