"""The values that can be set in many lanes at once: which there are, what they are now, and setting one. No widget."""

from collections.abc import Collection, Sequence
from typing import NamedTuple

from msgspec.structs import replace

from workbench.board.edits.checked import lane_number, refuse, sound
from workbench.board.edits.lanes import set_lanes
from workbench.board.library import builtin_profiles
from workbench.board.model import Board, Element, Lane, Run
from workbench.facts import fact_of

Value = str | float
"""A name, or for a length m."""


class LaneField(NamedTuple):
    """A value that lanes have.

    Attributes:
        kind: "profile", "transmitter", "receiver", "run" (the length of one run) or "line" (of all runs of a line).
        label: what it is called.
        key: the run's number from 1, or the line's name.
    """

    kind: str
    label: str
    key: str = ""

    @property
    def is_length(self) -> bool:
        """Whether its value is a length in m."""
        return self.kind in {"run", "line"}


def fields_of(board: Board, names: Collection[str]) -> tuple[LaneField, ...]:
    """Everything that can be set in some lanes."""
    lanes = _lanes(board, names)
    ends = tuple(LaneField(kind, fact_of(Lane, kind).label) for kind in ("profile", "transmitter", "receiver"))
    runs = [_runs(lane.path) for lane in lanes]
    numbers = range(1, max(map(len, runs), default=0) + 1)
    lines = dict.fromkeys(run.line for each in runs for run in each)
    return (
        *ends,
        *(LaneField("run", f"Length of run {n}{_only_line(runs, n)}", str(n)) for n in numbers),
        *(LaneField("line", f"Length of all {line} together", line) for line in lines),
    )


def choices_of(board: Board, field: LaneField) -> tuple[str, ...]:
    """The names that a field can be set to; for the profile "" is the board's own. Empty for a length."""
    if field.is_length:
        return ()
    if field.kind == "profile":
        ids = dict.fromkeys((*(profile.id for profile in board.profiles), *builtin_profiles()))
        return ("", *ids)
    return tuple(entry.name for entry in getattr(board.catalogue, f"{field.kind}s"))


def values_of(board: Board, names: Collection[str], field: LaneField) -> tuple[Value, ...]:
    """What a field is now in each of the lanes that have it."""
    lanes = _lanes(board, names)
    if not field.is_length:
        return tuple(getattr(lane, field.kind) or "" for lane in lanes)
    chosen = ([run.length_m for run in _chosen(_runs(lane.path), field).values()] for lane in lanes)
    return tuple(sum(lengths) for lengths in chosen if lengths)


def with_value(board: Board, names: Collection[str], field: LaneField, value: Value) -> Board:
    """The board with a field set in some lanes; those that have no such run stay as they are.

    Args:
        board: the board.
        names: the lanes.
        field: what is set.
        value: a name; for a length m. All runs of a line together keep their proportions.

    Raises:
        EditError: the value can't stand there, or none of the lanes has such a run.
    """
    if isinstance(value, str):
        if field.kind == "profile":
            return set_lanes(board, names, profile=value or None, board_profile=not value)
        if field.kind == "transmitter":
            return set_lanes(board, names, transmitter=value)
        return set_lanes(board, names, receiver=value)
    if not values_of(board, names, field):
        refuse(f"none of the lanes has a {field.label.lower()}", "choose another value to set")
    if not fact_of(Run, "length_m").allows(value):
        refuse(f"{value:g} m is not a length of a run", f"type one {fact_of(Run, 'length_m').range_text()}")
    numbers = {lane_number(board, name) for name in names}
    lanes = (
        replace(lane, path=_with_length(lane.path, field, value)) if number in numbers else lane
        for number, lane in enumerate(board.lanes)
    )
    return sound(replace(board, lanes=tuple(lanes)))


def _with_length(path: tuple[Element, ...], field: LaneField, length_m: float) -> tuple[Element, ...]:
    runs = _runs(path)
    chosen = _chosen(runs, field)
    total_m = sum(run.length_m for run in chosen.values())
    single = len(chosen) == 1
    made: list[Element] = []
    number = -1
    for element in path:
        number += isinstance(element, Run)
        if isinstance(element, Run) and number in chosen:
            share_m = length_m if single else length_m * element.length_m / total_m
            made.append(replace(element, length_m=share_m))
        else:
            made.append(element)
    return tuple(made)


def _chosen(runs: Sequence[Run], field: LaneField) -> dict[int, Run]:
    """The runs that a field is about, by their number from 0."""
    return {
        number: run
        for number, run in enumerate(runs)
        if (field.kind == "run" and number + 1 == int(field.key)) or (field.kind == "line" and run.line == field.key)
    }


def _only_line(runs: Sequence[Sequence[Run]], number: int) -> str:
    lines = {each[number - 1].line for each in runs if len(each) >= number}
    return f" ({lines.pop()})" if len(lines) == 1 else ""


def _runs(path: Collection[Element]) -> tuple[Run, ...]:
    return tuple(element for element in path if isinstance(element, Run))


def _lanes(board: Board, names: Collection[str]) -> tuple[Lane, ...]:
    wanted = frozenset(names)
    return tuple(lane for lane in board.lanes if lane.name in wanted)
