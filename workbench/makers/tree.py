"""The trees of brackets that IBIS-AMI writes parameters as: ``(name (leaf value) ...)``.

Comments run from ``|`` to the line's end, text in double quotes may hold brackets and bars, white space is free (BIRD
114.3 and BIRD 139.2 of the IBIS Open Forum).
"""

import re
from typing import NamedTuple

from workbench.errors import ModelError
from workbench.makers.remarks import Remarks
from workbench.wording import quoted

MOST_CHARACTERS = 2**21
MOST_ATOMS = 200_000
DEEPEST = 40

_TOKEN = re.compile(r'[ \t\r\f\v]+|\n|\|[^\n]*|[()]|"[^"]*"|"|[^\s()"|]+')


class Atom(NamedTuple):
    """A word, a number or a text.

    Attributes:
        text: without its quotes.
        quoted: whether it stood in quotes.
        line: in the file, from 1.
    """

    text: str
    quoted: bool
    line: int


class Branch(NamedTuple):
    """What stands between two brackets.

    Attributes:
        items: atoms and branches in their order; the first atom, if it comes first, is the name.
        line: where it opens, from 1.
    """

    items: tuple["Atom | Branch", ...]
    line: int

    @property
    def name(self) -> str:
        """The name; "" where a branch or nothing comes first."""
        return self.items[0].text if self.items and isinstance(self.items[0], Atom) else ""

    @property
    def atoms(self) -> tuple[Atom, ...]:
        """The atoms after the name."""
        return tuple(item for item in self.items[1:] if isinstance(item, Atom))

    @property
    def branches(self) -> tuple["Branch", ...]:
        """The branches inside."""
        return tuple(item for item in self.items if isinstance(item, Branch))

    def child(self, name: str) -> "Branch | None":
        """The first branch inside of that name."""
        return next((branch for branch in self.branches if branch.name == name), None)


def read_tree(text: str, source: str, remarks: Remarks) -> Branch:
    """The one tree that a text holds.

    Args:
        text: the text, lines ended by LF, CR LF or CR.
        source: the file's name, for refusals.
        remarks: takes what is odd and read all the same.

    Raises:
        ModelError: brackets that don't match, no tree at all, or one beyond the limits of size and depth.
    """
    if len(text) > MOST_CHARACTERS:
        raise ModelError(
            f"{source} has {len(text):,} characters, more than the {MOST_CHARACTERS:,} that are read; see whether it "
            "is the parameter file"
        )
    found = _Reading(source, remarks).trees(text.replace("\r\n", "\n").replace("\r", "\n"))
    if not found:
        raise ModelError(f"{source}: there is no tree of brackets in it; see whether it is the parameter file (.ami)")
    for extra in found[1:]:
        remarks.add(extra.line, f"a second tree, {quoted(extra.name)}, is not read")
    return found[0]


class _Reading:
    """Brackets matched by a list of open ones, so that no depth of nesting needs a deep call."""

    def __init__(self, source: str, remarks: Remarks) -> None:
        self._source, self._remarks = source, remarks
        self._open: list[tuple[list[Atom | Branch], int]] = []
        self._done: list[Branch] = []
        self._count = 0
        self._line = 1

    def trees(self, text: str) -> list[Branch]:
        for match in _TOKEN.finditer(text):
            token = match.group()
            if token == "\n":
                self._line += 1
            elif token[0] not in " \t\r\f\v|":
                self._take(token)
        if self._open:
            _, line = self._open[-1]
            raise ModelError(f"{self._source}, line {line}: the bracket that opens here is not closed; close it")
        return self._done

    def _take(self, token: str) -> None:
        if token == "(":
            self._count_one()
            if len(self._open) >= DEEPEST:
                raise self._refusal(f"brackets nest deeper than {DEEPEST} here", "see whether one is missing before")
            self._open.append(([], self._line))
        elif token == ")":
            self._close()
        elif token == '"':
            raise self._refusal("the text that begins here has no closing quote", "close it")
        else:
            self._atom(token)

    def _close(self) -> None:
        if not self._open:
            raise self._refusal("a bracket closes here that none opens", "remove it, or open it")
        items, line = self._open.pop()
        branch = Branch(tuple(items), line)
        if self._open:
            self._open[-1][0].append(branch)
        else:
            self._done.append(branch)

    def _atom(self, token: str) -> None:
        self._count_one()
        in_quotes = token[0] == '"'
        atom = Atom(" ".join(token[1:-1].split("\n")) if in_quotes else token, in_quotes, self._line)
        lines = token.count("\n")
        if lines:
            self._remarks.add(self._line, "a text over several lines is read as one")
            self._line += lines
        if self._open:
            self._open[-1][0].append(atom)
        else:
            self._remarks.add(self._line, f"{quoted(atom.text)} stands outside all brackets and is not read")

    def _count_one(self) -> None:
        self._count += 1
        if self._count > MOST_ATOMS:
            raise self._refusal(f"it has more than {MOST_ATOMS:,} words", "see whether it is the parameter file (.ami)")

    def _refusal(self, problem: str, remedy: str) -> ModelError:
        return ModelError(f"{self._source}, line {self._line}: {problem}; {remedy}")
