"""Entries of rates, lengths, losses and delays."""

import cmath
import math
from itertools import pairwise

from workbench.board.model import Run
from workbench.engine.figures.ends import across_f, across_words
from workbench.engine.figures.entry import (
    At,
    Check,
    ExplainedLane,
    FigureEntry,
    FigureInput,
    figure_at,
    of_field,
    of_figure,
    of_profile,
    on_the_way,
)
from workbench.engine.figures.expression import Apply, Constant, Sought, Symbol, Total
from workbench.engine.lane.elements import element_two_port, line_of
from workbench.engine.lane.grid import SURVEY_NYQUIST, Survey
from workbench.engine.lane.path_element import PathElement
from workbench.engine.lane.spans import channel_s_parameters, flight_time_s
from workbench.engine.verdict.measures import decibels
from workbench.facts import facts_of
from workbench.parts.record import ComponentRecord, Record
from workbench.parts.twoport import REFERENCE_OHM

_LINES = "tests/reference/passive/test_lines.py::"
_LOSSES = "tests/reference/passive/test_losses.py::"
_SHARES = "tests/engine/test_shares.py::"
_CASCADE = "tests/reference/passive/test_cascade.py::"

ONE, TWO, HALF, TWENTY = Constant(1.0), Constant(2.0), Constant(0.5), Constant(20.0)
RATE, BITS, UI, NYQUIST = Symbol("f", "bit"), Symbol("n", "bit"), Symbol("T"), Symbol("f", "N")
LENGTH, LENGTHS, RUN_LENGTH = Symbol("l"), Symbol("l", indexed=True), Symbol("l", "run")
LOSS, SPAN_LOSS, SPAN_LOSSES = Symbol("L"), Symbol("L", "span"), Symbol("L", "span", indexed=True)
ELEMENT, ELEMENTS, MISMATCH, ENDS = Symbol("a"), Symbol("a", indexed=True), Symbol("m"), Symbol("e")
DELAY, DELAYS = Symbol("τ"), Symbol("τ", indexed=True)
SPAN_DELAY, SPAN_DELAYS, LATENCIES = Symbol("τ", "span"), Symbol("τ", "span", indexed=True), Symbol("λ", indexed=True)
PACKAGE_DELAY = Symbol("τ", "package")
REFLECTED = Symbol("S", "11")
GAMMA, OWN_OHM, REFERENCE = Symbol("γ"), Symbol("Z", "c"), Symbol("Z", "0")
A, B, C, D = Symbol("A"), Symbol("B"), Symbol("C"), Symbol("D")

_MATCHED = "between matched 100 ohm ends"
_OFF_LINE = (
    "what the line's own model is off: nothing where its loss is stated, else 0.5 % in impedance and some percent in "
    "loss; see the line's page of the manual"
)


