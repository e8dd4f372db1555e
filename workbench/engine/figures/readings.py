"""How the figures of a read-out at the cursor came about."""

from workbench.engine.figures.answered import AnswerEntry, Spot, beside, input_from, known, stated
from workbench.engine.figures.entry import Check, FigureInput
from workbench.engine.figures.expression import Sought, Symbol
from workbench.engine.readings import (
    BathtubReading,
    EyeReading,
    ImpedanceReading,
    PulseReading,
    ResponseReading,
)

_VIEWS, _HERE = "tests/engine/test_views.py::", "tests/engine/figures/test_readings.py::"


_T, _F, _D, _BER = Symbol("t"), Symbol("f"), Symbol("τ"), Symbol("ε")
_HEIGHT, _WIDTH, _NYQUIST = Symbol("h"), Symbol("w"), Symbol("f", "N")
_UI = Symbol("T")
_READ = (Check(_HERE + "test_a_reading_is_the_lanes_own_figure_where_that_stands", "the assessment", "the view's own"),)
_EYES = (Check(_VIEWS + "test_contours_nest_and_meet_the_bathtub_at_the_threshold", "contours beside the bathtub",
               "0.05 UI"), *_READ)  # fmt: skip
_GAINS = (Check(_VIEWS + "test_the_gain_between_matched_ends_is_the_loss_of_the_span", "the loss that the line states",
                "1e-6 dB"), *_READ)  # fmt: skip
_RATIO = (
    Check("tests/reference/neighbours/test_power_sums.py::test_the_ratio_is_crosstalk_less_the_lanes_own_loss",
          "crosstalk and loss by themselves", "floating point"),
)  # fmt: skip
_IMPEDANCES = (
    Check(_VIEWS + "test_a_matched_line_shows_its_impedance_and_a_mismatched_one_its_own", "the lines' own impedances",
          "0.2 ohm, 2 ohm behind a step"),
)  # fmt: skip
_IN_TIME = (EyeReading, BathtubReading, PulseReading)
_CURSOR = "the cursor in the pane"
_BETWEEN = "Read between two points of the curve in a straight line."


def _phase(spot: Spot) -> FigureInput:
    return beside(spot, _T, "phase, from the mean crossing", "UI", "time_ui")


def _eye(spot: Spot) -> list[FigureInput]:
    return [_phase(spot), beside(spot, _BER, "error ratio of the contour", "", "ber"),
            beside(spot, _HEIGHT, "the eye's height, at its sampling instant", "V", "height_v")]  # fmt: skip


def _bathtub(spot: Spot) -> list[FigureInput]:
    return [_phase(spot), beside(spot, _WIDTH, "the eye's width", "UI", "width_ui")]


def _pulse(spot: Spot) -> list[FigureInput]:
    return [_phase(spot), beside(spot, _UI, "unit interval", "s", "ui_s")]


def _response(spot: Spot) -> list[FigureInput]:
    return [beside(spot, _F, "frequency", "Hz", "frequency_hz"),
            beside(spot, _NYQUIST, "where the lane's own figure stands", "Hz", "nyquist_hz")]  # fmt: skip


def _impedance(spot: Spot) -> list[FigureInput]:
    return [beside(spot, _D, "delay from the transmitter", "s", "delay_s")]


def _cursor(record: type, key: str, unit: str, symbol: str, meaning: str) -> AnswerEntry:
    return stated(record, key, meaning, unit=unit, symbol=symbol, origin="asked", where=_CURSOR, checks=_READ,
                  off="exact: it is chosen")  # fmt: skip


def _own(record: type, key: str, unit: str, *, symbol: Symbol, meaning: str, figure: str) -> AnswerEntry:
    """A figure of the lane itself, which can be followed into its assessment."""

    def inputs(spot: Spot) -> list[FigureInput]:
        return [input_from(symbol, meaning, known(spot), unit, origin="lane", where=figure)]

    return AnswerEntry(record=record, key=key, meaning=meaning, unit=unit, symbol=symbol, inputs=inputs, checks=_READ,
                       off="as the lane's own figure")  # fmt: skip


