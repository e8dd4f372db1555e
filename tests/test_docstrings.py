"""The public interface explains itself: docstrings everywhere, units of physical numbers, shapes of arrays, errors.

The rules are the project's own (after the docstring tests of python-control and the unit suffixes of skyfield). Source
is read, not imported, so that a module that needs a window is walked too. Each rule is one test, which lists what
breaks it.
"""

import ast
import re
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import NamedTuple

PACKAGE = Path(__file__).resolve().parent.parent / "workbench"

# What a docstring must hold where a parameter's name ends so. Names carry the unit; the docstring says it in full once.
WORDS = {
    "_hz": r"\bG?Hz\b",
    "_s": r"\bs\b|\bS\b|second|\bUI\b", "_m": r"\bm\b|metre", "_v": r"\bV\b|volt", "_ohm": r"\bohm\b",
    "_db": r"\bdB\b", "_f": r"\bF\b", "_h": r"\bH\b", "_bps": r"bits? per second|bit/s|b/s",
    "_db_per_m": r"\bdB/m\b", "_s_per_m": r"\bS/m\b", "_ohm_per_m": r"\bohm/m\b",
}  # fmt: skip
# The program's names of arrays (`workbench.arrays`), and what says a shape: the word, or a tuple of sizes.
ARRAYS = re.compile(r"\b(Floats|Complexes|Integers|Indices|Bools|Bits|Bytes|Samples|NDArray|ndarray)\b")
SHAPE = re.compile(r"\bshapes?\b|\(\w+,\)|\(\w+(, \w+)+\)")
# More parameters than these need a word each.
MANY = 4


class Documented(NamedTuple):
    """One public function, class or method."""

    where: str
    node: ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef
    owner: str | None

    @property
    def text(self) -> str:
        return ast.get_docstring(self.node) or ""


def walk(body: list[ast.stmt], where: str, owner: str | None = None) -> Iterator[Documented]:
    for node in body:
        if not isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef) or node.name.startswith("_"):
            continue
        yield Documented(f"{where}.{node.name}", node, owner)
        if isinstance(node, ast.ClassDef):
            yield from walk(node.body, f"{where}.{node.name}", node.name)


@cache
def modules() -> dict[str, ast.Module]:
    """Read by the first test, not while tests are gathered: only one process runs them."""
    return {
        ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(PACKAGE.rglob("*.py"))
    }


@cache
def public() -> list[Documented]:
    return [found for name, module in modules().items() for found in walk(module.body, name)]


def functions() -> list[Documented]:
    return [found for found in public() if not isinstance(found.node, ast.ClassDef)]


def parameters(node: ast.FunctionDef | ast.AsyncFunctionDef, *, every: bool = False) -> list[str]:
    """Names of the parameters; `every` one, or those alone that aren't collected."""
    named = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    if every:
        named += [argument for argument in (node.args.vararg, node.args.kwarg) if argument is not None]
    return [argument.arg for argument in named if argument.arg not in {"self", "cls"}]


def listed_parameters(text: str) -> set[str]:
    """What a docstring's `Args` lists, several names of one line apart."""
    section = re.search(r"^Args:\n((?: +.*\n?|\n)*)", text, re.MULTILINE)
    lines = section[1].splitlines() if section else []
    named = (re.match(r" {4}(\*{0,2}\w+(?:, \*{0,2}\w+)*):", line) for line in lines)
    return {name.strip(" *") for found in named if found for name in found[1].split(",")}


def unit_end(name: str) -> str | None:
    return next((end for end in sorted(WORDS, key=len, reverse=True) if name.endswith(end)), None)


def has_arrays(node: ast.FunctionDef | ast.AsyncFunctionDef) -> bool:
    named = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    written = [*(argument.annotation for argument in named), node.returns]
    return any(ARRAYS.search(ast.unparse(annotation)) for annotation in written if annotation is not None)


def raised(node: ast.FunctionDef | ast.AsyncFunctionDef) -> set[str]:
    """Exceptions that a function's own statements raise by name, nested functions left out."""
    found, pending = set(), list(node.body)
    while pending:
        item = pending.pop()
        if isinstance(item, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
            continue
        if isinstance(item, ast.Raise) and isinstance(item.exc, ast.Call) and isinstance(item.exc.func, ast.Name):
            found.add(item.exc.func.id)
        pending += ast.iter_child_nodes(item)
    return {name for name in found if name.endswith("Error") and not name.startswith("_")} - {"NotImplementedError"}


def listed(broken: Iterable[str]) -> str:
    """A message that shows each on its own line."""
    return "\n".join(["", *broken])


def test_the_walk_finds_the_package():
    assert len(modules()) > 40
    assert {"workbench.parts.lines.foil.Foil.skin_depth_m", "workbench.quantity.parse"} <= {
        found.where for found in public()
    }


def test_every_module_says_what_it_is():
    silent = [name for name, module in modules().items() if module.body and not ast.get_docstring(module)]
    assert not silent, listed(silent)


def test_everything_public_has_a_docstring_of_a_sentence():
    first = {found.where: found.text.split("\n\n")[0].strip() for found in public()}
    short = [where for where, text in first.items() if len(text) <= 12 or text[-1] not in ".:;)?!`"]
    assert not short, listed(short)


def test_many_parameters_are_listed_each():
    missing = [
        f"{found.where}: {name}" for found in functions() if len(parameters(found.node)) > MANY
        for name in parameters(found.node)
        if name not in {"parts", "f_hz"} and not re.search(rf"(`|\b){re.escape(name)}(`|\b)", found.text)
    ]  # fmt: skip
    assert not missing, listed(missing)


def test_listed_parameters_are_those_that_there_are():
    strange = [
        f"{found.where}: {name}" for found in functions()
        for name in listed_parameters(found.text) - set(parameters(found.node, every=True))
    ]  # fmt: skip
    assert not strange, listed(strange)


def test_physical_parameters_have_their_unit_in_the_docstring():
    missing = [
        f"{found.where}: {name}" for found in functions() for name in parameters(found.node)
        if (end := unit_end(name)) is not None and not re.search(WORDS[end], found.text)
    ]  # fmt: skip
    assert not missing, listed(missing)


def test_arrays_have_their_shape_in_the_docstring():
    of_arrays = [found for found in functions() if has_arrays(found.node)]
    assert len(of_arrays) > 200
    missing = [found.where for found in of_arrays if not SHAPE.search(found.text)]
    assert not missing, listed(missing)


def test_errors_that_a_function_raises_are_named():
    missing = [
        f"{found.where}: {name}" for found in functions() for name in sorted(raised(found.node))
        if name not in found.text
    ]  # fmt: skip
    assert not missing, listed(missing)
