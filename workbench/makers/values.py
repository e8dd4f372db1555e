"""Values of model parameters: what type they have, how they are written, and which are allowed."""

import math
from typing import Final, Literal, NamedTuple

from workbench.wording import any_of, quoted

Value = float | int | bool | str

TypeName = Literal["Float", "Integer", "String", "Boolean", "Tap", "UI"]
TYPES: Final[tuple[TypeName, ...]] = ("Float", "Integer", "String", "Boolean", "Tap", "UI")
"""BIRD 136 of the IBIS Open Forum."""

NUMERIC: Final[tuple[TypeName, ...]] = ("Float", "Integer", "Tap", "UI")

FormatName = Literal[
    "Value", "Range", "List", "Corner", "Increment", "Steps", "Table", "Gaussian", "Dual-Dirac", "DjRj"
]
FORMATS: Final[tuple[FormatName, ...]] = (
    "Value", "Range", "List", "Corner", "Increment", "Steps", "Table", "Gaussian", "Dual-Dirac", "DjRj",
)  # fmt: skip
DENSITIES: Final = ("Gaussian", "Dual-Dirac", "DjRj")

NUMBERS: Final[dict[str, tuple[int, ...]]] = {
    "Range": (3,), "Increment": (4,), "Steps": (4,), "Corner": (3, 2, 1), "Gaussian": (2,), "Dual-Dirac": (3,),
    "DjRj": (3,),
}  # fmt: skip
"""How many values a format has; of a Corner the slow and fast one may be missing (version 5.0 shows two)."""

CornerName = Literal["typ", "slow", "fast"]
CORNERS: Final[tuple[CornerName, ...]] = ("typ", "slow", "fast")


class Odd(NamedTuple):
    """A value as it was read, and what is odd about how it was written; "" where nothing is."""

    value: Value
    remark: str = ""


def value_of(text: str, kind: str, *, in_quotes: bool = False) -> Odd | None:
    """A value of a type from the text that stands in a file; None where it is none.

    Args:
        text: without quotes.
        kind: one of `TYPES`.
        in_quotes: whether it stood in quotes.
    """
    if kind == "String":
        return Odd(text, "" if in_quotes else f"the text {quoted(text)} has no quotes")
    if kind == "Boolean":
        known = {"true": True, "false": False}.get(text.casefold())
        if known is None:
            return None
        odd = in_quotes or text not in ("True", "False")
        return Odd(known, f"{quoted(text)} is read as {known}" if odd else "")
    return _number(text, kind, in_quotes=in_quotes)


def _number(text: str, kind: str, *, in_quotes: bool) -> Odd | None:
    try:
        number = float(text)
    except ValueError:
        return None
    if not math.isfinite(number) or "_" in text:
        return None
    remark = f"the number {quoted(text)} stands in quotes" if in_quotes else ""
    if kind != "Integer":
        return Odd(number, remark)
    if number != int(number) or abs(number) > 2**31:
        return None
    return Odd(
        int(number), remark or ("" if text.lstrip("+-").isdecimal() else f"{quoted(text)} is read as an integer")
    )


def written(value: Value) -> str:
    """A value as it stands in a file or in a parameter string."""
    if isinstance(value, bool):
        return "True" if value else "False"
    if isinstance(value, str):
        return f'"{value}"'
    return repr(value)


class Format(NamedTuple):
    """Which values a parameter may have.

    Attributes:
        name: one of `FORMATS`.
        values: as they stand in the file: of a Range (typ, min, max), of an Increment and Steps one more, of a Corner
            (typ, slow, fast), of a List all, each once, of a density its figures; of a Table none.
        tips: what a list shows for its values, as many or none.
        labels: heads of a Table's columns, or none.
        rows: of a Table.
    """

    name: FormatName
    values: tuple[Value, ...] = ()
    tips: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()
    rows: tuple[tuple[Value, ...], ...] = ()

    @property
    def typical(self) -> Value | None:
        """What holds where nothing is chosen and no default is given: the first value; None for a Table or density."""
        return self.values[0] if self.values and self.name not in DENSITIES else None

    def at_corner(self, corner: CornerName) -> Value | None:
        """The value at a corner; where the file gives none for it, the typical one."""
        if self.name != "Corner":
            return self.typical
        at = CORNERS.index(corner)
        return self.values[at] if at < len(self.values) else self.typical

    def choices(self) -> tuple[Value, ...]:
        """The values to choose from, where they are counted: of a List, a Corner, an Increment, Steps; else none."""
        if self.name in ("List", "Corner"):
            return tuple(dict.fromkeys(self.values))
        if self.name not in ("Increment", "Steps"):
            return ()
        typical, low, high, last = (float(value) for value in self.values)
        step = last if self.name == "Increment" else (high - low) / last if last >= 1.0 else 0.0
        if step <= 0.0 or (high - low) / step > 10_000:
            return ()
        start = typical if self.name == "Increment" else low
        first = math.ceil((low - start) / step - 1e-9)
        count = math.floor((high - start) / step + 1e-9)
        found = tuple(start + number * step for number in range(first, count + 1))
        whole = all(isinstance(value, int) for value in self.values)
        return tuple(round(value) for value in found) if whole else found

    def objection(self, value: Value) -> str:
        """Why a value is not allowed and what is, as "it is ...; write ..."; "" where it is allowed."""
        if self.name in ("Table", *DENSITIES):
            return "it is a table that the file states; leave it out"
        if self.name == "Range":
            _, low, high = self.values
            number = isinstance(value, (int, float)) and not isinstance(value, bool)
            if number and float(low) <= float(value) <= float(high):
                return ""
            return f"it is outside its range; write {low} to {high}"
        choices = self.choices()
        if not choices or any(_alike(value, choice) for choice in choices):
            return ""
        return f"it is not one of its values; write {any_of([str(choice) for choice in choices])}"


def _alike(value: Value, choice: Value) -> bool:
    if isinstance(value, float) and isinstance(choice, float):
        return math.isclose(value, choice, rel_tol=1e-9, abs_tol=1e-15)
    return value == choice and isinstance(value, bool) == isinstance(choice, bool)
