"""Which numbers of a catalogue may be fitted, by a path of words: "lines/card trace/impedance_ohm".

Section, entry, field; a field inside a field follows after another slash: "foils/treated/roughness/area_ratio".
"""

import math
from typing import NamedTuple, TypeVar

import msgspec
from msgspec.structs import replace

from workbench.board.index import section_names
from workbench.board.model import Board
from workbench.errors import FitError
from workbench.facts import Fact, facts_of
from workbench.parts.record import Record
from workbench.wording import instead, quoted

RecordT = TypeVar("RecordT", bound=msgspec.Struct)

_INSIDE = 1e-9
"""How far inside a bound that is itself not allowed the values stay, relative to the value."""


class Free(NamedTuple):
    """A value to be fitted: its path, and bounds in the field's unit where they shall be narrower than its range."""

    path: str
    lower: float | None = None
    upper: float | None = None


class Field(NamedTuple):
    """One number of a catalogue entry.

    Attributes:
        path: as the user wrote it.
        section, entry: where the entry stands.
        names: the field, or the field and one inside it.
        fact: its facts.
        value: as it is.
        lower, upper: between which it may be fitted, in the fact's unit.
    """

    path: str
    section: str
    entry: str
    names: tuple[str, ...]
    fact: Fact
    value: float
    lower: float
    upper: float

    def put(self, record: Record, value: float) -> Record:
        """The entry with this field set."""
        return _put(record, self.names, value)


def field_of(board: Board, free: Free) -> Field:
    """Find a field by its path.

    Raises:
        FitError: there is no such number in the catalogue, or its bounds are no range around its value.
    """
    section, _, rest = free.path.partition("/")
    if section not in section_names():
        problem = f"{quoted(free.path)}: the catalogue has no section {quoted(section)}"
        raise FitError(f"{problem}; {_form(section, section_names())}")
    entries: dict[str, Record] = {entry.name: entry for entry in getattr(board.catalogue, section)}
    named = [name for name in entries if rest == name or rest.startswith(f"{name}/")]
    if not named:
        name = rest.split("/")[0]
        problem = f"{quoted(free.path)}: there is no {quoted(name)} among the {section}"
        raise FitError(f"{problem}; {_form(name, list(entries))}")
    name = max(named, key=len)
    names = tuple(filter(None, rest[len(name) + 1 :].split("/")))
    fact, value = _number_in(entries[name], names, free.path)
    return _bounded(Field(free.path, section, name, names, fact, value, -math.inf, math.inf), free)


def fittable(board: Board) -> tuple[str, ...]:
    """The paths of every number of the catalogue that may be fitted."""
    found = []
    for section in section_names():
        for entry in getattr(board.catalogue, section):
            found += [f"{section}/{entry.name}/{'/'.join(names)}" for names in _numbers(entry)]
    return tuple(found)


def _numbers(record: msgspec.Struct) -> list[tuple[str, ...]]:
    found: list[tuple[str, ...]] = []
    for fact in facts_of(type(record)):
        value = getattr(record, fact.name)
        if isinstance(value, float):
            found.append((fact.name,))
        elif isinstance(value, msgspec.Struct):
            found += [(fact.name, *inner) for inner in _numbers(value)]
    return found


def _number_in(record: msgspec.Struct, names: tuple[str, ...], path: str) -> tuple[Fact, float]:
    holder = record
    for depth, name in enumerate(names):
        fact = next((fact for fact in facts_of(type(holder)) if fact.name == name), None)
        if fact is None:
            break
        value = getattr(holder, name)
        if isinstance(value, float) and depth == len(names) - 1:
            return fact, value
        if not isinstance(value, msgspec.Struct):
            break
        holder = value
    known = ["/".join(inner) for inner in _numbers(record)]
    wanted = "/".join(names)
    raise FitError(f"{quoted(path)}: {quoted(wanted)} is not a number that can be fitted; {_form(wanted, known)}")


def _form(name: str, known: list[str] | tuple[str, ...]) -> str:
    return instead(name, known, 'write a path such as "lines/NAME/impedance_ohm"')


def _bounded(field: Field, free: Free) -> Field:
    fact = field.fact
    # Close to a bound that is not allowed itself, but never on it; where there is none, within a factor of a thousand.
    lower = -1e3 * abs(field.value) - 1.0 if fact.lower is None else fact.lower
    upper = 1e3 * abs(field.value) + 1.0 if fact.upper is None else fact.upper
    inside = _INSIDE * max(abs(field.value), abs(lower), 1e-12)
    lower += inside if fact.lower_excluded else 0.0
    upper -= inside if fact.upper_excluded else 0.0
    lower = lower if free.lower is None else max(free.lower, lower)
    upper = upper if free.upper is None else min(free.upper, upper)
    if not lower < upper:
        raise FitError(f"{quoted(field.path)}: no value lies between its bounds; allow {fact.range_text()}")
    return field._replace(lower=lower, upper=upper)


def _put(record: RecordT, names: tuple[str, ...], value: float) -> RecordT:
    inner = value if len(names) == 1 else _put(getattr(record, names[0]), names[1:], value)
    return replace(record, **{names[0]: inner})
