"""What the columns of studies' tables for spreadsheets hold: figures of the answer, or marks and counts of rows."""

from typing import NamedTuple

from workbench.engine.figures.entry import Check
from workbench.studies.entries.lanes import ASSESSED, TESTS

DEVIATION = "deviation"
"""Stands for the column of each tolerance, which is headed by what was typed."""


class RowFigure(NamedTuple):
    """A column of numbers.

    Attributes:
        column: its head.
        means: the entry of the answer's figure that it holds, as "Record.field"; else what the mark says, a sentence.
        checks: what holds a mark; none where an entry has them.
    """

    column: str
    means: str
    checks: tuple[Check, ...] = ()


def _mark(column: str, means: str, test: str, source: str) -> RowFigure:
    return RowFigure(column, means, (Check(f"{TESTS}{test}", source, "exact"),))


ROW_FIGURES = (
    *(RowFigure(field, f"LaneFigures.{field}") for field in ("height_v", "width_ui", "margin_height_v",
                                                             "margin_width_ui", "margin_guards")),
    RowFigure("lane_margin_guards", "LaneFigures.margin_guards"),
    RowFigure("worst_margin_guards", "RankedSettings.margin_guards"),
    RowFigure("nearby_guards", "RankedSettings.nearby_guards"),
    RowFigure("channel", "DeviceSettings.channel"),
    RowFigure("shift_m", "PositionPoint.shift_m"),
    RowFigure("place", "ReachRow.place"),
    RowFigure("length_m", "ReachRow.length_m"),
    RowFigure("reach_m", "ReachRow.reach_m"),
    RowFigure("gained_m", "ReachRow.gained_m"),
    RowFigure(DEVIATION, "Corner.deviations"),
    RowFigure("now_guards", "LaneFigures.margin_guards"),
    RowFigure("ideal_guards", "LaneFigures.margin_guards"),
    *(RowFigure(field, f"BudgetItem.{field}") for field in ("alone_guards", "forward_guards", "reverse_guards",
                                                            "alone_height_v", "alone_width_ui")),
    RowFigure("before_guards", "LaneFigures.margin_guards"),
    RowFigure("after_guards", "LaneFigures.margin_guards"),
    RowFigure("power_w", "RemedyOffer.power_w"),
    RowFigure("into_first_guards", "ChangeEffect.into_first_guards"),
    RowFigure("out_of_second_guards", "ChangeEffect.out_of_second_guards"),
    RowFigure("group", "Devices that share a lane have one number.", (ASSESSED,)),
    RowFigure("rank", "Its rank, the largest worst margin first.", (ASSESSED,)),
    _mark("recommended", "1 for what is recommended: of the plateau the one that loses least one step away.",
          "test_settings.py::test_the_recommended_one_loses_least_when_a_setting_goes_one_step", "every neighbour"),
    _mark("plateau", "1 where the margin is as good as the best but for the stated share.",
          "test_settings.py::test_the_plateau_is_all_within_the_stated_margin_with_the_same_verdict",
          "every candidate"),
    _mark("best", "1 for the position and setting of the largest worst margin.",
          "test_position.py::test_the_best_is_the_largest_worst_margin_and_the_edit_puts_it_there", "every point"),
    _mark("unlimited", "1 where no length tried fails.",
          "test_reach.py::test_the_reach_is_that_of_bisection_by_hand_to_a_millimetre", "bisection by hand"),
    _mark("monotone", "1 where the margin only falls with length.",
          "test_reach.py::test_a_margin_that_rises_again_is_found_by_the_scan_and_every_border_bisected",
          "a margin made to rise again"),
    _mark("corner", "The corner's number; 0 is the board as it is.",
          "test_tolerances.py::test_the_worst_corner_is_the_worst_of_boards_edited_by_hand", "boards edited by hand"),
    _mark("draw", "The draw's number, from 0.", "test_yield.py::test_the_same_seed_draws_the_same", "the study again"),
    _mark("keeps_limits", "1 where the draw's margin is 0 or more.",
          "test_yield.py::test_the_yield_of_a_linear_toy_is_its_closed_form", "closed form"),
    _mark("keeps_guard", "1 where the draw's margin is 1 or more.",
          "test_yield.py::test_the_yield_of_a_linear_toy_is_its_closed_form", "closed form"),
    _mark("answer", "The answer's number, from 1.",
          "test_remedy.py::test_a_cure_of_each_class_makes_the_lane_pass_when_the_board_is_assessed_anew",
          "the changed board"),
    _mark("cures", "1 where the lane passes and no other lane's verdict gets worse.",
          "test_remedy.py::test_a_cure_of_each_class_makes_the_lane_pass_when_the_board_is_assessed_anew",
          "the changed board"),
)  # fmt: skip
