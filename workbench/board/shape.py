"""What is wrong with a value's shape: keys, types, ranges. Slow and thorough; it runs only once something is wrong.

msgspec decides quickly whether a file has the right shape, but stops at the first fault and speaks of types. This walk
finds every fault of the same rules and names it with the label, unit and range of the field's facts.
"""

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import msgspec
from msgspec import inspect

from workbench.errors import BoardFileError
from workbench.facts import Fact, facts_of
from workbench.wording import any_of, key_path, near, quoted, shown

Faults = Iterator[BoardFileError]


class ShapeSpot(NamedTuple):
    """Where the walk stands: the JSON path, the field's facts, and the named thing around it ("" where none is)."""

    place: str
    fact: Fact
    owner: str = ""
    nullable: bool = False

    def fault(self, problem: str, remedy: str) -> BoardFileError:
        """A fault at this spot, with the name of the thing around it."""
        return BoardFileError(self.place, f"in {quoted(self.owner)}, {problem}" if self.owner else problem, remedy)

    def misfit(self, value: object, wanted: str) -> BoardFileError:
        """The fault of a value of another kind than wanted."""
        label = self.fact.label or self.fact.name
        what = f"{label} is {shown(value, self.fact.unit)}"
        return self.fault(what, f"write {wanted}{', or null' if self.nullable else ''}")

    def below(self, key: str, fact: Fact, owner: str) -> "ShapeSpot":
        """The spot of a key below this one."""
        return ShapeSpot(key_path(self.place, key), fact, owner)

    def element(self, number: int) -> "ShapeSpot":
        """The spot of a list's element below this one."""
        return self._replace(place=f"{self.place}[{number}]", nullable=False)


def shape_faults(value: object, kind: type[msgspec.Struct]) -> Faults:
    """Every fault of shape in a value that should be a record of `kind`.

    Args:
        value: decoded JSON, or the record itself (one made in memory is checked by nothing else).
        kind: the record type.
    """
    yield from _faults(value, inspect.type_info(kind), ShapeSpot("$", Fact(name="board", label="the board")))


def _faults(value: object, node: inspect.Type, spot: ShapeSpot) -> Faults:
    if isinstance(node, inspect.Metadata):
        yield from _faults(value, node.type, spot)
    elif isinstance(node, inspect.UnionType):
        yield from _union_faults(value, node, spot)
    elif isinstance(node, (inspect.StructType, inspect.DictType, inspect.VarTupleType)):
        yield from _faults_inside(value, node, spot)
    elif isinstance(node, (inspect.FloatType, inspect.IntType)):
        yield from _number_faults(value, node, spot)
    elif isinstance(node, inspect.StrType):
        yield from _text_faults(value, node, spot)
    elif isinstance(node, inspect.LiteralType):
        if value not in node.values or isinstance(value, bool):
            yield spot.misfit(value, any_of(str(word) for word in node.values))
    elif isinstance(node, inspect.BoolType) and not isinstance(value, bool):
        yield spot.misfit(value, "true or false")


def _faults_inside(
    value: object, node: inspect.StructType | inspect.DictType | inspect.VarTupleType, spot: ShapeSpot
) -> Faults:
    if isinstance(node, inspect.StructType):
        return _object_faults(value, (node,), spot)
    if isinstance(node, inspect.DictType):
        return _mapping_faults(value, node, spot)
    return _list_faults(value, node, spot)


def _union_faults(value: object, node: inspect.UnionType, spot: ShapeSpot) -> Faults:
    arms = tuple(arm for arm in node.types if not isinstance(arm, inspect.NoneType))
    if len(arms) < len(node.types):
        if value is None:
            return
        spot = spot._replace(nullable=True)
    records = tuple(arm for arm in arms if isinstance(arm, inspect.StructType))
    if records:
        yield from _object_faults(value, records, spot)
    else:
        yield from _faults(value, arms[0], spot)


def _object_faults(value: object, kinds: tuple[inspect.StructType, ...], spot: ShapeSpot) -> Faults:
    content = fields_of(value) if isinstance(value, msgspec.Struct) else value
    if not isinstance(content, Mapping):
        yield spot.misfit(value, "an object in { }")
        return
    owner = next((name for key in ("name", "ref", "id") if isinstance(name := content.get(key), str)), spot.owner)
    kind: inspect.StructType | None = kinds[0]
    tag_field = kinds[0].tag_field
    if tag_field is not None and (len(kinds) > 1 or tag_field in content):
        tags = {str(kind.tag): kind for kind in kinds}
        tag = content.get(tag_field)
        kind = tags.get(tag) if isinstance(tag, str) else None
        if kind is None:
            yield _unknown_kind(content, tag_field, tuple(tags), spot.below(tag_field, Fact(name=tag_field), owner))
    if kind is not None:
        yield from _key_faults(content, kind, spot, owner)


