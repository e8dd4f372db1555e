"""The public interface explains itself: docstrings everywhere, units of physical numbers, errors by name.

The rules are the project's own (after the docstring tests of python-control and the unit suffixes of skyfield). Source
is read, not imported, so that a module that needs a window is walked too.
"""

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "workbench"

# What a docstring must hold where a parameter's name ends so. Names carry the unit; the docstring says it in full once.
WORDS = {
    "_hz": r"\bG?Hz\b",
    "_s": r"\bs\b|\bS\b|second|\bUI\b", "_m": r"\bm\b|metre", "_v": r"\bV\b|volt", "_ohm": r"\bohm\b",
    "_db": r"\bdB\b", "_f": r"\bF\b", "_h": r"\bH\b", "_bps": r"bits? per second|bit/s|b/s",
    "_db_per_m": r"\bdB/m\b", "_s_per_m": r"\bS/m\b", "_ohm_per_m": r"\bohm/m\b",
}  # fmt: skip
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


def modules() -> dict[str, ast.Module]:
    return {
        ".".join(path.relative_to(PACKAGE.parent).with_suffix("").parts): ast.parse(path.read_text(encoding="utf-8"))
        for path in sorted(PACKAGE.rglob("*.py"))
    }


MODULES = modules()
PUBLIC = [found for name, module in MODULES.items() for found in walk(module.body, name)]
FUNCTIONS = [found for found in PUBLIC if not isinstance(found.node, ast.ClassDef)]


def parameters(node: ast.FunctionDef | ast.AsyncFunctionDef) -> list[str]:
    named = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    return [argument.arg for argument in named if argument.arg not in {"self", "cls"}]


def unit_end(name: str) -> str | None:
    return next((end for end in sorted(WORDS, key=len, reverse=True) if name.endswith(end)), None)


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


def identity(found: Documented) -> str:
    return found.where.removeprefix("workbench.")


def test_the_walk_finds_the_package():
    assert len(MODULES) > 40
    assert {"workbench.parts.foil.Foil.skin_depth_m", "workbench.quantity.parse"} <= {found.where for found in PUBLIC}


@pytest.mark.parametrize("name", [name for name, module in MODULES.items() if module.body])
def test_every_module_says_what_it_is(name):
    assert ast.get_docstring(MODULES[name]), f"{name} has no docstring"


@pytest.mark.parametrize("found", PUBLIC, ids=identity)
def test_everything_public_has_a_docstring_of_a_sentence(found):
    first = found.text.split("\n\n")[0].strip()
    assert first, f"{found.where} has no docstring"
    assert first[-1] in ".:;)?!`" or first.endswith("..."), f"{found.where}: its first paragraph does not end"
    assert len(first) > 12


@pytest.mark.parametrize("found", [f for f in FUNCTIONS if len(parameters(f.node)) > MANY], ids=identity)
def test_many_parameters_are_listed_each(found):
    missing = [
        name for name in parameters(found.node)
        if name not in {"parts", "f_hz"} and not re.search(rf"(`|\b){re.escape(name)}(`|\b)", found.text)
    ]  # fmt: skip
    assert not missing, f"{found.where} does not speak of {', '.join(missing)}"


@pytest.mark.parametrize("found", FUNCTIONS, ids=identity)
def test_physical_parameters_have_their_unit_in_the_docstring(found):
    for name in parameters(found.node):
        end = unit_end(name)
        if end is not None:
            assert re.search(WORDS[end], found.text), f"{found.where}: the unit of {name} is not named"


@pytest.mark.parametrize("found", [f for f in FUNCTIONS if raised(f.node)], ids=identity)
def test_errors_that_a_function_raises_are_named(found):
    missing = [name for name in raised(found.node) if name not in found.text]
    assert not missing, f"{found.where} does not say that it raises {', '.join(sorted(missing))}"
