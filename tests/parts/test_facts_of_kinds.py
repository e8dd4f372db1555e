"""Every field of every part is described once, with the field: unit, range, label, help."""

import math
from types import NoneType
from typing import Annotated, get_args, get_origin, get_type_hints

import msgspec
import pytest

from workbench.facts import Fact, facts_of
from workbench.parts.record import Record, records_in

# The ends of names that carry a unit, longest first: what a name says is what its facts say.
UNITS = (
    ("_w_per_v", "W/V"),
    ("_db_per_m", "dB/m"), ("_s_per_m", "S/m"), ("_ohm_per_m", "ohm/m"), ("_db", "dB"), ("_hz", "Hz"), ("_ohm", "ohm"),
    ("_ui", "UI"), ("_m", "m"), ("_s", "s"), ("_v", "V"), ("_f", "F"), ("_h", "H"), ("_w", "W"),
)  # fmt: skip


def all_kinds() -> list[type[Record]]:
    """Every record class of workbench.parts, those inside others too; base classes as well."""
    records_in("lines")  # loads every module of the package
    found, pending = [], [Record]
    while pending:
        for kind in pending.pop().__subclasses__():
            pending.append(kind)
            if kind.__module__.startswith("workbench.parts.") and kind not in found:
                found.append(kind)
    return sorted(found, key=lambda kind: (kind.__module__, kind.__name__))


def arms(hint: object) -> set[object]:
    return set(get_args(hint) or (hint,)) - {NoneType}


def is_number(fact: Fact) -> bool:
    if get_origin(fact.type) is tuple or fact.section:
        return False
    return any(get_origin(arm) is Annotated or arm in {float, int} for arm in arms(fact.type))


FIELDS = [(kind, fact) for kind in all_kinds() for fact in facts_of(kind)]
NUMBERS = [(kind, fact) for kind, fact in FIELDS if is_number(fact)]


def label(value: object) -> str:
    return value.__name__ if isinstance(value, type) else value.name


def unit_of(name: str) -> str:
    return next((unit for end, unit in UNITS if name.endswith(end)), "")


def test_the_walk_finds_the_kinds_and_their_numbers():
    names = {kind.__name__ for kind, _ in FIELDS}
    assert {"StriplinePair", "Foil", "Huray", "Ctle", "Dfe", "EmphasisSetting", "LimitingConditioner"} <= names
    assert len(NUMBERS) > 80


@pytest.mark.parametrize(("kind", "fact"), FIELDS, ids=label)
def test_every_field_has_a_label_and_a_sentence(kind, fact):
    assert fact.label, f"{kind.__name__}.{fact.name} has no label"
    assert fact.label[0].isupper()
    assert len(fact.label) <= 24
    assert fact.help.endswith("."), f"{kind.__name__}.{fact.name}: its help is no sentence"
    assert fact.help.rstrip(".") != fact.label


@pytest.mark.parametrize(("kind", "fact"), NUMBERS, ids=label)
def test_every_number_has_a_range_and_the_unit_of_its_name(kind, fact):
    where = f"{kind.__name__}.{fact.name}"
    assert fact.lower is not None, f"{where} has no lower bound"
    assert fact.upper is not None, f"{where} has no upper bound"
    assert math.isfinite(fact.lower)
    assert math.isfinite(fact.upper)
    assert fact.lower < fact.upper
    assert fact.unit == unit_of(fact.name), f"{where} is in {fact.unit or 'no unit'}"


@pytest.mark.parametrize(("kind", "fact"), NUMBERS, ids=label)
def test_a_default_lies_inside_its_range(kind, fact):
    if fact.default is msgspec.NODEFAULT or fact.default is None:
        return
    assert fact.allows(fact.default), f"{kind.__name__}.{fact.name}: {fact.default} is not {fact.range_text()}"


@pytest.mark.parametrize("kind", all_kinds(), ids=label)
def test_numbers_in_a_list_are_bounded_each(kind):
    for name, hint in get_type_hints(kind, include_extras=True).items():
        for inner in lists_of_numbers(hint):
            metas = [meta for meta in get_args(inner)[1:] if isinstance(meta, msgspec.Meta)]
            assert metas, f"{kind.__name__}.{name} takes any number"
            bounds = (metas[0].ge, metas[0].gt), (metas[0].le, metas[0].lt)
            assert all(any(bound is not None for bound in pair) for pair in bounds)
            help_text = next(fact.help for fact in facts_of(kind) if fact.name == name)
            assert f" {unit_of(name)}" in help_text  # the facts of a list have no unit of their own


def lists_of_numbers(hint: object) -> list[object]:
    """The element types of every tuple of numbers in a type hint."""
    found = []
    if get_origin(hint) is tuple and get_args(hint)[0] in {float, int}:
        found.append(get_args(hint)[0])
    if get_origin(hint) is tuple and get_origin(get_args(hint)[0]) is Annotated:
        element = get_args(hint)[0]
        found += [element] if get_args(element)[0] in {float, int} else []
    return found + [inner for arm in get_args(hint) if arm is not Ellipsis for inner in lists_of_numbers(arm)]


@pytest.mark.parametrize("kind", all_kinds(), ids=label)
def test_names_say_the_unit_wherever_a_method_gives_a_number(kind):
    # A public method whose name ends in a unit returns that unit, and says so in its docstring.
    for name, member in vars(kind).items():
        unit = unit_of(name)
        if name.startswith("_") or not callable(member) or not unit:
            continue
        text = member.__doc__ or ""
        assert f" {unit}" in text, f"{kind.__name__}.{name}: its docstring does not name {unit}"
