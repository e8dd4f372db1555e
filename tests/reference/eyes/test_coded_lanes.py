"""The line code's sums at whole lanes, with slow tails, jitter and stages, against the exact sweep."""

import numpy as np
import pytest

from tests.engine.test_coded_lane import BOARDS, seen
from tests.reference.eyes.exact_sweep import log_generating
from tests.thinning import some
from workbench.codes.machine import eight_ten
from workbench.engine.coded.along import AxisPoints, transformed
from workbench.engine.coded.chain import log_mean
from workbench.engine.coded.tails import coded_sample, ladder_of
from workbench.engine.lane.received_eye import sample_at
from workbench.engine.tails.tilts import interpolated

LANES = {"passive": 0.01, "pre-shoot and de-emphasis": 0.015, "limiting stage, no boost": 0.03}
"""By how much the logarithm may be off; after a limiting stage what boundaries do hangs on older symbols."""
PHASES = np.array([10, 17])
MACHINE = eight_ten()


@pytest.mark.parametrize("name", some(LANES, 1))
def test_the_cumulant_function_is_that_of_every_column_by_itself(name: str) -> None:
    """At the tilts of 1e-3 and 1e-12; what is older, small or moves little goes in together."""
    observed = seen(BOARDS[name])
    at = int(np.floor(observed.received.waves.crossing)) + PHASES
    sample = sample_at(observed.received, at)
    ladder = ladder_of(coded_sample(sample, MACHINE), 42.0)
    theta = np.stack([interpolated(ladder.depth, ladder.theta, depth) for depth in (6.9, 27.6)], axis=1)
    coded = coded_sample(sample, MACHINE, float(np.abs(theta).max()))
    found = log_mean(coded.moves, coded.begun, theta) - coded.log_share[:, None]
    found = found + 0.5 * theta**2 * coded.variance[:, None]
    exact = log_generating(sample, MACHINE, theta.astype(complex))
    assert np.abs(exact.imag).max() < 1e-9
    assert np.abs(found - exact.real).max() < LANES[name]


@pytest.mark.campaign
@pytest.mark.parametrize("name", some(["passive", "limiting stage, no boost"], 1))
def test_its_course_along_the_imaginary_axis_is_that_of_every_column(name: str) -> None:
    observed = seen(BOARDS[name])
    at = int(np.floor(observed.received.waves.crossing)) + PHASES
    sample = sample_at(observed.received, at)
    ladder = ladder_of(coded_sample(sample, MACHINE), 42.0)
    theta = interpolated(ladder.depth, ladder.theta, 27.6)
    coded = coded_sample(sample, MACHINE, float(np.abs(theta).max()))
    step = 0.5 / np.sqrt(coded.variance)
    along = AxisPoints.evenly(theta, step, 8, precise=False)
    value, _ = transformed(coded.moves, coded.begun, along, coded.variance)
    turn = np.exp(1j * along.u * (coded.variance * theta)[:, None])
    exact = log_generating(sample, MACHINE, theta[:, None] + 1j * along.u)
    assert np.abs(value * turn - np.exp(exact - exact[:, :1])).max() < 0.015
