"""Typed quantities. Factors: inch = 25.4 mm exactly (international yard and pound agreement, 1959); SI prefixes."""

import math
import subprocess
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.errors import QuantityError
from workbench.quantity import parse, show

UNITS = ("m", "s", "Hz", "bit/s", "V", "ohm", "F", "H", "W", "S/m", "dB", "dB/m", "UI", "")


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("12 in", "m", 0.3048),
        ('12"', "m", 0.3048),
        ("12inches", "m", 0.3048),
        ("1 ft", "m", 0.3048),
        ("4 mil", "m", 101.6e-6),
        ("5 µm", "m", 5e-6),
        ("5 um", "m", 5e-6),
        ("300 mm", "m", 0.3),
        ("0.3", "m", 0.3),
        ("  85 ps ", "s", 8.5e-11),
        ("2.5 GHz", "Hz", 2.5e9),
        ("5 Gb/s", "bit/s", 5e9),
        ("8 GT/s", "bit/s", 8e9),
        ("100 nF", "F", 1e-7),
        ("800 mV", "V", 0.8),
        ("\u22123.5 dB", "dB", -3.5),
        ("13 dB/m", "dB/m", 13.0),
        ("0.0254 dB / in", "dB/m", 1.0),
        ("0.254 dB per inch", "dB/m", 10.0),
        ("90 Ω", "ohm", 90.0),
        ("58 MS/m", "S/m", 5.8e7),
        ("0.65 UI", "UI", 0.65),
        ("30 %", "", 0.3),
        (".5e1", "", 5.0),
    ],
)
def test_typed_text_becomes_the_very_number(text: str, unit: str, value: float) -> None:
    assert parse(text, unit=unit) == value


def test_loss_per_inch_is_39_37_times_as_much_per_metre() -> None:
    assert parse("0.33 dB/in", unit="dB/m") == pytest.approx(0.33 / 0.0254, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "unit", "says"),
    [
        ("", "m", "nothing is typed; write a number and a unit such as 300 mm"),
        ("   ", "", "nothing is typed; write a number such as 3.9"),
        ("0,3 dB/in", "dB/m", "has a comma in its number; write the decimal point as '.'"),
        ("1,200 mm", "m", "comma"),
        ("nan", "m", "does not begin with a finite number"),
        ("inf m", "m", "does not begin with a finite number"),
        ("1e999 m", "m", "too large"),
        ("1e999999999 m", "m", "too large"),
        ("1e308 km", "m", "too large"),
        ("12 ps", "m", "doesn't fit, this field is in m"),
        ("3 m", "", "doesn't fit, this field is a bare number"),
        ("3 dB", "dB/m", "doesn't fit"),
        ("5 min", "m", "not a unit that is known here"),
        ("12 foo", "m", "'foo' is not a unit that is known here"),
        ("1 2 in", "m", "is not a number with a unit"),
        ("9**9**9 m", "m", "is not a number with a unit"),
        ("9" * 200, "m", "..."),
    ],
)
def test_what_is_no_fitting_quantity_is_refused_in_one_sentence(text: str, unit: str, says: str) -> None:
    with pytest.raises(QuantityError) as refused:
        parse(text, unit=unit)
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_number_too_small_for_a_float_is_zero() -> None:
    assert parse("1e-999999999 m", unit="m") == 0.0


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.3048, "m", "304.8 mm"),
        (8.5e-11, "s", "85 ps"),
        (2.5e9, "Hz", "2.5 GHz"),
        (1e-7, "F", "100 nF"),
        (12.992125984, "dB/m", "12.99 dB/m"),
        (999.96e-12, "s", "1 ns"),
        (-0.0123, "V", "-12.3 mV"),
        (0.0, "V", "0 V"),
        (100.0, "ohm", "100 ohm"),
        (5.8e7, "S/m", "5.8e7 S/m"),
        (0.65, "UI", "0.65 UI"),
        (3.9, "", "3.9"),
        (0.00012345, "m", "123.5 µm"),  # a printed half goes up, whatever the float's binary neighbour
        (math.inf, "Hz", "inf Hz"),
    ],
)
def test_shown_text_is_the_engineers_own(value: float, unit: str, text: str) -> None:
    assert show(value, unit) == text


@settings(derandomize=True, max_examples=200)
@given(value=st.floats(allow_nan=False, allow_infinity=False), unit=st.sampled_from(UNITS))
def test_what_is_shown_in_full_is_read_back_exactly(value: float, unit: str) -> None:
    assert parse(show(value, unit, digits=17), unit=unit) == value


@settings(derandomize=True, max_examples=100)
@given(value=st.floats(min_value=1e-15, max_value=1e12), unit=st.sampled_from(UNITS), digits=st.integers(1, 8))
def test_showing_what_was_shown_changes_nothing(value: float, unit: str, digits: int) -> None:
    once = show(value, unit, digits=digits)
    assert parse(once, unit=unit) == pytest.approx(value, rel=0.51 * 10.0 ** (1 - digits))
    assert show(parse(once, unit=unit), unit, digits=digits) == once


@pytest.mark.campaign
@settings(derandomize=True, max_examples=200)
@given(text=st.text(max_size=20), unit=st.sampled_from(UNITS))
def test_any_text_gives_a_finite_number_or_a_sentence(text: str, unit: str) -> None:
    try:
        value = parse(text, unit=unit)
    except QuantityError:
        return
    assert math.isfinite(value)


def test_showing_and_bare_numbers_need_no_unit_library() -> None:
    program = (
        "import sys; from workbench.quantity import parse, show; show(1e-9, 's'); parse('3', unit='m'); "
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
