"""One parameter of an ``.ami`` file: its branch read as usage, type, format, default and description.

The rules are those of BIRD 127.4, 136, 139.2, 140 and 154.1 of the IBIS Open Forum, taken tolerantly: what breaks a
rule and can still be understood becomes a remark.
"""

from typing import Final, Literal, NamedTuple, get_args

from workbench.makers.remarks import Remarks
from workbench.makers.tree import Atom, Branch
from workbench.makers.values import (
    DENSITIES,
    FORMATS,
    NUMBERS,
    NUMERIC,
    TYPES,
    CornerName,
    Format,
    FormatName,
    Value,
    value_of,
)
from workbench.wording import quoted, with_article

Usage = Literal["In", "Out", "InOut", "Info", "Dep"]
USAGES: Final[tuple[Usage, ...]] = get_args(Usage)

LEAVES: Final = frozenset(("Usage", "Type", "Format", "Default", "Description", "List_Tip", *FORMATS))


class Parameter(NamedTuple):
    """A parameter of a model.

    Attributes:
        path: its name, after those of the branches around it: ("txtaps", "-1").
        reserved: whether it stands under Reserved_Parameters.
        usage: who gives it: the host (In), the model (Out), both (InOut), the file (Info), or AMI_Resolve (Dep).
        types: one of `TYPES`; of a Table perhaps one per column.
        format: which values it may have; None where the file gives none that can be read.
        default: the file's Default; None without one.
        description: the file's own words.
        line: where it stands, from 1.
    """

    path: tuple[str, ...]
    reserved: bool
    usage: Usage
    types: tuple[str, ...]
    format: Format | None
    default: Value | None
    description: str
    line: int

    @property
    def name(self) -> str:
        """The last part of its path."""
        return self.path[-1]

    @property
    def shown(self) -> str:
        """Its path as people write it: "txtaps/-1"."""
        return "/".join(self.path)

    @property
    def type(self) -> str:
        """Its type; of a Table that of the first column."""
        return self.types[0]

    @property
    def given(self) -> bool:
        """Whether the host gives it a value: Usage In or InOut, and a value that one can give."""
        return self.usage in ("In", "InOut") and self.format is not None and self.format.name != "Table"

    def initial(self, corner: CornerName = "typ") -> Value | None:
        """What holds where nothing is chosen: the Default, else the corner's or the format's typical or first value."""
        if self.default is not None:
            return self.default
        return self.format.at_corner(corner) if self.format is not None else None


def is_parameter(branch: Branch) -> bool:
    """Whether a branch is a parameter rather than a group of them: it has a leaf besides a description."""
    return any(inner.name in LEAVES and inner.name not in ("Description", "List_Tip") for inner in branch.branches)


def text_of(branch: Branch | None) -> str:
    """The text that a leaf such as Description holds; "" without one."""
    return " ".join(atom.text for atom in branch.atoms) if branch is not None else ""


def parameter_of(branch: Branch, path: tuple[str, ...], *, reserved: bool, remarks: Remarks) -> Parameter:
    """A parameter from its branch.

    Args:
        branch: one for which `is_parameter` holds.
        path: its name after those of the branches around it.
        reserved: whether it stands under Reserved_Parameters.
        remarks: takes what is odd.
    """
    reading = _Reading(branch, "/".join(path), remarks)
    types, found = reading.types(), reading.format_leaf()
    default = reading.default(types[0])
    form = reading.format(found, types) if found is not None else None
    if form is None and default is not None:
        form = Format("Value", (default,))
    if form is None:
        remarks.add(branch.line, f"{quoted(reading.name)} has no value that can be read")
    elif default is not None and found is not None:
        reading.compare(form, default)
    return Parameter(
        path, reserved, reading.usage(), types, form, default, text_of(branch.child("Description")), branch.line
    )


