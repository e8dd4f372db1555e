"""The whole of an ``.ami`` file: what a model's library offers, and every parameter with its facts.

Reserved_Parameters and Model_Specific under one root, as IBIS 5.0 and later have it (BIRD 114.3, 139.2, 154.1). What is
odd but can be understood becomes a remark; only brackets that don't match, a missing root or missing
Reserved_Parameters are refused.
"""

import hashlib
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from workbench.errors import ModelError
from workbench.makers.parameters import LEAVES, Parameter, is_parameter, parameter_of, text_of
from workbench.makers.remarks import Remark, Remarks
from workbench.makers.reserved import RESERVED
from workbench.makers.tree import MOST_CHARACTERS, Branch, read_tree
from workbench.makers.values import Value
from workbench.wording import quoted, quoted_path

FIRST_VERSION = "5.0"
"""What a file without AMI_Version follows (BIRD 126)."""


class AmiFile(NamedTuple):
    """An ``.ami`` file as it was read.

    Attributes:
        source: the file's name.
        sha256: of its bytes, hexadecimal.
        root: name of the whole tree, which parameter strings begin with.
        description: the file's own words about the model.
        parameters: reserved ones first, each in the file's order.
        groups: descriptions of branches of parameters, by path.
        remarks: what is odd, in the order of lines.
    """

    source: str
    sha256: str
    root: str
    description: str
    parameters: tuple[Parameter, ...]
    groups: tuple[tuple[tuple[str, ...], str], ...]
    remarks: tuple[Remark, ...]

    def reserved(self, name: str) -> Parameter | None:
        """The reserved parameter of that name; None where the file has none."""
        return next((known for known in self.parameters if known.reserved and known.path == (name,)), None)

    def value(self, name: str) -> Value | None:
        """What the file says of a reserved parameter; None where it says nothing."""
        known = self.reserved(name)
        return known.initial() if known is not None else None

    def flag(self, name: str) -> bool:
        """Whether a reserved Boolean is True; False where the file says nothing."""
        return self.value(name) is True

    @property
    def version(self) -> str:
        """The version of the standard that the file follows."""
        value = self.value("AMI_Version")
        return FIRST_VERSION if value is None else str(value)

    @property
    def inputs(self) -> tuple[Parameter, ...]:
        """The parameters that the host gives values, in the file's order."""
        return tuple(known for known in self.parameters if known.given)


def read_ami(path: Path | str) -> AmiFile:
    """Read an ``.ami`` file.

    Raises:
        ModelError: it can't be opened, or is none.
    """
    path = Path(path)
    try:
        with path.open("rb") as file:
            data = file.read(4 * MOST_CHARACTERS + 1)
    except OSError as error:
        raise ModelError(f"{quoted_path(path)} can't be read: {error.strerror or error}; check the name") from error
    return ami_of_bytes(data, path.name)


def ami_of_bytes(data: bytes, source: str) -> AmiFile:
    """An ``.ami`` file from its bytes.

    Args:
        data: the file's content.
        source: its name, for refusals and remarks.

    Raises:
        ModelError: brackets that don't match, no root, no Reserved_Parameters, or beyond the limits of size and depth.
    """
    remarks = Remarks()
    source = quoted(source)[1:-1]
    tree = read_tree(decoded(data, source, remarks), source, remarks)
    if not tree.name:
        raise ModelError(f"{source}, line {tree.line}: the tree has no name; the model's name comes after the bracket")
    head = tree.child("Reserved_Parameters")
    if head is None:
        raise ModelError(
            f"{source}: {quoted(tree.name)} has no Reserved_Parameters; see whether it is the parameter file (.ami)"
        )
    reading = _Reading(tree, remarks)
    parameters = tuple(reading.all())
    _check_reserved(parameters, head.line, remarks)
    return AmiFile(
        source, hashlib.sha256(data).hexdigest(), tree.name, text_of(tree.child("Description")), parameters,
        tuple(reading.groups.items()), remarks.all(),
    )  # fmt: skip


