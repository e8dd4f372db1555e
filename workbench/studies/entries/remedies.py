"""Entries of what remedies are told with."""

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, beside, stated
from workbench.engine.figures.entry import Check, FigureInput
from workbench.engine.figures.expression import Sought, Symbol, Total
from workbench.studies.entries.lanes import TESTS
from workbench.studies.remedies.answer import RemedyAnswer, RemedyOffer, Tried
from workbench.studies.remedies.moves import RemedyMove

_AFTER, _POWER = Symbol("M", "after"), Symbol("P", indexed=True)
_REMEDY = TESTS + "test_remedy.py::"
_AROUND = (
    Check(_REMEDY + "test_the_plateau_is_the_least_of_what_is_one_step_away", "every neighbour assessed", "exact"),
)  # fmt: skip
_TRIED = (
    Check(TESTS + "test_remedy_price.py::test_three_lanes_with_settings_and_parts_take_no_more_than_they_may",
          "what is asked of the engine, counted", "exact"),
)  # fmt: skip
_POWERS = (Check(_REMEDY + "test_power_is_told_where_the_parts_data_state_it", "the parts' data", "floating point"),)
_CORNERS = (
    Check(_REMEDY + "test_corners_are_those_of_boards_varied_by_hand", "boards varied by hand", "exact"),
)  # fmt: skip
_CHEAPEST = (
    Check(_REMEDY + "test_no_cheaper_cure_than_the_one_offered_stands_among_all_single_moves", "all moves assessed",
          "exact"),
)  # fmt: skip


def _nearby(spot: Spot) -> list[FigureInput]:
    return [beside(spot, _AFTER, "with the remedy made", "", "lane.after.margin_guards")]


def _power(spot: Spot) -> list[FigureInput]:
    paths = [f"{spot.place}.moves[{n}].power_w" for n in range(len(spot.record.moves))]
    return [at_path(spot, _POWER, "of each move", "W", *paths)]


def _tried(spot: Spot) -> list[FigureInput]:
    return [beside(spot, Symbol("n"), "so many were tried", "", "count")]


REMEDY_ENTRIES: tuple[AnswerEntry, ...] = (
    stated(RemedyAnswer, "corners", "As so many boards each variant is assessed, itself included.",
           where="the corners of the tolerances", checks=_CORNERS),
    AnswerEntry(
        record=RemedyOffer, key="nearby_guards", unit="", symbol=Symbol("M", "near"), inputs=_nearby, checks=_AROUND,
        meaning="The least margin of the lane one step of one knob away, the remedy itself included: how far one may "
        "be off.",
        formula=Sought("least of itself and what is one step away", (_AFTER,)), off="as the margins",
        method="Each neighbour is assessed; a knob that was not turned before has its old position as one.",
    ),
    AnswerEntry(
        record=RemedyOffer, key="power_w", unit="W", symbol=Symbol("P"), formula=Total(_POWER), inputs=_power,
        meaning="How much more power the remedy takes; none is told where one part's data does not say.",
        checks=_POWERS, off="as the parts' data",
    ),
    stated(RemedyMove, "power_w", "How much more power one move takes.", unit="W", symbol="P", origin="catalogue",
           where="the part's power, or the driver's power per swing times the swing", checks=_POWERS,
           off="as the parts' data"),
    stated(RemedyMove, "at", "The move's position on its knob; two moves one apart are neighbours.",
           where="positions in order", checks=_AROUND),
    stated(RemedyMove, "now_at", "Where the knob stands on the board.", where="positions in order", checks=_AROUND),
    stated(RemedyMove, "price", "Its rank within its class, the cheapest 0.", where="the class", checks=_CHEAPEST),
    stated(Tried, "count", "So many changes of the class were assessed.", where="counted", checks=_TRIED),
    AnswerEntry(
        record=Tried, key="best_guards", unit="", symbol=Symbol("M", "best"), inputs=_tried, checks=_CHEAPEST,
        meaning="The largest normalized margin among them.", formula=Sought("largest margin tried", (Symbol("n"),)),
        method="Each is assessed; those that were only sketched don't count.", off="as the margins",
    ),
)  # fmt: skip
