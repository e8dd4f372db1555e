"""How the figures of bits that were sent one by one came about."""

import numpy as np

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, beside, input_from, stated
from workbench.engine.figures.entry import Check, FigureInput, on_the_way
from workbench.engine.figures.expression import Constant, Sought, Symbol
from workbench.waveform.result import CountedOpening, ErrorCount, EyeDoubt, JitterFound, WaveformMeasures
from workbench.waveform.tails import quantile

_FORMS, _TAILS = "tests/reference/sent/test_waveform_closed_forms.py::", "tests/waveform/test_waveform_tails.py::"
_RUNS = "tests/waveform/test_running.py::"
_SENT, _WRONG, _SURE, _RATIO = Symbol("n"), Symbol("k"), Symbol("c"), Symbol("ε")
_UI, _OPEN, _SWING = Symbol("T"), Symbol("w"), Symbol("A")
_RANDOM, _APART, _TIMES = Symbol("σ", "r"), Symbol("d", "dd"), Symbol("Q")
_HEIGHT, _SEEN = Symbol("h", "stat"), Symbol("h", "seen")
_COUNTED = (Check(_RUNS + "test_as_many_symbols_are_counted_as_were_asked_for", "what was asked for", "exact"),)
_AGAIN = (Check(_RUNS + "test_a_run_is_the_same_each_time_and_another_with_another_seed", "the run again", "exact"),)
_Q = (
    Check(_FORMS + "test_error_ratio_in_gaussian_noise_is_the_q_function", "the Q function", "the counts' bounds"),
    *_COUNTED,
)  # fmt: skip
_BOUNDS = (
    Check(_TAILS + "test_bounds_are_those_of_the_binomial_distribution", "the binomial distribution summed",
          "1e-6 of the probability"),
    Check(_TAILS + "test_no_errors_leave_the_closed_form", "closed form without errors", "floating point"),
)  # fmt: skip
_EYE = (
    Check(_FORMS + "test_single_pole_sample_for_sample", "a pole's closed form", "2e-3 of the swing"),
    Check("tests/reference/sent/test_waveform_agreement.py::test_height_and_width_are_those_that_counting_finds",
          "the statistical eye, which shares the linear responses only", "2 % of the swing, 0.02 UI or 3 errors"),
)  # fmt: skip
_FURTHER = Check(_TAILS + "test_a_gaussian_tail_is_continued_exactly", "a Gaussian's own tail", "1e-4 UI")
_DIRAC = (
    Check(_TAILS + "test_dual_dirac_jitter_comes_apart_as_it_was_put_together", "jitter of known parts",
          "3 %"),
    Check(_RUNS + "test_duty_cycle_distortion_splits_the_crossings", "crossings put apart", "5 %"),
)  # fmt: skip
_WIDE = (
    Check(_RUNS + "test_displaced_edges_leave_the_width_of_the_closed_form", "closed form of displaced edges",
          "4 standard errors"),
    *_EYE,
)  # fmt: skip
_CLOCK = (Check(_FORMS + "test_a_first_order_loop_follows_slow_jitter_and_leaves_fast", "a first-order loop",
                "3 %"),)  # fmt: skip
_DOUBT = (
    Check("tests/reference/sent/test_waveform_agreement.py::test_what_the_statistical_eye_does_not_see_is_said_as_a_doubt",
          "lanes with a known difference", "1e-6 of the difference"),
    Check("tests/reference/sent/test_waveform_agreement.py::test_where_both_agree_there_is_no_doubt",
          "lanes without one", "no doubt is told"),
)  # fmt: skip
_STRAIGHT = "Counts at several levels are carried on along a Gaussian fitted to both tails, a straight line in Q."


def _asked(key: str, meaning: str, unit: str, letter: str, where: str) -> AnswerEntry:
    return stated(WaveformMeasures, key, meaning, unit=unit, symbol=letter, origin="asked", where=where, checks=_AGAIN,
                  off="exact: it is stated")  # fmt: skip


def _errors(spot: Spot) -> list[FigureInput]:
    return [beside(spot, _WRONG, "wrong decisions", "", "errors"), beside(spot, _SENT, "decisions", "", "symbols")]


def _bounds(spot: Spot) -> list[FigureInput]:
    return [*_errors(spot), beside(spot, _SURE, "confidence", "", "confidence")]


def _sent(spot: Spot) -> list[FigureInput]:
    return [at_path(spot, _SENT, "symbols sent", "", "errors.symbols"),
            beside(spot, _RATIO, "error ratio", "", "error_ratio")]  # fmt: skip


