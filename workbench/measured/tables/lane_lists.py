"""Lane lists: routed lengths (and lanes) from a CSV file or pasted spreadsheet cells into a board, as one edit.

Either the whole list is taken or none of it: a cell that is no length refuses it, with its line. What the list and the
board don't share is no error; the report names it.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

import msgspec
from msgspec.structs import replace

from workbench.board.edits.checked import lane_number, sound
from workbench.board.edits.devices import ChannelFinder
from workbench.board.edits.twins import twin
from workbench.board.model import Board, Element, Lane, Run
from workbench.errors import TableError
from workbench.facts import fact_of
from workbench.measured.tables.lane_columns import LanePattern, MatchedColumns, match_columns
from workbench.measured.tables.numerals import Cell, quantity_of
from workbench.measured.tables.reading import TextTable
from workbench.wording import near, quoted

_SAME_M = 1e-9
"""Lengths closer than this, in m, are one length: a unit turned to and fro leaves less."""


class LengthChange(msgspec.Struct, frozen=True, kw_only=True):
    """A run whose length the list changed: its line in the list, lane, place from 1, and lengths in m."""

    line: int
    lane: str
    place: int
    before_m: float
    after_m: float


class LeftOut(msgspec.Struct, frozen=True, kw_only=True):
    """A row that was not taken: its line, the name in it, and why in words."""

    line: int
    name: str
    why: str


class Skew(msgspec.Struct, frozen=True, kw_only=True):
    """How much longer, in m, the longer half of a pair is than the other."""

    lane: str
    skew_m: float


class ListedRun(msgspec.Struct, frozen=True, kw_only=True):
    """A column of lengths: its title, and the place of its run on the pattern's path, from 1."""

    title: str
    place: int


class BlankCell(msgspec.Struct, frozen=True, kw_only=True):
    """An empty length cell, whose run stays as it is: its line in the list and its column's title."""

    line: int
    title: str


class LaneListReport(msgspec.Struct, frozen=True, kw_only=True):
    """What a lane list did to a board, and what it and the board don't share.

    Attributes:
        source, sha256: the list's name and the SHA-256 of its bytes.
        pattern: the lane whose path was the pattern.
        names: title of the column with the names.
        runs: the columns of lengths.
        unused_columns: titles of the others.
        changed: lengths that changed.
        unchanged: lanes that had these lengths already.
        added: lanes that were made.
        devices: reference designators of devices that were fitted for them.
        left_out: rows that were not taken.
        blanks: the empty length cells.
        not_listed: lanes of the board that the list does not name.
        skews: of pairs whose two halves the list gives, in m.
    """

    source: str
    sha256: str
    pattern: str
    names: str
    runs: tuple[ListedRun, ...]
    unused_columns: tuple[str, ...]
    changed: tuple[LengthChange, ...]
    unchanged: tuple[str, ...]
    added: tuple[str, ...]
    devices: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    blanks: tuple[BlankCell, ...]
    not_listed: tuple[str, ...]
    skews: tuple[Skew, ...]


class ImportedLanes(NamedTuple):
    """The board with a lane list taken in, and the report."""

    board: Board
    report: LaneListReport


class _Listed(NamedTuple):
    """One lane of the list: its first line, its name, and the length in m by place of the pattern."""

    line: int
    name: str
    lengths_m: dict[int, float]
    skew_m: float | None = None


def take_lane_list(board: Board, table: TextTable, pattern: LanePattern) -> ImportedLanes:
    """The board with a list's lengths, and where wanted its new lanes.

    Args:
        board: the board.
        table: the list.
        pattern: how its columns match the path of one of the board's lanes.

    Raises:
        TableError: the list can't be read so; the sentence names the line.
        NotStatedError: a column or unit has to be stated.
        EditError: there is no such pattern lane, or the result would not be a sound board.
    """
    like = board.lanes[lane_number(board, pattern.lane)]
    matched = match_columns(table, like, pattern)
    blanks: list[BlankCell] = []
    listed = _listed(table, matched, blanks)
    left_out: list[LeftOut] = []
    if pattern.pair_ends is not None:
        listed = _paired(table, listed, pattern.pair_ends, left_out)
    _refuse_repeated(table, listed)
    taking = _Taking(board, like, pattern)
    left_out += [out for out in map(taking.take, listed) if out is not None]
    names = {row.name for row in listed}
    report = LaneListReport(
        source=table.source.name,
        sha256=table.source.sha256,
        pattern=pattern.lane,
        names=matched.names.title,
        runs=tuple(ListedRun(title=run.column.title, place=run.place) for run in matched.runs),
        unused_columns=tuple(column.title for column in matched.unused),
        changed=tuple(taking.changed),
        unchanged=tuple(taking.unchanged),
        added=tuple(lane.name for lane in taking.added),
        devices=tuple(device.ref for device in taking.fitting.added),
        left_out=tuple(sorted(left_out, key=lambda out: out.line)),
        blanks=tuple(blanks),
        not_listed=tuple(lane.name for lane in board.lanes if lane.name not in names),
        skews=tuple(Skew(lane=row.name, skew_m=row.skew_m) for row in listed if row.skew_m is not None),
    )
    return ImportedLanes(taking.board(), report)


def lane_list_edit(table: TextTable, pattern: LanePattern) -> Callable[[Board], Board]:
    """The list as one edit, a function from a board to a new one; it raises what `take_lane_list` does."""
    return lambda board: take_lane_list(board, table, pattern).board


