"""Field values as text and back, steps of a value, and records to begin with, all from the fields' facts. No widget."""

import math
import re
from decimal import Decimal
from types import NoneType, UnionType
from typing import Any, Literal, Union, get_args, get_origin

import msgspec

from workbench.board.index import Index
from workbench.board.model import Board
from workbench.board.sourced import STATUS_WORDS
from workbench.errors import QuantityError
from workbench.facts import Fact, facts_of
from workbench.quantity import parse, show

DIGITS = 6
"""Significant digits of a value in a field; one that is not touched keeps all it has."""

_NATURAL = {"dB": 0.1, "UI": 0.01}
_SUFFIXES = {"_db_per_m": "dB/m", "_m": "m", "_s": "s", "_hz": "Hz", "_bps": "bit/s", "_v": "V", "_ohm": "ohm",
             "_db": "dB", "_ui": "UI", "_f": "F", "_h": "H", "_w": "W"}  # fmt: skip
_BARE = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
_NUMBER_AND_UNIT = re.compile(rf"{_BARE.pattern}\s*([^\s;,\d][^;,]*)")
_SEPARATOR = re.compile(r"\s*;\s*|,\s+")


def arms_of(kind: Any) -> tuple[tuple[Any, ...], bool]:  # noqa: ANN401 - a type hint is anything
    """The types that a field may hold, without None, and whether it may hold None."""
    if get_origin(kind) in (Union, UnionType):
        arms = [_bare(arm) for arm in get_args(kind)]
        return tuple(arm for arm in arms if arm is not NoneType), NoneType in arms
    return (_bare(kind),), False


def element_of(kind: Any) -> Any:  # noqa: ANN401 - as above
    """The type of a tuple's elements; None where the type is no tuple of many."""
    args = get_args(kind)
    return _bare(args[0]) if get_origin(kind) is tuple and len(args) == 2 and args[1] is Ellipsis else None


def is_record(kind: Any) -> bool:  # noqa: ANN401 - as above
    """Whether a type is a record."""
    return isinstance(kind, type) and issubclass(kind, msgspec.Struct)


def words_of(kind: Any) -> tuple[str, ...]:  # noqa: ANN401 - as above
    """The few words that a field may hold; empty where it holds anything else."""
    return get_args(kind) if get_origin(kind) is Literal else ()


def told_apart(facts: tuple[Fact, ...]) -> tuple[Fact, ...]:
    """Fields of one label get one from their names: "Input resistance" and "Output resistance"."""
    labels = [fact.label for fact in facts]
    return tuple(
        msgspec.structs.replace(fact, label=_name_words(fact.name)) if labels.count(fact.label) > 1 else fact
        for fact in facts
    )


def kind_word(kind: type[msgspec.Struct]) -> str:
    """What a kind is called among others: its tag in the file."""
    return str(kind.__struct_config__.tag or kind.__name__).replace("-", " ")


def unit_of(fact: Fact, owner: str = "") -> str:
    """The unit of a number: that of its facts, or the one that the field's (or its owner's) name ends with."""
    if fact.unit:
        return fact.unit
    for name in (fact.name, owner if fact.name == "value" else ""):
        for suffix, unit in _SUFFIXES.items():
            if name.endswith(suffix):
                return unit
    return ""


def text_of(value: float | None, unit: str) -> str:
    """A number as a field shows it; None is no text."""
    return "" if value is None else show(float(value), unit, digits=DIGITS)


def has_source(kind: Any) -> bool:  # noqa: ANN401 - as above
    """Whether a type is a number together with where it comes from."""
    return is_record(kind) and {"value", "source"} <= set(kind.__struct_fields__)


def source_words(value: object) -> str:
    """Where such a number (or several) comes from, and how far it may be trusted; "" for any other value."""
    several = value if isinstance(value, tuple) else (value,)
    known = [f"{STATUS_WORDS[one.status]}: {one.source}" for one in several if has_source(type(one))]
    return "\n".join(dict.fromkeys(known))


def shown_text(value: object, unit: str) -> str:
    """Any value as text to be read."""
    if value is None or value in ("", ()):
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return text_of(value, unit)
    if has_source(type(value)):
        return shown_text(value.value, unit)  # type: ignore[attr-defined]
    return "; ".join(shown_text(one, unit) for one in value) if isinstance(value, tuple) else str(value)


def read_number(text: str, fact: Fact, unit: str) -> float | int | None:
    """A typed number, inside the field's range.

    Raises:
        QuantityError: it is none, is outside, or no whole number where one is wanted.
    """
    arms, optional = arms_of(fact.type)
    if optional and not text.strip():
        return None
    value = parse(text, unit=unit)
    wanted = f"write {'a whole number' if arms == (int,) else 'a value'} {range_words(fact, unit)}".rstrip()
    if arms == (int,) and not value.is_integer():
        raise QuantityError(f"{text.strip()!r} is not a whole number; {wanted}")
    if not fact.allows(value):
        raise QuantityError(f"{text_of(value, unit)} is outside the range; {wanted}")
    return int(value) if arms == (int,) else value


def in_unit_shown(text: str, shown: str) -> str:
    """What is typed, a bare number completed by the unit that the field shows: "50" over "99 mm" means "50 mm".

    Args:
        text: what is typed.
        shown: what the field showed before.
    """
    unit = _NUMBER_AND_UNIT.match(shown.strip())
    return f"{text.strip()} {unit[1]}" if unit is not None and _BARE.fullmatch(text.strip()) else text


def read_numbers(text: str, unit: str) -> tuple[float, ...]:
    """Typed numbers, apart by semicolons.

    Raises:
        QuantityError: one of them is none.
    """
    return tuple(parse(piece, unit=unit) for piece in _SEPARATOR.split(text.strip()) if piece)


