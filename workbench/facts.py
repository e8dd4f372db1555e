"""What is known about a field, stated once, with the field.

A record's field carries its unit, range, label and help in its annotation::

    length_m: Annotated[float, quantity("m", "Length", "Routed length of the run.", gt=0.0, le=100.0)]

The file check, the details form, the JSON schema and the manual all read them from there through `facts_of`.
"""

import math
from functools import cache
from types import NoneType, UnionType
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

import msgspec


class Fact(msgspec.Struct, frozen=True, kw_only=True):
    """One field's facts.

    Attributes:
        name: the field's name, which is also its JSON key.
        unit: SI unit symbol ("m", "s", "dB/m"), or "" where the field has none.
        label: two or three words for a form.
        help: one sentence: what the field means.
        lower, upper: the allowed range in the field's unit; None where it is open.
        lower_excluded, upper_excluded: True where the bound itself is not allowed.
        section: the catalogue sections that a name in this field may stand on, else empty.
        default: the value a new record gets, or `msgspec.NODEFAULT` where the field must be given.
        type: the field's bare type.
    """

    name: str
    unit: str = ""
    label: str = ""
    help: str = ""
    lower: float | None = None
    upper: float | None = None
    lower_excluded: bool = False
    upper_excluded: bool = False
    section: tuple[str, ...] = ()
    default: Any = msgspec.field(default_factory=lambda: msgspec.NODEFAULT)
    type: Any = None

    def range_text(self) -> str:
        """The allowed range as words, such as "above 0 and at most 100 m"; "" where any number is allowed."""
        words = []
        unit = f" {self.unit}" if self.unit else ""
        if self.lower is not None:
            words.append(f"{'above' if self.lower_excluded else 'at least'} {self.lower:g}{unit}")
        if self.upper is not None:
            words.append(f"{'below' if self.upper_excluded else 'at most'} {self.upper:g}{unit}")
        return " and ".join(words)

    def allows(self, value: float) -> bool:
        """Whether a finite number in the field's unit is inside the range."""
        if not math.isfinite(value):
            return False
        if self.lower is not None and (value < self.lower or (self.lower_excluded and value == self.lower)):
            return False
        return self.upper is None or not (value > self.upper or (self.upper_excluded and value == self.upper))


def quantity(
    unit: str,
    label: str,
    help: str,
    *,
    gt: float | None = None,
    ge: float | None = None,
    lt: float | None = None,
    le: float | None = None,
) -> msgspec.Meta:
    """Facts of a numeric field.

    Args:
        unit: SI unit symbol of the stored value, "" for a bare ratio.
        label: two or three words for a form.
        help: one sentence that says what the field means.
        gt, ge, lt, le: bounds in `unit`; at most one lower and one upper.
    """
    bounds: dict[str, Any] = {"gt": gt, "ge": ge, "lt": lt, "le": le}
    known = {"unit": unit}
    return msgspec.Meta(title=label, description=help, extra=known, extra_json_schema=known, **bounds)


def reference(sections: str, label: str, help: str) -> msgspec.Meta:
    """Facts of a field that names a catalogue entry.

    Args:
        sections: the sections the name may stand on, separated by spaces ("lines cables").
        label: two or three words for a form.
        help: one sentence that says what the field means.
    """
    return msgspec.Meta(
        min_length=1, title=label, description=help, extra={"unit": "", "section": tuple(sections.split())}
    )


def text(label: str, help: str, *, required: bool = False) -> msgspec.Meta:
    """Facts of a field of free text.

    Args:
        label: two or three words for a form.
        help: one sentence that says what the field means.
        required: True where the text may not be empty.
    """
    return msgspec.Meta(
        min_length=1 if required else None, title=label, description=help, extra={"unit": ""}
    )


def choice(label: str, help: str) -> msgspec.Meta:
    """Facts of a field that holds a record, a list or one of a few words.

    Args:
        label: two or three words for a form.
        help: one sentence that says what the field means.
    """
    return msgspec.Meta(title=label, description=help, extra={"unit": ""})


@cache
def facts_of(record_type: type[msgspec.Struct]) -> tuple[Fact, ...]:
    """The facts of every field of a record type, in declared order."""
    hints = get_type_hints(record_type, include_extras=True)
    return tuple(
        _fact(field.name, hints[field.name], _default_of(field)) for field in msgspec.structs.fields(record_type)
    )


def fact_of(record_type: type[msgspec.Struct], name: str) -> Fact:
    """The facts of one field.

    Raises:
        KeyError: the record type has no such field.
    """
    for fact in facts_of(record_type):
        if fact.name == name:
            return fact
    raise KeyError(f"{record_type.__name__} has no field {name}")


def _default_of(field: msgspec.structs.FieldInfo) -> object:
    if field.default_factory is not msgspec.NODEFAULT:
        return field.default_factory()
    return field.default


def _fact(name: str, hint: Any, default: object) -> Fact:  # noqa: ANN401 - a type hint is anything
    bare, meta = _unwrapped(hint)
    if meta is None:
        return Fact(name=name, default=default, type=bare)
    extra = meta.extra or {}
    return Fact(
        name=name,
        unit=extra.get("unit", ""),
        label=meta.title or "",
        help=meta.description or "",
        lower=meta.gt if meta.gt is not None else meta.ge,
        upper=meta.lt if meta.lt is not None else meta.le,
        lower_excluded=meta.gt is not None,
        upper_excluded=meta.lt is not None,
        section=extra.get("section", ()),
        default=default,
        type=bare,
    )


def _unwrapped(hint: Any) -> tuple[Any, msgspec.Meta | None]:  # noqa: ANN401 - as above
    """The bare type and its Meta, also inside ``Annotated[...] | None``."""
    if get_origin(hint) is Annotated:
        bare, *metas = get_args(hint)
        return bare, next((meta for meta in metas if isinstance(meta, msgspec.Meta)), None)
    if get_origin(hint) in (Union, UnionType):
        for arm in get_args(hint):
            if arm is not NoneType and get_origin(arm) is Annotated:
                return hint, _unwrapped(arm)[1]
    return hint, None
