"""Entries of what every answer holds of a lane under a variant of the board, and of what it says of itself."""

from workbench.board.model import Board, Guard
from workbench.engine.figures.answered import AnswerEntry, Spot, beside, input_from, stated
from workbench.engine.figures.entry import Check, FigureInput, of_profile, on_the_way
from workbench.engine.figures.expression import Sought, Symbol
from workbench.engine.figures.eyes import HEIGHT, WIDTH_UI
from workbench.engine.figures.shown import HEIGHT_GUARD, MARGIN, NORMALIZED, WIDTH_GUARD
from workbench.engine.figures.verdicts import LEAST_HEIGHT, LEAST_WIDTH
from workbench.engine.lane.path import plan_of
from workbench.studies.figures import LaneFigures
from workbench.studies.record import AnswerOrigin

TESTS = "tests/studies/"
ASSESSED = Check(TESTS + "test_settings.py::test_the_ranking_is_that_of_plain_assessments_of_every_combination",
                 "the variant's board, assessed in full", "exact")  # fmt: skip
_BANDS = Check(TESTS + "test_figures.py::test_it_is_the_smaller_of_both_margins_in_guard_bands",
               "limits and guard bands by hand", "exact")  # fmt: skip
_EFFORT = Check(TESTS + "test_running.py::test_processes_find_what_one_thread_finds_and_load_no_window",
                "the same study in one thread", "exact")  # fmt: skip
_SHARED = Check(TESTS + "test_running.py::test_what_lanes_and_variants_share_is_computed_once",
                "what was computed, counted", "exact")  # fmt: skip


def board_at(spot: Spot) -> Board:
    """The board that a lane's figures are of, but for what its variant changes."""
    first = spot.place.endswith(".first") and spot.whole.before is not None
    board = spot.whole.before if first else spot.whole.board
    assert board is not None
    return board


def limit_input(spot: Spot, field: str) -> FigureInput:
    """The profile's limit on height or width ("height_v", "width_ui") as an input; 0 where none is known."""
    board = board_at(spot)
    plan = plan_of(board, next(one for one in board.lanes if one.name == spot.record.lane))
    symbol, unit = (LEAST_HEIGHT, "V") if field == "height_v" else (LEAST_WIDTH, "UI")
    limits = plan.profile.limits_at_receiver(package=plan.spans[-1].load.package is not None)
    number = getattr(limits, field)
    if number is None or getattr(spot.record, f"margin_{field}") is None:
        return on_the_way(symbol, "no limit is known", 0.0, unit, "the profile")
    return of_profile(symbol, "limit of the profile", unit, plan.profile, field=f"limits/{field}", number=number)


def _where(spot: Spot) -> str:
    """What tells the assessment from that of the answer's own variant, as words; "" for that itself."""
    if spot.place.endswith(".before"):
        return " before the change"
    return " at the worst corner" if getattr(spot.whole.answer, "tolerances", ()) else ""


def _assessed(field: str, symbol: Symbol, meaning: str, unit: str, path: str) -> AnswerEntry:
    def inputs(spot: Spot) -> list[FigureInput]:
        assert spot.value is not None
        where = f"{path}{_where(spot)}"
        return [input_from(symbol, "of the variant's board", spot.value, unit, origin="lane", where=where)]

    return AnswerEntry(
        record=LaneFigures, key=field, meaning=meaning, unit=unit, symbol=symbol, inputs=inputs, checks=(ASSESSED,),
        off="as the lane's own figure", method="Each variant of the board is assessed as the board itself is.",
    )  # fmt: skip


def _margin_height(spot: Spot) -> list[FigureInput]:
    return [beside(spot, HEIGHT, "height of the eye", "V", "height_v"), limit_input(spot, "height_v")]


def _margin_width(spot: Spot) -> list[FigureInput]:
    return [beside(spot, WIDTH_UI, "width of the eye", "UI", "width_ui"), limit_input(spot, "width_ui")]


