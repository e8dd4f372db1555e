"""Typing and showing quantities: "12 in", "0.33 dB/in", "4 mil", "85 ps".

Typed text is a decimal number and a unit, or a number alone in the field's own unit. The sign of the decimal is the
point; a comma is refused, since it means one thing here and another there. Arithmetic is decimal, so that "85 ps" is
the same float as 8.5e-11.
"""

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from decimal import ROUND_HALF_UP, Context, Decimal
from functools import cache
from typing import TYPE_CHECKING

from workbench.errors import QuantityError

if TYPE_CHECKING:
    from pint import UnitRegistry

_NUMBER = r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"
_TYPED = re.compile(rf"({_NUMBER})\s*(.*)", re.DOTALL)
_UNIT = re.compile(r"[A-Za-zµμΩ%]+(?:/[A-Za-zµμΩ]+)?")
_LONGEST = 64
_READ = Context(prec=28, traps=[])
"""For numbers as typed: one too small for it becomes 0, as it does for a float."""

_EXAMPLES = {
    "m": "300 mm, 12 in or 4 mil",
    "s": "85 ps or 1.2 ns",
    "Hz": "2.5 GHz",
    "bit/s": "5 Gb/s",
    "V": "800 mV",
    "ohm": "100 ohm",
    "F": "100 nF or 0.2 pF",
    "H": "0.4 nH",
    "W": "350 mW",
    "S/m": "5.8e7 S/m",
    "dB": "3.5 dB",
    "dB/m": "13 dB/m or 0.33 dB/in",
    "UI": "0.3 UI",
    "": "3.9",
}
"""What to write in a field of each unit, for the sentences that refuse."""

_DEFINITIONS = (
    *(f"{word} = {factor} = {short}" for word, factor, short in (
        ("femto-", "1e-15", "f-"), ("pico-", "1e-12", "p-"), ("nano-", "1e-9", "n-"),
        ("micro-", "1e-6", "µ- = μ- = u-"), ("milli-", "1e-3", "m-"), ("centi-", "1e-2", "c-"),
        ("kilo-", "1e3", "k-"), ("mega-", "1e6", "M-"), ("giga-", "1e9", "G-"), ("tera-", "1e12", "T-"),
    )),
    "meter = [length] = m = metre",
    "second = [time] = s = sec",
    "volt = [voltage] = V",
    "ampere = [current] = A",
    "decibel = [level] = dB",
    "unit_interval = [symbol] = UI",
    "bit = [information] = b = T = transfer",
    "hertz = 1 / second = Hz",
    "ohm = volt / ampere = Ω",
    "siemens = ampere / volt = S",
    "farad = ampere * second / volt = F",
    "henry = volt * second / ampere = H",
    "watt = volt * ampere = W",
    "bps = bit / second",
    "inch = 0.0254 * meter = in = inches",
    "foot = 0.3048 * meter = ft = feet",
    "mil = 0.0000254 * meter = mil = thou",
    "percent = 0.01 = %",
)  # fmt: skip
"""Every unit that may be typed. Our own list rather than the unit library's: there "dB/m" and "UI" mean nothing."""

_BARE = frozenset({"inch", "foot", "mil", "percent", "unit_interval", "decibel"})
"""Units that nobody writes with a prefix."""

_PREFIXES = {-15: "f", -12: "p", -9: "n", -6: "µ", -3: "m", 0: "", 3: "k", 6: "M", 9: "G", 12: "T"}
_SCALED = frozenset({"m", "s", "Hz", "bit/s", "V", "ohm", "F", "H", "W", "s/m", "s/in"})
"""Units that are shown with a prefix; dB, UI and the like are not."""


def parse(text: str, *, unit: str) -> float:
    """A typed quantity as a number in `unit`.

    Args:
        text: a number with a unit ("12 in"), or alone ("0.3", then in `unit`).
        unit: the field's SI unit as in its facts, "" for a bare ratio.

    Raises:
        QuantityError: it is not a number, not finite, or its unit doesn't fit; the text says what to write.
    """
    wanted = f"write a number{' and a unit' if unit else ''} such as {_EXAMPLES.get(unit, f'1 {unit}')}"
    typed = _tidied(text)
    if not typed:
        raise QuantityError(f"nothing is typed; {wanted}")
    shown = typed if len(typed) <= _LONGEST else f"{typed[:_LONGEST]}..."
    if re.match(r"[+-]?\d*,\d", typed):
        raise QuantityError(f"{shown!r} has a comma in its number; write the decimal point as '.'")
    match = _TYPED.fullmatch(typed)
    if match is None or len(typed) > _LONGEST:
        raise QuantityError(f"{shown!r} does not begin with a finite number; {wanted}")
    # Asked as a float first: beyond its range decimal arithmetic would stop with an error of its own.
    if not math.isfinite(float(match[1])):
        raise QuantityError(f"{shown!r} is too large a number; {wanted}")
    if not match[2]:
        return float(match[1])
    value = float(_READ.create_decimal(match[1]) * _factor(match[2], unit, shown=shown, wanted=wanted))
    if not math.isfinite(value):
        raise QuantityError(f"{shown!r} is too large a number; {wanted}")
    return value


