"""Entries of the studies that search: settings, position, reach."""

from itertools import product

from workbench.board.model import ChannelSettings
from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, beside, input_from, stated
from workbench.engine.figures.entry import Check, FigureInput, on_the_way
from workbench.engine.figures.expression import Smallest, Sought, Symbol
from workbench.studies.entries.lanes import ASSESSED, TESTS
from workbench.studies.position import PositionAnswer, PositionPoint, PositionWindow
from workbench.studies.reach import ReachAnswer, ReachRow
from workbench.studies.reach_search import PassingLengths, Reached
from workbench.studies.setting_search.answer import DeviceSettings, GroupAnswer, RankedSettings, SettingsAnswer

WORST, EACH = Symbol("M", "worst"), Symbol("M", indexed=True)
_LENGTH, _REACH, _LEAST = Symbol("l"), Symbol("l", "max"), Symbol("M", "min")
_PASSIVE = Symbol("l", "passive")
_LENGTHS, _X = Symbol("l", indexed=True), Symbol("x", indexed=True)
_NEAR = (
    Check(TESTS + "test_settings.py::test_the_recommended_one_loses_least_when_a_setting_goes_one_step",
          "every neighbour assessed", "exact"),
    Check(TESTS + "test_joint.py::test_the_least_nearby_looks_one_step_along_each_axis_and_not_across",
          "by hand", "exact"),
)  # fmt: skip
_PLATEAU = (
    Check(TESTS + "test_settings.py::test_the_plateau_is_all_within_the_stated_margin_with_the_same_verdict",
          "every candidate", "exact"),
)  # fmt: skip
_PLACES = (
    Check(TESTS + "test_position.py::test_every_point_is_the_assessment_of_the_board_moved_and_set_by_hand",
          "the board moved by hand", "exact"),
)  # fmt: skip
_WINDOWS = (
    Check(TESTS + "test_position.py::test_windows_are_the_stretches_where_every_lane_keeps_its_limits",
          "every position assessed", "exact"),
)  # fmt: skip
_BISECTED = (
    Check(TESTS + "test_reach.py::test_the_reach_is_that_of_bisection_by_hand_to_a_millimetre", "bisection by hand",
          "a millimetre"),
    Check(TESTS + "test_reach.py::test_a_margin_that_rises_again_is_found_by_the_scan_and_every_border_bisected",
          "a margin made to rise again", "a millimetre"),
)  # fmt: skip
_TENTH = "a tenth of a millimetre; between two lengths of the scan the margin is taken to cross once"


def _lanes(spot: Spot) -> list[FigureInput]:
    paths = [f"{spot.place}.lanes[{n}].margin_guards" for n in range(len(spot.record.lanes))]
    return [at_path(spot, EACH, "of each lane", "", *paths)]


def _worst(record: type) -> AnswerEntry:
    return AnswerEntry(
        record=record, key="margin_guards", unit="", symbol=WORST, formula=Smallest(EACH), inputs=_lanes,
        meaning="The least normalized margin of all lanes of the variant.", checks=(ASSESSED, *_PLACES),
        off="as the margins",
    )  # fmt: skip


def _nearby(spot: Spot) -> list[FigureInput]:
    """The margin and those of all that is one step of one control away, as far as they stand in the answer."""
    place, group = spot.above(GroupAnswer)
    here = _steps(group, spot.record)
    known = {_steps(group, one): f"{place}.candidates[{n}].margin_guards" for n, one in enumerate(group.candidates)}
    near = [(*here[:n], here[n] + step, *here[n + 1 :]) for n, step in product(range(len(here)), (-1, 1))]
    paths = [known[one] for one in near if one in known]
    return [at_path(spot, EACH, "of itself and each neighbour", "", f"{spot.place}.margin_guards", *paths)]


def _all_ranked(spot: Spot) -> bool:
    """Whether every neighbour stands in the answer."""
    _, group = spot.above(GroupAnswer)
    return bool(len(group.candidates) == group.combinations)


