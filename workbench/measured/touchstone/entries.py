"""How the figures of a measured network came about: its quality card, and what a command tells of it."""

from collections.abc import Callable

from msgspec.structs import replace

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, beside, input_from, known, stated
from workbench.engine.figures.entry import Check, FigureInput
from workbench.engine.figures.expression import Constant, Expression, Sought, Symbol
from workbench.measured.touchstone.quality import QualityCard, WayQuality
from workbench.measured.touchstone.told import ExportSummary, ImportedNetwork, NetworkQuality
from workbench.parts.network import PortPair, Repair

_QUALITY = "tests/measured/test_quality.py::"
_PUBLISHED = (
    Check(_QUALITY + "test_the_published_measures_are_those_of_scikit_rf", "scikit-rf's IEEE 370 measures", "1e-9"),
)
_NOISE = (Check(_QUALITY + "test_noise_that_was_added_is_found", "noise that was added", "1 dB"),)
_POWER = (Check(_QUALITY + "test_power_is_found_where_it_was_put", "power that was put in", "1e-9"),)
_ONE_WAY = (Check(_QUALITY + "test_one_way_is_found_where_it_was_put", "a difference that was put in", "1e-9"),)
_BAND = (
    Check(_QUALITY + "test_the_share_beyond_the_band_is_the_integral_of_the_spectrum", "scipy's integral", "2e-5"),
)
_SOUND = (
    Check(
        _QUALITY + "test_a_sound_network_is_good_in_every_line_but_its_start",
        "points and lines by hand",
        "1e-6; delay 3 %",
    ),
)
_LEGS = (
    Check(
        _QUALITY + "test_mode_conversion_of_a_skewed_pair_is_what_half_the_difference_of_its_legs_is",
        "half the difference of two legs, one of them later by a known time",
        "1e-9",
    ),
)
_READ = (
    Check(
        "tests/measured/test_export.py::test_what_is_written_comes_back_to_the_last_bit",
        "the file, byte by byte",
        "the last bit",
    ),
)
_PORTS = (
    Check(
        "tests/measured/test_export_commands.py::test_ports_are_stated_and_repairs_named_in_json",
        "what was stated",
        "exact",
    ),
)
_REPAIRS = (
    Check(
        "tests/measured/test_repair.py::test_reciprocity_is_the_mean_and_tells_its_change",
        "the data before and after",
        "exact",
    ),
)
_POINTS, _LOW, _HIGH, _STEP = Symbol("n"), Symbol("f", "low"), Symbol("f", "high"), Symbol("Δf")
_RATE, _REFERENCE = Symbol("R"), Symbol("Z", indexed=True)
_FILE = "the file"


def _sampled(spot: Spot) -> list[FigureInput]:
    """What every measure is taken of: the file's points and band."""
    return [
        beside(spot, _POINTS, "points", "", "points"),
        beside(spot, _LOW, "lowest frequency", "Hz", "low_hz"),
        beside(spot, _HIGH, "highest frequency", "Hz", "high_hz"),
    ]


def _of_step(spot: Spot) -> list[FigureInput]:
    return [beside(spot, _STEP, "spacing", "Hz", "step_hz")]


def _of_band(spot: Spot) -> list[FigureInput]:
    return [
        beside(spot, _HIGH, "highest frequency", "Hz", "high_hz"),
        beside(spot, _RATE, "rate that it is judged for", "bit/s", "rate_bps"),
    ]


_DATA = (_POINTS, _LOW, _HIGH)


def _measure(
    key: str,
    meaning: str,
    what: str,
    method: str,
    checks: tuple[Check, ...],
    *,
    unit: str = "",
    symbol: str = "q",
    off: str = "as the file's noise",
    holds: str = "any network",
    formula: Expression | None = None,
    inputs: Callable[[Spot], list[FigureInput]] = _sampled,
) -> AnswerEntry:
    """An entry of the card that is found from all points of the file."""
    return AnswerEntry(
        record=QualityCard,
        key=key,
        meaning=meaning,
        unit=unit,
        symbol=Symbol(symbol),
        method=method,
        checks=checks,
        formula=formula or Sought(what, _DATA),
        inputs=inputs,
        off=off,
        holds=holds,
    )