def decoded(data: bytes, source: str, remarks: Remarks) -> str:
    """A maker's text: UTF-8, or else the Western European set of old files.

    Args:
        data: the file's content.
        source: its name, for a refusal.
        remarks: takes that it was the latter.

    Raises:
        ModelError: it holds what no text has.
    """
    if b"\x00" in data[:4096]:
        raise ModelError(f"{source} is not text; see whether it is the library rather than its parameter file")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        remarks.add(1, "it is not UTF-8 and is read as Latin-1")
        return data.decode("latin-1")


class _Reading:
    def __init__(self, tree: Branch, remarks: Remarks) -> None:
        self._tree, self._remarks = tree, remarks
        self.groups: dict[tuple[str, ...], str] = {}
        self._seen: set[tuple[bool, tuple[str, ...]]] = set()

    def all(self) -> Iterator[Parameter]:
        for name, reserved in (("Reserved_Parameters", True), ("Model_Specific", False)):
            heads = [branch for branch in self._tree.branches if branch.name == name]
            for more in heads[1:]:
                self._remarks.add(more.line, f"a second {name} is read with the first")
            for head in heads:
                yield from self._below(head, (), reserved=reserved)
        self._check_root()

    def _check_root(self) -> None:
        tree = self._tree
        order = [branch.name for branch in tree.branches]
        for branch in tree.branches:
            if branch.name not in ("Reserved_Parameters", "Model_Specific", "Description"):
                self._remarks.add(
                    branch.line, f"{quoted(branch.name)} stands beside Reserved_Parameters and is not read"
                )
        for atom in tree.atoms:
            self._remarks.add(atom.line, f"{quoted(atom.text)} stands loose in the tree and is not read")
        if "Model_Specific" in order and order.index("Model_Specific") < order.index("Reserved_Parameters"):
            self._remarks.add(tree.line, "Model_Specific comes before Reserved_Parameters")

    def _below(self, head: Branch, path: tuple[str, ...], *, reserved: bool) -> Iterator[Parameter]:
        for branch in head.branches:
            if not path and branch.name == "Description":
                continue
            if path and branch.name in LEAVES:
                if branch.name == "Description":
                    self.groups[path] = text_of(branch)
                continue
            inner = (*path, branch.name)
            if not branch.name:
                self._remarks.add(branch.line, "a branch without a name is not read")
            elif is_parameter(branch):
                if self._new(branch, inner, reserved=reserved):
                    yield parameter_of(branch, inner, reserved=reserved, remarks=self._remarks)
            elif branch.branches:
                yield from self._below(branch, inner, reserved=reserved)
            else:
                self._remarks.add(branch.line, f"{quoted(branch.name)} is neither a parameter nor a group of them")

    def _new(self, branch: Branch, path: tuple[str, ...], *, reserved: bool) -> bool:
        if (reserved, path) in self._seen:
            self._remarks.add(branch.line, f"a second parameter {quoted('/'.join(path))} is not read")
            return False
        self._seen.add((reserved, path))
        return True


def _check_reserved(parameters: tuple[Parameter, ...], line: int, remarks: Remarks) -> None:
    for known in parameters:
        if not known.reserved:
            continue
        rule = RESERVED.get(known.name)
        if rule is None or len(known.path) > 1:
            remarks.add(known.line, f"{quoted(known.shown)} is not a reserved parameter that is known here")
        elif rule.usages and known.usage not in rule.usages:
            ought = " or ".join(rule.usages)
            remarks.add(known.line, f"{known.name} has the usage {known.usage} where the standard has {ought}")
    names = {known.name for known in parameters if known.reserved}
    for name in ("Init_Returns_Impulse", "GetWave_Exists"):
        if name not in names:
            remarks.add(line, f"{name} is missing and counts as False")
