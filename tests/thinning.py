"""Which cases of a dear test stand in the default run: a few, or the cheap ones; the others are left to the campaigns.

`python -m pytest -m campaign` runs these, with `--drawn WORD` the tenth of them that the word draws.
"""

import hashlib
from collections.abc import Iterable
from typing import Any

import pytest

TENTH = 10


def some(cases: Iterable[Any], count: int) -> list[Any]:
    """All cases of a parametrization, of which `count` run by default; a case is one value or a tuple of values."""
    known = list(cases)
    kept = {round(n * (len(known) - 1) / max(count - 1, 1)) for n in range(count)}
    return [case if n in kept else _left(case) for n, case in enumerate(known)]


def sparing(cases: Iterable[Any], *dear: Any) -> list[Any]:
    """All cases of a parametrization, of which the dear ones, told by their first value, are left to the campaigns."""
    return [_left(case) if (case[0] if type(case) is tuple else case) in dear else case for case in cases]


def drawn(items: list[pytest.Item], word: str) -> tuple[list[pytest.Item], list[pytest.Item]]:
    """The tenth of the tests that a word draws, and the others."""
    order = sorted(items, key=lambda item: hashlib.sha256(f"{word} {item.nodeid}".encode()).digest())
    chosen = set(order[: -(-len(order) // TENTH)])
    return [item for item in items if item in chosen], [item for item in items if item not in chosen]


def _left(case: Any) -> Any:
    values = case if type(case) is tuple else (case,)  # a named tuple is one value
    return pytest.param(*values, marks=pytest.mark.campaign)
