"""Entries of the studies over tolerance: corners, yield."""

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, input_from, stated
from workbench.engine.figures.entry import Check, FigureInput, on_the_way
from workbench.engine.figures.expression import Sought, Symbol, Total
from workbench.studies.entries.lanes import ASSESSED, TESTS
from workbench.studies.variation.corners import Corner, LaneCorners
from workbench.studies.variation.tolerances import Tolerance
from workbench.studies.variation.yields import CONFIDENCE, Driver, Proportion, YieldAnswer, YieldOf

_EACH, _COUNT = Symbol("M", indexed=True), Symbol("n")
_UP, _DOWN = Symbol("M", "up", indexed=True), Symbol("M", "low", indexed=True)
_UPS, _DOWNS = Symbol("n", "up"), Symbol("n", "low")
_KEPT, _DRAWS, _SURE, _SEED, _DRAW = Symbol("k"), Symbol("n"), Symbol("c"), Symbol("s"), Symbol("d")
_YIELDS = TESTS + "test_yield.py::"
_TOY = (Check(_YIELDS + "test_the_yield_of_a_linear_toy_is_its_closed_form", "closed form", "sampling"),)
_SAME = (Check(_YIELDS + "test_the_same_seed_draws_the_same", "the same study again", "exact"),)
_BOUNDS = (
    Check("tests/waveform/test_waveform_tails.py::test_bounds_are_those_of_the_binomial_distribution",
          "the binomial distribution summed", "1e-6 of the probability"),
    *_TOY,
)  # fmt: skip
_TYPED = (Check(TESTS + "test_tolerances.py::test_a_tolerance_reads_as_it_is_typed", "what was typed", "exact"),)
_BY_HAND = (
    Check(TESTS + "test_tolerances.py::test_the_worst_corner_is_the_worst_of_boards_edited_by_hand",
          "boards edited by hand", "exact"),
)  # fmt: skip
_ONE = (
    Check(TESTS + "test_tolerances.py::test_one_at_a_time_leaves_the_others_as_they_are",
          "the boards that are assessed", "exact"),
)  # fmt: skip
_EFFECT = (
    Check("tests/reports/test_answers.py::test_a_factors_effect_is_the_difference_of_two_means_by_hand",
          "the corners' margins by hand", "floating point"),
)  # fmt: skip


def _deviation_unit(spot: Spot) -> str:
    factors = spot.whole.answer.factors
    return factors[spot.at[-1]].tolerance.unit if spot.at else ""


def _lane_number(spot: Spot) -> int:
    """Which of the corners' lanes a lane's summary is of."""
    return [one.lane for one in spot.whole.answer.lanes].index(spot.above(LaneCorners)[1].lane)


def _at_corners(spot: Spot, symbol: Symbol, meaning: str, corners: list[int]) -> FigureInput:
    lane = _lane_number(spot)
    return at_path(spot, symbol, meaning, "", *(f"corners[{n}].lanes[{lane}].margin_guards" for n in corners))


def _failing(spot: Spot) -> list[FigureInput]:
    return [_at_corners(spot, _EACH, "margin at each corner", list(range(len(spot.whole.answer.corners))))]


def _effect(spot: Spot) -> list[FigureInput]:
    answer, factor = spot.whole.answer, spot.at[-1] if spot.at else 0
    tolerance = answer.factors[factor].tolerance
    found = []
    for end, several, count, word in ((tolerance.high, _UP, _UPS, "upper"), (tolerance.low, _DOWN, _DOWNS, "lower")):
        here = [n for n, one in enumerate(answer.corners) if n and one.deviations[factor] == end]
        found += [
            _at_corners(spot, several, f"margin at the corners of its {word} end", here),
            on_the_way(count, f"corners of its {word} end", float(len(here)), "", "corners"),
        ]
    return found


def _one_effect(spot: Spot) -> bool:
    """Whether one factor's effect is asked for."""
    return bool(spot.at)


def _kept(spot: Spot) -> list[FigureInput]:
    place, found = spot.above(YieldOf)
    least = 1.0 if spot.place.endswith("keeps_guard") else 0.0
    kept = sum(one >= least for one in found.margin_guards)
    return [
        on_the_way(_KEPT, f"draws with a normalized margin of {least:g} or more", float(kept), "",
                   f"{place}.margin_guards, counted"),
        at_path(spot, _DRAWS, "draws", "", "draws"),
    ]  # fmt: skip


def _interval(spot: Spot) -> list[FigureInput]:
    return [
        *_kept(spot),
        input_from(_SURE, "confidence", CONFIDENCE, "", origin="program", where="both bounds together"),
    ]


def _drawn(spot: Spot) -> list[FigureInput]:
    number = [float(spot.at[-1])] if spot.at else []
    return [
        *(on_the_way(_DRAW, "the draw's number, from 0", one, "", "draws in order") for one in number),
        at_path(spot, _SEED, "random seed", "", "seed"), at_path(spot, _DRAWS, "draws", "", "draws"),
    ]  # fmt: skip


