"""Entries of limits, margins, the channel's limits and the neighbours' share."""

from workbench.board.channel_limit import AT_LEAST
from workbench.board.profile import ReceiverLimits
from workbench.engine.assessment import ChannelResult
from workbench.engine.figures.entry import (
    At,
    Check,
    ExplainedLane,
    FigureEntry,
    FigureInput,
    of_figure,
    of_profile,
    on_the_way,
)
from workbench.engine.figures.expression import Apply, Expression, Sought, Symbol, Total
from workbench.engine.figures.eyes import HEIGHT, WIDTH_UI
from workbench.engine.figures.losses import ELEMENTS, UI
from workbench.engine.figures.pulses import RATIO
from workbench.engine.lane.path import Neighbour
from workbench.engine.lane.probe import RECEIVER

_RULES = "tests/engine/test_rules.py::"
_CHANNEL = "tests/engine/test_channel_limits.py::"
_BESIDE = "tests/reference/neighbours/test_neighbours.py::"
_JUDGED = (Check(_RULES + "test_the_verdict_follows_from_limits_and_guard_bands", "limits and guards by hand", "exact"),
           Check(_RULES + "test_limits_hold_at_the_receiver_only", "limits are the receiver's", "exact"))  # fmt: skip

LEAST_HEIGHT, LEAST_WIDTH = Symbol("h", "min"), Symbol("w", "min")
MASK_HEIGHT, MASK_WIDTH, MASK_TOP = Symbol("h", "mask"), Symbol("w", "mask"), Symbol("w", "top")
VALUE, LIMIT, LIMIT_MARGIN, WHERE_HZ = Symbol("c"), Symbol("c", "lim"), Symbol("M", "c"), Symbol("f", "c")
BARE, BARE_WIDTH, RMS, REACH, COST = Symbol("h", "0"), Symbol("w", "0"), Symbol("x", "rms"), Symbol("x"), Symbol("Δh")
EACH_RMS, EACH_REACH = Symbol("x", "rms", indexed=True), Symbol("x", indexed=True)
NEAR, FAR = Symbol("k", "near", indexed=True), Symbol("k", "far", indexed=True)


def _held_limits(case: ExplainedLane) -> tuple[ReceiverLimits, str]:
    """The profile's limits that hold at the receiver, and what they are called in the profile."""
    profile = case.plan.profile
    packaged = case.plan.spans[-1].load.packaged and case.found.eye.probe == RECEIVER
    limits = profile.limits_at_receiver(package=packaged)
    return limits, "limits" if limits is profile.limits else "pad_limits"


def _limit(case: ExplainedLane, field: str, symbol: Symbol, unit: str) -> list[FigureInput]:
    profile = case.plan.profile
    limits, group = _held_limits(case)
    number = getattr(limits, field)
    known = getattr(case.found.limits, field) is not None and number is not None
    return [of_profile(symbol, f"limit at the {limits.at}", unit, profile, field=f"{group}/{field}",
                       number=number)] if known else []


