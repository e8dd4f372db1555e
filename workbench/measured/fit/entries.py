"""How the figures of a fit came about."""

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, beside, input_from, stated
from workbench.engine.figures.entry import Check, FigureInput
from workbench.engine.figures.expression import Sought, Symbol
from workbench.measured.fit.fitting import FitReport, FittedValue

_TESTS = "tests/measured/test_fit.py::"
_POINTS, _BEFORE, _LOWER, _UPPER, _LEFT = (Symbol("n"), Symbol("x", "0"), Symbol("x", "min"), Symbol("x", "max"),
                                           Symbol("r"))  # fmt: skip
_FOUND = (
    Check(_TESTS + "test_a_line_that_another_library_computed_is_recovered", "another library's line",
          "1e-8"),
    Check(_TESTS + "test_known_values_are_found_within_the_stated_uncertainty_in_95_of_100_seeded_runs",
          "values that were put in", "95 of 100 runs"),
)  # fmt: skip
_SPREAD = (
    Check(_TESTS + "test_the_uncertainty_of_one_value_is_the_cramer_rao_bound", "the bound of Cramér and Rao",
          "10 %"),
    *_FOUND,
)  # fmt: skip
_WIDE = (
    Check(_TESTS + "test_a_model_that_lacks_something_widens_the_intervals_and_says_so", "a model that lacks something",
          "1 where nothing is missing, above 1.5 where something is"),
)  # fmt: skip
_BOUNDED = (Check(_TESTS + "test_bounds_hold_and_a_value_at_its_bound_has_no_interval", "bounds by hand", "exact"),)


def _unit(spot: Spot) -> str:
    return str(spot.record.unit)


def _value(spot: Spot) -> list[FigureInput]:
    unit = _unit(spot)
    return [
        at_path(spot, _POINTS, "numbers that were fitted to", "", "points"),
        beside(spot, _BEFORE, "where it began", unit, "before"),
        beside(spot, _LOWER, "lower bound", unit, "lower"),
        beside(spot, _UPPER, "upper bound", unit, "upper"),
    ]


def _spread(spot: Spot) -> list[FigureInput]:
    return [at_path(spot, _POINTS, "numbers that were fitted to", "", "points"),
            at_path(spot, _LEFT, "what is left, rms", "", "residual_after")]  # fmt: skip


def _all(spot: Spot) -> list[FigureInput]:
    return [beside(spot, _POINTS, "numbers that were fitted to", "", "points")]


def _of_board(spot: Spot) -> list[FigureInput]:
    assert spot.value is not None
    return [input_from(Symbol("x"), "as the board has it", spot.value, _unit(spot), origin="catalogue",
                       where=spot.record.path)]  # fmt: skip


def _bound(spot: Spot) -> list[FigureInput]:
    assert spot.value is not None
    return [input_from(Symbol("x"), "the field's range, or as asked for", spot.value, _unit(spot), origin="asked",
                       where=f"bounds of {spot.record.path}")]  # fmt: skip


FIT_ENTRIES: tuple[AnswerEntry, ...] = (
    AnswerEntry(record=FittedValue, key="before", unit="", unit_at=_unit, symbol=_BEFORE, inputs=_of_board,
                meaning="The value before the fit.", checks=_FOUND, off="exact: it is stated"),
    AnswerEntry(
        record=FittedValue, key="after", unit="", unit_at=_unit, symbol=Symbol("x"), inputs=_value, checks=_FOUND,
        meaning="The value that fits the measurements best.", off="as its uncertainty says",
        formula=Sought("least sum of squares of model − measured", (_POINTS, _BEFORE, _LOWER, _UPPER)),
        method="Over all frequencies of all responses, real and imaginary parts alike.",
    ),
    AnswerEntry(
        record=FittedValue, key="uncertainty", unit="", unit_at=_unit, symbol=Symbol("u"), inputs=_spread,
        meaning="To either side: all values of the fit lie within theirs with 95 % probability.",
        formula=Sought("95 % region of the Jacobian at the solution", (_POINTS, _LEFT)), checks=_SPREAD,
        method="From the Jacobian and what is left, if that is noise.", holds="a model that lacks nothing",
        off="it is told how far where what is left is not white",
    ),
    *(
        AnswerEntry(record=FittedValue, key=key, unit="", unit_at=_unit, symbol=symbol, inputs=_bound,
                    meaning=f"The {key} bound of the fit.", checks=_BOUNDED, off="exact: it is chosen")
        for key, symbol in (("lower", _LOWER), ("upper", _UPPER))
    ),
    *(
        AnswerEntry(record=FitReport, key=key, unit="", symbol=_LEFT, inputs=_all, checks=_FOUND,
                    meaning=f"Root mean square of model − measured {word} the fit.", off="floating point",
                    formula=Sought("rms of model − measured", (_POINTS,)), method="Over all numbers fitted to.")
        for key, word in (("residual_before", "before"), ("residual_after", "after"))
    ),
    stated(FitReport, "points", "So many real numbers were fitted to.", where="the measurements", checks=_FOUND),
    AnswerEntry(record=FitReport, key="widened", unit="", symbol=Symbol("q"), inputs=_all, checks=_WIDE,
                meaning="By how much uncertainties were widened because what is left is not white; 1 where it is.",
                formula=Sought("from the correlation of what is left", (_POINTS,)),
                method="So that neighbouring frequencies that lie to one side count as fewer.", off="by about a tenth"),
)  # fmt: skip
