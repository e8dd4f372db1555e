"""Entries of the pulse response, the equalization and the baseline wander."""

import math

import numpy as np

from workbench.codes.machine import machine_of
from workbench.engine.coded.worst import widest_drift
from workbench.engine.figures.ends import end_inputs, rise_input
from workbench.engine.figures.entry import (
    At,
    Check,
    ExplainedLane,
    FigureEntry,
    FigureInput,
    of_field,
    of_figure,
    on_the_way,
)
from workbench.engine.figures.expression import Apply, Constant, Sought, Symbol, Total
from workbench.engine.figures.losses import BITS, DELAY, NYQUIST, RATE, SPAN_LOSSES, UI
from workbench.engine.lane.grid import SAMPLES_PER_UI
from workbench.engine.verdict.measures import corners_hz, quantile, settled_level_v

_PULSE = "tests/reference/passive/test_pulse.py::"
_LOSSES = "tests/reference/passive/test_losses.py::"
_EQUALIZERS = "tests/reference/eyes/test_equalizers.py::"

PEAK, PEAK_AT, CURSORS, SAMPLED_AT = Symbol("p", "max"), Symbol("t", "max"), Symbol("p", indexed=True), Symbol("t", "s")
PULSE, SAMPLES, GAIN, TAPS = Symbol("p"), Symbol("n", "UI"), Symbol("g", "DC"), Symbol("d", indexed=True)
SWING, RISE, RATIO, NOISE = Symbol("V", "swing"), Symbol("t", "rise"), Symbol("ε"), Symbol("σ", "n")
PRESHOOT, DEEMPHASIS = Symbol("c", "pre"), Symbol("c", "post")
SOURCE_OHM, SOURCE_F, LOAD_OHM, LOAD_F = Symbol("R", "S"), Symbol("C", "S"), Symbol("R", "L"), Symbol("C", "L")
WANDER, LEVEL, DRIFT, CORNERS = Symbol("w"), Symbol("V", "level"), Symbol("D"), Symbol("f", "c", indexed=True)
QUANTILE = Symbol("Q")

_PI = Constant(math.pi, "π")
_DRIVEN = (SWING, RISE, PRESHOOT, DEEMPHASIS, SOURCE_OHM, SOURCE_F, LOAD_OHM, LOAD_F, SPAN_LOSSES, GAIN)
_TRANSFORM = (
    "The symbol's spectrum times the cascade of all elements with their true ends, the conditioners' and the "
    "equalizer's gains, and back to time by a Fourier transform of 32 samples per UI."
)
_OFF = "0.2 % of the peak where the closed form is known; beyond a limiting conditioner the pulse starts anew"
_SMALL = "small signals; the window is long enough for the tail to settle"
_CLOSED_FORM = (
    Check(_PULSE + "test_a_pole_gives_the_closed_form_of_a_ramp_through_it", "closed form", "3e-4 V of 1 V"),
    Check(_PULSE + "test_a_mismatched_line_rings_as_the_lattice_diagram_says", "bounce diagram, derived",
          "0.5 % of the peak, 2 mV of later cursors"),
    Check(_PULSE + "test_a_matched_lossless_lane_shows_half_its_swing_at_its_flight_time", "the pulse's definition",
          "0.2 %"),
)  # fmt: skip


def driven(case: ExplainedLane, at: At) -> list[FigureInput]:
    """What a pulse is made of: the driving end, both terminations, the spans, the equalizer's gain."""
    del at
    sender, receiver = case.plan.transmitter, case.plan.receiver
    spans = [f"spans[{number}].loss_db" for number in range(len(case.plan.spans))]
    return [
        of_field(SWING, "transmitters", sender, "swing_v"),
        rise_input(sender, RISE),
        of_field(PRESHOOT, "transmitters", sender, "preshoot_db"),
        of_field(DEEMPHASIS, "transmitters", sender, "deemphasis_db"),
        *end_inputs(case, sender, SOURCE_OHM, SOURCE_F),
        *end_inputs(case, receiver, LOAD_OHM, LOAD_F),
        of_figure(case, SPAN_LOSSES, "loss of each span", "dB", *spans),
        gain(case),
        *_settings(case),
    ]


def gain(case: ExplainedLane) -> FigureInput:
    """The equalizer's DC gain as an input; 0 dB where there is no equalizer."""
    gain_db = case.found.equalizer.ctle_dc_gain_db
    if gain_db is None:
        return on_the_way(GAIN, "DC gain of the equalizer", 0.0, "dB", "no continuous-time equalizer")
    return of_figure(case, GAIN, "DC gain of the equalizer", "dB", "equalizer.ctle_dc_gain_db")