class _Reading:
    def __init__(self, branch: Branch, name: str, remarks: Remarks) -> None:
        self.branch, self.name, self._remarks = branch, name, remarks
        for inner in branch.branches:
            if inner.name not in LEAVES:
                self._odd(inner.line, f"the leaf {quoted(inner.name)} of {quoted(name)} is not known and not read")
        for atom in branch.atoms:
            self._odd(atom.line, f"{quoted(atom.text)} stands loose in {quoted(name)} and is not read")
        if branch.child("Description") is None:
            self._odd(branch.line, f"{quoted(name)} has no description")

    def _odd(self, line: int, text: str) -> None:
        self._remarks.add(line, text)

    def usage(self) -> Usage:
        word = text_of(self.branch.child("Usage"))
        for usage in USAGES:
            if word.casefold() == usage.casefold():
                if word != usage:
                    self._odd(self.branch.line, f"the usage {quoted(word)} of {quoted(self.name)} is read as {usage}")
                return usage
        said = f"the usage {quoted(word)}" if word else "no usage"
        self._odd(self.branch.line, f"{quoted(self.name)} has {said}; it is read as Info")
        return "Info"

    def types(self) -> tuple[str, ...]:
        leaf = self.branch.child("Type")
        words = [atom.text for atom in leaf.atoms] if leaf is not None else []
        known = [_type(word) for word in words]
        if words and None not in known:
            return tuple(kind for kind in known if kind is not None)
        kind = self._type_of_values()
        said = f"the type {quoted(' '.join(words))}" if words else "no type"
        self._odd(self.branch.line, f"{quoted(self.name)} has {said}; it is read as {kind}")
        return (kind,)

    def _type_of_values(self) -> str:
        leaf = self.format_leaf() or self.branch.child("Default")
        atoms = [atom for atom in leaf.atoms if atom.text not in FORMATS] if leaf is not None else []
        for kind in ("Boolean", "Float"):
            if atoms and all(value_of(atom.text, kind, in_quotes=atom.quoted) for atom in atoms):
                return kind
        return "String"

    def format_leaf(self) -> Branch | None:
        """The leaf that gives the format, with the word Format or without."""
        leaves = [inner for inner in self.branch.branches if inner.name == "Format" or inner.name in FORMATS]
        for more in leaves[1:]:
            self._odd(more.line, f"{quoted(self.name)} has a second format, {quoted(more.name)}, that is not read")
        return leaves[0] if leaves else None

    def default(self, kind: str) -> Value | None:
        leaf = self.branch.child("Default")
        if leaf is None:
            return None
        values = self._values(leaf.atoms, kind)
        if len(values) != 1:
            self._odd(leaf.line, f"the default of {quoted(self.name)} is not a single {kind}, and is not read")
            return None
        return values[0]

    def format(self, leaf: Branch, types: tuple[str, ...]) -> Format | None:
        atoms, name = self._named(leaf)
        if name is None:
            return None
        if name == "Table":
            return self._table(leaf, types)
        values = self._values(atoms, types[0])
        if name == "List":
            return self._list(values)
        if name in NUMBERS and name != "Corner" and types[0] not in NUMERIC:
            self._odd(leaf.line, f"a {name} of the type {types[0]} in {quoted(self.name)} is not read")
            return None
        wanted = NUMBERS.get(name, (1,))
        if len(values) not in wanted:
            said = f"the {name} of {quoted(self.name)} has {len(values)} values instead of {wanted[0]}"
            if len(values) < wanted[-1]:
                self._odd(leaf.line, f"{said} and is not read")
                return None
            self._odd(leaf.line, f"{said}; the first are read")
            values = values[: wanted[0]]
        return self._ordered(Format(name, values), leaf.line)

    def _ordered(self, form: Format, line: int) -> Format | None:
        """A format whose bounds are in order; a typical value outside them is told, bounds that cross are not read."""
        if form.name not in ("Range", "Increment", "Steps"):
            return form
        numbers = [float(value) for value in form.values]
        if numbers[1] > numbers[2] or (form.name != "Range" and numbers[3] <= 0.0):
            self._odd(line, f"the {form.name} of {quoted(self.name)} has bounds out of order and is not read")
            return None
        if not numbers[1] <= numbers[0] <= numbers[2]:
            self._odd(line, f"the typical value of {quoted(self.name)} is outside its {form.name}")
        return form

    def _named(self, leaf: Branch) -> tuple[tuple[Atom, ...], FormatName | None]:
        """The atoms of a format's leaf after its name, and the name."""
        if leaf.name != "Format":
            return leaf.atoms, _format(leaf.name)
        name = _format(leaf.atoms[0].text) if leaf.atoms else None
        if name is not None:
            return leaf.atoms[1:], name
        if len(leaf.atoms) == 3:  # version 5.0: the format is Range unless it is named
            self._odd(leaf.line, f"the format of {quoted(self.name)} is not named and read as a Range")
            return leaf.atoms, "Range"
        self._odd(leaf.line, f"the format of {quoted(self.name)} is not known and not read")
        return (), None

    def _values(self, atoms: tuple[Atom, ...], kind: str) -> tuple[Value, ...]:
        found = []
        for atom in atoms:
            value = value_of(atom.text, kind, in_quotes=atom.quoted)
            if value is None:
                said = f"{quoted(atom.text)} in {quoted(self.name)} is not {with_article(kind)}, and is not read"
                self._odd(atom.line, said)
                continue
            if value.remark:
                self._odd(atom.line, f"{value.remark} in {quoted(self.name)}")
            found.append(value.value)
        return tuple(found)

    def _list(self, values: tuple[Value, ...]) -> Format | None:
        if not values:
            return None
        tips = self.branch.child("List_Tip")
        texts = tuple(atom.text for atom in tips.atoms) if tips is not None else ()
        if texts and len(texts) != len(values):
            self._odd(self.branch.line, f"{quoted(self.name)} has {len(texts)} tips for {len(values)} values")
            texts = ()
        once: dict[Value, str] = {}
        for at, value in enumerate(values):
            once.setdefault(value, texts[at] if texts else "")
        if len(once) < len(values):
            self._odd(self.branch.line, f"the list of {quoted(self.name)} names a value twice")
        return Format("List", tuple(once), tips=tuple(once.values()) if texts else ())

    def _table(self, leaf: Branch, types: tuple[str, ...]) -> Format:
        labels: tuple[str, ...] = ()
        rows = []
        for row in leaf.branches:
            if row.name == "Labels":
                labels = tuple(atom.text for atom in row.atoms)
                continue
            cells = [item for item in row.items if isinstance(item, Atom)]
            kinds = types if len(types) >= len(cells) else types[:1] * len(cells)
            values = [self._values((cell,), kind) for cell, kind in zip(cells, kinds, strict=False)]
            rows.append(tuple(value for one in values for value in one))
        return Format("Table", labels=labels, rows=tuple(rows))

    def compare(self, form: Format, default: Value) -> None:
        """Tell where a default is none of the format's values, or stands beside a Value; it is taken all the same."""
        if form.name == "Value":
            self._odd(self.branch.line, f"{quoted(self.name)} has both Value and Default; Default is taken")
        elif form.name in ("Table", *DENSITIES):
            self._odd(self.branch.line, f"{quoted(self.name)} has a Default beside its {form.name}")
        elif form.objection(default):
            self._odd(self.branch.line, f"the default of {quoted(self.name)} is not one of its values; it is used")


def _type(word: str) -> str | None:
    return next((kind for kind in TYPES if kind.casefold() == word.casefold()), None)


def _format(word: str) -> FormatName | None:
    folded = word.casefold().replace("_", "-")
    return next((name for name in FORMATS if name.casefold() == folded), None)
