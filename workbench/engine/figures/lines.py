"""Entries of what a line or cable is by itself: impedance, delay and loss of a metre."""

from typing import cast

from workbench.engine.figures.answered import AnswerEntry, Spot, beside, stated
from workbench.engine.figures.entry import Check, FigureInput, of_field
from workbench.engine.figures.expression import Sought, Symbol
from workbench.engine.lane.line_figures import LineFigures
from workbench.facts import facts_of
from workbench.parts.record import Record

_TESTS = "tests/engine/test_line_figures.py::"
_STATED = (
    Check(_TESTS + "test_a_lossless_line_has_its_stated_impedance_and_the_delay_of_its_permittivity",
          "the stated impedance, √ε over the speed of light", "1e-6"),
)  # fmt: skip
_LOSS = (
    Check(_TESTS + "test_the_loss_where_it_is_stated_is_the_stated_one_and_grows_with_frequency", "the stated loss",
          "1 %"),
)  # fmt: skip
_AT = Symbol("f")


def _fields(spot: Spot) -> list[FigureInput]:
    """The frequency and every number of the line's own entry."""
    section, line = spot.whole.given
    facts = facts_of(cast("type[Record]", type(line)))
    numbers = [one.name for one in facts if isinstance(getattr(line, one.name), float)]
    return [
        beside(spot, _AT, "Nyquist of the board's profile", "Hz", "nyquist_hz"),
        *(of_field(Symbol(name), section, line, name) for name in numbers),
    ]


def _of_line(
    key: str, unit: str, letter: str, *, meaning: str, how: str, checks: tuple[Check, ...]
) -> AnswerEntry:
    return AnswerEntry(
        record=LineFigures, key=key, unit=unit, symbol=Symbol(letter), meaning=meaning, inputs=_fields, checks=checks,
        formula=Sought(how, (_AT,)), method="Z and Y are the line's series impedance and shunt admittance per metre, "
        "from its own fields and materials.",
        off="as the line's model states", holds="inside the range of the line's model",
    )  # fmt: skip


LINE_ENTRIES: tuple[AnswerEntry, ...] = (
    _of_line("impedance_ohm", "ohm", "Z", how="|√(Z / Y)|", checks=_STATED,
             meaning="Magnitude of the differential characteristic impedance at Nyquist."),
    _of_line("delay_s_per_m", "s/m", "τ", how="Im √(Z Y) / 2πf", checks=_STATED,
             meaning="Phase delay of a metre at Nyquist."),
    _of_line("loss_db_per_m", "dB/m", "a", how="20 lg e · Re √(Z Y)", checks=_LOSS,
             meaning="Attenuation of a metre at Nyquist."),
    stated(LineFigures, "f_hz", "Where the loss is told over frequency.", unit="Hz", symbol="f", origin="program",
           where="equal ratios about Nyquist", checks=_LOSS, off="exact: they are chosen"),
    _of_line("curve_db_per_m", "dB/m", "a", how="20 lg e · Re √(Z Y), at each frequency", checks=_LOSS,
             meaning="Attenuation of a metre over frequency."),
    stated(LineFigures, "nyquist_hz", "Where the figures of the line hold.", unit="Hz", symbol="f", origin="profile",
           where="the board's profile", checks=_LOSS, off="exact: it is stated"),
)  # fmt: skip
