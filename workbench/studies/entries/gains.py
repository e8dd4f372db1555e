"""Entries of what tells a gain: margin budget and comparison."""

from collections.abc import Callable

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, beside, input_from
from workbench.engine.figures.entry import Check, FigureInput, on_the_way
from workbench.engine.figures.expression import Symbol
from workbench.studies.budget import BudgetItem, LaneBudget
from workbench.studies.comparison.comparing import ChangeEffect, LaneChange, TraceGain
from workbench.studies.entries.lanes import TESTS

Inputs = Callable[[Spot], list[FigureInput]]
_AFTER, _BEFORE, _MOST, _LEAST = (Symbol("M", sub) for sub in ("after", "before", "most", "least"))
_BUDGET = TESTS + "test_budget.py::"
_STEPS = (Check(_BUDGET + "test_steps_in_turn_add_up_to_everything_in_both_orders", "the sum of the steps", "exact"),)
_WITHOUT = (
    Check(_BUDGET + "test_a_thing_made_ideal_is_the_assessment_of_a_board_without_it", "the board without it", "exact"),
)  # fmt: skip
_SPREAD = (
    Check("tests/reports/test_answers.py::test_a_budgets_spread_is_that_of_its_three_gains", "by hand", "exact"),
)  # fmt: skip
_COMPARED = (
    Check(TESTS + "test_compare.py::test_each_effect_is_the_assessment_with_that_change_alone_and_without_it",
          "boards changed by hand", "exact"),
)  # fmt: skip
_BOTH = (
    Check(TESTS + "test_compare.py::test_a_lane_gained_what_both_assessments_differ_by", "both boards assessed",
          "exact"),
)  # fmt: skip


def _alone(key: str, field: str, unit: str, letter: str, meaning: str) -> AnswerEntry:
    """What one thing made ideal alone gives of one of the lane's figures."""
    ideal, now = Symbol(letter, "alone"), Symbol(letter, "now")

    def inputs(spot: Spot) -> list[FigureInput]:
        return [
            beside(spot, ideal, "with this alone made ideal", unit, f"alone.{field}"),
            at_path(spot, now, "as the lane is", unit, f"{spot.above(LaneBudget)[0]}.now.{field}"),
        ]

    return AnswerEntry(
        record=BudgetItem, key=key, unit=unit, symbol=Symbol("Δ" + letter, "alone"), formula=ideal - now,
        meaning=meaning, inputs=inputs, checks=_WITHOUT, off="as the figures that it is the difference of",
    )  # fmt: skip


def _turn(field: str, *, back: bool) -> Inputs:
    """Margins before and after a step, which the steps before it add up to."""

    def inputs(spot: Spot) -> list[FigureInput]:
        place, budget = spot.above(LaneBudget)
        number = budget.items.index(spot.record)
        others = range(number + 1, len(budget.items)) if back else range(number)
        before = budget.now.margin_guards + sum(getattr(budget.items[n], field) for n in others)
        where = f"{place}.now.margin_guards and {field} of {len(others)} steps before it"
        gained = getattr(spot.record, field)
        return [
            on_the_way(_AFTER, "with it and the steps before it made ideal", before + gained, "", where + ", and it"),
            on_the_way(_BEFORE, "with the steps before it made ideal", before, "", where),
        ]

    return inputs


def _spread(spot: Spot) -> list[FigureInput]:
    three = ("alone_guards", "forward_guards", "reverse_guards")
    most, least = (pick(three, key=lambda one: getattr(spot.record, one)) for pick in (max, min))
    return [beside(spot, _MOST, "the largest of the three gains", "", most),
            beside(spot, _LEAST, "the least of them", "", least)]  # fmt: skip


def _gained(key: str, field: str, unit: str, letter: str, what: str) -> AnswerEntry:
    """By how much one of a lane's figures is larger on the second board."""
    after, before = Symbol(letter, "after"), Symbol(letter, "before")

    def inputs(spot: Spot) -> list[FigureInput]:
        return [beside(spot, after, "on the second board", unit, f"second.{field}"),
                beside(spot, before, "on the first board", unit, f"first.{field}")]  # fmt: skip

    return AnswerEntry(
        record=LaneChange, key=key, unit=unit, symbol=Symbol("Δ" + letter), formula=after - before, inputs=inputs,
        meaning=f"The lane's {what} on the second board less that on the first.", checks=_BOTH,
        off="as the figures that it is the difference of",
    )  # fmt: skip


def _lane_margin(spot: Spot, which: str) -> str:
    lanes = spot.whole.answer.lanes
    number = next(n for n, one in enumerate(lanes) if one.lane == spot.record.lane)
    return f"lanes[{number}].{which}.margin_guards"