def _width(spot: Spot) -> list[FigureInput]:
    return [beside(spot, _OPEN, "opening along time", "s", "width_s"), at_path(spot, _UI, "unit interval", "s", "ui_s")]


def _crossings(spot: Spot) -> list[FigureInput]:
    sent = at_path(spot, _SENT, "symbols sent", "", "errors.symbols")
    return [sent, at_path(spot, _UI, "unit interval", "s", "ui_s")]


def _total(spot: Spot) -> list[FigureInput]:
    ratio = spot.record.error_ratio
    return [
        beside(spot, _APART, "distance of the two Gaussians", "s", "deterministic_s"),
        on_the_way(_TIMES, "sigmas exceeded at that ratio", float(quantile(np.array([ratio]))[0]), "", "error_ratio"),
        beside(spot, _RANDOM, "the Gaussian part, rms", "s", "random_s"),
    ]


def _set_by(spot: Spot) -> list[FigureInput]:
    assert spot.value is not None
    return [input_from(Symbol("x"), "found by the pilot stretch or the assessment", spot.value, _UNITS[spot.field],
                       origin="intermediate", where="the receiver as it was set")]  # fmt: skip


def _apart(spot: Spot) -> list[FigureInput]:
    """The statistical opening and the counted one at the doubt's error ratio."""
    measures, field = spot.above(WaveformMeasures)[1], spot.field
    unit = "V" if field == "height_v" else "UI"
    found = {
        one.method: number for number, one in enumerate(measures.openings)
        if one.error_ratio == spot.record.error_ratio
    }  # fmt: skip
    ideal = found["coded"] if "coded" in found else found["statistical"]
    return [at_path(spot, _HEIGHT, "of the statistical eye", unit, f"openings[{ideal}].{field}"),
            at_path(spot, _SEEN, "as counted", unit, f"openings[{found['counted']}].{field}")]  # fmt: skip


def _opening(key: str, unit: str, letter: str, meaning: str, off: str) -> AnswerEntry:
    return AnswerEntry(
        record=CountedOpening, key=key, unit=unit, symbol=Symbol(letter), inputs=_sent, meaning=meaning, off=off,
        formula=Sought("opening that the stated share of symbols leaves", (_SENT, _RATIO)),
        method=f"Counted: levels and times of every symbol where the receiver samples. Extrapolated: {_STRAIGHT} "
               "Statistical: the assessment's eye at that ratio.",
        checks=(*_EYE, _FURTHER) if unit == "V" else (*_WIDE, _FURTHER),
    )  # fmt: skip


_UNITS = {"sampling_ui": "UI", "ctle_dc_gain_db": "dB", "dfe_taps_v": "V", "swing_v": "V"}
_COUNTING = "by counting as its standard error says; extrapolated, as far as the tails are Gaussian"

