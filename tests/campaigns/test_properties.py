"""Properties of the engine on boards of every kind with their line codes, drawn by a number that makes each again."""

from collections.abc import Callable
from types import FunctionType

import pytest
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from tests.engine import test_properties as properties
from tests.strategies import boards
from workbench.engine.symbols import Symbols

PROPERTIES: tuple[tuple[Callable[..., None], dict[str, int], int], ...] = (
    (properties.test_any_board_is_assessed_in_finite_numbers, {}, 10),
    (properties.test_any_probe_point_is_assessed_in_finite_numbers, {"max_lanes": 1}, 10),
    (properties.test_spans_are_passive, {}, 100),
    (properties.test_a_run_in_two_halves_is_the_same_run, {"max_lanes": 1}, 6),
    (properties.test_lanes_in_another_order_have_the_same_results, {}, 5),
    (properties.test_a_filled_memo_and_a_subset_of_lanes_change_nothing, {"max_lanes": 2}, 3),
)
"""Each with what is asked of a board, and how many boards."""


@pytest.mark.campaign
@pytest.mark.parametrize("number", range(5))
@pytest.mark.parametrize(("proven", "asked", "count"), PROPERTIES, ids=lambda one: getattr(one, "__name__", ""))
def test_a_property_holds_on_boards_of_every_kind(proven, asked, count, number, monkeypatch):
    monkeypatch.setitem(properties.COUNTED, "symbols", Symbols.CODED)
    drawn = [boards(**asked), st.data()] if "probe_point" in proven.__name__ else [boards(**asked)]
    held = given(*drawn)(_bare(proven.hypothesis.inner_test))
    seed(number)(settings(max_examples=count, derandomize=False, database=None, deadline=None)(held))()


def _bare(test: FunctionType) -> FunctionType:
    """The same function without the settings that the default run gave it, which may not be given twice."""
    return FunctionType(test.__code__, test.__globals__, test.__name__, test.__defaults__, test.__closure__)