def _listed(table: TextTable, matched: MatchedColumns, blanks: list[BlankCell]) -> list[_Listed]:
    fact = fact_of(Run, "length_m")
    found = []
    for line, row in zip(table.lines, table.rows, strict=True):
        name = row[matched.names.at].strip()
        if not name:
            raise TableError(table.source.name, line, "the lane has no name", "fill the cell, or remove the line")
        lengths: dict[int, float] = {}
        for run in matched.runs:
            cell = Cell(line, row[run.column.at])
            if not cell.text.strip():
                blanks.append(BlankCell(line=line, title=run.column.title))
                continue
            what = f"the length in {quoted(run.column.title)}"
            value = quantity_of(cell, table.decimal, table.source.name, what, unit="m", bare_unit=run.unit)
            if not fact.allows(value):
                problem = f"{what} is {quoted(cell.text.strip())}"
                raise TableError(table.source.name, line, problem, f"write a length {fact.range_text()}")
            lengths[run.place] = value
        found.append(_Listed(line, name, lengths))
    return found


def _paired(
    table: TextTable, listed: Sequence[_Listed], ends: tuple[str, str], left_out: list[LeftOut]
) -> list[_Listed]:
    """Pairs of the two halves' rows: their mean lengths, at the line of the first."""
    halves: dict[str, dict[str, _Listed]] = {}
    whole: list[_Listed] = []
    for row in listed:
        end = next((end for end in ends if end and row.name.endswith(end) and row.name != end), None)
        if end is None:
            whole.append(row)
            continue
        pair = halves.setdefault(row.name.removesuffix(end), {})
        if end in pair:
            _refuse_repeated(table, [pair[end], row])
        pair[end] = row
    for name, pair in halves.items():
        if len(pair) == 2:
            whole.append(_mean(name, *pair.values()))
            continue
        (alone,) = pair.values()
        left_out.append(LeftOut(line=alone.line, name=alone.name, why="the other half of the pair is not in the list"))
    return sorted(whole, key=lambda row: row.line)


def _mean(name: str, one: _Listed, other: _Listed) -> _Listed:
    both = one.lengths_m.keys() & other.lengths_m.keys()
    lengths = {place: (one.lengths_m[place] + other.lengths_m[place]) / 2.0 for place in sorted(both)}
    skew_m = abs(sum(one.lengths_m[place] - other.lengths_m[place] for place in both))
    return _Listed(min(one.line, other.line), name, lengths, skew_m)


def _refuse_repeated(table: TextTable, listed: Sequence[_Listed]) -> None:
    first: dict[str, int] = {}
    for row in listed:
        if row.name in first:
            problem = f"lane {quoted(row.name)} stands in line {first[row.name]} already"
            raise TableError(table.source.name, row.line, problem, "remove one of the two lines")
        first[row.name] = row.line


class _Taking:
    """The board while rows are taken into it; checked once, at the end."""

    def __init__(self, board: Board, like: Lane, pattern: LanePattern) -> None:
        self._board = board
        self._like = like
        self._pattern = pattern
        self._lanes = {lane.name: lane for lane in board.lanes}
        self.fitting = ChannelFinder(board)
        self.changed: list[LengthChange] = []
        self.unchanged: list[str] = []
        self.added: list[Lane] = []

    def take(self, row: _Listed) -> LeftOut | None:
        """Take one row; what it returns was left out."""
        lane = self._lanes.get(row.name)
        if lane is not None:
            return self._set(lane, row)
        if not self._pattern.add:
            meant = near(row.name, tuple(self._lanes))
            also = f"; did you mean {quoted(meant)}" if meant else ""
            return LeftOut(line=row.line, name=row.name, why=f"the board has no such lane{also}")
        path = tuple(map(self.fitting.like, self._like.path))
        self.added.append(replace(self._like, name=row.name, path=_with_lengths(path, row.lengths_m)))
        return None

    def board(self) -> Board:
        """The board with all that was taken; raises EditError where it is not sound."""
        lanes = tuple(self._lanes[lane.name] for lane in self._board.lanes)
        if not self.changed and not self.added:
            return self._board
        return sound(replace(self._board, lanes=(*lanes, *self.added), devices=tuple(self.fitting.devices)))

    def _set(self, lane: Lane, row: _Listed) -> LeftOut | None:
        places: dict[int, float] = {}
        for place, length_m in row.lengths_m.items():
            at = twin(self._board, self._like.name, place - 1, lane.name)
            if at is None:
                why = f"its path has no run that corresponds to element {place} of {quoted(self._like.name)}"
                return LeftOut(line=row.line, name=row.name, why=why)
            places[at + 1] = length_m
        changes = [
            LengthChange(line=row.line, lane=lane.name, place=place, before_m=run.length_m, after_m=length_m)
            for place, length_m in places.items()
            if isinstance(run := lane.path[place - 1], Run) and abs(run.length_m - length_m) > _SAME_M
        ]
        if changes:
            self.changed += changes
            new = {change.place: change.after_m for change in changes}
            self._lanes[lane.name] = replace(lane, path=_with_lengths(lane.path, new))
        else:
            self.unchanged.append(lane.name)
        return None


def _with_lengths(path: tuple[Element, ...], lengths_m: dict[int, float]) -> tuple[Element, ...]:
    """The path with some runs' lengths in m set, by place from 1."""
    return tuple(
        replace(item, length_m=lengths_m[place]) if isinstance(item, Run) and place in lengths_m else item
        for place, item in enumerate(path, 1)
    )
