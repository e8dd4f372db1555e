"""How the figures of studies came about: one entry for each column of numbers in a study's rows, and for its shares."""

import msgspec

from workbench.engine.figures.entry import Check
from workbench.engine.figures.expression import Symbol

_BY = "tests/studies/"
_LANE = (Check(_BY + "test_settings.py::test_the_ranking_is_that_of_plain_assessments_of_every_combination",
               "the variant's board, assessed in full", "exact"),)  # fmt: skip


class StudyFigure(msgspec.Struct, frozen=True, kw_only=True):
    """The entry of a figure that a study shows.

    Attributes:
        study: the study's word; "" for what several have.
        key: the column of the study's rows, with its unit.
        meaning: one sentence.
        symbol: what it is called.
        method: how it is found.
        rests_on: the lane's figure that it is, or is made of, by its key; "" for none.
        checks: what it was checked against.
        off: how far it can be off.
    """

    study: str
    key: str
    meaning: str
    symbol: Symbol
    method: str
    rests_on: str = ""
    checks: tuple[Check, ...]
    off: str


def _of_lane(key: str, letter: str, meaning: str, rests_on: str) -> StudyFigure:
    return StudyFigure(
        study="", key=key, symbol=Symbol(letter), meaning=meaning, rests_on=rests_on, checks=_LANE,
        method="Each variant of the board is assessed as the board itself is.", off="as the lane's own figure",
    )  # fmt: skip


_NOW, _ALONE, _IDEAL = Symbol("M", "now"), Symbol("M", "alone"), Symbol("M", "ideal")
_ZERO_UP, _ONE_UP = Symbol("k", "0"), Symbol("k", "1")
_BUDGET = _BY + "test_budget.py::"
_STEPS = (Check(_BUDGET + "test_steps_in_turn_add_up_to_everything_in_both_orders", "the sum of the steps", "exact"),)
_REMEDY = (
    Check(_BY + "test_remedy.py::test_a_cure_of_each_class_makes_the_lane_pass_when_the_board_is_assessed_anew",
          "the changed board, assessed in full", "exact"),
)  # fmt: skip
_YIELD = (Check(_BY + "test_yield.py::test_the_yield_of_a_linear_toy_is_its_closed_form", "closed form", "sampling"),)
_REACH = (
    Check(_BY + "test_reach.py::test_the_reach_is_that_of_bisection_by_hand_to_a_millimetre", "bisection by hand",
          "1 mm"),
)  # fmt: skip
_PLACES = (
    Check(_BY + "test_position.py::test_every_point_is_the_assessment_of_the_board_moved_and_set_by_hand",
          "the board moved by hand", "exact"),
)  # fmt: skip
_NEAR = (
    Check(_BY + "test_settings.py::test_the_recommended_one_loses_least_when_a_setting_goes_one_step",
          "every neighbour assessed", "exact"),
)  # fmt: skip
DEVIATION = "deviation"
"""Stands for the column of each tolerance, which is headed by what was typed."""
_COUNTED = "exact: it is a count"

