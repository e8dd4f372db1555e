"""What differs between two boards, piece by piece, in plain sentences."""

from collections.abc import Iterator, Sequence
from typing import Any

import msgspec
from msgspec.structs import replace

from workbench.board.index import entry_names, section_names
from workbench.board.model import Board, Catalogue, Component, Device, Element, Lane, Run, Stage
from workbench.facts import Fact, facts_of
from workbench.parts.conditioners.controls import controls_in
from workbench.quantity import show
from workbench.wording import quoted

WHERE_BOARD, WHERE_PROFILE, WHERE_DEVICE = "board", "profile", "device"
WHERE_LANE, WHERE_MEASUREMENT, WHERE_ANSWER = "lane", "measurement", "answer"
_NAMED = (WHERE_PROFILE, WHERE_DEVICE, WHERE_LANE, WHERE_MEASUREMENT, WHERE_ANSWER)
_DIGITS = (4, 6, 9, 17)
_FEW = 8


class BoardDifference(msgspec.Struct, frozen=True, kw_only=True):
    """One piece that differs.

    Attributes:
        where: "board", "profile", the catalogue's section, "device", "lane", "measurement" or "answer".
        name: its name; "" for the board itself.
        kind: "changed", "added" or "removed".
        field: which of the board's own fields; "" elsewhere, "order" where only the order of lanes or devices differs,
            "sources" where only that of an entry does.
        said: what changed, one phrase each.
    """

    where: str
    name: str
    kind: str
    field: str = ""
    said: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """The whole as one sentence, as in: Lane "RX3": profile pcie-2 became pcie-3."""
        if self.kind != "changed":
            return f"{_subject(self)} was {self.kind}."
        return f"{_subject(self)}: {'; '.join(self.said)}."


def differences(old: Board, new: Board) -> tuple[BoardDifference, ...]:
    """What the new board has otherwise than the old: its own fields, profiles, catalogue, devices, lanes, measurements.

    Nothing exactly if the boards are equal.
    """
    return (
        *_of_board(old, new),
        *_of_list(old.profiles, new.profiles, "id", WHERE_PROFILE),
        *(one for section in section_names() for one in _in_section(old.catalogue, new.catalogue, section)),
        *_of_list(old.devices, new.devices, "ref", WHERE_DEVICE),
        *_of_list(old.lanes, new.lanes, "name", WHERE_LANE),
        *_of_list(old.measurements, new.measurements, "name", WHERE_MEASUREMENT),
        *_of_list(old.answers, new.answers, "name", WHERE_ANSWER),
        *_of_sources(old, new),
    )


def _of_board(old: Board, new: Board) -> Iterator[BoardDifference]:
    for field in ("title", "notes", "prepared_by", "prepared_for", "revision", "profile", "guard"):
        one, other = getattr(old, field), getattr(new, field)
        if one == other:
            continue
        if field == "notes":
            words: tuple[str, ...] = ("notes were edited",)
        elif field == "guard":
            words = tuple(_fields(one, other))
        else:
            words = tuple(_field(_fact(field), one, other, ""))
        yield BoardDifference(where=WHERE_BOARD, name="", kind="changed", field=field, said=words)


def _fact(field: str) -> Fact:
    return next(fact for fact in facts_of(Board) if fact.name == field)


def _in_section(old: Catalogue, new: Catalogue, section: str) -> Iterator[BoardDifference]:
    yield from _of_list(getattr(old, section), getattr(new, section), "name", section)


def _of_list(old: Sequence[Any], new: Sequence[Any], key: str, where: str) -> Iterator[BoardDifference]:
    before, after = ({getattr(one, key): one for one in some} for some in (old, new))
    for name in dict.fromkeys((*before, *after)):
        one, other = before.get(name), after.get(name)
        if one is None or other is None:
            kind = "added" if one is None else "removed"
            yield BoardDifference(where=where, name=name, kind=kind, said=(kind,))
        elif one != other:
            yield BoardDifference(where=where, name=name, kind="changed", said=tuple(_words(one, other)))
    stayed = [[name for name in some if name in before and name in after] for some in (before, after)]
    if stayed[0] != stayed[1]:
        words = (f"the order of the {_plural(where)} changed",)
        yield BoardDifference(where=WHERE_BOARD, name="", kind="changed", field="order", said=words)


