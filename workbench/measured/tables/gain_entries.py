"""How the figures of a data sheet's table of gains came about, and those of a maker's model against frequency."""

import msgspec

from workbench.engine.figures.answered import AnswerEntry, Spot, at_path, beside, input_from, known
from workbench.engine.figures.entry import Check, FigureInput
from workbench.engine.figures.expression import Sought, Symbol
from workbench.makers.gain_table import FittedGain, GainTable, Miss

_TABLES, _COMMAND = "tests/makers/test_gain_tables.py::", "tests/makers/test_gains_command.py::"
_READ = (Check(_COMMAND + "test_a_table_reads_the_same_by_columns_and_by_rows", "the table by hand", "exact"),)
_FITTED = (
    Check(_TABLES + "test_the_fit_finds_what_the_table_was_made_of", "a stage of known figures", "1e-6"),
    Check(
        _TABLES + "test_noise_moves_the_fit_by_as_much_as_it_ought_to", "noise that was added", "0.12 dB, bandwidth 5 %"
    ),
)
_MISSED = (
    Check(_TABLES + "test_the_fit_says_where_it_misses", "a table with one level moved by 2 dB", "place exact, 1 dB"),
)
_F, _GAIN = Symbol("f", indexed=True), Symbol("G", indexed=True)
_ZERO, _POLES, _BOOST = Symbol("G", "0"), Symbol("f", "p"), Symbol("B")
_STAGE = "One zero and two equal poles, by Levenberg's and Marquardt's method on the differences in dB."


class GainsRead(msgspec.Struct, frozen=True, kw_only=True):
    """A table of gains as it was read, and the figures fitted to it.

    Attributes:
        settings: names, in the table's order.
        frequency_hz: Hz, rising.
        gain_db: of each setting, dB at each frequency.
        fit: the usual figures; None where one frequency fixes none.
    """

    settings: tuple[str, ...]
    frequency_hz: tuple[float, ...]
    gain_db: tuple[tuple[float, ...], ...]
    fit: FittedGain | None


class ModelGain(msgspec.Struct, frozen=True, kw_only=True):
    """A maker's model's gain against frequency.

    Attributes:
        model, sha256, parameters: its name, its library's hash and what it was given.
        says: what it says of itself and what is to be said of it, in sentences.
        frequency_hz: Hz, rising.
        gain_db: dB at each.
    """

    model: str
    sha256: str
    parameters: str
    says: tuple[str, ...]
    frequency_hz: tuple[float, ...]
    gain_db: tuple[float, ...]


def gains_read(table: GainTable, fit: FittedGain | None) -> GainsRead:
    """A table with what was fitted to it, as plain numbers."""
    rows = tuple(tuple(float(level) for level in row) for row in table.gain_db)
    return GainsRead(settings=table.settings, frequency_hz=tuple(table.f_hz.tolist()), gain_db=rows, fit=fit)


def _as_read(spot: Spot) -> list[FigureInput]:
    unit = "Hz" if spot.field == "frequency_hz" else "dB"
    return [input_from(Symbol("x"), "as the table has it", known(spot), unit, origin="file", where="the table")]


def _table(spot: Spot) -> list[FigureInput]:
    rows = [f"gain_db[{n}]" for n in range(len(spot.whole.answer.settings))]
    levels = [level for row in spot.whole.answer.gain_db for level in row]
    return [
        at_path(spot, _F, "of the table", "Hz", "frequency_hz"),
        input_from(
            _GAIN, "of the table, setting after setting", tuple(levels), "dB", origin="figure", where=", ".join(rows)
        ),
    ]


def _miss(spot: Spot) -> list[FigureInput]:
    number = next(n for n, one in enumerate(spot.whole.answer.fit.misses) if one is spot.record)
    return [
        at_path(spot, _GAIN, "the setting's row of the table", "dB", f"gain_db[{number}]"),
        at_path(spot, _ZERO, "fitted gain at 0 Hz", "dB", "fit.dc_gain_db"),
        at_path(spot, _POLES, "fitted bandwidth", "Hz", "fit.bandwidth_hz"),
        at_path(spot, _BOOST, "fitted boost", "dB", f"fit.boosts_db[{number}]"),
    ]