def _of_draws(spot: Spot) -> list[FigureInput]:
    return [at_path(spot, _EACH, "margin of each draw", "", f"{spot.above(YieldOf)[0]}.margin_guards")]


VARIATION_ENTRIES: tuple[AnswerEntry, ...] = (
    *(
        stated(Tolerance, key, f"The {word} deviation, as a share or in its unit.", symbol="δ", origin="asked",
               where="--tolerance", checks=_TYPED, off="exact: it is asked for")
        for key, word in (("low", "least"), ("high", "largest"))
    ),
    AnswerEntry(
        record=Corner, key="deviations", unit="", unit_at=_deviation_unit, symbol=Symbol("δ"), checks=_ONE,
        meaning="How far each tolerance is off at the corner, as a share or in its unit.",
        inputs=lambda spot: [input_from(Symbol("δ"), "the corner's", spot.value or 0.0, _deviation_unit(spot),
                                        origin="asked", where="ends of the tolerances")],
        off="exact: it is chosen",
    ),
    AnswerEntry(
        record=LaneCorners, key="failing", unit="", symbol=_COUNT, inputs=_failing, checks=_BY_HAND,
        meaning="At so many corners the lane fails.", formula=Sought("how many fail", (_EACH,)),
        method="Counted by verdict; a margin below 0 fails.", off="exact: it is a count",
    ),
    AnswerEntry(
        record=LaneCorners, key="effect_guards", unit="", symbol=Symbol("ΔM"), inputs=_effect, applies=_one_effect,
        meaning="How much the margin is larger at a tolerance's upper end than at its lower end, on average.",
        formula=Total(_UP) / _UPS - Total(_DOWN) / _DOWNS, checks=_EFFECT, off="as the margins",
    ),
    AnswerEntry(
        record=LaneCorners, key="effect_guards", unit="", symbol=Symbol("ΔM"), inputs=_failing, checks=_EFFECT,
        meaning="How much the margin is larger at each tolerance's upper end than at its lower end, on average.",
        formula=Sought("mean at upper ends − mean at lower ends", (_EACH,)), off="as the margins",
        method="For each tolerance the means over the corners of either end.",
    ),
    stated(YieldAnswer, "draws", "So many boards were drawn and assessed.", origin="asked", where="--draws",
           checks=_SAME),
    stated(YieldAnswer, "seed", "What the draws follow from, with the tolerances.", symbol="s", origin="asked",
           where="--seed", checks=_SAME, off="exact: it is asked for"),
    stated(YieldAnswer, "levels", "The shares of draws that quantiles are told for.", symbol="q", origin="program",
           where="the study", checks=_TOY, off="exact: they are chosen"),
    AnswerEntry(
        record=YieldOf, key="margin_guards", unit="", symbol=_EACH, inputs=_drawn, checks=(ASSESSED, *_SAME),
        meaning="The normalized margin of each draw; of the board the least of all lanes.",
        formula=Sought("margin of the board with the draw's deviations", (_SEED, _DRAWS)),
        method="Each draw's board is assessed as the board itself is.", off="as the margins",
    ),
    AnswerEntry(
        record=YieldOf, key="quantiles", unit="", symbol=Symbol("Q"), inputs=_of_draws, checks=_TOY,
        meaning="Normalized margins that the stated shares of draws lie below.",
        formula=Sought("quantiles of the draws", (_EACH,)), method="Sorted, and read between two draws in a line.",
        off="the sampling of so many draws",
    ),
    AnswerEntry(
        record=Proportion, key="value", unit="", symbol=Symbol("Y"), formula=_KEPT / _DRAWS, inputs=_kept,
        meaning="The share of draws that keep the limits (keeps_limits), or the guard bands too (keeps_guard).",
        checks=_TOY, off="by sampling as its interval says",
    ),
    *(
        AnswerEntry(
            record=Proportion, key=key, unit="", symbol=Symbol("Y", key), inputs=_interval, checks=_BOUNDS,
            meaning=f"The {word} end of the 95 % confidence interval of that share.",
            formula=Sought("exact bound of a binomial count", (_KEPT, _DRAWS, _SURE)),
            method="Quantile of a beta distribution: C. J. Clopper, E. S. Pearson, Biometrika 26(4), 1934.",
            holds="independent draws; Sobol points are usually nearer", off="exact for independent draws",
        )
        for key, word in (("low", "lower"), ("high", "upper"))
    ),
    AnswerEntry(
        record=Driver, key="correlation", unit="", symbol=Symbol("r"), inputs=_of_draws,
        meaning="Spearman's rank correlation of what varies with the margin, from -1 to 1.",
        formula=Sought("correlation of ranks", (_EACH,)), method="Of the ranks of its deviations and of the margins.",
        checks=(Check(_YIELDS + "test_the_rank_correlation_is_that_of_the_mean_ranks", "ranks by hand", "1e-12"),),
        off="by sampling about 1 / √n",
    ),
)  # fmt: skip
