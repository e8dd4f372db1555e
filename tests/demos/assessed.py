"""The demo boards' assessments, each made once."""

from functools import cache
from pathlib import Path

from workbench.board.reading import load_board
from workbench.engine.assess import assess_board
from workbench.engine.assessment import Assessment
from workbench.resources import project


def path_of(name: str) -> Path:
    return project(f"{name}.board.json")


@cache
def found(name: str) -> Assessment:
    """A board's assessment, as the command gives it."""
    loaded = load_board(path_of(name))
    return assess_board(loaded.board, sha256=loaded.sha256)
