"""Entries of the eye: height, width, worst case, sampling instant."""

from workbench.engine.figures.entry import (
    At,
    Check,
    ExplainedLane,
    FigureEntry,
    FigureInput,
    of_field,
    of_figure,
    of_profile,
    on_the_way,
)
from workbench.engine.figures.expression import Apply, Constant, Sought, Symbol, Total
from workbench.engine.figures.losses import UI
from workbench.engine.figures.pulses import CURSORS, NOISE, RATIO, SAMPLED_AT, TAPS
from workbench.engine.verdict.measures import worst_cursors_v

_TAILS = "tests/reference/eyes/test_tails.py::"
_JITTER = "tests/reference/eyes/test_jitter.py::"
_WIDTHS = "tests/reference/eyes/test_widths.py::"
_COUNTED = Check(
    "tests/reference/sent/test_waveform_agreement.py::test_height_and_width_are_those_that_counting_finds",
    "bits counted one by one", "2 % of the swing, 0.02 UI",
)  # fmt: skip

HEIGHT, WIDTH, WIDTH_UI, WORST = Symbol("h"), Symbol("W"), Symbol("w", "UI"), Symbol("h", "worst")
RANDOM, DETERMINISTIC = Symbol("RJ", "T"), Symbol("DJ", "T")
RANDOM_AT, DETERMINISTIC_AT = Symbol("RJ", "R"), Symbol("DJ", "R")
ERRORS, MAIN, OTHERS, NEIGHBOURS = Symbol("N"), Symbol("p", "0"), Symbol("p", indexed=True), Symbol("x", indexed=True)

_OPENED = (RATIO, CURSORS, TAPS, NOISE, RANDOM, DETERMINISTIC, RANDOM_AT, DETERMINISTIC_AT, ERRORS)
_STATISTICS = (
    "Given the upper symbol the sample is a sum over cursors, noise and moved edges; its lower tail is found down to "
    "1e-18 with an exponential tilt (H. E. Daniels, Saddlepoint approximations in statistics, 1954, the whole integral "
    "summed), over independent symbols or the line code's states."
)
_RANGE = "symbols as the profile codes them; small signals; edges that move by less than 0.06 UI before a slicer"
_DOUBTS = ("input-jitter", "heavy-jitter", "compression", "unsettled", "network-unusable")
_OFF_EYE = "2 % of the swing in height and 0.02 UI in width, the range within which it is held against counted bits"