def _reference(record: type) -> AnswerEntry:
    return AnswerEntry(
        record=record,
        key="reference_ohm",
        unit="ohm",
        symbol=_REFERENCE,
        checks=_READ,
        off="exact: as the file has it",
        meaning="The reference impedance of each port, which its waves are counted in.",
        inputs=lambda spot: [
            input_from(_REFERENCE, "as the file states it", known(spot), "ohm", origin="file", where=_FILE)
        ],
    )


def _counted(record: type, key: str, meaning: str, *, unit: str = "", symbol: str = "n") -> AnswerEntry:
    return stated(
        record,
        key,
        meaning,
        unit=unit,
        symbol=symbol,
        origin="file",
        where=_FILE,
        checks=_READ,
        off="exact: as the file has it",
    )


_NEEDS_TWO = "two ports and more"
_WAYS = "networks whose ways through are known"

_BY_WAY = ("noise_db", "conversion", "conversion_hz", "skew_s")
"""What is told of each way through as of the whole network."""


def _of_way(entry: AnswerEntry, what: str) -> AnswerEntry:
    """The same of one way through: taken of its own elements of the file's matrices."""
    return replace(
        entry, record=WayQuality, meaning=f"Of one way through: {entry.meaning[:1].lower()}{entry.meaning[1:]}",
        formula=Sought(what, _DATA), inputs=_sampled_around,
    )  # fmt: skip


def _sampled_around(spot: Spot) -> list[FigureInput]:
    """As `_sampled`, of the card that a way's record stands in."""
    place = spot.owners[-2][0]
    card = f"{place}." if place else ""
    return [
        at_path(spot, _POINTS, "points", "", f"{card}points"),
        at_path(spot, _LOW, "lowest frequency", "Hz", f"{card}low_hz"),
        at_path(spot, _HIGH, "highest frequency", "Hz", f"{card}high_hz"),
    ]


