"""How a figure came about, as text for the terminal and as JSON."""

from collections.abc import Iterable, Sequence
from typing import Any

import msgspec

from workbench.engine.figures.entry import Check, FigureFacts, FigureInput
from workbench.engine.figures.explaining import Explanation, followed
from workbench.engine.figures.expression import Value, as_mathml, as_text
from workbench.layout import safe
from workbench.quantity import show

_SHOWN = 6
_PLACES = {"figure": "figure", "program": "fixed in the program:", "intermediate": "from", "asked": "asked for by",
           "default": "default of", "lane": "assessed:", "file": "read from"}  # fmt: skip


def explanations_text(found: Iterable[Explanation], *, hint: str = " (--chain explains these too)") -> str:
    """Figures explained one after the other, for the terminal; `hint` says how to follow what one rests on."""
    return "\n".join("\n".join(_lines(one, hint)) + "\n" for one in found)


def explanations_json(found: Iterable[Explanation]) -> str:
    """Figures explained as a JSON list; a complex number is an object with ``real`` and ``imag``."""
    encoded = msgspec.json.encode(list(found), enc_hook=_plain)
    return msgspec.json.format(encoded, indent=2).decode() + "\n"


def _plain(value: object) -> object:
    if isinstance(value, complex):
        return {"real": value.real, "imag": value.imag}
    raise NotImplementedError(f"{type(value).__name__} has no form in JSON")


def value_text(value: Value | None, unit: str) -> str:
    """A value as the terminal has it: a few of many, complex numbers as such."""
    if value is None:
        return "none"
    if isinstance(value, tuple):
        value = _flat(value)
        shown = [show(one, unit) for one in value[:_SHOWN]]
        return ", ".join([*shown, f"… ({len(value) - _SHOWN} more)"] if len(value) > _SHOWN else shown) or "none"
    if isinstance(value, complex):
        sign = "-" if value.imag < 0.0 else "+"
        return f"{value.real:.5g} {sign} {abs(value.imag):.5g}j {unit}".rstrip()
    return show(value, unit)


def _flat(value: tuple[Any, ...]) -> tuple[float, ...]:
    """A table's rows one after the other."""
    return tuple(one for each in value for one in (_flat(each) if isinstance(each, tuple) else (each,)))


def _lines(one: Explanation, hint: str) -> list[str]:
    lines = [f"{safe(one.subject)}: {one.path} = {value_text(one.value, one.unit)}", f"  {one.meaning}"]
    if one.formula:
        lines += ["", f"  {one.formula}"]
    if one.numbers:
        lines += [f"  {one.numbers}"]
    if one.method:
        lines += [f"  Method: {one.method}"]
    if one.inputs:
        lines += ["", "  Inputs"]
        lines += [f"    {_input(each)}" for each in one.inputs]
    lines += ["", f"  Holds for: {one.holds}; it lies {'inside' if one.inside else 'outside'}"]
    lines += [f"    {safe(text)}" for text in one.doubts]
    lines += [f"  Checked by {each.test}: {each.source}; tolerance: {each.tolerance}" for each in one.checks]
    lines += [f"  Off by: {one.off}"]
    if below := followed(one):
        lines += [f"  Rests on: {', '.join(below)}{hint}"]
    return [safe(line) for line in lines]


def place_text(one: FigureInput) -> str:
    """Where an input comes from, in words, with the source of a profile's number."""
    source = f" ({one.status}: {one.source})" if one.source else ""
    return f"{_PLACES.get(one.origin, one.origin)} {one.where}{source}"


def _input(one: FigureInput) -> str:
    return f"{one.symbol} = {value_text(one.value, one.unit)}, {one.meaning}: {place_text(one)}"


class FigureRow(msgspec.Struct, frozen=True):
    """A figure's entry as the manual has it; `of` says what holds it, "" for a lane."""

    key: str
    of: str
    meaning: str
    formula: str
    mathml: str
    method: str
    holds: str
    checks: Sequence[Check]
    off: str


def figure_rows(figures: Iterable[FigureFacts]) -> tuple[FigureRow, ...]:
    """The entries of figures for the manual."""
    return tuple(
        FigureRow(
            one.key, _holder(getattr(one, "record", None)), one.meaning,
            "" if one.formula is None else f"{one.symbol.name} = {as_text(one.formula)}",
            as_mathml(one.symbol, one.formula), one.method, one.holds, one.checks, one.off,
        )
        for one in figures
    )  # fmt: skip


def _holder(record: type | None) -> str:
    """What a record is, in the first sentence of its docstring; "" for none."""
    said = (record.__doc__ or "") if record is not None else ""
    return " ".join(said.split("\n\n")[0].split()).rstrip(".")