def _steps(group: GroupAnswer, one: RankedSettings) -> tuple[int, ...]:
    """The position of every control of every device, counted from its first."""
    return tuple(
        names.index(position)
        for device, positions in zip(one.settings, group.positions, strict=True)
        for position, names in zip(device.settings.values(), positions, strict=True)
    )


def _margin_itself(spot: Spot) -> list[FigureInput]:
    return [at_path(spot, EACH, "of itself", "", f"{spot.place}.margin_guards")]


def _window(spot: Spot) -> list[FigureInput]:
    answer = spot.whole.answer
    settings = spot.record.settings
    paths = [f"points[{n}].margin_guards" for n, one in enumerate(answer.points) if one.settings == settings]
    return [
        input_from(_X, "positions tried", answer.shifts_m, "m", origin="figure",
                   where="shifts_m"),
        at_path(spot, EACH, "worst margin at each, with this setting", "", *paths),
    ]  # fmt: skip


def _reach(spot: Spot) -> list[FigureInput]:
    found = f"{spot.above(ReachRow)[0]}.found"
    return [
        at_path(spot, _LENGTHS, "lengths of the scan", "m", f"{found}.lengths_m"),
        at_path(spot, EACH, "margin at each", "", f"{found}.margin_guards"),
        at_path(spot, _LEAST, "the margin that counts as passing", "", "least_guards"),
    ]


def _gained(spot: Spot) -> list[FigureInput]:
    rows, row = spot.whole.answer.rows, spot.record
    number = next(
        n for n, one in enumerate(rows) if one.device is None and (one.lane, one.profile) == (row.lane, row.profile)
    )
    passive = rows[number].reach_m
    without = "the longest without conditioners"
    return [
        beside(spot, _REACH, "the longest with the conditioner", "m", "reach_m"),
        at_path(spot, _PASSIVE, without, "m", f"rows[{number}].reach_m") if passive is not None
        else on_the_way(_PASSIVE, f"{without}: no length passes", 0.0, "m", f"rows[{number}].found"),
    ]  # fmt: skip


def _at_least(spot: Spot) -> tuple[str, ...]:
    return ("It passes as far as was looked, so that it gains at least this.",) if spot.record.unlimited else ()


def _length(spot: Spot) -> list[FigureInput]:
    assert spot.value is not None
    where = f"lanes/{spot.record.lane}/path[{spot.record.place - 1}]/length_m of the board"
    return [input_from(_LENGTH, "as the board has it", spot.value, "m", origin="board", where=where)]


def _scanned(spot: Spot) -> list[FigureInput]:
    if not spot.at:
        return [beside(spot, _LENGTHS, "lengths of the scan", "m", "lengths_m")]
    return [beside(spot, _LENGTHS, "length of the run there", "m", f"lengths_m[{spot.at[-1]}]")]


_CHANNEL = (
    Check("tests/channels/test_channel_studies.py::"
          "test_every_combination_of_what_is_shared_and_each_channels_own_is_ranked", "the channels by hand", "exact"),
)  # fmt: skip
_SCAN = (_LENGTHS, EACH, _LEAST)

