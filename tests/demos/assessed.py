"""The demo boards' assessments, each made once, and the blocks of README that show them."""

import re
from functools import cache
from pathlib import Path

from workbench.board.reading import load_board
from workbench.engine.assess import assess_board
from workbench.engine.assessment import Assessment
from workbench.resources import project


def path_of(name: str) -> Path:
    return project(f"{name}.board.json")


def readme_block(marker: str) -> str:
    """The fenced block that follows a marker in README."""
    readme = (Path(__file__).resolve().parents[2] / "README.md").read_text(encoding="utf-8")
    found = re.search(rf"<!-- {marker} -->\n```\w*\n(.*?)```", readme, flags=re.DOTALL)
    assert found is not None, f"README has no block marked {marker}"
    return found[1]


@cache
def found(name: str) -> Assessment:
    """A board's assessment, as the command gives it."""
    loaded = load_board(path_of(name))
    return assess_board(loaded.board, sha256=loaded.sha256)
