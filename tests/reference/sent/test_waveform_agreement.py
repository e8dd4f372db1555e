"""The statistical eye against bits counted one by one on every lane of the table in DEVELOPERS.md, in short.

1e5 bits at 1e-3; the table has 1e7 bits at 1e-4 to 1e-6 (``python -m tests.reference.sent.agreement``).
"""

from functools import cache

import pytest
from msgspec.structs import replace

from tests.lanes import plan_of
from tests.reference.sent.agreement import boards, compared, neighboured, plan_in
from tests.thinning import some
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.waveform.beside import doubt_of, with_statistical

BOARDS = boards()
BITS, RATIO = 100_000, 1e-3
APART = {"linear stage, compressed"}
"""The statistical eye takes stages as small-signal; a finding says when they are not."""
WITH_FEEDBACK = "CTLE and decision feedback"


@cache
def both(name, symbols=Symbols.INDEPENDENT):
    (row,), measures = compared(name, plan_of(BOARDS[name]), bits=BITS, ratios=(RATIO,), symbols=symbols)
    return row, measures


@pytest.mark.parametrize("symbols", Symbols)
@pytest.mark.parametrize("name", some((name for name in BOARDS if name not in APART), 3))
def test_height_and_width_are_those_that_counting_finds(name, symbols):
    """Height within 2 % of the swing or three standard errors, width within 0.02 UI."""
    row, _ = both(name, symbols)
    allowed_v = max(0.02 * row.swing_v, 3.0 * row.height_error_v)
    assert row.statistical_height_v == pytest.approx(row.height_v, abs=allowed_v)
    assert row.statistical_width_ui == pytest.approx(row.width_ui, abs=max(0.02, 3.0 * row.width_error_ui))


@pytest.mark.campaign
def test_feedback_may_open_a_coded_eye_to_its_crossing_and_jitter_meets_no_coin_there():
    row, _ = both(WITH_FEEDBACK, Symbols.CODED)
    assert row.statistical_width_ui == pytest.approx(row.width_ui, abs=0.015)


NEIGHBOURED = neighboured()


@pytest.mark.parametrize("name", some(NEIGHBOURED, 4))
def test_lanes_with_neighbours_have_the_height_that_counting_finds(name):
    """Height within 2 % of the swing; width, where the phase is free, too, else no wider than counted."""
    board, lane = NEIGHBOURED[name]
    (row,), _ = compared(name, plan_in(board, lane), bits=BITS, ratios=(RATIO,))
    allowed_v = max(0.02 * row.swing_v, 3.0 * row.height_error_v)
    assert row.statistical_height_v == pytest.approx(row.height_v, abs=allowed_v)
    allowed_ui = max(0.02, 3.0 * row.width_error_ui)
    assert row.statistical_width_ui < row.width_ui + allowed_ui
    if board.bundles[0].alignment == "asynchronous":
        assert row.statistical_width_ui > row.width_ui - allowed_ui


def test_neighbours_are_sent_and_not_just_left_out():
    board, lane = NEIGHBOURED["two neighbours along"]
    plan = plan_in(board, lane)
    beside, alone = (
        compared("", one, bits=20_000, ratios=(1e-2,))[0][0].height_v
        for one in (plan, replace(plan, neighbours=()))
    )
    assert alone - beside > 0.02


def test_what_the_statistical_eye_does_not_see_is_said_as_a_doubt():
    """A compressed stage takes a few percent of the swing off both levels; the designer reads how much."""
    row, measures = both("linear stage, compressed")
    plan = plan_of(BOARDS["linear stage, compressed"])
    beside = with_statistical(measures, Memo(), plan, resolve_probe(plan, "receiver"))
    doubt = doubt_of(beside)
    assert doubt is not None
    assert doubt.error_ratio == RATIO
    assert doubt.height_v == pytest.approx(row.statistical_height_v - row.height_v, rel=1e-6)
    assert doubt.height_v > 0.02 * row.swing_v
    assert doubt.width_ui is None


def test_where_both_agree_there_is_no_doubt():
    _, measures = both("passive, long")
    plan = plan_of(BOARDS["passive, long"])
    assert doubt_of(with_statistical(measures, Memo(), plan, resolve_probe(plan, "receiver"))) is None
