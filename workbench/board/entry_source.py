"""Where the values of a catalogue entry come from that was taken from a library of parts, kept with the board.

A source holds for the values as they were taken. A value that was edited since is told to be another, never to be the
source's.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator
from typing import Annotated, Any, NamedTuple

import msgspec
from msgspec.structs import replace

from workbench.board.sourced import STATUS_WORDS, Status
from workbench.facts import Fact, choice, fact_of, facts_of, text
from workbench.parts.record import Record
from workbench.quantity import show

_LONGEST = 60
"""Characters; what is longer stands as its SHA-256."""


class TakenValue(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One value of an entry as it was taken."""

    field: Annotated[str, text("Field", "The entry's field, by its key in the file.", required=True)]
    value: Annotated[str, text(
        "Value", "The value as JSON, in the unit that the key ends with; a long one as its SHA-256.", required=True)]


class EntrySource(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where values of an entry come from, and what they were when it was taken; an entry may have several."""

    section: Annotated[str, text("Section", "The catalogue key that the entry stands under.", required=True)]
    entry: Annotated[str, text("Entry", "The entry's name.", required=True)]
    source: Annotated[str, text("Source", "Where the values come from.", required=True)]
    status: Annotated[Status, choice("Status", "How far they may be trusted.")]
    values: Annotated[tuple[TakenValue, ...], choice("Values", "The values as they were taken.")] = ()


class TakenField(NamedTuple):
    """What is known of one field of an entry.

    Attributes:
        source, status: where its value came from when the entry was taken.
        before: the value as it was then, in words, where it is another now; "" where it is still that one.
    """

    source: str
    status: Status
    before: str = ""

    @property
    def words(self) -> str:
        """As a reader is told."""
        said = f"{self.source} ({STATUS_WORDS[self.status]})"
        return f"edited since it was taken; {self.before} in {said}" if self.before else said


def source_of(section: str, record: Record, source: str, status: Status, fields: Iterable[str] = ()) -> EntrySource:
    """The source of an entry's values as they are now.

    Args:
        section: the catalogue key it stands under.
        record: the entry.
        source: where its values come from.
        status: how far they may be trusted.
        fields: the fields that it holds for; none: all.
    """
    wanted = tuple(fields)
    values = tuple(
        TakenValue(field=fact.name, value=_written(getattr(record, fact.name)))
        for fact in _stated(type(record)) if not wanted or fact.name in wanted
    )  # fmt: skip
    return EntrySource(section=section, entry=_name(record), source=source, status=status, values=values)


def known_of(sources: Iterable[EntrySource], section: str, record: Record, field: str) -> TakenField | None:
    """What a board's sources know of one field of an entry; None where they don't name it."""
    for one in _of_entry(sources, section, _name(record)):
        for taken in one.values:
            if taken.field == field:
                before = "" if _is_still(taken, record) else _in_words(taken, type(record))
                return TakenField(one.source, one.status, before)
    return None


def source_sentences(sources: Iterable[EntrySource], section: str, record: Record) -> tuple[str, ...]:
    """Where an entry's values come from, a sentence a source; what was edited since it was taken is named there."""
    said = []
    for one in _of_entry(sources, section, _name(record)):
        edited = [
            f"{fact_of(type(record), taken.field).label.lower()} was {_in_words(taken, type(record))}"
            for taken in one.values
            if taken.field in record.__struct_fields__ and not _is_still(taken, record)
        ]
        gone = [taken.field for taken in one.values if taken.field not in record.__struct_fields__]
        since = [*edited, *(["its kind was another"] if gone else [])]
        words = f"Source: {one.source} ({STATUS_WORDS[one.status]})"
        said.append(f"{words}; edited since it was taken: {', '.join(since)}." if since else f"{words}.")
    return tuple(said)


def of_names(sources: Iterable[EntrySource], there: Iterable[tuple[str, str]]) -> tuple[EntrySource, ...]:
    """The sources of entries that are there, given as (section, name)."""
    known = set(there)
    return tuple(one for one in sources if (one.section, one.entry) in known)


def renamed(sources: Iterable[EntrySource], section: str, old: str, new: str) -> tuple[EntrySource, ...]:
    """The sources after an entry got another name."""
    return tuple(
        replace(one, entry=new) if (one.section, one.entry) == (section, old) else one for one in sources
    )  # fmt: skip


def with_copy(sources: tuple[EntrySource, ...], section: str, name: str, copy: str) -> tuple[EntrySource, ...]:
    """The sources with those of an entry once more for its copy, whose values were taken from the same."""
    return (*sources, *(replace(one, entry=copy) for one in _of_entry(sources, section, name)))


def _of_entry(sources: Iterable[EntrySource], section: str, name: str) -> Iterator[EntrySource]:
    return (one for one in sources if (one.section, one.entry) == (section, name))


def _stated(kind: type[Record]) -> list[Fact]:
    """The fields that a source can hold for: not the name, nor what names other entries, which have their own."""
    return [fact for fact in facts_of(kind) if fact.name != "name" and not fact.section]


def _name(record: Record) -> str:
    name: str = record.name  # type: ignore[attr-defined]  # every kind that stands in a section has one
    return name


def _written(value: object) -> str:
    """A value as text that is the same as long as the value is, also once its records have younger keys."""
    data = json.dumps(_plain(value), ensure_ascii=False, sort_keys=True)
    return data if len(data) <= _LONGEST else f"sha256:{hashlib.sha256(data.encode()).hexdigest()}"


def _is_still(taken: TakenValue, record: Record) -> bool:
    """Whether an entry has a value as it was taken, however a file writes it."""
    now = getattr(record, taken.field, None)
    return _written(now) == taken.value or (now is not None and _read(taken) == _plain(now))


def _read(taken: TakenValue) -> Any:  # noqa: ANN401 - what JSON holds
    """A value's text read; None for what is none, as a digest or what somebody typed into the file."""
    try:
        return json.loads(taken.value)
    except ValueError:
        return None


def _plain(value: object) -> Any:  # noqa: ANN401 - what JSON holds
    match value:
        case msgspec.Struct():
            config = value.__struct_config__
            tag = {config.tag_field: config.tag} if config.tag_field is not None else {}
            kept = {
                field.name: getattr(value, field.name) for field in msgspec.structs.fields(type(value))
                if field.default is msgspec.NODEFAULT or getattr(value, field.name) != field.default
            }  # fmt: skip
            return {**tag, **{key: _plain(one) for key, one in kept.items()}}
        case list() | tuple():
            return [_plain(one) for one in value]
        case dict():
            return {str(key): _plain(one) for key, one in value.items()}
        case bool() | None | str():
            return value
        case int() | float():
            return float(value)
        case _:
            return msgspec.to_builtins(value)


def _in_words(taken: TakenValue, kind: type[Record]) -> str:
    """A value as it was, for a reader."""
    fact = next((one for one in facts_of(kind) if one.name == taken.field), None)
    if taken.value.startswith("sha256:") or fact is None:
        return "another"
    value = _read(taken)
    if isinstance(value, int | float) and not isinstance(value, bool):
        return show(float(value), fact.unit)
    return "none" if taken.value == "null" else value if isinstance(value, str) else taken.value