def _height_limit(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return _limit(case, "height_v", LEAST_HEIGHT, "V")


def _width_limit(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return _limit(case, "width_ui", LEAST_WIDTH, "UI")


def _height_margin(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return [of_figure(case, HEIGHT, "height of the eye", "V", "eye.height_v"),
            of_figure(case, LEAST_HEIGHT, "limit of the profile", "V", "limits.height_v")]  # fmt: skip


def _width_margin(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return [of_figure(case, WIDTH_UI, "width of the eye", "UI", "eye.width_ui"),
            of_figure(case, LEAST_WIDTH, "limit of the profile", "UI", "limits.width_ui")]  # fmt: skip


def _held(case: ExplainedLane, at: At) -> ChannelResult:
    return case.found.channel[at[0]]


def _unit(case: ExplainedLane, at: At) -> str:
    return _held(case, at).unit


def _channel(case: ExplainedLane, at: At) -> list[FigureInput]:
    held = _held(case, at)
    number = next(n for n, span in enumerate(case.plan.spans) if (span.from_, span.to) == (held.from_, held.to))
    first = sum(len(span.elements) + 1 for span in case.plan.spans[:number])
    paths = [f"path[{first + k}].loss_db" for k in range(len(case.plan.spans[number].elements))]
    return [of_figure(case, ELEMENTS, "the span's elements", "dB", *paths),
            of_figure(case, UI, "unit interval", "s", "pulse.ui_s")]  # fmt: skip


def _channel_limit(case: ExplainedLane, at: At) -> list[FigureInput]:
    held = _held(case, at)
    return [FigureInput(symbol=LIMIT.name, meaning=f"limit of {held.measure}", value=held.limit, unit=held.unit,
                        origin="profile", where=f"{case.plan.profile.id}/channel/{held.measure}", source=held.source,
                        status=held.status)]  # fmt: skip


def _channel_margin(case: ExplainedLane, at: At) -> list[FigureInput]:
    held = _held(case, at)
    return [of_figure(case, VALUE, held.measure, held.unit, f"channel[{at[0]}].value"),
            of_figure(case, LIMIT, "limit of the profile", held.unit, f"channel[{at[0]}].limit")]  # fmt: skip


def _at_least(case: ExplainedLane, at: At) -> bool:
    return _held(case, at).measure in AT_LEAST


def _aggressors_rms(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return _of_aggressors(case, EACH_RMS, "rms_v")


def _aggressors_reach(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return _of_aggressors(case, EACH_REACH, "peak_v")


def _of_aggressors(case: ExplainedLane, symbol: Symbol, field: str) -> list[FigureInput]:
    several = () if case.found.crosstalk is None else case.found.crosstalk.aggressors
    here = [number for number, one in enumerate(several) if one.at == case.found.eye.probe]
    paths = [f"crosstalk.aggressors[{number}].{field}" for number in here]
    return [of_figure(case, symbol, "of each neighbour", "V", *paths)]


def _without(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return [of_figure(case, HEIGHT, "height with all neighbours", "V", "eye.height_v"),
            of_figure(case, RATIO, "bit error ratio", "", "eye.ber")]  # fmt: skip


def _coupled(case: ExplainedLane, at: At) -> list[FigureInput]:
    crosstalk = case.found.crosstalk
    assert crosstalk is not None
    lane, where = crosstalk.aggressors[at[0]].lane, crosstalk.aggressors[at[0]].where
    return _levels(case, [one for one in case.plan.neighbours if (one.aggressor.name, one.where) == (lane, where)][:1])


def _levels(case: ExplainedLane, beside: list[Neighbour]) -> list[FigureInput]:
    """How strongly neighbours couple at Nyquist, at either end of what they share with the lane."""
    f_hz, spans = case.plan.profile.nyquist_hz, case.plan.spans
    levels = [one.end_levels(spans[one.span].elements[one.element], f_hz) for one in beside]
    where = " and ".join(dict.fromkeys(f"bundles/{one.bundle}" for one in beside))
    return [
        on_the_way(NEAR, "level at its near end, at Nyquist", tuple(one.near for one in levels), "", where),
        on_the_way(FAR, "level at its far end, at Nyquist", tuple(one.far for one in levels), "", where),
    ]


def _of_span(case: ExplainedLane, at: At) -> list[FigureInput]:
    """The couplings of everything beside one of the lane's spans."""
    crosstalk = case.found.crosstalk
    assert crosstalk is not None
    numbers = [number for number in range(len(case.plan.spans))
               if any(one.span == number for one in case.plan.neighbours)]  # fmt: skip
    beside = [one for one in case.plan.neighbours if one.span == numbers[at[0]]]
    return _levels(case, beside)


def _enough(case: ExplainedLane, at: At) -> list[FigureInput]:
    return [*_without(case, at), of_figure(case, LEAST_HEIGHT, "least height", "V", "limits.height_v")]


def _cost(case: ExplainedLane, at: At) -> list[FigureInput]:
    return [of_figure(case, HEIGHT, "height with all neighbours", "V", "eye.height_v"), *_coupled(case, at)]


def _margin(key: str, word: str, what: str, unit: str, right: Expression) -> FigureEntry:
    return FigureEntry(
        key=key, word=word, unit=unit, symbol=Symbol("M", "h" if unit == "V" else "w"), formula=right,
        meaning=f"The eye's {what} less what the profile asks for; negative where the lane fails.",
        inputs=_height_margin if unit == "V" else _width_margin, off=f"as the {what}; the limit is stated",
        holds="at the receiver, where the profile's limits hold", checks=_JUDGED, outside=("input-jitter",),
    )  # fmt: skip


_MASKED = (
    Check("tests/engine/test_eye_mask.py::test_a_mask_is_as_far_off_as_the_contour_of_the_whole_picture_says",
          "the picture's contour, corner by corner", "1 mV"),
    Check("tests/engine/test_eye_mask.py::test_a_diamond_that_touches_the_contour_has_no_margin", "by hand", "0.1 mV"),
)  # fmt: skip


def _mask_input(case: ExplainedLane, field: str, symbol: Symbol, unit: str) -> list[FigureInput]:
    limits, group = _held_limits(case)
    number = None if limits.mask is None else getattr(limits.mask, field)
    if number is None:
        return [on_the_way(symbol, "no top is stated", 0.0, unit, "the profile")]
    return [of_profile(symbol, "of the mask", unit, case.plan.profile, field=f"{group}/mask/{field}", number=number)]


def _mask_number(field: str, symbol: Symbol, unit: str, meaning: str) -> FigureEntry:
    return FigureEntry(
        key=f"limits.mask.{field}", unit=unit, symbol=symbol, meaning=meaning, checks=_MASKED,
        inputs=lambda case, at: _mask_input(case, field, symbol, unit), off="exact: it is stated, with its source",
    )  # fmt: skip


def _mask_margin(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return [of_figure(case, HEIGHT, "height of the eye", "V", "eye.height_v"),
            of_figure(case, MASK_HEIGHT, "height of the mask", "V", "limits.mask.height_v"),
            of_figure(case, MASK_WIDTH, "width of the mask", "UI", "limits.mask.width_ui"),
            of_figure(case, MASK_TOP, "width of its top", "UI", "limits.mask.flat_ui")]  # fmt: skip


_FIT = "IEEE 802.3ap Annex 69B and USB 3.1, revision 1.0, 5.6.1.3.2, as quoted in public transcriptions"
_SUMS = Check(_BESIDE + "test_the_level_of_an_error_ratio_is_that_of_the_sum_over_all_symbols",
              "sum over all symbols of the neighbours", "0.25 mV of 51 mV")  # fmt: skip
_COUPLED = Check("tests/reference/neighbours/test_coupled.py::"
                 "test_with_loss_and_reflections_it_is_the_whole_of_the_coupled_lines_to_first_order",
                 "coupled lines solved whole", "4 % of the crosstalk")  # fmt: skip
_BY_PART = Check("tests/reference/neighbours/test_ways.py::"
                 "test_a_networks_crosstalk_is_that_of_all_four_ends_to_first_order",
                 "all four ends of a part solved at once", "1 % of the largest")  # fmt: skip
_WEAK = "weak coupling: to first order in the coupling"
_COUPLING = (NEAR, FAR)
_OVER_FREQUENCY = "tests/reference/neighbours/test_power_sums.py::"
_SOLVED = "Both lanes solved at Nyquist between matched ends, to first order in the coupling; powers added."
_ENOUGH = "tests/engine/test_enough_gap.py::test_put_in_it_is_enough_and_a_tenth_less_is_not"
_CHANNEL_RANGE = "10 MHz to 15 GHz, in steps of 10 MHz, in 100 ohm"
_DENSITY = "The neighbours' density over all their symbols is laid over the eye."

FIGURES = (
    _mask_number("height_v", MASK_HEIGHT, "V", "How high the profile's mask is, from bottom to top."),
    _mask_number("width_ui", MASK_WIDTH, "UI", "How wide the profile's mask is at the threshold."),
    _mask_number("flat_ui", MASK_TOP, "UI", "How wide the top of the profile's mask is; 0: it is a diamond."),
    FigureEntry(
        key="margin.mask_v", word="mask_margin", unit="V", symbol=Symbol("M", "m"), inputs=_mask_margin,
        meaning="How far the eye stays off the profile's mask where it comes nearest, above and below together; "
        "negative where it enters it.",
        formula=Sought("least distance of the contour from the mask", (HEIGHT, MASK_HEIGHT, MASK_WIDTH, MASK_TOP)),
        method="The mask's middle stands at the sampling instant; the contour at the BER is held against it at 65 "
        "places over its width and at the corners of its top.",
        off="as the height; the mask is stated", holds="at the receiver, where the profile's limits hold",
        checks=_MASKED, outside=("input-jitter",),
    ),
    FigureEntry(
        key="limits.height_v", unit="V", symbol=LEAST_HEIGHT, inputs=_height_limit, checks=_JUDGED,
        meaning="The least height that the profile asks for.", off="exact: it is stated, with its source",
    ),
    FigureEntry(
        key="limits.width_ui", unit="UI", symbol=LEAST_WIDTH, inputs=_width_limit, checks=_JUDGED,
        meaning="The least width that the profile asks for.", off="exact: it is stated, with its source",
    ),
    _margin("margin.height_v", "height_margin", "height", "V", HEIGHT - LEAST_HEIGHT),
    _margin("margin.width_ui", "width_margin", "width", "UI", WIDTH_UI - LEAST_WIDTH),
    FigureEntry(
        key="channel[].value", unit="", unit_at=_unit, symbol=VALUE, inputs=_channel, holds=_CHANNEL_RANGE, method=_FIT,
        meaning="The passive channel's figure where it comes nearest to the profile's limit over frequency.",
        formula=Sought("the measure of the elements in a row", (ELEMENTS, UI)),
        off="0.2 % of a flat level, 0.1 dB of a fit",
        checks=(Check(_CHANNEL + "test_the_channel_of_a_matched_line_has_the_lines_own_loss", "stated loss", "0.2 %"),
                Check(_CHANNEL + "test_usbs_fit_takes_a_smooth_line_whole_and_a_reflection_as_ripple", _FIT, "0.1 dB")),
    ),
    FigureEntry(
        key="channel[].limit", unit="", unit_at=_unit, symbol=LIMIT, inputs=_channel_limit,
        off="exact: it is stated",
        meaning="The profile's limit at that frequency.",
        checks=(Check(_CHANNEL + "test_a_flat_level_integrates_to_the_published_limit", "the published limit",
                      "0.2 %"),),
    ),
    FigureEntry(
        key="channel[].margin", unit="", unit_at=_unit, symbol=LIMIT_MARGIN, formula=VALUE - LIMIT,
        inputs=_channel_margin,
        applies=_at_least, meaning="How far the channel's figure stays above its limit.", off="as the value",
        checks=(Check(_CHANNEL + "test_return_loss_is_the_lesser_of_both_ends_and_must_stay_above_its_line",
                      "value less limit", "floating point"),),
    ),
    FigureEntry(
        key="channel[].margin", unit="", unit_at=_unit, symbol=LIMIT_MARGIN, formula=LIMIT - VALUE,
        inputs=_channel_margin,
        meaning="How far the channel's figure stays below its limit.", off="as the value",
        checks=(Check(_CHANNEL + "test_annex_69b_fits_a_straight_line_and_measures_the_deviation_from_it",
                      "limit less value", "1e-9"),),
    ),
    FigureEntry(
        key="channel[].at_hz", unit="Hz", symbol=WHERE_HZ, inputs=_channel, holds=_CHANNEL_RANGE,
        meaning="Where the channel comes nearest to that limit.",
        formula=Sought("where the margin is least", (ELEMENTS,)),
        method="The least margin among frequencies 10 MHz apart.", off="10 MHz",
        checks=(Check(_CHANNEL + "test_usbs_fit_takes_a_smooth_line_whole_and_a_reflection_as_ripple",
                      "where a straight line is worst", "0.1 %"),),
    ),
    FigureEntry(
        key="crosstalk.height_v_without", unit="V", symbol=BARE, inputs=_without, method=_DENSITY, off="as the height",
        meaning="The eye's height without any neighbour.", formula=Sought("height without neighbours", (HEIGHT, RATIO)),
        checks=(_SUMS,),
    ),
    FigureEntry(
        key="crosstalk.width_ui_without", unit="UI", symbol=BARE_WIDTH, inputs=_without, method=_DENSITY,
        meaning="The eye's width without any neighbour.", formula=Sought("width without neighbours", (HEIGHT, RATIO)),
        off="as the width", checks=(_SUMS,),
    ),
    FigureEntry(
        key="crosstalk.rms_v", unit="V", symbol=RMS, inputs=_aggressors_rms, holds=_WEAK, off="as each neighbour's",
        meaning="All neighbours together, as a power sum.", checks=(_SUMS,),
        formula=Apply("sqrt", Total(EACH_RMS * EACH_RMS)),
    ),
    FigureEntry(
        key="crosstalk.peak_v", unit="V", symbol=REACH, formula=Total(EACH_REACH), inputs=_aggressors_reach,
        meaning="The most that all neighbours together can reach, to either side.", holds=_WEAK,
        off="as each neighbour's", checks=(_SUMS,),
    ),
    FigureEntry(
        key="crosstalk.aggressors[].rms_v", unit="V", symbol=RMS, inputs=_coupled, holds=_WEAK,
        checks=(_COUPLED, _BY_PART), meaning="What one neighbour adds, rms, all its phases alike.",
        formula=Sought("rms over phases", _COUPLING),
        method="The neighbour's pulse through what couples both lanes; its cursors' mean square over all phases.",
        off="of second order in the coupling",
    ),
    FigureEntry(
        key="crosstalk.aggressors[].peak_v", unit="V", symbol=REACH, inputs=_coupled, holds=_WEAK,
        meaning="The most that one neighbour can reach, to either side.", formula=Sought("sum of cursors", _COUPLING),
        method="The neighbour's pulse through what couples both lanes; the sizes of its cursors at the worst phase.",
        off="of second order in the coupling",
        checks=(_COUPLED, _BY_PART, Check(_BESIDE + "test_an_aggressor_that_runs_against_brings_its_near_end",
                                "the near end's saturation", "50 %")),
    ),
    FigureEntry(
        key="crosstalk.aggressors[].height_cost_v", unit="V", symbol=COST, inputs=_cost,
        formula=Sought("height without this one − height", (HEIGHT, *_COUPLING)),
        meaning="By how much the eye would be higher without one neighbour.", method=_DENSITY, off="as the height",
        checks=(_SUMS,),
    ),
    FigureEntry(
        key="crosstalk.spans[].psnext_db", unit="dB", symbol=Symbol("N"), inputs=_of_span, holds=_WEAK,
        meaning="Power sum at Nyquist of what runs against the lane, below its sources, between matched ends.",
        formula=Sought("power sum of near ends", _COUPLING), off="of second order in the coupling", method=_SOLVED,
        checks=(Check(_OVER_FREQUENCY + "test_near_end_crosstalk_over_frequency_is_the_closed_form_and_two_sources_"
                      "are_3_db_more", "closed form of a lossless matched line", "2 % of its largest"),),
    ),
    FigureEntry(
        key="crosstalk.spans[].psfext_db", unit="dB", symbol=Symbol("F"), inputs=_of_span, holds=_WEAK,
        meaning="Power sum at Nyquist of what runs along the lane, below its sources, between matched ends.",
        formula=Sought("power sum of far ends", _COUPLING), off="of second order in the coupling", method=_SOLVED,
        checks=(Check(_OVER_FREQUENCY + "test_far_end_crosstalk_is_the_level_that_was_stated_and_rises_with_frequency",
                      "the level that was stated", "0.05 dB"),),
    ),
    FigureEntry(
        key="crosstalk.spans[].loss_to_crosstalk_db", unit="dB", symbol=Symbol("R"), inputs=_of_span, holds=_WEAK,
        meaning="How far all crosstalk lies below the lane's own signal at the span's end, at Nyquist.",
        formula=Sought("both power sums − the span's loss", _COUPLING), off="as the power sums", method=_SOLVED,
        checks=(Check(_OVER_FREQUENCY + "test_the_ratio_is_crosstalk_less_the_lanes_own_loss",
                      "power sum − loss", "floating point"),),
    ),
    FigureEntry(
        key="crosstalk.spans[].icn_v", unit="V", symbol=Symbol("s", "x"), inputs=_of_span,
        holds=f"{_WEAK}; the formula is unverified",
        meaning="Integrated crosstalk noise, rms; a figure to compare, which no verdict rests on.",
        formula=Sought("weighted sum over frequency", _COUPLING), off="as the power sums",
        method="IEEE 802.3, 85.10.7, form and constants unverified, from 50 MHz to the rate in steps of 10 MHz.",
        checks=(Check(_OVER_FREQUENCY + "test_the_noise_of_flat_crosstalk_is_what_the_formula_gives",
                      "the formula worked out apart", "0.02 %"),),
    ),
    FigureEntry(
        key="crosstalk.enough_gap_m", unit="m", symbol=Symbol("g"), inputs=_enough, holds=_WEAK,
        meaning="The gap of the worst neighbour's bundle at which the lane passes and keeps half of its margin.",
        formula=Sought("the least gap that is enough", (HEIGHT, LEAST_HEIGHT)), off="10 % above the least",
        method="Halved on a logarithmic scale at the sampling instant, then assessed whole, in steps of 10 um.",
        checks=(Check(_ENOUGH, "the gap put in, and a tenth less", "10 %"),),
    ),
)  # fmt: skip
