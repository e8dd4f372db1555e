"""The catalogue entries that a report's lanes stand on, with their values and where these come from."""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec

from workbench.board.entry_source import source_sentences
from workbench.board.index import Index, section_names
from workbench.board.model import Board, Component, Lane, Run, Stage
from workbench.facts import facts_of
from workbench.parts.record import Record
from workbench.quantity import show

_LONGEST_TEXT = 200
_MOST_VALUES = 40


class EntryPage(NamedTuple):
    """A catalogue entry in use: its section, kind, name, (label, value) pairs, and sentences about their sources."""

    section: str
    kind: str
    name: str
    values: tuple[tuple[str, str], ...]
    sources: tuple[str, ...]


def entries_in_use(board: Board, lanes: Sequence[Lane]) -> list[EntryPage]:
    """The catalogue entries that the lanes stand on, directly or through another entry, in the file's order."""
    index, used = Index(board), set[Record]()
    pending: list[Record] = []
    for lane in lanes:
        pending.append(index.find(("transmitters",), lane.transmitter, Record))
        pending.append(index.find(("receivers",), lane.receiver, Record))
        for element in lane.path:
            match element:
                case Stage(device=ref):
                    pending.append(index.find(("conditioners",), index.device(ref).part, Record))
                case Run(line=name):
                    pending.append(index.run(name))
                case Component(part=name):
                    pending.append(index.component(name))
    while pending:
        record = pending.pop()
        if record not in used:
            used.add(record)
            pending += [part for _, part in index.parts_of(record).by_field]
    return [
        _entry(board, section, entry)
        for section in section_names()
        for entry in getattr(board.catalogue, section)
        if entry in used
    ]


def _entry(board: Board, section: str, record: Record) -> EntryPage:
    kind = record.__struct_config__.tag
    name: str = record.name  # type: ignore[attr-defined]  # every kind that stands in a section has one
    values = [(fact.label, _value(getattr(record, fact.name), fact.unit)) for fact in facts_of(type(record))]
    return EntryPage(
        section, kind if isinstance(kind, str) else "", name, tuple(v for v in values[1:] if v[1]),
        source_sentences(board.sources, section, record),
    )  # fmt: skip


def _value(value: object, unit: str) -> str:
    """A field's value as text; nested records in brackets, "" for what is too long to be read in a table."""
    match value:
        case bool() | None | bytes():
            return ""  # bytes are packed numbers: nothing to be read
        case int() | float():
            return show(float(value), unit)
        case str():
            return value if len(value) <= _LONGEST_TEXT else ""
        case tuple():
            several = "; ".join(filter(None, (_value(part, unit) for part in value)))
            return several if len(value) <= _MOST_VALUES else f"{len(value)} values"
        case msgspec.Struct():
            return _record_text(value)
        case _:
            return str(value)


def _record_text(record: msgspec.Struct) -> str:
    tag = record.__struct_config__.tag
    parts = [] if tag is None else [str(tag)]
    for fact in facts_of(type(record)):
        said = _value(getattr(record, fact.name), fact.unit)
        if said:
            parts.append(said if fact.name in ("setting", "name") else f"{fact.label.lower()} {said}")
    return ", ".join(parts)