def range_words(fact: Fact, unit: str) -> str:
    """The range with units as people write them: "above 0 m and at most 100 m"; "" where there is none."""
    words = []
    if fact.lower is not None:
        words.append(f"{'above' if fact.lower_excluded else 'at least'} {text_of(fact.lower, unit)}")
    if fact.upper is not None:
        words.append(f"{'below' if fact.upper_excluded else 'at most'} {text_of(fact.upper, unit)}")
    return " and ".join(words)


def default_words(fact: Fact, unit: str) -> str:
    """The default as text; "" where there is none that says anything."""
    if fact.default is msgspec.NODEFAULT:
        return ""
    return kind_word(type(fact.default)) if isinstance(fact.default, msgspec.Struct) else shown_text(fact.default, unit)


def stepped(value: float | None, steps: int, fact: Fact, unit: str) -> float | int | None:
    """A value some natural steps further, at most to the end of its range.

    A step is 0.1 dB, 0.01 UI or one of a count; else the 1, 2 or 5 of some decade that is nearest below 1 % of the
    value. Values that stood between two steps come to stand on one.

    Args:
        value: the value in `unit`; None counts as the range's lower end.
        steps: how many, negative for down.
        fact: the field's facts.
        unit: the field's unit.

    Returns:
        The new value; the old one where the range ends there.
    """
    whole = arms_of(fact.type)[0] == (int,)
    start = value if value is not None else fact.lower if fact.lower is not None else 0.0
    step = 1.0 if whole else _NATURAL.get(unit) or _one_percent(start, fact)
    moved = _snapped(start + steps * step, step)
    if fact.lower is not None and moved < fact.lower:
        moved = fact.lower
    if fact.upper is not None and moved > fact.upper:
        moved = fact.upper
    if not fact.allows(moved):
        return value
    return int(moved) if whole else moved


def stepped_text(text: str, steps: int, fact: Fact, unit: str) -> str:
    """A typed quantity some steps further in the unit it is typed in: "12 in" becomes "12.1 in".

    Raises:
        QuantityError: the text is no number inside the range.
    """
    value = read_number(text, fact, unit)
    match = re.match(r"\s*([+-]?[\d.]+(?:[eE][+-]?\d+)?)\s*(.*)", text)
    if match is None or value is None or not float(match[1]):
        return text_of(stepped(value, steps, fact, unit), unit)
    number = float(match[1])
    step = 1.0 if arms_of(fact.type)[0] == (int,) else _NATURAL.get(match[2]) or _one_percent(number, fact)
    moved = f"{_snapped(number + steps * step, step):.{DIGITS}g} {match[2]}".rstrip()
    try:
        read_number(moved, fact, unit)
    except QuantityError:
        return text_of(stepped(value, steps, fact, unit), unit)
    return moved


def fresh(kind: type[msgspec.Struct], like: object = None, board: Board | None = None) -> msgspec.Struct:
    """A record of a kind to begin with: what it has in common with another, then defaults, then something allowed.

    Args:
        kind: the record type.
        like: the record that it takes the place of.
        board: where names of catalogue entries are taken from.
    """
    known = {fact.name: fact for fact in facts_of(type(like))} if isinstance(like, msgspec.Struct) else {}
    values: dict[str, Any] = {}
    for fact in facts_of(kind):
        alike = known.get(fact.name)
        if alike is not None and (alike.type, alike.unit) == (fact.type, fact.unit):
            values[fact.name] = getattr(like, fact.name)
        elif fact.default is msgspec.NODEFAULT:
            values[fact.name] = _first(fact, board)
    return kind(**values)


def _name_words(name: str) -> str:
    for suffix in _SUFFIXES:
        name = name.removesuffix(suffix)
    return name.replace("_", " ").capitalize()


def _first(fact: Fact, board: Board | None) -> Any:  # noqa: ANN401, PLR0911 - of the field's type, each in a line
    (kind, *_), optional = arms_of(fact.type)
    element = element_of(kind)
    if optional:
        return None
    if fact.section:
        return next(iter(Index(board).names(fact.section)), "") if board is not None else ""
    if element is not None:
        return (fresh(element, board=board) if is_record(element) else element(),)
    if words_of(kind):
        return words_of(kind)[0]
    if is_record(kind):
        return fresh(kind, board=board)
    if kind in (int, float):
        return kind(_first_number(fact))
    return "not stated" if kind is str else kind()


def _first_number(fact: Fact) -> float:
    lower, upper = fact.lower, fact.upper
    if lower is not None and upper is not None and lower > 0.0:
        return float(f"{math.sqrt(lower * upper):.1g}")
    if fact.allows(0.0):
        return 0.0
    return upper / 10.0 if upper is not None and fact.allows(upper / 10.0) else lower if lower is not None else 1.0


def _one_percent(value: float, fact: Fact) -> float:
    size = abs(value) / 100.0 or abs(fact.upper or 100.0) / 1000.0
    decade = 10.0 ** math.floor(math.log10(size))
    return next(part * decade for part in (5.0, 2.0, 1.0) if part * decade <= size * (1.0 + 1e-9))


def _snapped(value: float, step: float) -> float:
    """A value on a whole number of steps, without the noise of binary fractions."""
    exact = Decimal(f"{step:.3g}")
    return float(round(Decimal(repr(value)) / exact) * exact)


def _bare(kind: Any) -> Any:  # noqa: ANN401 - as above
    return getattr(kind, "__origin__", kind) if hasattr(kind, "__metadata__") else kind