def _number(one: FigureInput) -> float:
    assert isinstance(one.value, float)
    return one.value


def _into(spot: Spot) -> list[FigureInput]:
    first = at_path(spot, _BEFORE, "the first board as it is", "", _lane_margin(spot, "first"))
    margin = _number(first) + spot.record.into_first_guards
    return [on_the_way(_AFTER, "the first board with this change alone", margin, "", "assessed"), first]


def _out_of(spot: Spot) -> list[FigureInput]:
    second = at_path(spot, _AFTER, "the second board as it is", "", _lane_margin(spot, "second"))
    margin = _number(second) - spot.record.out_of_second_guards
    return [second, on_the_way(_BEFORE, "the second board without this change", margin, "", "assessed")]


def _trace_unit(spot: Spot) -> str:
    return str(spot.record.unit)


def _trace(spot: Spot) -> list[FigureInput]:
    """A trace's own figure, which its pane and its row show."""
    value = spot.value
    assert value is not None
    where = f"{spot.record.label} of the {'current' if spot.field == 'now' else 'other'} trace"
    return [input_from(_NOW if spot.field == "now" else _THEN, where, value, spot.record.unit, origin="lane",
                       where=where)]  # fmt: skip


def _gain(spot: Spot) -> list[FigureInput]:
    unit = spot.record.unit
    return [beside(spot, _NOW, "of the current trace", unit, "now"),
            beside(spot, _THEN, "of the other trace", unit, "before")]  # fmt: skip


_NOW, _THEN = Symbol("x", "now"), Symbol("x", "before")
_TRACES = (
    Check("tests/desk/compare/test_snapshots.py::test_differences_are_what_the_figures_say", "both rows", "rounding"),
)  # fmt: skip
_SLOPE = "as the margins"

GAIN_ENTRIES: tuple[AnswerEntry, ...] = (
    _alone("alone_guards", "margin_guards", "", "M", "Normalized margin gained when this alone is made ideal."),
    _alone("alone_height_v", "height_v", "V", "h", "Height gained when this alone is made ideal."),
    _alone("alone_width_ui", "width_ui", "UI", "w", "Width gained when this alone is made ideal."),
    *(
        AnswerEntry(
            record=BudgetItem, key=key, unit="", symbol=Symbol("ΔM", sub), formula=_AFTER - _BEFORE,
            meaning=f"Normalized margin gained when this is made ideal after all {where} it; all such steps add up to "
            "ideal − now.",
            inputs=_turn(key, back=back), checks=_STEPS, off=_SLOPE,
        )
        for key, sub, where, back in (("forward_guards", "turn", "above", False),
                                      ("reverse_guards", "back", "below", True))
    ),
    AnswerEntry(
        record=BudgetItem, key="spread_guards", unit="", symbol=Symbol("s"), formula=_MOST - _LEAST, inputs=_spread,
        meaning="How far the three gains lie apart: by so much the effect overlaps with the others'.",
        checks=_SPREAD, off=_SLOPE,
    ),
    *(
        AnswerEntry(record=TraceGain, key=key, unit="", unit_at=_trace_unit, symbol=symbol, inputs=_trace,
                    meaning=f"The figure of the {word} trace.", checks=_TRACES, off="as the lane's own figure")
        for key, symbol, word in (("now", _NOW, "current"), ("before", _THEN, "other"))
    ),
    AnswerEntry(record=TraceGain, key="gained", unit="", unit_at=_trace_unit, symbol=Symbol("Δx"), inputs=_gain,
                formula=_NOW - _THEN, meaning="The figure of the current trace less that of the other.",
                checks=_TRACES, off="as the figures that it is the difference of"),
    _gained("gained_guards", "margin_guards", "", "M", "normalized margin"),
    _gained("gained_height_v", "height_v", "V", "h", "eye height"),
    _gained("gained_width_ui", "width_ui", "UI", "w", "eye width"),
    AnswerEntry(
        record=ChangeEffect, key="into_first_guards", unit="", symbol=Symbol("ΔM", "in"), formula=_AFTER - _BEFORE,
        meaning="Normalized margin that the first board gains by this change alone.", inputs=_into,
        checks=_COMPARED, off=_SLOPE,
    ),
    AnswerEntry(
        record=ChangeEffect, key="out_of_second_guards", unit="", symbol=Symbol("ΔM", "out"), formula=_AFTER - _BEFORE,
        meaning="Normalized margin that the second board would lose without this change.", inputs=_out_of,
        checks=_COMPARED, off=_SLOPE,
    ),
)  # fmt: skip