def _eye(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    sender, receiver = case.plan.transmitter, case.plan.receiver
    found = [
        of_figure(case, RATIO, "bit error ratio", "", "eye.ber"),
        of_figure(case, CURSORS, "cursors", "V", "pulse.cursors_v"),
        of_figure(case, TAPS, "feedback taps", "V", "equalizer.dfe_taps_v") if case.found.equalizer.dfe_taps_v
        else on_the_way(TAPS, "feedback taps", (), "V", "no decision feedback"),
        on_the_way(NOISE, "noise where the receiver decides, rms", case.observed.received.noise_v, "V",
                   f"receivers/{receiver.name}/noise_v and the conditioners' noise, through all that follows"),
        of_field(RANDOM, "transmitters", sender, "random_jitter_s"),
        of_field(DETERMINISTIC, "transmitters", sender, "deterministic_jitter_s"),
        of_field(RANDOM_AT, "receivers", receiver, "random_jitter_s"),
        of_field(DETERMINISTIC_AT, "receivers", receiver, "deterministic_jitter_s"),
        of_figure(case, ERRORS, "errors that feedback makes of each", "", "eye.propagation"),
    ]  # fmt: skip
    if case.found.crosstalk is not None:
        found.append(of_figure(case, Symbol("x"), "what the neighbours can reach", "V", "crosstalk.peak_v"))
    return found


def _ratio(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    profile = case.plan.profile
    if case.found.eye.ber == profile.ber.value:
        return [of_profile(RATIO, "bit error ratio", "", profile, field="ber", number=profile.ber)]
    return [FigureInput(symbol=RATIO.name, meaning="bit error ratio", value=case.found.eye.ber, unit="", origin="asked",
                        where="--ber")]  # fmt: skip


def _width_ui(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return [
        of_figure(case, WIDTH, "width of the eye", "s", "eye.width_s"),
        of_figure(case, UI, "unit interval", "s", "pulse.ui_s"),
    ]


def _independent(case: ExplainedLane, at: At) -> bool:
    del at
    return case.found.eye.statistics == "independent"


def _worst(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    main_v, others_v = worst_cursors_v(case.observed)
    loudest = sorted((float(one) for one in others_v), key=abs, reverse=True)
    crosstalk = case.found.crosstalk
    peaks = () if crosstalk is None else tuple(one.peak_v for one in crosstalk.aggressors)
    where = "pulse.cursors_v, all of them, at the phase whose worst case is best"
    return [
        on_the_way(MAIN, "main cursor", main_v, "V", where),
        on_the_way(OTHERS, "all other cursors, feedback taken off, largest first", tuple(loudest), "V", where),
        on_the_way(NEIGHBOURS, "what each neighbour can reach", peaks, "V", "crosstalk.aggressors[].peak_v"),
    ]


def _propagation(case: ExplainedLane, at: At) -> list[FigureInput]:
    return [one for one in _eye(case, at) if one.symbol in {TAPS.name, NOISE.name, RATIO.name}]


def _feeds_back(case: ExplainedLane, at: At) -> bool:
    del at
    return bool(case.found.equalizer.dfe_taps_v)


def _middle(case: ExplainedLane, at: At) -> list[FigureInput]:
    return [of_figure(case, WIDTH, "width of the eye", "s", "eye.width_s"), *_eye(case, at)]


FIGURES = (
    FigureEntry(
        key="eye.ber", word="ber", meaning="The bit error ratio that height and width are read at.", unit="",
        symbol=RATIO, inputs=_ratio, off="exact: it is stated",
        checks=(Check(_TAILS + "test_noise_alone_is_q", "the Gaussian's Q", "2 % of the error ratio"),),
    ),
    FigureEntry(
        key="eye.height_v", word="height", unit="V", symbol=HEIGHT, inputs=_eye, method=_STATISTICS,
        meaning="Peak-to-peak opening at the sampling instant at the error ratio; negative where the eye is closed.",
        formula=Constant(2.0) * Sought("level that the upper symbol falls below with probability ε/N", _OPENED),
        off=_OFF_EYE, holds=_RANGE, outside=_DOUBTS,
        checks=(
            Check(_TAILS + "test_a_tail_is_that_of_all_sequences_of_16_symbols", "every sequence of 16 symbols",
                  "0.03 % of the main cursor"),
            Check(_JITTER + "test_an_eye_with_random_jitter_is_right_down_to_1e_15", "histograms of truly moved edges",
                  "0.5 % of the swing, 0.005 UI"),
            Check("tests/engine/figures/test_figures.py::test_a_still_lanes_height_is_that_of_all_its_cursors_signs",
                  "every combination of the loudest cursors' signs with Gaussian noise", "1 % of the swing"),
            _COUNTED,
        ),
    ),
    FigureEntry(
        key="eye.width_s", word="width", unit="s", symbol=WIDTH, inputs=_eye, method=_STATISTICS,
        meaning="For how long the error ratio at the threshold stays below the one named; 0 where the eye is closed.",
        formula=Sought("time for which errors at the threshold stay below ε/N", _OPENED), off=_OFF_EYE, holds=_RANGE,
        outside=_DOUBTS,
        checks=(
            Check(_WIDTHS + "test_an_eye_without_jitter_ends_where_histograms_say", "histograms", "0.0015 UI"),
            Check(_JITTER + "test_a_clean_lane_closes_by_total_jitter", "DJ + 2 Q RJ", "0.005 UI"), _COUNTED,
        ),
    ),
    FigureEntry(
        key="eye.width_ui", word="width_ui", meaning="The eye's width in unit intervals.", unit="UI", symbol=WIDTH_UI,
        formula=WIDTH / UI, inputs=_width_ui, off="as the width in seconds", holds=_RANGE, outside=_DOUBTS,
        checks=(Check(_WIDTHS + "test_an_ideal_lane_without_rise_time_is_open_for_its_whole_unit_interval",
                      "closed form", "0.003 UI"),),
    ),
    FigureEntry(
        key="eye.worst_case_height_v", word="worst_case", unit="V", symbol=WORST, applies=_independent, inputs=_worst,
        meaning="Height that the worst sequence of independent symbols leaves, without noise and jitter.",
        formula=Constant(2.0) * (MAIN - Total(Apply("abs", OTHERS))) - Constant(2.0) * Total(NEIGHBOURS),
        off="half a sample's step of 1/32 UI along the pulse's slope, 2 % of the swing at a cusp",
        holds="small signals",
        outside=("unsettled", "compression"),
        checks=(
            Check("tests/reference/eyes/test_peak_distortion.py::"
                  "test_the_worst_of_all_sequences_of_16_bits_is_the_peak_distortion_height",
                  "B. K. Casper, M. Haycock, R. Mooney, VLSI Circuits 2002; 2^15 sequences", "0.1 mV and the rest"),
            Check("tests/reference/eyes/test_peak_distortion.py::test_a_single_pole_leaves_one_minus_two_a_of_the_swing",
                  "closed form, derived", "2 % of the swing"),
        ),
    ),
    FigureEntry(
        key="eye.worst_case_height_v", word="worst_case", unit="V", symbol=WORST, inputs=_worst,
        meaning="Height that the line code's worst sequence leaves, without noise and jitter.",
        formula=Sought("least opening over the code's sequences", (MAIN, OTHERS, NEIGHBOURS)),
        method="The worst path through the code's states at every phase; independent symbols would leave no more.",
        off="half a sample's step of 1/32 UI along the pulse's slope", holds="small signals",
        outside=("unsettled", "compression"),
        checks=(Check("tests/reference/eyes/test_coded.py::test_the_worst_sample_is_the_least_over_all_sequences",
                      "every sequence", "floating point"),),
    ),
    FigureEntry(
        key="eye.center_s", word="center", unit="s", symbol=SAMPLED_AT, applies=_feeds_back, inputs=_propagation,
        meaning="The sampling instant, from the mean crossing before it: where the receiver's own rule puts it.",
        formula=Sought("where the cursors to both sides of the main one are equal", (TAPS,)),
        method="K. H. Mueller, M. Mueller, IEEE Trans. Comm. 24(5), 1976, 516-531, or the profile's steps of 0.05 UI.",
        off="1/32 UI",
        checks=(Check("tests/reference/eyes/test_equalizers.py::test_where_feedback_samples_is_a_fixed_point_of_its_rule",
                      "the rule itself", "one sample of 1/32 UI"),),
    ),
    FigureEntry(
        key="eye.center_s", word="center", unit="s", symbol=SAMPLED_AT, inputs=_middle,
        meaning="The sampling instant, from the mean crossing before it: the middle of the opening.",
        formula=Sought("middle of the opening", (WIDTH, *_OPENED)), method=_STATISTICS, off="0.01 UI", outside=_DOUBTS,
        checks=(Check(_WIDTHS + "test_an_eye_without_jitter_ends_where_histograms_say", "both ends, by histograms",
                      "0.0015 UI"),),
    ),
    FigureEntry(
        key="eye.propagation", word="propagation", unit="", symbol=ERRORS, inputs=_propagation,
        meaning="How many errors decision feedback makes of each one; 1 without feedback.",
        formula=Sought("errors in a chain of wrong decisions", (TAPS, NOISE, RATIO)),
        method="A chain over the last decisions' errors, each with the tail's own probability.", off="4 %",
        checks=(Check("tests/reference/passive/test_propagation.py::test_a_chain_of_the_last_errors_makes_as_many_as_bits_do",
                      "bits decided one by one", "4 %"),),
    ),
)  # fmt: skip