def _of_sources(old: Board, new: Board) -> Iterator[BoardDifference]:
    """Where entries that stayed come from; with an entry that is new or gone its source goes without a word."""
    stayed = entry_names(old.catalogue) & entry_names(new.catalogue)
    before, after = ([one for one in board.sources if (one.section, one.entry) in stayed] for board in (old, new))
    for section, name in dict.fromkeys((one.section, one.entry) for one in (*before, *after)):
        one, other = ([it for it in some if (it.section, it.entry) == (section, name)] for some in (before, after))
        if one != other:
            said = "what is stated as its source changed"
            yield BoardDifference(where=section, name=name, kind="changed", field="sources", said=(said,))


def _words(old: Any, new: Any) -> Iterator[str]:  # noqa: ANN401 - any record with a name
    if isinstance(old, Lane) and isinstance(new, Lane):
        yield from _fields(replace(old, path=new.path), new)
        yield from _path_words(old.path, new.path)
    elif isinstance(old, Device) and isinstance(new, Device):
        yield from _fields(replace(old, settings=new.settings, channels=new.channels), new)
        yield from _control_words(old, new)
    else:
        yield from _fields(old, new)


def _control_words(old: Device, new: Device) -> Iterator[str]:
    """How a device's controls are set otherwise: in one phrase for all its channels, or channel by channel."""
    channels = sorted({one.channel for device in (old, new) for one in device.channels})
    for control in controls_in((old.settings, new.settings)):
        every = old.settings.get(control), new.settings.get(control)
        apart = {n: pair for n in channels
                 if (pair := (old.on_channel(n).get(control), new.on_channel(n).get(control))) != every}  # fmt: skip
        told = [(f"{control} of channel {n}:", pair) for n, pair in apart.items()]
        told.append((f"{control} of the other channels:" if apart else control, every))
        yield from (f"{what} {_word(one)} became {_word(other)}" for what, (one, other) in told if one != other)


def _fields(old: Any, new: Any, before: str = "") -> Iterator[str]:  # noqa: ANN401 - any record
    """What differs in two records, a phrase a field."""
    if type(old) is not type(new):
        yield f"{before.strip() or 'kind'} {_kind(old)} became {_kind(new)}"
        return
    kind: type[msgspec.Struct] = type(old)
    for fact in facts_of(kind):
        one, other = getattr(old, fact.name), getattr(new, fact.name)
        if one != other:
            yield from _field(fact, one, other, before)


def _field(fact: Fact, one: Any, other: Any, before: str) -> Iterator[str]:  # noqa: ANN401 - of the field's type
    label = f"{before}{(fact.label or fact.name).lower()}"
    if isinstance(one, msgspec.Struct) and isinstance(other, msgspec.Struct):
        yield from _fields(one, other, f"{label} ")
    elif isinstance(one, tuple) and isinstance(other, tuple):
        yield from _rows(label, one, other)
    elif isinstance(one, float) and isinstance(other, float):
        yield f"{label} {_became(one, other, fact.unit)}"
    elif isinstance(one, str | int | float | None) and isinstance(other, str | int | float | None):
        yield f"{label} {_word(one, fact.unit)} became {_word(other, fact.unit)}"
    else:
        yield f"{label} differ"