def _where_boosted(spot: Spot) -> list[FigureInput]:
    return [at_path(spot, _F, "of the table", "Hz", "frequency_hz")]


def _model(spot: Spot) -> list[FigureInput]:
    if spot.field == "gain_db":
        return [beside(spot, _F, "frequencies", "Hz", "frequency_hz")]
    return [input_from(_F, "0.01 to 2 times the rate", known(spot), "Hz", origin="asked", where="--rate")]


def _fit(key: str, meaning: str, unit: str, symbol: Symbol) -> AnswerEntry:
    return AnswerEntry(
        record=FittedGain,
        key=key,
        meaning=meaning,
        unit=unit,
        symbol=symbol,
        inputs=_table,
        checks=_FITTED,
        formula=Sought("least squares of the differences in dB", (_F, _GAIN)),
        method=_STAGE,
        off="as fit.rms_db and fit.misses say",
        holds="parts of one zero and two equal poles",
    )


_RESPONSE = (
    Check(
        "tests/makers/test_model_flows.py::test_a_pole_by_its_closed_form_in_both_flows", "a pole's closed form", "1e-9"
    ),
    Check("tests/makers/test_model_command.py::test_trust_then_try_then_forget", "two taps' closed form", "1e-9 dB"),
)

GAIN_TABLE_ENTRIES: tuple[AnswerEntry, ...] = (
    *(
        AnswerEntry(
            record=GainsRead,
            key=key,
            meaning=meaning,
            unit=unit,
            symbol=Symbol("x"),
            inputs=_as_read,
            checks=_READ,
            off="exact: the digits of the data sheet",
        )
        for key, meaning, unit in (
            ("frequency_hz", "The frequencies of the table.", "Hz"),
            ("gain_db", "The gains of each setting at them.", "dB"),
        )
    ),
    _fit("dc_gain_db", "Gain at 0 Hz of the stage that comes nearest to the table.", "dB", _ZERO),
    _fit("bandwidth_hz", "Where each of its two poles lies.", "Hz", _POLES),
    _fit("boosts_db", "By how much each setting lifts that frequency over the gain at 0 Hz.", "dB", _BOOST),
    _fit("rms_db", "The root mean square of all differences between stage and table.", "dB", Symbol("r")),
    AnswerEntry(
        record=FittedGain,
        key="boost_frequency_hz",
        unit="Hz",
        symbol=Symbol("f", "B"),
        inputs=_where_boosted,
        meaning="Where the boosts are stated.",
        formula=Sought("where the strongest setting peaks", (_F,)),
        checks=_FITTED,
        method="As --boost-at asks, else the frequency of the largest gain of the setting that lifts most.",
        off="exact: it is chosen",
    ),
    *(
        AnswerEntry(
            record=Miss,
            key=key,
            unit=unit,
            symbol=Symbol(symbol),
            inputs=_miss,
            checks=_MISSED,
            meaning=meaning,
            formula=Sought(what, (_GAIN, _ZERO, _POLES, _BOOST)),
            off="floating point",
            method="The stage of the fitted figures at every frequency, less the row.",
        )
        for key, unit, symbol, meaning, what in (
            (
                "miss_db",
                "dB",
                "d",
                "The largest difference of the setting: above 0 the stage has more gain.",
                "largest of stage − table",
            ),
            ("at_hz", "Hz", "f", "Where that is.", "frequency of the largest difference"),
        )
    ),
    AnswerEntry(
        record=ModelGain,
        key="frequency_hz",
        unit="Hz",
        symbol=_F,
        inputs=_model,
        checks=_RESPONSE,
        meaning="The frequencies that the model's gain is told at.",
        off="exact: they are chosen",
    ),
    AnswerEntry(
        record=ModelGain,
        key="gain_db",
        unit="dB",
        symbol=_GAIN,
        inputs=_model,
        checks=_RESPONSE,
        meaning="The gain of the model's response to a unit impulse.",
        formula=Sought("20 log |Fourier sum|", (_F,)),
        method="The response that the model answers with, its samples times e^(−jωt), summed at each frequency.",
        off="what lies beyond the time that it is asked for",
        holds="models that answer in the statistical flow",
    ),
)