SEARCH_ENTRIES: tuple[AnswerEntry, ...] = (
    _worst(RankedSettings),
    AnswerEntry(
        record=RankedSettings, key="nearby_guards", unit="", symbol=Symbol("M", "near"), formula=Smallest(EACH),
        meaning="The least margin one step of one control away, itself included: how far one may be off.",
        inputs=_nearby, applies=_all_ranked, checks=_NEAR, off="as the margins",
    ),
    AnswerEntry(
        record=RankedSettings, key="nearby_guards", unit="", symbol=Symbol("M", "near"),
        meaning="The least margin one step of one control away, itself included: how far one may be off.",
        formula=Sought("least of itself and its neighbours", (EACH,)), inputs=_margin_itself, checks=_NEAR,
        method="Its neighbours are assessed; not all of them are kept in the answer.", off="as the margins",
    ),
    stated(SettingsAnswer, "plateau_guards", "How far below the best the plateau reaches, in normalized margin.",
           symbol="p", origin="asked", where="--plateau", checks=_PLATEAU, off="exact: it is asked for"),
    stated(GroupAnswer, "combinations", "So many joint settings there are.", where="positions of all controls",
           checks=(ASSESSED,)),
    _worst(PositionPoint),
    *(
        stated(kind, "channel", words, where="the board", origin="board", checks=_CHANNEL, off="exact: it is a number")
        for kind, words in (
            (DeviceSettings, "The channel whose own controls these are."),
            (ChannelSettings, "The channel whose own controls these are."),
            (ReachRow, "The channel that the lane passes."),
        )
    ),
    stated(PositionPoint, "shift_m", "How far the device is moved, positive towards the receivers.", unit="m",
           symbol="x", where="evenly over its range", checks=_PLACES, off="exact: it is chosen"),
    stated(PositionAnswer, "shifts_m", "The positions that were tried, positive towards the receivers.", unit="m",
           symbol="x", where="evenly over the range", checks=_PLACES, off="exact: they are chosen"),
    *(
        AnswerEntry(
            record=PositionWindow, key=key, unit="m", symbol=Symbol("x", which), inputs=_window, checks=_WINDOWS,
            meaning=f"The {word} of neighbouring positions at which every lane keeps its limits.",
            formula=Sought("end of the stretch with margins of 0 or more", (_X, EACH)),
            method="Among the positions that were tried; what lies between them is not looked at.",
            off="one step between positions",
        )
        for key, which, word in (("from_m", "from", "first"), ("to_m", "to", "last"))
    ),
    stated(ReachAnswer, "least_guards", "The normalized margin that counts as passing: 1 keeps the guard band too.",
           symbol="M_min", origin="asked", where="--keep-guard", checks=_BISECTED, off="exact: it is asked for"),
    stated(ReachRow, "place", "Which element of the path the run is, from 1.", where="the lane's path",
           checks=_BISECTED),
    AnswerEntry(
        record=ReachRow, key="length_m", unit="m", symbol=_LENGTH, inputs=_length, checks=_BISECTED,
        meaning="How long the run is on the board.", off="exact: it is stated",
    ),
    AnswerEntry(
        record=ReachRow, key="reach_m", unit="m", symbol=_REACH, inputs=_reach, checks=_BISECTED, off=_TENTH,
        meaning="The longest that the run may be with the lane's limits kept.",
        formula=Sought("longest length that passes", _SCAN),
        method="Lengths are scanned, and every border between passing and failing is bisected.",
    ),
    AnswerEntry(
        record=ReachRow, key="gained_m", unit="m", symbol=Symbol("Δl"), inputs=_gained, checks=_BISECTED, off=_TENTH,
        meaning="How much longer the run may be with the conditioner than without any.", formula=_REACH - _PASSIVE,
        doubts=_at_least,
    ),
    stated(Reached, "lengths_m", "The lengths that were scanned.", unit="m", symbol="l", where="evenly up to where it "
           "fails", checks=_BISECTED, off="exact: they are chosen"),
    AnswerEntry(
        record=Reached, key="margin_guards", unit="", symbol=EACH, inputs=_scanned, checks=(ASSESSED, *_BISECTED),
        meaning="The lane's normalized margin at each length of the scan.", off="as the margins",
        formula=Sought("normalized margin with a run so long", (_LENGTHS,)), method="The board with each length is "
        "assessed as the board itself is.",
    ),
    *(
        AnswerEntry(
            record=PassingLengths, key=key, unit="m", symbol=Symbol("l", which), inputs=_reach, checks=_BISECTED,
            meaning=f"The {word} length of a stretch of lengths that pass.", off=_TENTH,
            formula=Sought("border between passing and failing", _SCAN), method="Bisected between two of the scan.",
        )
        for key, which, word in (("from_m", "from", "least"), ("to_m", "to", "largest"))
    ),
)  # fmt: skip