def _rows(label: str, one: tuple[Any, ...], other: tuple[Any, ...]) -> Iterator[str]:
    if len(one) + len(other) <= _FEW and all(isinstance(row, str) for row in (*one, *other)):
        yield f"{label} {', '.join(one) or 'none'} became {', '.join(other) or 'none'}"
        return
    records = all(isinstance(row, msgspec.Struct) for row in (*one, *other))
    if records and len(one) == len(other):
        changed = [number for number, pair in enumerate(zip(one, other, strict=True)) if pair[0] != pair[1]]
        for number in changed[:_FEW]:
            yield from _fields(one[number], other[number], f"{label} row {number + 1} ")
        if len(changed) > _FEW:
            yield f"{label} differ in {len(changed) - _FEW} more rows"
    elif len(one) != len(other):
        yield f"{label} {len(one)} {'row' if len(one) == 1 else 'rows'} became {len(other)}"
    else:
        count = sum(a != b for a, b in zip(one, other, strict=True))
        yield f"{label} differ in {count} of {len(one)} rows"


def _became(one: float, other: float, unit: str) -> str:
    """Two numbers with as many digits as tell them apart."""
    for digits in _DIGITS:
        texts = show(one, unit, digits=digits), show(other, unit, digits=digits)
        if texts[0] != texts[1]:
            break
    return f"{texts[0]} became {texts[1]}"


def _kind(record: Any) -> str:  # noqa: ANN401 - any record
    tag = getattr(type(record).__struct_config__, "tag", None) if isinstance(record, msgspec.Struct) else None
    return str(tag or type(record).__name__) if record is not None else "none"


def _word(value: str | float | None, unit: str = "") -> str:
    if value is None:
        return "none"
    if isinstance(value, float):
        return show(value, unit)
    return str(value) if not isinstance(value, str) or (value and value.isprintable()) else quoted(value)


def _path_words(old: Sequence[Element], new: Sequence[Element]) -> Iterator[str]:
    """What differs along a path, elements numbered as they were."""
    import difflib  # noqa: PLC0415 - only where two paths differ

    for what, i1, i2, j1, j2 in difflib.SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        digits = 17 if any(_element(a) == _element(b) for a, b in zip(old[i1:i2], new[j1:j2], strict=False)) else 6
        gone = ", ".join(_element(one, digits) for one in old[i1:i2])
        come = ", ".join(_element(one, digits) for one in new[j1:j2])
        if what == "replace":
            yield f"element {i1 + 1}: {gone} became {come}"
        elif what == "delete":
            yield f"element {i1 + 1}: {gone} removed"
        elif what == "insert":
            yield f"before element {i1 + 1}: {come} inserted"


def _element(element: Element, digits: int = 6) -> str:
    match element:
        case Run(line=name, length_m=length_m, skew_s=skew_s, mismatch_m=mismatch_m, bundle=bundle):
            legs = f", its legs {show(mismatch_m, 'm', digits=digits)} apart" if mismatch_m else ""
            length = show(length_m, "m", digits=digits)
            return f"{quoted(name)} {length}{_skewed(skew_s, digits)}{legs}{_beside(bundle)}"
        case Component(part=name, skew_s=skew_s, way=way, bundle=bundle):
            by_way = f" by way {way}" if way > 1 else ""
            return f"{quoted(name)}{by_way}{_skewed(skew_s, digits)}{_beside(bundle)}"
        case Stage(device=ref, channel=channel):
            return f"{ref} channel {channel}"


def _beside(bundle: str | None) -> str:
    return f" in bundle {quoted(bundle)}" if bundle is not None else ""


def _skewed(skew_s: float, digits: int) -> str:
    return f" with {show(skew_s, 's', digits=digits)} of pair skew" if skew_s else ""


def _subject(one: BoardDifference) -> str:
    if one.where == WHERE_BOARD:
        return "Board"
    if one.where in _NAMED:
        return f"{one.where.capitalize()} {quoted(one.name)}"
    return f"Catalogue, {one.where}: {quoted(one.name)}"


def _plural(where: str) -> str:
    return f"{where}s" if where in _NAMED else f"catalogue's {where}"