WAVEFORM_ENTRIES: tuple[AnswerEntry, ...] = (
    _asked("rate_bps", "Bits per second.", "bit/s", "R", "the profile's rate"),
    _asked("ui_s", "Unit interval.", "s", "T", "1 over the profile's symbol rate"),
    _asked("seed", "What everything random follows from.", "", "s", "--seed"),
    _asked("samples_per_ui", "Samples of the waves in a unit interval.", "", "n", "the pulse's band"),
    stated(WaveformMeasures, "clock_corner_hz", "Corner of the clock recovery; 0 where the clock stands still.",
           unit="Hz", symbol="f_c", origin="profile", where="the profile, or common practice", checks=_CLOCK,
           off="exact: it is stated"),
    *(
        AnswerEntry(record=WaveformMeasures, key=key, unit=_UNITS[key], symbol=Symbol("x"), inputs=_set_by,
                    meaning=meaning, checks=checks, off=off)
        for key, meaning, checks, off in (
            ("sampling_ui", "Where the receiver samples, after the recovered crossing.", _CLOCK, "a step of 1/64 UI"),
            ("ctle_dc_gain_db", "The receiver's CTLE gain at 0 Hz.",
             (Check(_FORMS + "test_ctle_in_time_is_the_one_that_scipy_has", "scipy's filter", "2e-3 of the swing"),),
             "as the assessment's choice"),
            ("dfe_taps_v", "The receiver's decision feedback.",
             (Check(_RUNS + "test_decision_feedback_opens_the_eye_that_it_sees", "the eye without it",
                    "half of the taps' sum at least"),),
             "as the assessment's choice"),
            ("swing_v", "Distance of the outer levels' means where the receiver samples.", _EYE,
             "2e-3 of the swing"),
        )
    ),
    stated(ErrorCount, "symbols", "Symbols that were decided on.", where="counted", checks=_COUNTED),
    stated(ErrorCount, "errors", "Symbols that were decided wrongly.", symbol="k", where="counted", checks=_Q),
    stated(ErrorCount, "confidence", "With which both bounds hold the true ratio.", symbol="c", origin="program",
           where="both bounds together", checks=_BOUNDS, off="exact: it is chosen"),
    AnswerEntry(record=ErrorCount, key="ratio", unit="", symbol=_RATIO, formula=_WRONG / _SENT, inputs=_errors,
                meaning="Wrong decisions over all.", checks=_Q, off="by counting as its bounds say"),
    *(
        AnswerEntry(
            record=ErrorCount, key=key, unit="", symbol=Symbol("ε", key), inputs=_bounds, checks=_BOUNDS,
            meaning=f"The {word} bound of the true error ratio.", off="exact for independent errors",
            formula=Sought("exact bound of a binomial count", (_WRONG, _SENT, _SURE)),
            method="Quantile of a beta distribution: C. J. Clopper, E. S. Pearson, Biometrika 26(4), 1934.",
            holds="errors that don't come in bursts",
        )
        for key, word in (("low", "lower"), ("high", "upper"))
    ),
    stated(CountedOpening, "error_ratio", "The error ratio at which the opening holds.", symbol="ε", origin="asked",
           where="powers of ten that the symbols reach, and the BER", checks=_COUNTED, off="exact: it is chosen"),
    _opening("height_v", "V", "h", "Opening where the receiver samples, of the smallest eye.", _COUNTING),
    _opening("width_s", "s", "w", "Opening along time at the threshold.", _COUNTING),
    AnswerEntry(record=CountedOpening, key="width_ui", unit="UI", symbol=Symbol("w", "UI"), formula=_OPEN / _UI,
                inputs=_width, meaning="Opening along time at the threshold, in unit intervals.", checks=_WIDE,
                off=_COUNTING),
    *(
        AnswerEntry(
            record=CountedOpening, key=key, unit=unit, symbol=Symbol("σ", letter), inputs=_sent,
            meaning=f"Standard error of the {word} from the number of counts.", off="by about a tenth",
            formula=Sought("spread of the place where the count reaches the ratio", (_SENT, _RATIO)),
            method="The square root of the count over its slope there.",
            checks=(Check(_TAILS + "test_counting_reads_the_ratio_between_places", "known distributions",
                          "3 %"),),
        )
        for key, unit, letter, word in (("height_error_v", "V", "h", "height"), ("width_error_ui", "UI", "w", "width"))
    ),
    *(
        AnswerEntry(record=JitterFound, key=key, unit="s", symbol=symbol, inputs=_crossings, meaning=meaning,
                    formula=Sought(how, (_SENT, _UI)), method=method, checks=_DIRAC, off="by counting")
        for key, symbol, how, method, meaning in (
            ("rms_s", Symbol("σ"), "standard deviation of all crossings", "About the recovered clock's.",
             "Standard deviation of the crossings."),
            ("peak_to_peak_s", Symbol("d"), "last − first crossing seen", "It grows with the number of symbols.",
             "Between the first and the last crossing seen."),
            ("random_s", _RANDOM, "Gaussians fitted to both tails", "A straight line in Q to each tail's counts.",
             "The Gaussian part of a dual-Dirac fit to both tails, rms."),
            ("deterministic_s", _APART, "distance of the fitted Gaussians", "Of the means of both lines in Q.",
             "Distance of the two Gaussians of the dual-Dirac fit."),
        )
    ),
    AnswerEntry(record=JitterFound, key="total_s", unit="s", symbol=Symbol("T", "j"), inputs=_total,
                formula=_APART + Constant(2.0) * _TIMES * _RANDOM, checks=_DIRAC, off="as far as tails are Gaussian",
                meaning="Total jitter at the error ratio, by the dual-Dirac model."),
    stated(JitterFound, "error_ratio", "The error ratio that the total is told for.", symbol="ε", origin="profile",
           where="the profile's BER", checks=_DIRAC, off="exact: it is stated"),
    stated(EyeDoubt, "error_ratio", "The error ratio at which both eyes are compared.", symbol="ε",
           where="openings that were counted", checks=_DOUBT, off="exact: it is chosen"),
    *(
        AnswerEntry(record=EyeDoubt, key=key, unit=unit, symbol=Symbol("Δ"), formula=_HEIGHT - _SEEN, inputs=_apart,
                    meaning=f"By how much the statistical eye has more {word} than was counted.", checks=_DOUBT,
                    off="by counting; told where both differ by more than they should")
        for key, unit, word in (("height_v", "V", "height"), ("width_ui", "UI", "width"))
    ),
)  # fmt: skip
