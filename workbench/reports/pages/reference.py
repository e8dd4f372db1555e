"""The manual's lists that the program makes of itself: records of the board file and of an assessment, commands."""

from collections.abc import Iterator
from types import UnionType
from typing import Annotated, Any, NamedTuple, Union, get_args, get_origin, get_type_hints

import msgspec

from workbench.facts import Fact, facts_of
from workbench.parts.record import Record
from workbench.quantity import show


class FieldRow(NamedTuple):
    """One field as the manual tells it: label, key in the file, unit, range, default and meaning."""

    label: str
    key: str
    unit: str
    range: str
    default: str
    help: str


class RecordTable(NamedTuple):
    """A record of the board file: the id that links use, what it is, and its fields."""

    id: str
    about: str
    fields: tuple[FieldRow, ...]


class KeyRow(NamedTuple):
    """A key of an assessment's record and what stands under it: "number", "lanes[]", a word's choices."""

    key: str
    holds: str


class ResultTable(NamedTuple):
    """A record of an assessment: its name, what it is in sentences, and its keys."""

    name: str
    about: str
    keys: tuple[KeyRow, ...]


class CommandPage(NamedTuple):
    """A command as its own help has it: word, purpose, usage, arguments with what each is for, and what follows."""

    name: str
    purpose: str
    usage: str
    arguments: tuple[tuple[str, str], ...]
    more: str


def field_rows(kind: type[msgspec.Struct]) -> tuple[FieldRow, ...]:
    """The fields of a record."""
    return tuple(
        FieldRow(fact.label, fact.name, fact.unit, fact.range_text(), _default(fact), fact.help)
        for fact in facts_of(kind)
    )


def record_id(kind: type[msgspec.Struct]) -> str:
    """The anchor of a record that is no catalogue entry."""
    return f"record-{kind.__name__.lower()}"


def page_name(kind: type[Record]) -> str:
    """The name of a kind's page: the word that tells it apart in its section, else the section's own, singular."""
    tag = kind.__struct_config__.tag
    return tag if isinstance(tag, str) else kind.__name__.lower()


def part_id(kind: type[Record]) -> str:
    """The anchor of a kind's page."""
    return f"part-{page_name(kind)}"


def field_id(kind: type[Record], field: str) -> str:
    """The anchor of a field of a kind."""
    return f"{part_id(kind)}-{field}"


def finding_id(rule: str) -> str:
    """The anchor of a finding's rule."""
    return rule


def record_tables(top: type[msgspec.Struct]) -> tuple[RecordTable, ...]:
    """Every record of the board file, at any depth, that is no catalogue entry: each once, outermost first."""
    return tuple(
        RecordTable(record_id(kind), _sentence(kind), field_rows(kind))
        for kind in _records_under(top)
        if not issubclass(kind, Record) and facts_of(kind)
    )


def result_tables(top: type[msgspec.Struct]) -> tuple[ResultTable, ...]:
    """Every record of an assessment, each once, outermost first."""
    return tuple(
        ResultTable(kind.__name__, " ".join((kind.__doc__ or "").split()), tuple(_key_rows(kind)))
        for kind in _records_under(top)
    )


def _records_under(top: type[msgspec.Struct]) -> Iterator[type[msgspec.Struct]]:
    todo, seen = [top], {top}
    while todo:
        kind = todo.pop(0)
        yield kind
        for hint in get_type_hints(kind, include_extras=False).values():
            for inner in _structs_in(hint):
                if inner not in seen:
                    seen.add(inner)
                    todo.append(inner)


def _structs_in(hint: Any) -> Iterator[type[msgspec.Struct]]:  # noqa: ANN401 - an annotation may be anything
    if isinstance(hint, type) and issubclass(hint, msgspec.Struct):
        yield hint
        return
    for inner in get_args(hint):
        yield from _structs_in(inner)


def _key_rows(kind: type[msgspec.Struct]) -> Iterator[KeyRow]:
    hints = get_type_hints(kind)
    for field in msgspec.structs.fields(kind):
        yield KeyRow(field.encode_name, _holds(hints[field.name]))


def _holds(hint: Any) -> str:  # noqa: ANN401 - an annotation may be anything
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _holds(inner[0])
    if origin in (Union, UnionType):
        return " or ".join(_holds(one) for one in inner)
    if origin is tuple:
        return f"list of {_holds(inner[0])}"
    if inner:
        return " or ".join(f'"{one}"' for one in inner)
    words = {float: "number", int: "whole number", str: "text", bool: "true or false", type(None): "null"}
    return words.get(hint) or str(hint.__name__)


def _sentence(kind: type[msgspec.Struct]) -> str:
    return (kind.__doc__ or "").strip().split("\n\n")[0].replace("\n", " ")


def _default(fact: Fact) -> str:
    value = fact.default
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return ""
    return value if isinstance(value, str) else show(float(value), fact.unit)