_CARD: tuple[AnswerEntry, ...] = (
    _reference(NetworkQuality),
    _reference(ImportedNetwork),
    _counted(QualityCard, "ports", "How many ports the network has."),
    _counted(QualityCard, "points", "How many frequencies it was measured at."),
    _counted(QualityCard, "low_hz", "The lowest frequency, 0 where rest was measured.", unit="Hz", symbol="f"),
    _counted(QualityCard, "high_hz", "The highest frequency.", unit="Hz", symbol="f"),
    _measure(
        "step_hz",
        "The spacing of the frequencies; none where one step is off by more than a thousandth.",
        "",
        "",
        _SOUND,
        unit="Hz",
        symbol="Δf",
        formula=(_HIGH - _LOW) / (_POINTS - Constant(1.0)),
        off="a thousandth",
        holds="evenly spaced frequencies",
    ),
    _measure(
        "window_s",
        "The time that the spacing shows before it repeats itself.",
        "",
        "",
        _SOUND,
        unit="s",
        symbol="T",
        formula=Constant(1.0) / _STEP,
        inputs=_of_step,
        off="as the spacing",
        holds="evenly spaced frequencies",
    ),
    _measure(
        "noise_db",
        "The rms noise of the transmission at most, beside 1.",
        "scatter of a point about a smooth curve",
        "Fourth differences along frequency, the delay taken out first, over √70: their median over √ln 2, so "
        "that a few resonances don't raise it.",
        _NOISE,
        unit="dB",
        symbol="N",
        off="1 dB",
        holds="evenly spaced frequencies",
    ),
    _measure(
        "gain",
        "The largest share of waves that comes out: above 1 the network is not passive.",
        "largest singular value of S",
        "Singular values of the scattering matrix at each frequency.",
        _POWER,
        symbol="σ",
    ),
    _measure(
        "gain_hz",
        "Where that is.",
        "frequency of the largest singular value",
        "As above.",
        _POWER,
        unit="Hz",
        symbol="f",
    ),
    _measure(
        "passivity_percent",
        "The initial passivity measure of IEEE 370-2020, 100 % where it is passive.",
        "100 % less what lies above 1, over all points",
        "A point whose largest singular value is 1.1 or more counts whole, between 1.00001 and that in part.",
        _PUBLISHED,
        symbol="P",
        holds=_NEEDS_TWO,
    ),
    _measure(
        "reciprocity_percent",
        "The initial reciprocity measure of IEEE 370-2020, 100 % where S_ij is S_ji.",
        "100 % less the mean difference, over all points",
        "A point whose mean difference is 0.1 or more counts whole, between 1e-6 and that in part.",
        _PUBLISHED,
        symbol="P",
        holds=_NEEDS_TWO,
    ),
    _measure(
        "causality_percent",
        "The initial causality measure of IEEE 370-2020, of the least causal element.",
        "share of turning that is clockwise",
        "Cross products of neighbouring steps in the complex plane, summed.",
        _PUBLISHED,
        symbol="P",
        off="by noise, which turns either way",
    ),
    _measure(
        "through_percent",
        "The same of the ways through alone.",
        "share of turning that is clockwise",
        "As for all elements; the least of the ways.",
        _PUBLISHED,
        symbol="P",
        holds=_WAYS,
        off="by noise, which turns either way",
    ),
    _measure(
        "asymmetry",
        "The largest difference between S_ij and S_ji.",
        "largest difference",
        "Over all pairs of ports and frequencies.",
        _ONE_WAY,
        symbol="a",
    ),
    _measure(
        "asymmetry_hz",
        "Where that is.",
        "frequency of the largest difference",
        "As above.",
        _ONE_WAY,
        unit="Hz",
        symbol="f",
    ),
    _measure(
        "delay_s",
        "The delay of each way through.",
        "slope of the phase",
        "The mean step of the phase, each weighed with what gets through, then a line through what is left.",
        _SOUND,
        unit="s",
        symbol="τ",
        off="3 %: a delay changes along frequency",
        holds=_WAYS,
    ),
    _measure(
        "conversion",
        "The largest conversion between differential and common of any way through.",
        "largest |S_cd21|",
        "The legs' waves in modes, at each frequency.",
        _LEGS,
        symbol="c",
        holds=_WAYS,
    ),
    _measure(
        "conversion_hz",
        "Where that is.",
        "frequency of the largest conversion",
        "As above.",
        _LEGS,
        unit="Hz",
        symbol="f",
        holds=_WAYS,
    ),
    _measure(
        "skew_s",
        "By how much that way's positive leg is later than its negative one.",
        "slope of the phase between both legs",
        "A line through 0 Hz and the phase of the one leg times the other's conjugate, each driven alone.",
        _LEGS,
        unit="s",
        symbol="Δτ",
        holds=_WAYS,
    ),
    stated(
        QualityCard,
        "rate_bps",
        "The rate that the band is judged for.",
        unit="bit/s",
        symbol="R",
        origin="asked",
        where="--rate",
        checks=_BAND,
        off="exact: it is asked for",
    ),
    _measure(
        "share_beyond",
        "The share of a pulse's energy at that rate that lies beyond the band.",
        "1 − energy of the pulse within the band",
        "A symbol with linear ramps, 20 to 80 % in 0.3 UI: two sinc functions, squared and summed.",
        _BAND,
        symbol="s",
        inputs=_of_band,
        formula=Sought("1 − energy within the band", (_HIGH, _RATE)),
        off="2e-5, and by the pulse's true edge",
    ),
    *(
        stated(
            PortPair,
            key,
            meaning,
            origin="asked",
            where="--ports, else guessed from what passes at low frequency",
            checks=_PORTS,
            off="exact: it is a port's number",
        )
        for key, meaning in (
            ("left", "The port where the signal enters: the positive leg, or all of it."),
            ("left_minus", "The port of the negative leg there; 0 without one."),
            ("right", "The port where it leaves: the positive leg, or all of it."),
            ("right_minus", "The port of the negative leg there; 0 without one."),
        )
    ),
    stated(
        Repair,
        "largest_change",
        "The largest change of any scattering parameter by this repair.",
        symbol="d",
        where="the data before and after",
        checks=_REPAIRS,
        off="floating point",
    ),
    *(
        stated(
            ExportSummary,
            key,
            meaning,
            unit=unit,
            symbol=symbol,
            origin="asked",
            where=where,
            checks=_READ,
            off="exact: it is what was written",
        )
        for key, meaning, unit, symbol, where in (
            ("ports", "How many ports the file has.", "", "n", "the file's ending"),
            ("points", "How many frequencies it has.", "", "n", "--from, --to and --step"),
            ("low_hz", "Its lowest frequency.", "Hz", "f", "--from"),
            ("high_hz", "Its highest frequency.", "Hz", "f", "--to"),
        )
    ),
)

NETWORK_ENTRIES: tuple[AnswerEntry, ...] = (
    *_CARD, *(_of_way(one, one.method) for one in _CARD if one.record is QualityCard and one.key in _BY_WAY)
)  # fmt: skip
