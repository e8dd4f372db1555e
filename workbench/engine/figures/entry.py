"""What is told of a figure: its entry, which holds for any lane, and its inputs, which are one lane's."""

import re
from collections.abc import Callable
from typing import Any, Literal, NamedTuple

import msgspec

from workbench.board.model import Board, Lane
from workbench.board.profile import Profile
from workbench.board.sourced import Sourced
from workbench.engine.assessment import LaneAssessment
from workbench.engine.figures.expression import Expression, Symbol, Value
from workbench.engine.lane.lane import Observed
from workbench.engine.lane.path import LanePlan
from workbench.engine.memo import Memo
from workbench.facts import fact_of
from workbench.parts.record import Record

At = tuple[int, ...]
"""Which of several a figure is: the numbers in its path, from 0."""

Origin = Literal[
    "catalogue", "default", "profile", "board", "asked", "figure", "lane", "intermediate", "program", "file"
]  # fmt: skip
"""What kind of place a number comes from; "lane": a lane's assessment, beside an answer that is no lane's; "file": a
file that was read."""


class ExplainedLane(NamedTuple):
    """One lane with all that was found for it.

    Attributes:
        board, lane, plan: as the board has it, and resolved.
        memo: the store of known results.
        found: its assessment.
        observed: what stands at the probe point.
        values: the assessment as plain dictionaries and lists, with ``path``, each element's loss at Nyquist.
    """

    board: Board
    lane: Lane
    plan: LanePlan
    memo: Memo
    found: LaneAssessment
    observed: Observed
    values: dict[str, Any]


class FigureInput(msgspec.Struct, frozen=True, kw_only=True):
    """One input of a figure.

    Attributes:
        symbol: as the formula has it.
        meaning: a few words.
        value: in `unit`; several where the symbol has an index.
        unit: SI unit, "" for a bare ratio.
        origin: what kind of place it comes from.
        where: that place: a path into the catalogue or the board, a profile's field, another figure's path.
        source, status: of a profile's number.
    """

    symbol: str
    meaning: str
    value: Value
    unit: str
    origin: Origin
    where: str
    source: str = ""
    status: str = ""


class Check(msgspec.Struct, frozen=True):
    """A test that holds the figure against something: its node id, what it is held against, how near it has to come."""

    test: str
    source: str
    tolerance: str


def anywhere(case: ExplainedLane, at: At) -> bool:
    """For an entry that holds for every lane."""
    del case, at
    return True


class FigureFacts(msgspec.Struct, frozen=True, kw_only=True):
    """What is told of a figure wherever it stands.

    Attributes:
        key: its key in the JSON, ``[]`` where there are several.
        word: a short name for it, "" where the key is short enough.
        meaning: one sentence.
        unit: SI unit of the value.
        symbol: what it is called in formulas.
        formula: what it equals; None where it is taken as it stands.
        method: how it is found, where the formula names a numerical method.
        holds: the range in which it holds.
        checks: what it was checked against.
        off: how far it can be off.
    """

    key: str
    meaning: str
    unit: str
    symbol: Symbol
    checks: tuple[Check, ...]
    off: str
    formula: Expression | None = None
    method: str = ""
    word: str = ""
    holds: str = "every lane"


class FigureEntry(FigureFacts, frozen=True, kw_only=True):
    """The entry of a lane's figure.

    Attributes:
        inputs: its inputs for a lane.
        outside: the rules of the findings that say that a lane is outside the range.
        unit_at: the unit where that differs from one to the next.
        applies: whether this entry is the one for a lane, where a key has several.
    """

    inputs: Callable[[ExplainedLane, At], list[FigureInput]]
    outside: tuple[str, ...] = ()
    unit_at: Callable[[ExplainedLane, At], str] | None = None
    applies: Callable[[ExplainedLane, At], bool] = anywhere


def path_of(key: str, at: At) -> str:
    """A key with its numbers: ``spans[].loss_db`` and (1,) give ``spans[1].loss_db``; a list is named by its key."""
    numbers = iter(at)
    numbered = re.sub(r"\[\]", lambda _: f"[{next(numbers, '')}]", key)
    return numbered.removesuffix("[]")


def figure_at(case: ExplainedLane, path: str) -> float | tuple[float, ...] | None:
    """The figure that stands at a path of the lane's JSON.

    Raises:
        KeyError: there is nothing at that path.
    """
    here: Any = case.values
    for step in re.findall(r"[^.\[\]]+", path):
        try:
            here = here[int(step)] if isinstance(here, list | tuple) else here[step]
        except (IndexError, TypeError, ValueError) as error:
            raise KeyError(path) from error
    return tuple(here) if isinstance(here, list) else here


def of_figure(case: ExplainedLane, symbol: Symbol, meaning: str, unit: str, *paths: str) -> FigureInput:
    """Another figure of the lane as an input; several where the symbol has an index."""
    found = [figure_at(case, path) for path in paths]
    value: Any = tuple(found) if symbol.indexed and not isinstance(next(iter(found), None), tuple) else found[0]
    return FigureInput(
        symbol=symbol.name, meaning=meaning, value=value, unit=unit, origin="figure", where=", ".join(paths)
    )  # fmt: skip


def of_field(symbol: Symbol, section: str, record: Record, field: str) -> FigureInput:
    """A field of a catalogue entry as an input."""
    fact, value = fact_of(type(record), field), getattr(record, field)
    name = getattr(record, "name", "")
    return FigureInput(
        symbol=symbol.name, meaning=f"{fact.label.lower()} of {name}", value=value, unit=fact.unit,
        origin="default" if value == fact.default else "catalogue", where=f"{section}/{name}/{field}",
    )  # fmt: skip


def of_profile(
    symbol: Symbol, meaning: str, unit: str, profile: Profile, *, field: str, number: Sourced
) -> FigureInput:
    """A profile's number as an input.

    Args:
        symbol: what it is called in the formula.
        meaning: a few words.
        unit: SI unit of the number.
        profile: the profile.
        field: where in the profile it stands.
        number: the number with its source.
    """
    return FigureInput(
        symbol=symbol.name, meaning=meaning, value=number.value, unit=unit, origin="profile",
        where=f"{profile.id}/{field}", source=number.source, status=number.status,
    )  # fmt: skip


def on_the_way(symbol: Symbol, meaning: str, value: Value, unit: str, where: str) -> FigureInput:
    """An intermediate result as an input.

    Args:
        symbol: what it is called in the formula.
        meaning: a few words.
        value: in `unit`.
        unit: SI unit, "" for a bare ratio.
        where: what it is computed from.
    """
    return FigureInput(
        symbol=symbol.name, meaning=meaning, value=value, unit=unit, origin="intermediate", where=where
    )  # fmt: skip