def _margin(spot: Spot) -> list[FigureInput]:
    guard, plain = board_at(spot).guard, Guard()
    return [
        *_margin_height(spot),
        on_the_way(HEIGHT_GUARD, "height guard", guard.height_v or plain.height_v, "V", "guard/height_v of the board"),
        *_margin_width(spot),
        on_the_way(WIDTH_GUARD, "width guard", guard.width_ui or plain.width_ui, "UI", "guard/width_ui of the board"),
    ]


def _is_in_guards(spot: Spot) -> bool:
    """Whether the margin is that of limits and guards alone: guards are not 0, no limit over frequency fails it."""
    guard, figures = board_at(spot).guard, spot.record
    failed_otherwise = figures.verdict == "fail" and -1e-6 < figures.margin_guards < 0.0
    return guard.height_v > 0.0 and guard.width_ui > 0.0 and not failed_otherwise


_MEANT = "The smaller of a lane's height and width margin, each in guard bands: below 0 it fails, from 1 on it passes."
_SENT = (HEIGHT, LEAST_HEIGHT, HEIGHT_GUARD, WIDTH_UI, LEAST_WIDTH, WIDTH_GUARD)

LANE_ENTRIES: tuple[AnswerEntry, ...] = (
    _assessed("height_v", HEIGHT, "Eye height of the lane.", "V", "eye.height_v"),
    _assessed("width_ui", WIDTH_UI, "Eye width of the lane.", "UI", "eye.width_ui"),
    AnswerEntry(
        record=LaneFigures, key="margin_height_v", unit="V", symbol=Symbol("M", "h"), formula=HEIGHT - LEAST_HEIGHT,
        meaning="The eye's height less what the profile asks for.", inputs=_margin_height, checks=(ASSESSED, _BANDS),
        holds="at the receiver, where the profile's limits hold", off="as the height; the limit is stated",
    ),
    AnswerEntry(
        record=LaneFigures, key="margin_width_ui", unit="UI", symbol=Symbol("M", "w"), formula=WIDTH_UI - LEAST_WIDTH,
        meaning="The eye's width less what the profile asks for.", inputs=_margin_width, checks=(ASSESSED, _BANDS),
        holds="at the receiver, where the profile's limits hold", off="as the width; the limit is stated",
    ),
    AnswerEntry(
        record=LaneFigures, key="margin_guards", unit="", symbol=NORMALIZED, formula=MARGIN, inputs=_margin,
        meaning=_MEANT, checks=(ASSESSED, _BANDS), applies=_is_in_guards, off="as height and width",
        holds="at the receiver, where the profile's limits hold",
    ),
    AnswerEntry(
        record=LaneFigures, key="margin_guards", unit="", symbol=NORMALIZED, inputs=_margin, meaning=_MEANT,
        formula=Sought("margins in bands of a new board, just below 0 where something else fails the lane", _SENT),
        method="A guard of 0 leaves nothing between fail and pass: what meets its limit counts one band higher. What "
               "fails by a limit over frequency, or is just closed, stands just below 0.",
        holds="at the receiver, where the profile's limits hold", checks=(ASSESSED, _BANDS), off="as height and width",
    ),
    stated(AnswerOrigin, "ber", "The bit error ratio that was asked for.", symbol="ε", origin="asked", where="--ber",
           checks=(ASSESSED,), off="exact: it is asked for"),
    stated(AnswerOrigin, "assessments", "So many assessments were made.", where="the study", checks=(_EFFORT,)),
    stated(AnswerOrigin, "took_s", "So long it took by the clock.", unit="s", symbol="t", where="the clock",
           checks=(_EFFORT,), off="it is measured; another run takes longer or shorter"),
    stated(AnswerOrigin, "workers", "So many processes worked.", where="the study", checks=(_EFFORT,)),
    stated(AnswerOrigin, "shared_ratio", "The share of intermediate results that was known from another variant.",
           symbol="q", where="results known over results asked for", checks=(_SHARED,)),
)  # fmt: skip
