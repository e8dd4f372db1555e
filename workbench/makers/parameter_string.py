"""Parameter strings: what the host tells a model, and what the model tells back.

``(root (txtaps (-1 0.1) (0 1)) (mode 2))``: the headings Reserved_Parameters and Model_Specific are dropped, every
parameter of Usage In or InOut is its name and value, branches stay nested (posts on the ibis-macro list of December
2009, January 2011 and January 2012 on BIRD 127).
"""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from workbench.errors import ModelError
from workbench.makers.ami import AmiFile
from workbench.makers.parameters import Parameter
from workbench.makers.remarks import Remarks
from workbench.makers.tree import Atom, Branch, read_tree
from workbench.makers.values import CornerName, Value, value_of, written
from workbench.wording import instead, quoted, with_article

Chosen = Mapping[str, Value]
"""Values by path as people write it ("txtaps/-1"); what is not named takes what the file says."""

FOLDER_MARK, IDENTITY_MARK = "\x01folder", "\x01identity"
"""Stand for the private folder and the unique stem that only the run itself knows."""

HOST_VALUES = {"DLL_Path": FOLDER_MARK, "DLL_ID": IDENTITY_MARK}


def chosen_of(file: AmiFile, texts: Mapping[str, str]) -> dict[str, Value]:
    """Values from the texts that stand in a board or on a command line, by path.

    Args:
        file: the model's parameters.
        texts: by path; a name that the model does not have is left for `chosen_values` to refuse.

    Raises:
        ModelError: a text that is no value of its parameter's type.
    """
    kinds = {known.shown: known.type for known in file.inputs}
    found: dict[str, Value] = {}
    for name, text in texts.items():
        value = value_of(text, kinds.get(name, "String"), in_quotes=True)
        if value is None:
            kind = with_article(kinds[name])
            raise ModelError(f"{quoted(text)} is not {kind}, which {quoted(name)} needs; write one")
        found[name] = value.value
    return found


def chosen_values(file: AmiFile, chosen: Chosen, corner: CornerName = "typ") -> dict[tuple[str, ...], Value]:
    """The value of every parameter that the host gives.

    Args:
        file: the model's parameters.
        chosen: those that differ from what the file says.
        corner: which corner's values hold where nothing is chosen.

    Raises:
        ModelError: a name that is none of the model's inputs, or a value that its format does not allow.
    """
    inputs = {known.shown: known for known in file.inputs}
    for name, value in chosen.items():
        if name not in inputs:
            other = f"see the inputs of {quoted(file.root)}"
            raise ModelError(f"{file.source} has no input {quoted(name)}; {instead(name, tuple(inputs), other)}")
        problem = objection(inputs[name], value)
        if problem:
            raise ModelError(f"{file.source}, parameter {quoted(name)} = {value}: {problem}")
    found: dict[tuple[str, ...], Value] = {}
    for known in file.inputs:
        value_ = chosen.get(known.shown, known.initial(corner))
        if known.reserved:
            value_ = HOST_VALUES.get(known.name, file.root if known.name == "Model_Name" else value_)
        if value_ is not None:
            found[known.path] = value_
    return found


def objection(parameter: Parameter, value: Value) -> str:
    """Why a value does not fit a parameter's type or format, and what does; "" where it fits."""
    if isinstance(value, str) and not (value.isprintable() and '"' not in value and len(value) < 4096):
        return "it has a quote or a character that is none; write it without"
    kind = parameter.type
    fits = {
        "Boolean": isinstance(value, bool),
        "String": isinstance(value, str),
        "Integer": isinstance(value, int) and not isinstance(value, bool),
    }.get(kind, isinstance(value, (int, float)) and not isinstance(value, bool))
    if not fits:
        return f"it is not {with_article(kind)}; write one"
    return parameter.format.objection(value) if parameter.format is not None else ""


def parameter_string(file: AmiFile, values: Mapping[tuple[str, ...], Value]) -> str:
    """What AMI_Init is told.

    Args:
        file: the model's parameters.
        values: by path, as `chosen_values` gives them.
    """
    taps = {known.path for known in file.inputs if known.type == "Tap"}
    inside = _nested([(path, value) for path, value in values.items()], taps, ())
    return f"({' '.join([_word(file.root), *inside])})"


def _nested(
    values: list[tuple[tuple[str, ...], Value]], taps: set[tuple[str, ...]], path: tuple[str, ...]
) -> Iterator[str]:
    """The branches below a path; taps in rising order, all else in the file's."""
    below: dict[str, list[tuple[tuple[str, ...], Value]]] = {}
    for key, value in values:
        below.setdefault(key[len(path)], []).append((key, value))
    heads = list(below)
    if all((*path, head) in taps and _position(head) is not None for head in heads):
        heads.sort(key=lambda head: _position(head) or 0)
    for head in heads:
        own = [written(value) for key, value in below[head] if len(key) == len(path) + 1]
        inner = [(key, value) for key, value in below[head] if len(key) > len(path) + 1]
        yield f"({' '.join([_word(head), *own, *_nested(inner, taps, (*path, head))])})"


def _position(name: str) -> int | None:
    try:
        return int(name)
    except ValueError:
        return None


def _word(name: str) -> str:
    return name if not set(name) & set('()|" ') else f'"{name}"'


class Told(NamedTuple):
    """What a model told back.

    Attributes:
        values: texts by path, the root left out; of a row of a table several.
        oddity: what is odd about the string, as a sentence's part; "" where nothing is.
    """

    values: Mapping[tuple[str, ...], tuple[str, ...]]
    oddity: str = ""

    def number(self, name: str) -> float | None:
        """The number of a leaf directly under the root; None where there is none."""
        texts = self.values.get((name,), ())
        try:
            return float(texts[0]) if len(texts) == 1 else None
        except ValueError:
            return None


NOTHING_TOLD = Told({})


def read_back(text: str, root: str) -> Told:
    """What a model's parameter string says; one that is no tree says nothing, and that is told.

    Args:
        text: the string; "" says nothing.
        root: the name that it should begin with.
    """
    if not text.strip():
        return NOTHING_TOLD
    try:
        tree = read_tree(text, "its parameter string", Remarks())
    except ModelError as error:
        return Told({}, str(error))
    found: dict[tuple[str, ...], tuple[str, ...]] = {}
    pending: list[tuple[tuple[str, ...], Branch]] = [((), tree)]
    while pending:
        path, branch = pending.pop()
        texts = tuple(item.text for item in branch.items[1:] if isinstance(item, Atom))
        if path and texts:
            found[path] = texts
        pending += [((*path, inner.name), inner) for inner in branch.branches]
    if tree.name != root:
        return Told(found, f"its parameter string begins with {quoted(tree.name)} instead of {quoted(root)}")
    return Told(found)
