"""Entries of a maker's model beside the program's own figures: gains, eyes, and by how much they differ."""

from collections.abc import Callable

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, beside, input_from, stated
from workbench.engine.figures.entry import Check, FigureInput, Origin
from workbench.engine.figures.expression import Sought, Symbol
from workbench.engine.figures.eyes import HEIGHT, WIDTH_UI
from workbench.studies.second_opinion import EyeBeside, GainBeside, SecondOpinion

_TESTS = "tests/makers/test_second_opinion.py::"
_EQUAL = Check(_TESTS + "test_a_model_that_equals_the_transmitter_differs_by_nothing",
               "a model with the program's own taps", "1e-6 dB, 1e-6 of the eye")  # fmt: skip
_HALF = Check(_TESTS + "test_a_gain_of_a_half_is_six_decibels_off", "20 log10 of a half", "1e-3 dB")
_TABLE = Check(_TESTS + "test_a_conditioners_model_stands_beside_its_data_sheets_table",
               "the table as it was typed, and 20 log10 of 2", "1e-3 dB")  # fmt: skip
_HAND = Check(_TESTS + "test_the_differences_are_those_of_what_stands_beside_them", "subtracted by hand", "exact")
_FLOWS = Check("tests/makers/test_models_bit_by_bit.py::"
               "test_counted_and_statistical_eye_of_one_linear_model_agree_within_one_per_cent_of_the_swing",
               "both flows of one linear model", "1 % of the swing")  # fmt: skip
_MODEL, _OWN, _SHEET = Symbol("G", "model"), Symbol("G", "own"), Symbol("G", "table")
_MODELS, _OWNS, _SHEETS = (Symbol("G", word, indexed=True) for word in ("model", "own", "table"))
_ERROR_RATIO = Symbol("ε")
_EYES = {"own": "with the part as the board has it", "model": "with the model in its place",
         "model_again": "with the model, at the error ratio that bits are counted at"}  # fmt: skip


def _one(spot: Spot) -> bool:
    """Whether one frequency's figure is asked for."""
    return bool(spot.at)


def _response(key: str, symbol: Symbol, meaning: str, where: str, check: Check) -> AnswerEntry:
    """A gain as it was found."""
    return stated(GainBeside, key, meaning, unit="dB", symbol=symbol.name, where=where, checks=(check,),
                  off="of a model as the model; of the program's own stage as its part's data")  # fmt: skip


def _apart(key: str, first: tuple[str, Symbol, Symbol], second: tuple[str, Symbol, Symbol]) -> tuple[AnswerEntry, ...]:
    """A difference of gains, of one frequency and of all: fields with their symbols, one and several."""
    (one, a, each_a), (other, b, each_b) = first, second
    symbol = Symbol("d")

    def at_one(spot: Spot) -> list[FigureInput]:
        return [beside(spot, a, "of the model", "dB", f"{one}[{spot.at[0]}]"),
                beside(spot, b, "beside it", "dB", f"{other}[{spot.at[0]}]")]  # fmt: skip

    def at_all(spot: Spot) -> list[FigureInput]:
        return [beside(spot, each_a, "of the model", "dB", one), beside(spot, each_b, "beside it", "dB", other)]

    meaning = f"How far the model's gain lies above the {'table' if other == 'table_db' else 'program'}'s own."
    same = {"record": GainBeside, "key": key, "meaning": meaning, "unit": "dB", "symbol": symbol, "checks": (_HAND,)}
    return (
        AnswerEntry(**same, formula=a - b, inputs=at_one, applies=_one, off="as the two gains"),  # type: ignore[arg-type]
        AnswerEntry(**same, formula=Sought("the model's less the other, at each frequency", (each_a, each_b)),  # type: ignore[arg-type]
                    method="Subtracted at each frequency.", inputs=at_all, off="as the two gains"),
    )  # fmt: skip