def _rate(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    return [of_profile(RATE, "bits per second on the line", "bit/s", case.plan.profile, field="rate_bps",
                       number=case.plan.profile.rate_bps)]  # fmt: skip


def _rate_and_bits(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    profile = case.plan.profile
    bits = FigureInput(symbol=BITS.name, meaning="bits that one symbol carries", value=float(profile.bits_per_symbol),
                       unit="", origin="profile", where=f"{profile.id}/levels")  # fmt: skip
    return [of_figure(case, RATE, "bit rate", "bit/s", "rate_bps"), bits]


def _run_lengths(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    runs = [(number, one) for number, one in enumerate(case.lane.path, 1) if isinstance(one, Run)]
    return [
        FigureInput(
            symbol=LENGTHS.name, meaning="length of each run", value=tuple(one.length_m for _, one in runs), unit="m",
            origin="board", where=", ".join(f"lanes/{case.lane.name}/element {number}" for number, _ in runs),
        )
    ]  # fmt: skip


def _spans(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    paths = [f"spans[{number}].loss_db" for number in range(len(case.plan.spans))]
    return [of_figure(case, SPAN_LOSSES, "loss of each span", "dB", *paths)]


def places_of_span(case: ExplainedLane, number: int) -> list[int]:
    """The places on the path, from 0, of a span's elements."""
    first = sum(len(span.elements) + 1 for span in case.plan.spans[:number])
    return list(range(first, first + len(case.plan.spans[number].elements)))


def element_at(case: ExplainedLane, place: int) -> PathElement:
    """The passive element at a place of the path, from 0; raises KeyError where a conditioner stands."""
    for number, span in enumerate(case.plan.spans):
        places = places_of_span(case, number)
        if place in places:
            return span.elements[places.index(place)]
    raise KeyError(f"path[{place}]")


def _budget(case: ExplainedLane, at: At) -> list[FigureInput]:
    number = at[0]
    span = case.plan.spans[number]
    paths = [f"path[{place}].loss_db" for place in places_of_span(case, number)]
    elements_db = [figure_at(case, path) for path in paths]
    alone = channel_s_parameters(case.memo, span, Survey(case.plan.profile.ui_s)).s21[SURVEY_NYQUIST]
    alone_db = decibels(1.0 / max(abs(complex(alone)), 1e-30))
    whole_db = case.found.spans[number].loss_db
    inner_db = sum(one for one in elements_db if isinstance(one, float))
    first = of_figure(case, ELEMENTS, "loss of each element alone", "dB", *paths)
    return [
        first,
        on_the_way(MISMATCH, "mismatch between elements, and skew", alone_db - inner_db, "dB",
                   "loss of all the span's elements in a row, less the sum of each alone"),
        on_the_way(ENDS, f"{' and '.join(dict.fromkeys(map(across_words, (span.source, span.load))))} of the ends",
                   whole_db - alone_db, "dB",
                   "loss of the span with what lies across its ends, less that without"),
    ]  # fmt: skip


def _span_names(case: ExplainedLane, at: At) -> list[FigureInput]:
    number = at[0]
    paths = [f"path[{place}].loss_db" for place in places_of_span(case, number)]
    span = case.plan.spans[number]
    terminals, f_hz = (span.source, span.load), case.plan.profile.nyquist_hz
    words = " and ".join(dict.fromkeys(map(across_words, terminals)))
    ends = on_the_way(Symbol("C", indexed=True), f"{words} at each end, as a capacitance at Nyquist",
                      tuple(across_f(one, f_hz) for one in terminals), "F", f"{span.from_} and {span.to}")
    return [
        of_figure(case, NYQUIST, "Nyquist frequency", "Hz", "nyquist_hz"), ends,
        of_figure(case, ELEMENTS, "the span's elements", "dB", *paths),
    ]  # fmt: skip


def _element_delays(case: ExplainedLane, at: At) -> list[FigureInput]:
    span, survey = case.plan.spans[at[0]], Survey(case.plan.profile.ui_s)
    so_far = [flight_time_s(case.memo, span, survey, count) for count in range(len(span.elements) + 1)]
    each = tuple(b - a for a, b in pairwise(so_far))
    package_s = span.load.flight_s
    return [
        on_the_way(DELAYS, "time of flight of each element", each, "s", "phase delay at Nyquist; stated delay"),
        on_the_way(PACKAGE_DELAY, "the receiver's package", package_s, "s", "its network or the reference package"),
    ]


def _all_delays(case: ExplainedLane, at: At) -> list[FigureInput]:
    del at
    paths = [f"spans[{number}].delay_s" for number in range(len(case.plan.spans))]
    latencies = tuple(stage.delay_s for stage in case.plan.stages)
    where = ", ".join(f"conditioners/{stage.part.name}/latency_s" for stage in case.plan.stages)
    return [
        of_figure(case, SPAN_DELAYS, "delay of each span", "s", *paths),
        FigureInput(symbol=LATENCIES.name, meaning="latency of each conditioner", value=latencies, unit="s",
                    origin="catalogue", where=where or "no conditioner"),
    ]  # fmt: skip


def _is_component(case: ExplainedLane, at: At) -> bool:
    return isinstance(element_at(case, at[0]).record, ComponentRecord)


def _line(case: ExplainedLane, at: At) -> list[FigureInput]:
    element, survey = element_at(case, at[0]), Survey(case.plan.profile.ui_s)
    known = line_of(case.memo, element, survey).constants
    z, y = complex(known.z_ohm_per_m[SURVEY_NYQUIST]), complex(known.y_s_per_m[SURVEY_NYQUIST])
    name = getattr(element.record, "name", "")
    where = f"√(z y) and √(z / y) of {name}'s series impedance z and shunt admittance y per metre at Nyquist"
    return [
        FigureInput(symbol=RUN_LENGTH.name, meaning="length of the run", value=element.length_m or 0.0, unit="m",
                    origin="board", where=f"lanes/{case.lane.name}/element {at[0] + 1}"),
        on_the_way(GAMMA, "propagation constant", cmath.sqrt(z * y), "1/m", where),
        on_the_way(OWN_OHM, "characteristic impedance", cmath.sqrt(z / y), "ohm", where),
        _reference(), *_fields(element.record),
        *(each for _, part in element.parts.by_field for each in _fields(part)),
    ]  # fmt: skip


def _component(case: ExplainedLane, at: At) -> list[FigureInput]:
    element, survey = element_at(case, at[0]), Survey(case.plan.profile.ui_s)
    matrix = element_two_port(case.memo, element, survey)
    where = f"chain matrix of {getattr(element.record, 'name', '')} at Nyquist"
    units = ("", "ohm", "S", "")
    scale = math.exp(float(matrix.attenuation_np[SURVEY_NYQUIST]))
    entries = [complex(one) * scale for one in matrix.chain[:, :, SURVEY_NYQUIST].ravel()]
    return [
        *(on_the_way(symbol, "of the chain matrix", value, unit, where)
          for symbol, value, unit in zip((A, B, C, D), entries, units, strict=True)),
        _reference(), *_fields(element.record),
        *(each for _, part in element.parts.by_field for each in _fields(part)),
    ]  # fmt: skip


def _reference() -> FigureInput:
    return FigureInput(symbol=REFERENCE.name, meaning="reference impedance", value=REFERENCE_OHM, unit="ohm",
                       origin="program", where="losses are stated between matched differential ends")  # fmt: skip


def _fields(record: Record) -> list[FigureInput]:
    """Every number of a catalogue entry, by its key."""
    numbers = [
        fact.name for fact in facts_of(type(record))
        if isinstance(getattr(record, fact.name), float) and not fact.section
    ]  # fmt: skip
    return [of_field(Symbol(name), record.section or "", record, name) for name in numbers]


_LINE_LOSS = TWENTY * Apply("log10", Apply(
    "abs",
    Apply("cosh", GAMMA * RUN_LENGTH)
    + HALF * (OWN_OHM / REFERENCE + REFERENCE / OWN_OHM) * Apply("sinh", GAMMA * RUN_LENGTH),
))  # fmt: skip
_COMPONENT_LOSS = TWENTY * Apply("log10", Apply("abs", HALF * (A + B / REFERENCE + C * REFERENCE + D)))

FIGURES = (
    FigureEntry(
        key="rate_bps", meaning="Bits per second on the line, as the profile has it.", unit="bit/s", symbol=RATE,
        inputs=_rate, off="exact: it is stated",
        checks=(Check("tests/reference/eyes/test_ctle.py::test_the_reference_equalizers_of_pci_express_are_those_of_the_table",
                      "PCI Express's table of equalizers, which stand by rate", "as the table rounds"),),
    ),
    FigureEntry(
        key="nyquist_hz", word="nyquist", meaning="Half the symbol rate, where losses are told.", unit="Hz",
        symbol=NYQUIST, formula=RATE / (TWO * BITS), inputs=_rate_and_bits, off="not at all: it follows from the rate",
        checks=(Check(_LOSSES + "test_loss_is_what_the_line_states_at_nyquist",
                      "the loss that a line states at half the rate", "0.02 dB of 6.5 dB"),),
    ),
    FigureEntry(
        key="length_m", word="length", meaning="Routed length: the sum of the runs.", unit="m", symbol=LENGTH,
        formula=Total(LENGTHS), inputs=_run_lengths, off="not at all: lengths are stated",
        checks=(Check("tests/engine/figures/test_figures.py::test_the_numbers_put_in_give_the_number_shown",
                      "the sum put down from the board's own runs", "4 digits"),),
    ),
    FigureEntry(
        key="loss_db", word="loss", meaning=f"Insertion loss of the passive spans at Nyquist, {_MATCHED}.", unit="dB",
        symbol=LOSS, formula=Total(SPAN_LOSSES), inputs=_spans, off=_OFF_LINE, outside=("model-range",),
        holds="inside the ranges of the parts' models",
        checks=(Check(_LOSSES + "test_loss_is_what_the_line_states_at_nyquist", "closed form", "0.02 dB of 6.5 dB"),
                Check(_LOSSES + "test_end_capacitance_adds_its_own_loss", "closed form, derived", "1e-6 dB")),
    ),
    FigureEntry(
        key="spans[].loss_db", unit="dB", symbol=SPAN_LOSS, formula=Total(ELEMENTS) + MISMATCH + ENDS, inputs=_budget,
        meaning=f"Insertion loss at Nyquist of a stretch between two active points, {_MATCHED}, with what lies "
                "across its ends.",
        off=_OFF_LINE, outside=("model-range",), holds="inside the ranges of the parts' models",
        checks=(Check(_SHARES + "test_matched_elements_add_up_to_their_span",
                      "where all is matched nothing remains", "0.01 dB"),
                Check(_CASCADE + "test_cascade_is_that_of_scikit_rf", "scikit-rf's cascade", "floating point")),
    ),
    FigureEntry(
        key="path[].loss_db", unit="dB", symbol=ELEMENT, formula=_COMPONENT_LOSS, inputs=_component,
        meaning=f"Insertion loss at Nyquist of one component alone, {_MATCHED}.", applies=_is_component,
        off="what the component's own model is off; see its page of the manual", outside=("model-range",),
        holds="inside the range of the component's model",
        checks=(Check(_SHARES + "test_a_capacitor_loses_what_a_series_impedance_does",
                      "D. M. Pozar, Microwave Engineering (unverified)", "1e-6"),
                Check("tests/reference/passive/test_via.py::test_a_matched_connector_has_its_loss_and_delay",
                      "the loss that is stated", "1 to 5 %, as its reflections")),
    ),
    FigureEntry(
        key="path[].loss_db", unit="dB", symbol=ELEMENT, formula=_LINE_LOSS, inputs=_line,
        meaning=f"Insertion loss at Nyquist of one run alone, {_MATCHED}.", off=_OFF_LINE, outside=("model-range",),
        holds="inside the range of the line's model",
        checks=(Check(_SHARES + "test_a_matched_line_loses_its_stated_loss_per_metre_at_nyquist",
                      "the loss that the line states", "1 %"),
                Check(_LINES + "test_a_line_by_loss_has_the_loss_and_delay_that_were_stated",
                      "the loss that the line states", "the loss over the phase, below 2 %"),
                Check(_LINES + "test_handbook_stripline_has_its_impedance_and_attenuation",
                      "a handbook's worked example", "1.2 % of impedance, 2 % of loss"),
                Check(_CASCADE + "test_line_is_that_of_scikit_rf", "scikit-rf's line", "floating point")),
    ),
    FigureEntry(
        key="spans[].return_loss_db", unit="dB", symbol=Symbol("R"), inputs=_span_names,
        meaning="The least return loss of a span up to Nyquist, seen from its driving end in 100 ohm.",
        formula=Sought("least return loss up to Nyquist", (NYQUIST, Symbol("C", indexed=True), ELEMENTS)),
        method="-20 log10 |S11| of the span's cascade on 129 even frequencies from 0 Hz to Nyquist; the least.",
        off="a dip narrower than 1/128 of Nyquist may be missed", outside=("model-range",),
        holds="inside the ranges of the parts' models",
        checks=(Check(_CASCADE + "test_s_parameters_are_those_of_scikit_rf", "scikit-rf", "floating point"),),
    ),
    FigureEntry(
        key="spans[].delay_s", unit="s", symbol=SPAN_DELAY, formula=Total(DELAYS) + PACKAGE_DELAY,
        inputs=_element_delays, meaning="Time of flight along a span at Nyquist.",
        off="the group delay of filters and capacitances is not in it: some ps",
        checks=(Check("tests/reference/passive/test_pulse.py::test_a_matched_lossless_lane_shows_half_its_swing_at_its_flight_time",
                      "length times the root of permittivity over the speed of light", "1e-9"),),
    ),
    FigureEntry(
        key="delay_s", word="delay", unit="s", symbol=DELAY, formula=Total(SPAN_DELAYS) + Total(LATENCIES),
        inputs=_all_delays, meaning="Time of flight of the whole lane, conditioners' latencies included.",
        off="the group delay of filters and capacitances is not in it: some ps",
        checks=(Check("tests/reference/passive/test_pulse.py::test_a_matched_lossless_lane_shows_half_its_swing_at_its_flight_time",
                      "length times the root of permittivity over the speed of light", "1e-9"),),
    ),
)  # fmt: skip