def _unknown_kind(content: Mapping[str, object], key: str, tags: tuple[str, ...], spot: ShapeSpot) -> BoardFileError:
    if key not in content:
        return spot.fault(f"{quoted(key)} is missing", f"add it with {any_of(tags)}")
    tag = content[key]
    meant = near(tag, tags) if isinstance(tag, str) else None
    return spot.fault(f"{quoted(key)} is {shown(tag)}", f"write {any_of((meant,) if meant else tags)}")


def _key_faults(content: Mapping[str, object], kind: inspect.StructType, spot: ShapeSpot, owner: str) -> Faults:
    facts = {fact.name: fact for fact in facts_of(kind.cls)}
    missing = [field.name for field in kind.fields if field.name not in content]
    for key in content:
        if key not in facts and key != kind.tag_field:
            meant = near(key, missing) or near(key, tuple(facts))
            remedy = f"write {quoted(meant)}, or remove it" if meant else f"remove it, or write {any_of(facts)}"
            yield spot.below(key, Fact(name=key), owner).fault(f"the key {quoted(key)} is unknown", remedy)
    for field in kind.fields:
        below = spot.below(field.name, facts[field.name], owner)
        if field.name in content:
            yield from _faults(content[field.name], field.type, below)
        elif field.required:
            label = f"{below.fact.label} ({quoted(field.name)})" if below.fact.label else quoted(field.name)
            yield below.fault(f"{label} is missing", f"add it with {_wanted(field.type, below.fact)}")


def _mapping_faults(value: object, node: inspect.DictType, spot: ShapeSpot) -> Faults:
    if not isinstance(value, Mapping):
        yield spot.misfit(value, "an object in { }")
        return
    for key, inside in value.items():
        yield from _faults(inside, node.value_type, spot.below(key, Fact(name=key, label=key), spot.owner))


def _list_faults(value: object, node: inspect.VarTupleType, spot: ShapeSpot) -> Faults:
    if not isinstance(value, (list, tuple)):
        yield spot.misfit(value, "a list in [ ]")
        return
    if node.max_length == 0 and value:
        yield spot.fault(f"{spot.fact.label} can't be given in this version", "leave the list empty")
        return
    for number, element in enumerate(value):
        yield from _faults(element, node.item_type, spot.element(number))


def _number_faults(value: object, node: inspect.FloatType | inspect.IntType, spot: ShapeSpot) -> Faults:
    whole = isinstance(node, inspect.IntType)
    fact = spot.fact if spot.fact.lower is not None or spot.fact.upper is not None else _with_range(spot.fact, node)
    fits = isinstance(value, (int, float)) and type(value) in ((int,) if whole else (int, float))
    if not fits or (isinstance(value, (int, float)) and not (math.isfinite(value) and fact.allows(value))):
        yield spot.misfit(value, _wanted(node, fact))


def _text_faults(value: object, node: inspect.StrType, spot: ShapeSpot) -> Faults:
    if type(value) is not str:
        yield spot.misfit(value, "text in quotes")
    elif len(value) < (node.min_length or 0):
        yield spot.fault(f"{spot.fact.label or spot.fact.name} is empty", "give it at least one character")
    elif any("\ud800" <= mark <= "\udfff" for mark in value):
        yield spot.misfit(value, "whole characters: half of a surrogate pair is none")


def _with_range(fact: Fact, node: inspect.FloatType | inspect.IntType) -> Fact:
    """The facts of a list's elements: the list's, with the range that stands at the element's type."""
    return msgspec.structs.replace(
        fact,
        lower=node.gt if node.gt is not None else node.ge,
        upper=node.lt if node.lt is not None else node.le,
        lower_excluded=node.gt is not None,
        upper_excluded=node.lt is not None,
    )


def _wanted(node: inspect.Type, fact: Fact) -> str:
    """What stands in a field, in words."""
    if isinstance(node, inspect.Metadata):
        return _wanted(node.type, fact)
    if isinstance(node, (inspect.FloatType, inspect.IntType)):
        number = "a whole number" if isinstance(node, inspect.IntType) else "a number"
        return f"{number} {fact.range_text()}" if fact.range_text() else f"a finite number {fact.unit}".rstrip()
    if isinstance(node, inspect.LiteralType):
        return any_of(str(word) for word in node.values)
    if isinstance(node, inspect.UnionType):
        return _wanted(next(arm for arm in node.types if not isinstance(arm, inspect.NoneType)), fact)
    words: dict[Any, str] = {inspect.StrType: "text in quotes", inspect.VarTupleType: "a list in [ ]",
                             inspect.BoolType: "true or false"}
    return words.get(type(node), "an object in { }")


def fields_of(record: msgspec.Struct) -> dict[str, object]:
    """A record's own keys and values in declared order, its tag first, values as they are."""
    config = record.__struct_config__
    tag = {config.tag_field: config.tag} if config.tag_field is not None else {}
    return {**tag, **{name: getattr(record, name) for name in record.__struct_fields__}}