def _eye(key: str, symbol: Symbol, unit: str, word: str) -> AnswerEntry:
    """A height or width of one of the eyes."""

    def inputs(spot: Spot) -> list[FigureInput]:
        assert spot.value is not None
        counted = spot.place == "counted"
        origin: Origin = "intermediate" if counted else "lane"
        lane = spot.whole.answer.lane
        where = (f"bits sent through the model in lane {lane}, at the receiver" if counted
                 else f"eye.{key} of lane {lane}, {_EYES[spot.place]}")  # fmt: skip
        return [input_from(symbol, f"{word} of the eye", spot.value, unit, origin=origin, where=where)]

    return AnswerEntry(
        record=EyeBeside, key=key, meaning=f"{word.capitalize()} of the eye at its bit error ratio.", unit=unit,
        symbol=symbol, inputs=inputs, checks=(_EQUAL, _HALF, _FLOWS),
        off="statistical: as the lane's own figure; counted: as so many bits tell it, some per cent",
        method="The lane is assessed as the board has it and with the model; bits go through the model one by one.",
    )  # fmt: skip


def _difference(key: str, unit: str, eyes: tuple[str, str], field: str) -> AnswerEntry:
    """A difference of two eyes' heights or widths."""
    letter, word = ("h", "Height") if field == "height_v" else ("w", "Width")
    first, second = (Symbol(letter, eye.removesuffix("_again")) for eye in eyes)
    other = "of bits sent through it" if eyes[1] == "counted" else "by the program's own figures"
    return AnswerEntry(
        record=SecondOpinion, key=key, unit=unit, symbol=Symbol(f"Δ{letter}"), formula=first - second,
        meaning=f"{word} of the eye by the model less that {other}.", checks=(_HAND,), off="as the two eyes",
        inputs=_both(unit, eyes, field, (first, second)),
    )  # fmt: skip


def _both(
    unit: str, eyes: tuple[str, str], field: str, symbols: tuple[Symbol, Symbol]
) -> Callable[[Spot], list[FigureInput]]:
    def inputs(spot: Spot) -> list[FigureInput]:
        return [
            at_path(spot, symbol, f"of the eye “{eye}”", unit, f"{eye}.{field}")
            for symbol, eye in zip(symbols, eyes, strict=True)
        ]

    return inputs


_AT_RATE = "from 2 % of the symbol rate to the rate, evenly in ratio"

OPINION_ENTRIES: tuple[AnswerEntry, ...] = (
    stated(GainBeside, "f_hz", "Where the gains are told.", unit="Hz", symbol="f", origin="program", where=_AT_RATE,
           checks=(_EQUAL,), off="exact: it is chosen"),
    _response("model_db", _MODEL, "Gain of the maker's model.", "its answer over what it was given", _HALF),
    _response("own_db", _OWN, "Gain of the program's own figures for the part.", "the part's data", _EQUAL),
    *_apart("apart_db", ("model_db", _MODEL, _MODELS), ("own_db", _OWN, _OWNS)),
    stated(GainBeside, "table_hz", "A frequency of the data sheet's table.", unit="Hz", symbol="f", origin="catalogue",
           where="the part's gains, at its setting", checks=(_TABLE,), off="exact: it is stated"),
    stated(GainBeside, "table_db", "Gain of the data sheet's table, with the flat gains of its settings.", unit="dB",
           symbol=_SHEET.name, origin="catalogue", where="the part's gains, at its setting", checks=(_TABLE,),
           off="exact: it is stated"),
    _response("model_at_table_db", _MODEL, "Gain of the maker's model at the table's frequency.",
              "its answer over what it was given", _TABLE),
    *_apart("table_apart_db", ("model_at_table_db", _MODEL, _MODELS), ("table_db", _SHEET, _SHEETS)),
    _eye("height_v", HEIGHT, "V", "height"),
    _eye("width_ui", WIDTH_UI, "UI", "width"),
    stated(EyeBeside, "error_ratio", "The bit error ratio that the eye is told at.", symbol=_ERROR_RATIO.name,
           origin="profile", where="the profile's; 1e-3 where bits are counted", checks=(_EQUAL,),
           off="exact: it is stated"),
    _difference("apart_v", "V", ("model", "own"), "height_v"),
    _difference("apart_ui", "UI", ("model", "own"), "width_ui"),
    _difference("counted_apart_v", "V", ("model_again", "counted"), "height_v"),
    _difference("counted_apart_ui", "UI", ("model_again", "counted"), "width_ui"),
)  # fmt: skip