def _settings(case: ExplainedLane) -> list[FigureInput]:
    """What each conditioner's input equalizer does at Nyquist, as it is set."""
    f_hz = np.array([case.plan.profile.nyquist_hz])
    found = []
    for stage in case.plan.stages:
        set_to = ", ".join(f"{name} {position}" for name, position in stage.settings.items())
        gain_db = 20.0 * math.log10(max(abs(complex(stage.input_gain(f_hz)[0])), 1e-30))
        where = "settings, channels" if stage.part.per_channel else "settings"
        found.append(FigureInput(
            symbol=f"G_{stage.ref}",
            meaning=f"gain at Nyquist of {stage.ref} channel {stage.channel}, set to {set_to}", value=gain_db,
            unit="dB", origin="board", where=f"devices/{stage.ref}/{where}",
        ))  # fmt: skip
    return found


def _pulse_in_time(case: ExplainedLane, at: At) -> list[FigureInput]:
    return [*driven(case, at), of_figure(case, DELAY, "delay of the lane", "s", "delay_s")]


def _cursors(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return [
        of_figure(case, PEAK, "peak of the pulse", "V", "pulse.peak_v"),
        of_figure(case, SAMPLED_AT, "sampling instant", "s", "eye.center_s"),
        of_figure(case, UI, "unit interval", "s", "pulse.ui_s"),
    ]


def _ui(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    profile = case.plan.profile
    return [
        of_figure(case, RATE, "bit rate", "bit/s", "rate_bps"),
        FigureInput(symbol=BITS.name, meaning="bits that one symbol carries", value=float(profile.bits_per_symbol),
                    unit="", origin="profile", where=f"{profile.id}/levels"),
    ]  # fmt: skip


def _samples(case: ExplainedLane, at: At) -> list[FigureInput]:
    del case, at
    return [FigureInput(symbol=SAMPLES.name, meaning="samples per unit interval", value=float(SAMPLES_PER_UI), unit="",
                        origin="program", where="the grid of every lane")]  # fmt: skip


def _choice(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return [
        of_figure(case, RATIO, "bit error ratio", "", "eye.ber"),
        of_field(NOISE, "receivers", case.plan.receiver, "noise_v"),
        of_figure(case, NYQUIST, "Nyquist frequency", "Hz", "nyquist_hz"),
    ]


def _feedback(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    received = case.observed.received
    grid = received.waves.grid
    post = tuple(
        float(received.waves.pulse_v[(received.decision + grid.samples_per_ui * k) % grid.samples])
        for k in range(1, received.taps_v.size + 1)
    )
    return [on_the_way(CURSORS, "post-cursors where the receiver decides", post, "V", "pulse, before feedback")]


def _wander(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    corners = tuple(corners_hz(case.plan, case.observed.probe.span))
    return [
        on_the_way(LEVEL, "level that a long run of one symbol settles to", settled_level_v(case.observed), "V",
                   "sum of the pulse's cursors"),
        on_the_way(CORNERS, "high-pass corner of each coupling capacitor", corners, "Hz",
                   "capacitors' capacitance_f with the resistances at both ends"),
        of_figure(case, UI, "unit interval", "s", "pulse.ui_s"),
    ]  # fmt: skip


def _balanced(case: ExplainedLane, at: At) -> bool:
    del at
    machine = machine_of(case.plan.profile.coding)
    return machine is not None and math.isfinite(machine.sum_bound)


def _wander_of_code(case: ExplainedLane, at: At) -> list[FigureInput]:
    machine = machine_of(case.plan.profile.coding)
    assert machine is not None
    return [*_wander(case, at), on_the_way(DRIFT, "widest drift of the running sum", widest_drift(machine), "",
                                           f"line code {case.plan.profile.coding}")]  # fmt: skip


def _wander_of_random(case: ExplainedLane, at: At) -> list[FigureInput]:
    sigma = quantile(case.found.eye.ber)
    return [*_wander(case, at), on_the_way(QUANTILE, "sigmas exceeded at the BER", sigma, "", "eye.ber")]


_WANDER_RANGE = "corners far below the symbol rate, so that the droop within one symbol is small"

FIGURES = (
    FigureEntry(
        key="pulse.ui_s", word="ui", meaning="One unit interval: the time of one symbol.", unit="s", symbol=UI,
        formula=BITS / RATE, inputs=_ui, off="not at all: it follows from the rate",
        checks=(Check("tests/reference/eyes/test_presets.py::test_symbol_spectrum_is_the_transform_of_the_trapezoid",
                      "transform of one symbol, by its length", "1e-7 of a UI"),),
    ),
    FigureEntry(
        key="pulse.samples_per_ui", meaning="Samples of the pulse in one unit interval.", unit="", symbol=SAMPLES,
        inputs=_samples, off="not at all",
        checks=(Check("tests/reference/eyes/test_widths.py::test_a_line_coded_eye_ends_where_phases_in_between_say",
                      "eight times as many samples", "0.0015 UI"),),
    ),
    FigureEntry(
        key="pulse.peak_v", word="pulse", unit="V", symbol=PEAK, formula=Sought("highest sample of the pulse", _DRIVEN),
        meaning="Peak of the response to one symbol of half the swing, at the probe point.", method=_TRANSFORM,
        inputs=driven, off=_OFF, holds=_SMALL, outside=("unsettled", "compression", "model-range"), checks=_CLOSED_FORM,
    ),
    FigureEntry(
        key="pulse.peak_s", unit="s", symbol=PEAK_AT, method=_TRANSFORM, inputs=_pulse_in_time,
        meaning="When the pulse is highest, from the start of the symbol at the transmitter.",
        formula=Sought("time of the highest sample", (DELAY, *_DRIVEN)), holds=_SMALL, outside=("unsettled",),
        off="1/16 UI on a flat top, else 1/32 UI", checks=_CLOSED_FORM[2:],
    ),
    FigureEntry(
        key="pulse.cursors_v[]", word="cursors", unit="V", symbol=Symbol("p", "k"), inputs=_cursors,
        meaning="Samples of the pulse one UI apart, from one before the main cursor at the sampling instant.",
        formula=Sought("pulse at sampling instant + k UI", (PEAK, SAMPLED_AT, UI)), holds=_SMALL,
        method="The pulse, interpolated between its samples; last cursors below 0.1 % of the largest are left out.",
        off=_OFF, outside=("unsettled",), checks=_CLOSED_FORM[:2],
    ),
    FigureEntry(
        key="equalizer.ctle_dc_gain_db", word="gain", unit="dB", symbol=GAIN, inputs=_choice,
        meaning="DC gain that the continuous-time equalizer settles on.",
        formula=Sought("gain whose eye is most open", (RATIO, NOISE, NYQUIST)),
        method="Every gain that the equalizer has is tried, each with its own feedback taps; the largest level counts.",
        off="may be the next one where two open the eye equally within 2 mV",
        checks=(Check(_EQUALIZERS + "test_the_gain_chosen_opens_the_eye_as_far_as_any_tried_by_hand",
                      "every gain assessed by itself", "2 mV of height"),),
    ),
    FigureEntry(
        key="equalizer.dfe_taps_v[]", word="taps", unit="V", symbol=Symbol("d", "k"), inputs=_feedback,
        meaning="What decision feedback subtracts after each decision.",
        formula=Sought("within the tap's limits", (CURSORS,)),
        method="Each post-cursor, limited to what its tap can do; taps and decision instant are sought together.",
        off="decision instants are 1/32 UI apart",
        checks=(Check(_EQUALIZERS + "test_taps_take_off_the_post_cursors_as_far_as_their_limits_let_them",
                      "IEEE 802.3 Annex 93A (unverified)", "floating point"),
                Check(_EQUALIZERS + "test_with_feedback_the_first_cursors_left_over_are_equal",
                      "K. H. Mueller, M. Mueller, IEEE Trans. Comm. 24(5), 1976", "one sample")),
    ),
    FigureEntry(
        key="baseline_wander_v", word="wander", unit="V", symbol=WANDER, applies=_balanced, inputs=_wander_of_code,
        meaning="How far the coupling capacitors let the baseline drift, to one side, at the code's worst sequence.",
        formula=LEVEL * DRIFT * Total(Constant(2.0) * _PI * CORNERS * UI), holds=_WANDER_RANGE,
        off="2 % where corners are far below the rate",
        checks=(Check(_LOSSES + "test_a_coded_lane_wanders_as_far_as_its_worst_sequence_drives_it",
                      "A. X. Widmer, P. A. Franaszek, IBM J. R&D 27(5), 1983", "2 %"),),
    ),
    FigureEntry(
        key="baseline_wander_v", word="wander", unit="V", symbol=WANDER, inputs=_wander_of_random,
        meaning="How far the coupling capacitors let the baseline drift, to one side, at the error ratio.",
        formula=LEVEL * QUANTILE * Apply("sqrt", Total(_PI * CORNERS * UI)), holds=_WANDER_RANGE,
        off="5 % against counted bits",
        checks=(Check(_LOSSES + "test_random_symbols_wander_as_brute_force_says", "4e6 random bits", "5 %"),),
    ),
)  # fmt: skip