STUDY_FIGURES: tuple[StudyFigure, ...] = (
    _of_lane("height_v", "h", "Eye height of the variant.", "eye.height_v"),
    _of_lane("width_ui", "w", "Eye width of the variant.", "eye.width_ui"),
    _of_lane("margin_height_v", "M_h", "Height − the profile's limit, of the variant.", "margin.height_v"),
    _of_lane("margin_width_ui", "M_w", "Width − the profile's limit, of the variant.", "margin.width_ui"),
    _of_lane("margin_guards", "M", "Normalized margin of the variant.", "normalized_margin"),
    _of_lane("lane_margin_guards", "M", "Normalized margin of one lane of the variant.", "normalized_margin"),
    StudyFigure(
        study="", key="worst_margin_guards", symbol=Symbol("M", "worst"), rests_on="normalized_margin",
        meaning="The least normalized margin of all lanes of the variant.", checks=_PLACES, off="as the margins",
        method="The least of the lanes' margins in the same variant.",
    ),
    StudyFigure(
        study="", key="nearby_guards", symbol=Symbol("M", "near"), rests_on="normalized_margin", checks=_NEAR,
        meaning="The least margin one step of one knob away, itself included: how far one may be off.",
        method="The least of the variant's margin and those of its neighbours, each assessed.", off="as the margins",
    ),
    StudyFigure(study="settings", key="group", symbol=Symbol("n"), meaning="Devices that share a lane have one number.",
                method="Counted.", checks=_LANE, off=_COUNTED),
    StudyFigure(study="settings", key="rank", symbol=Symbol("n"), meaning="Its rank, the largest worst margin first.",
                method="Sorted by the worst margin.", checks=_LANE, off=_COUNTED),
    StudyFigure(study="settings", key="recommended", symbol=Symbol("k"), checks=_NEAR, off=_COUNTED,
                meaning="1 for what is recommended: of the plateau the one that loses least one step away.",
                method="The largest margin nearby among those of the plateau."),
    StudyFigure(study="settings", key="plateau", symbol=Symbol("k"), off=_COUNTED,
                meaning="1 where the margin is as good as the best but for what a user would not notice.",
                method="Within the stated share of the best margin, with the same verdict.",
                checks=(Check(_BY + "test_settings.py::test_the_plateau_is_all_within_the_stated_margin_with_the_same_"
                              "verdict", "every candidate", "exact"),)),
    StudyFigure(study="position", key="shift_m", symbol=Symbol("x"), checks=_PLACES, off="exact: it is chosen",
                meaning="How far the device is moved, positive towards receivers.", method="Evenly over its range."),
    StudyFigure(study="position", key="best", symbol=Symbol("k"), off=_COUNTED, method="The largest worst margin.",
                meaning="1 for the position and setting of the largest worst margin.",
                checks=(Check(_BY + "test_position.py::test_the_best_is_the_largest_worst_margin_and_the_edit_puts_it_"
                              "there", "every point", "exact"),)),
    StudyFigure(study="reach", key="place", symbol=Symbol("n"), meaning="Which element of the path the run is, from 1.",
                method="Counted.", checks=_REACH, off=_COUNTED),
    StudyFigure(study="reach", key="length_m", symbol=Symbol("l"), meaning="How long the run is on the board.",
                method="As the board has it.", rests_on="length_m", checks=_REACH, off="exact: it is stated"),
    StudyFigure(study="reach", key="reach_m", symbol=Symbol("l", "max"), checks=_REACH, off="1 mm",
                meaning="The longest that the run may be with the lane's limits kept.", rests_on="normalized_margin",
                method="Lengths are scanned, and every border between keeping and failing is bisected."),
    StudyFigure(study="reach", key="unlimited", symbol=Symbol("k"), meaning="1 where no length tried fails.",
                method="Scanned up to the longest length tried.", checks=_REACH, off=_COUNTED),
    StudyFigure(study="reach", key="monotone", symbol=Symbol("k"), method="Scanned.", off=_COUNTED,
                meaning="1 where the margin only falls with length.",
                checks=(Check(_BY + "test_reach.py::test_a_margin_that_rises_again_is_found_by_the_scan_and_every_"
                              "border_bisected", "a margin made to rise again", "1 mm"),)),
    StudyFigure(study="corners", key="corner", symbol=Symbol("n"), meaning="The corner's number.", method="Counted.",
                off=_COUNTED, checks=(Check(_BY + "test_tolerances.py::test_the_worst_corner_is_the_worst_of_boards_"
                                            "edited_by_hand", "boards edited by hand", "exact"),)),
    StudyFigure(study="corners", key=DEVIATION, symbol=Symbol("δ"), off="exact: it is chosen", method="As typed.",
                meaning="How far a tolerance is off at the corner, as a share or in its unit.",
                checks=(Check(_BY + "test_tolerances.py::test_one_at_a_time_leaves_the_others_as_they_are",
                              "the boards that are assessed", "exact"),)),
    StudyFigure(study="yield", key="draw", symbol=Symbol("n"), meaning="The draw's number.", method="Counted.",
                checks=_YIELD, off=_COUNTED),
    StudyFigure(study="yield", key="keeps_limits", symbol=_ZERO_UP, rests_on="normalized_margin", checks=_YIELD,
                meaning="1 where the draw's margin is 0 or more; their share is the yield.", off=_COUNTED,
                method="The share's 95 % confidence is that of a binomial count."),
    StudyFigure(study="yield", key="keeps_guard", symbol=_ONE_UP, rests_on="normalized_margin", checks=_YIELD,
                meaning="1 where the draw's margin is 1 or more.", method="As above, with the guard band.",
                off=_COUNTED),
    StudyFigure(study="budget", key="now_guards", symbol=_NOW, rests_on="normalized_margin", checks=_STEPS,
                meaning="Normalized margin of the lane as it is.", method="Assessed.", off="as the margin"),
    StudyFigure(study="budget", key="ideal_guards", symbol=_IDEAL, rests_on="normalized_margin", checks=_STEPS,
                meaning="Normalized margin with everything ideal.", method="Assessed.", off="as the margin"),
    StudyFigure(study="budget", key="alone_guards", symbol=_ALONE, rests_on="normalized_margin", off="as the margins",
                meaning="Margin gained when this alone is made ideal.",
                method="Two assessments, with and without it, and their difference.",
                checks=(Check(_BUDGET + "test_a_thing_made_ideal_is_the_assessment_of_a_board_without_it",
                              "the board without it", "exact"),)),
    StudyFigure(study="budget", key="forward_guards", symbol=Symbol("M", "turn"), checks=_STEPS, off="as the margins",
                rests_on="normalized_margin", method="Steps in the rows' order; they add up to ideal − now.",
                meaning="Margin gained when this is made ideal after all above it."),
    StudyFigure(study="budget", key="reverse_guards", symbol=Symbol("M", "back"), checks=_STEPS, off="as the margins",
                rests_on="normalized_margin", method="Steps in the reverse order; they add up to ideal − now.",
                meaning="Margin gained when this is made ideal after all below it."),
    StudyFigure(study="budget", key="alone_height_v", symbol=Symbol("Δh"), checks=_STEPS, off="as the heights",
                rests_on="eye.height_v", method="Two assessments and their difference.",
                meaning="Height gained when this alone is made ideal."),
    StudyFigure(study="budget", key="alone_width_ui", symbol=Symbol("Δw"), checks=_STEPS, off="as the widths",
                rests_on="eye.width_ui", method="Two assessments and their difference.",
                meaning="Width gained when this alone is made ideal."),
    StudyFigure(study="remedy", key="answer", symbol=Symbol("n"), meaning="The answer's number.", method="Counted.",
                checks=_REMEDY, off=_COUNTED),
    StudyFigure(study="remedy", key="cures", symbol=Symbol("k"), checks=_REMEDY, off=_COUNTED,
                meaning="1 where the lane passes and no other lane's verdict gets worse.",
                method="Every lane that is touched is assessed."),
    StudyFigure(study="remedy", key="before_guards", symbol=Symbol("M", "before"), rests_on="normalized_margin",
                meaning="Normalized margin before the change.", method="Assessed.", checks=_REMEDY, off="as it is"),
    StudyFigure(study="remedy", key="after_guards", symbol=Symbol("M", "after"), rests_on="normalized_margin",
                meaning="Normalized margin after the change.", method="Assessed.", checks=_REMEDY, off="as it is"),
)  # fmt: skip
"""Every number of the studies' rows; a study's own comes before what several have."""


def study_figure(study: str, key: str) -> StudyFigure:
    """The entry of a study's column; raises KeyError where there is none."""
    for wanted in (study, ""):
        for one in STUDY_FIGURES:
            if (one.study, one.key) == (wanted, key):
                return one
    raise KeyError(f"{study}.{key}")
