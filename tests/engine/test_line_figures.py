"""A line's own figures: against what its record states, and the speed of light."""

import numpy as np
import pytest

from tests.lanes import lane_board, trace
from workbench.board.index import Index
from workbench.engine.lane.line_figures import line_figures

C_M_PER_S = 299_792_458.0  # exact: SI brochure, 9th edition, 2019, section 2.2


def figures(name, nyquist_hz=2.5e9):
    index = Index(lane_board((trace(0.1),)))
    line = index.run(name)
    return line, line_figures(line, index.parts_of(line), nyquist_hz)


def test_a_lossless_line_has_its_stated_impedance_and_the_delay_of_its_permittivity():
    line, found = figures("trace")
    assert found.impedance_ohm == pytest.approx(line.impedance_ohm, rel=1e-6)
    assert found.delay_s_per_m == pytest.approx(np.sqrt(line.permittivity) / C_M_PER_S, rel=1e-6)
    assert found.loss_db_per_m == pytest.approx(0.0, abs=1e-9)


def test_the_loss_where_it_is_stated_is_the_stated_one_and_grows_with_frequency():
    line, found = figures("lossy", nyquist_hz=2.5e9)  # the frequency that its losses are stated at
    stated = line.conductor_loss_db_per_m + line.dielectric_loss_db_per_m
    assert found.loss_db_per_m == pytest.approx(stated, rel=0.01)
    assert np.all(np.diff(found.curve_db_per_m) > 0.0)
    assert found.f_hz[0] < found.nyquist_hz < found.f_hz[-1]
