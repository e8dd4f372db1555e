"""How the figures of a lane list came about: lengths before and after, skews, and where in the list they stand."""

from workbench.engine.figures.answered import AnswerEntry, Spot, input_from, stated
from workbench.engine.figures.entry import Check, FigureInput
from workbench.engine.figures.expression import Symbol
from workbench.measured.tables.lane_lists import BlankCell, LeftOut, LengthChange, ListedRun, Skew

_LISTS = "tests/measured/test_lane_lists.py::"
_LANDED = (
    Check(_LISTS + "test_lengths_land_on_the_runs_that_the_user_named", "the list by hand, in three units", "1e-15"),
    Check(_LISTS + "test_whatever_the_columns_order_each_length_lands_on_its_run", "random lists by hand", "1e-12"),
)
_HALVES = (Check(_LISTS + "test_halves_of_a_pair_make_one_length_and_a_skew", "both halves by hand", "floating point"),)
_LINES = (
    Check(_LISTS + "test_an_empty_cell_leaves_its_run_and_is_reported", "the list by hand", "exact"),
    Check(_LISTS + "test_lengths_land_on_the_runs_that_the_user_named", "the list by hand", "exact"),
)
_LENGTH = Symbol("l")


def _before(spot: Spot) -> list[FigureInput]:
    assert spot.value is not None
    where = f"lanes/{spot.record.lane}/path[{spot.record.place - 1}]/length_m of the board"
    return [input_from(_LENGTH, "as the board had it", spot.value, "m", origin="board", where=where)]


def _after(spot: Spot) -> list[FigureInput]:
    assert spot.value is not None
    where = f"{spot.whole.answer.source}, line {spot.record.line}"
    return [input_from(_LENGTH, "the cell, or of two halves the mean", spot.value, "m", origin="file", where=where)]


def _place(record: type, key: str, meaning: str) -> AnswerEntry:
    return stated(record, key, meaning, origin="file", where="the list", checks=_LINES, off="exact: it is counted")


LANE_LIST_ENTRIES: tuple[AnswerEntry, ...] = (
    AnswerEntry(
        record=LengthChange,
        key="before_m",
        unit="m",
        symbol=_LENGTH,
        inputs=_before,
        checks=_LANDED,
        meaning="The run's length before the list was taken.",
        off="exact: as the board had it",
    ),
    AnswerEntry(
        record=LengthChange,
        key="after_m",
        unit="m",
        symbol=_LENGTH,
        inputs=_after,
        checks=(*_LANDED, *_HALVES),
        meaning="The run's length as the list has it.",
        off="as routed: the digits of the list",
    ),
    stated(
        Skew,
        "skew_m",
        "By how much the longer half of the pair is longer than the other.",
        unit="m",
        symbol="Δl",
        origin="file",
        where="both halves' rows, all runs added up",
        checks=_HALVES,
        off="as routed: the digits of the list",
    ),
    _place(LengthChange, "line", "The row's line in the list, from 1."),
    stated(
        LengthChange,
        "place",
        "The run's place on the lane's path, from 1.",
        origin="board",
        where="the lane's path",
        checks=_LANDED,
        off="exact: it is counted",
    ),
    stated(
        ListedRun,
        "place",
        "The place on the pattern's path whose length the column has, from 1.",
        origin="board",
        where="the pattern's path",
        checks=_LANDED,
        off="exact: it is counted",
    ),
    _place(LeftOut, "line", "The line of a row that was not taken, from 1."),
    _place(BlankCell, "line", "The line of an empty cell, from 1."),
)