_INCH_M = 0.0254
_LEAST_IN = 0.1
"""Lengths from here up are shown in inches, shorter ones in mils."""


class _Lengths:
    """How lengths are shown: one choice for the whole program, as a person reads either way."""

    imperial = False


def show_imperial(imperial: bool) -> None:
    """Show lengths in inches and mils from now on, or in SI units; what is kept stays in m, and both can be typed."""
    _Lengths.imperial = imperial


def shows_imperial() -> bool:
    """Whether lengths are shown in inches and mils."""
    return _Lengths.imperial


@contextmanager
def lengths_shown(imperial: bool) -> Iterator[None]:
    """Within it lengths are shown in inches and mils, or in SI units; after it as before."""
    before = _Lengths.imperial
    show_imperial(imperial)
    try:
        yield
    finally:
        show_imperial(before)


def length_column() -> tuple[str, float]:
    """What a column of lengths is headed with, and how many m that is: ("mm", 1e-3) or ("in", 0.0254)."""
    return ("in", _INCH_M) if _Lengths.imperial else ("mm", 1e-3)


def in_column(length_m: float, *, signed: bool = False) -> str:
    """A length (m) as a number of what `length_column` says: to a tenth of a millimetre, or to ten mils.

    Args:
        length_m: the length, or (`signed`) a difference of lengths, which has its sign in any case.
        signed: whether it is a difference.
    """
    unit, unit_m = length_column()
    decimals = 1 if unit == "mm" else 2
    return f"{length_m / unit_m:+z.{decimals}f}" if signed else f"{length_m / unit_m:.{decimals}f}"


def show(value: float, unit: str, *, digits: int = 4) -> str:
    """A quantity as text that `parse` reads: "85 ps", "304.8 mm", "12 dB/m".

    Args:
        value: in `unit`.
        unit: SI unit, "" for a bare ratio.
        digits: significant digits; trailing zeros are left out. Halves round away from zero, as printed.
    """
    if not math.isfinite(value):
        return f"{value} {unit}".rstrip()
    if _Lengths.imperial and unit in _IMPERIAL:
        value, unit = _as_imperial(value, unit)
    rounded = Context(prec=digits, rounding=ROUND_HALF_UP).create_decimal(repr(value))
    if unit not in _SCALED:
        return f"{_plain(rounded)} {unit}".rstrip()
    exponent = 0 if not rounded else 3 * (rounded.adjusted() // 3)
    exponent = min(max(exponent, min(_PREFIXES)), max(_PREFIXES))
    return f"{_plain(rounded.scaleb(-exponent))} {_PREFIXES[exponent]}{unit}"


_IMPERIAL = ("m", "dB/m", "s/m")


def _as_imperial(value: float, unit: str) -> tuple[float, str]:
    """A length, or something of a length, in inches or mils; exact to the last digit that is shown."""
    if unit != "m":
        return value * _INCH_M, unit.replace("/m", "/in")
    inches = value / _INCH_M
    return (inches, "in") if abs(inches) >= _LEAST_IN or not inches else (inches * 1e3, "mil")


def _plain(number: Decimal) -> str:
    """Without trailing zeros; in exponent form only where plain digits would be unreadable."""
    if not number:
        return "0"
    if not -6 < number.adjusted() < 7:
        return f"{number.normalize():E}".replace("E+", "e").replace("E", "e")
    text = f"{number:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _tidied(text: str) -> str:
    typed = text.strip().replace("\u2212", "-").replace('"', " in")
    return re.sub(r"\s*/\s*|\s+per\s+", "/", typed)


def _factor(typed_unit: str, unit: str, *, shown: str, wanted: str) -> Decimal:
    """What a number with `typed_unit` is multiplied by to be in `unit`."""
    import pint  # noqa: PLC0415 - slow to load, and needed only where somebody types a unit

    if not _UNIT.fullmatch(typed_unit):
        raise QuantityError(f"{shown!r} is not a number with a unit; {wanted}")
    registry = _registry()
    unknown = f"{shown!r}: {typed_unit!r} is not a unit that is known here; {wanted}"
    # "min" would be a thousandth of an inch.
    if any(
        prefix and name in _BARE for word in typed_unit.split("/") for prefix, name, _ in registry.parse_unit_name(word)
    ):
        raise QuantityError(unknown)
    try:
        quantity = registry.Quantity(Decimal(1), registry.parse_units(typed_unit))
    except (pint.UndefinedUnitError, ValueError) as error:  # the latter for "nan", which it takes for a number
        raise QuantityError(unknown) from error
    try:
        return Decimal(quantity.to(unit or "dimensionless").magnitude)
    except pint.DimensionalityError as error:
        field = f"this field is in {unit}" if unit else "this field is a bare number"
        raise QuantityError(f"{shown!r} has a unit that doesn't fit, {field}; {wanted}") from error


@cache
def _registry() -> "UnitRegistry[Decimal]":
    import pint  # noqa: PLC0415 - as above

    registry: UnitRegistry[Decimal] = pint.UnitRegistry(None, non_int_type=Decimal)
    for definition in _DEFINITIONS:
        registry.define(definition)
    return registry