READING_ENTRIES: tuple[AnswerEntry, ...] = (
    *(_cursor(record, "time_ui", "UI", "t", "Where the curve is read, from the mean crossing at the symbol's start.")
      for record in _IN_TIME),
    _own(EyeReading, "ber", "", symbol=_BER, meaning="The error ratio of the contour that is read.", figure="eye.ber"),
    _own(EyeReading, "height_v", "V", symbol=_HEIGHT, meaning="The eye's height, at its sampling instant.",
         figure="eye.height_v"),
    AnswerEntry(
        record=EyeReading, key="opening_v", unit="V", symbol=Symbol("h", "t"), inputs=_eye, checks=_EYES,
        meaning="How far the eye is open at this phase at the error ratio; below 0 it is closed.",
        formula=Sought("twice the contour's level at t", (_T, _BER)), off="as the height, and by the nearest contour "
        "where the profile's error ratio has none of its own",
        method="The tail of all symbols, edges and noise at the phase, followed to the error ratio. " + _BETWEEN,
    ),
    _own(BathtubReading, "width_ui", "UI", symbol=_WIDTH, meaning="The eye's width.", figure="eye.width_ui"),
    AnswerEntry(
        record=BathtubReading, key="ber", unit="", symbol=_BER, inputs=_bathtub, checks=_EYES,
        meaning="The error ratio of decisions made at this phase.", formula=Sought("tail at the threshold at t", (_T,)),
        method="The tail of all symbols, edges and noise at the phase, at the threshold. " + _BETWEEN,
        off="as the width: 0.002 UI along time",
    ),
    *(_own(record, "ui_s", "s", symbol=_UI, meaning="Unit interval.", figure="pulse.ui_s") for record in _IN_TIME),
    *(
        AnswerEntry(record=record, key="time_s", unit="s", symbol=Symbol("t", "s"), inputs=_pulse, formula=_T * _UI,
                    meaning="The same instant in seconds.", checks=_READ, off="exact: it is chosen")
        for record in _IN_TIME
    ),
    AnswerEntry(
        record=PulseReading, key="pulse_v", unit="V", symbol=Symbol("p"), inputs=_pulse, checks=_READ,
        meaning="The response to one symbol at this instant.", formula=Sought("p(t) of the lane", (_T,)),
        method="The symbol's spectrum through all spans and stages, transformed. " + _BETWEEN,
        off="1e-4 of the peak, what is left at the window's end",
    ),
    _cursor(ResponseReading, "frequency_hz", "Hz", "f", "Where the curves are read."),
    _own(ResponseReading, "nyquist_hz", "Hz", symbol=_NYQUIST, meaning="Nyquist frequency.", figure="nyquist_hz"),
    AnswerEntry(
        record=ResponseReading, key="gain_db", unit="dB", symbol=Symbol("G"), inputs=_response, checks=_GAINS,
        meaning="Gain from the transmitter's matched level to the probe point, with true ends and linear stages.",
        formula=Sought("gain of all spans and linear stages in a row, at f", (_F,)), off="0.15 dB between two points",
        method="As nyquist_gain_db of the lane, at this frequency. " + _BETWEEN,
    ),
    AnswerEntry(
        record=ResponseReading, key="return_db", unit="dB", symbol=Symbol("R"), inputs=_response, checks=_GAINS,
        meaning="Return loss of the span before the probe point, seen from its driving end.",
        formula=Sought("−20 log |S11| of the span, at f", (_F,)), off="0.15 dB between two points",
        method="The echo of the cascade between its ends, at this frequency. " + _BETWEEN,
    ),
    AnswerEntry(
        record=ResponseReading, key="ratio_db", unit="dB", symbol=Symbol("ICR"), inputs=_response, checks=_RATIO,
        meaning="How far the crosstalk of all neighbours lies below the signal of the span.",
        formula=Sought("loss to crosstalk, powers summed, at f", (_F,)), off="0.15 dB between two points",
        method="Crosstalk of each neighbour between matched ends, powers added up. " + _BETWEEN,
    ),
    _cursor(ImpedanceReading, "delay_s", "s", "τ", "Where the profile is read, one way from the transmitter."),
    AnswerEntry(
        record=ImpedanceReading, key="impedance_ohm", unit="ohm", symbol=Symbol("Z"), inputs=_impedance,
        meaning="The impedance that a reflected step shows at this place.", checks=_IMPEDANCES,
        formula=Sought("100 Ω (1 + ρ) / (1 − ρ) of the step's echo ρ, at τ", (_D,)),
        method="A smooth edge of 0.2 UI; the echo's running sum is ρ. " + _BETWEEN,
        off="multiple echoes count as impedance; what is shorter than the edge is smoothed",
    ),
)  # fmt: skip
"""Entries of what is read where the cursor stands."""
