"""Two boards, or two versions of one: what changed in the design, and what each change did to the margin of each lane.

Each change is told twice: what it does to the first board alone, and what taking it back does to the second. Where the
two differ, changes work together.
"""

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import msgspec

from workbench.board.checking import check
from workbench.board.edits.changes import changed
from workbench.board.model import Board
from workbench.errors import StudyError
from workbench.studies.comparison.differences import TakeableDifference, TakenOver, differences
from workbench.studies.figures import LaneFigures
from workbench.studies.pool.jobs import Assess, Basis
from workbench.studies.pool.running import UNHURRIED, Effort, answer_jobs
from workbench.studies.record import AnswerOrigin, made_of, sha256_of
from workbench.wording import any_of, quoted

NOTHING_GUARDS = 1e-6
"""Less is rounding."""


class ChangeEffect(msgspec.Struct, frozen=True, kw_only=True):
    """What a change does to a lane, guard bands.

    Attributes:
        lane: its name.
        into_first_guards: margin that the first board gains by this change alone.
        out_of_second_guards: margin that the second board would lose without it; None where it can't be taken back.
    """

    lane: str
    into_first_guards: float
    out_of_second_guards: float | None


class Changed(msgspec.Struct, frozen=True, kw_only=True):
    """A change of the design and its effects.

    Attributes:
        where, name, kind, said: the difference; see `differences.TakeableDifference`.
        effects: on the lanes that it reaches.
        apart: "" or why it can't be separated, as a sentence.
    """

    where: str
    name: str
    kind: str
    said: tuple[str, ...]
    effects: tuple[ChangeEffect, ...]
    apart: str


class LaneChange(msgspec.Struct, frozen=True, kw_only=True):
    """A lane on both boards; None where a board does not have it.

    Attributes:
        lane: its name.
        first, second: its figures on either board.
        gained_guards, gained_height_v, gained_width_ui: what the second has more; None where only one has the lane.
    """

    lane: str
    first: LaneFigures | None
    second: LaneFigures | None
    gained_guards: float | None = None
    gained_height_v: float | None = None
    gained_width_ui: float | None = None

    @classmethod
    def of(cls, lane: str, first: LaneFigures | None, second: LaneFigures | None) -> "LaneChange":
        """A lane with what it gained."""
        if first is None or second is None:
            return cls(lane=lane, first=first, second=second)
        return cls(
            lane=lane, first=first, second=second, gained_guards=second.margin_guards - first.margin_guards,
            gained_height_v=second.height_v - first.height_v, gained_width_ui=second.width_ui - first.width_ui,
        )  # fmt: skip


class TraceGain(NamedTuple):
    """What a trace has beyond one that it is compared with, in `unit`: `now` less `before`."""

    label: str
    unit: str
    now: float
    before: float

    @property
    def gained(self) -> float:
        """The difference."""
        return self.now - self.before


class CompareAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What a comparison found.

    Attributes:
        made: which board and program it is of: the second, which the first became.
        first, first_sha256: the first board's title and its file's SHA-256.
        lanes: every lane of either board.
        changes: every difference, with what it did.
    """

    made: AnswerOrigin
    first: str
    first_sha256: str
    lanes: tuple[LaneChange, ...]
    changes: tuple[Changed, ...]


def compare_boards(
    first: Basis, second: Basis, *, lanes: Sequence[str] | None = None, effort: Effort = UNHURRIED
) -> CompareAnswer:
    """Compare two boards.

    Args:
        first: the board before; where and at which error ratio lanes are judged.
        second: the board after.
        lanes: the lanes wanted; None: all of either board.
        effort: how it is carried out.

    Raises:
        StudyError: neither board has a lane that is wanted, or nothing was known when it was cancelled.
    """
    names = _wanted(first.board, second.board, lanes)
    found = differences(first.board, second.board)
    jobs = _Jobs(first.board, second.board, found, names)
    outcome = answer_jobs(first, jobs.jobs, effort)
    if jobs.missing(outcome.results):
        raise StudyError(f"{outcome.stopped}, too few to answer anything; let it run longer")
    figures = jobs.figures(outcome.results)
    return CompareAnswer(
        made=made_of(second, [outcome]),
        first=first.board.title,
        first_sha256=first.sha256 or sha256_of(first.board),
        lanes=tuple(
            LaneChange.of(name, figures[_FIRST].get(name), figures[_SECOND].get(name)) for name in names
        ),
        changes=tuple(jobs.changed(at, one, figures) for at, one in enumerate(found)),
    )


_FIRST, _SECOND = "first", "second"
Figures = Mapping[tuple[str, int] | str, Mapping[str, LaneFigures]]


class _Jobs:
    """The variants that a comparison assesses: the first board with all, one, or all but one of the differences."""

    def __init__(self, first: Board, second: Board, found: Sequence[TakeableDifference], names: Sequence[str]) -> None:
        self.jobs: list[Assess] = []
        self._keys: list[tuple[str, int] | str] = []
        self._apart: dict[int, str] = {}
        # What is new has no effect of its own, but what is changed may name it.
        new = tuple(one.taken for one in found if one.kind == "added" and one.where != "lane")
        everything = (*new, *(one.taken for one in found if one.kind != "removed"))
        of_first, of_second = ({lane.name for lane in board.lanes} for board in (first, second))
        self._add(_FIRST, (), [name for name in names if name in of_first])
        self._add(_SECOND, everything, [name for name in names if name in of_second])
        both = [name for name in names if name in of_first and name in of_second]
        for at, one in enumerate(found):
            if one.kind != "changed" or not both:
                continue
            self._apart[at] = _unsound(changed(first, (*new, one.taken)))
            if self._apart[at]:
                continue
            self._add(("into", at), (*new, one.taken), both)
            others = (*new, *(other.taken for other in found if other is not one and other.kind != "removed"))
            if not _unsound(changed(first, others)):
                self._add(("out", at), others, both)

    def _add(self, key: tuple[str, int] | str, taken: tuple[TakenOver, ...], lanes: Sequence[str]) -> None:
        if lanes:
            self.jobs.append(Assess(number=len(self.jobs), changes=taken, lanes=tuple(lanes)))
            self._keys.append(key)

    def missing(self, results: Mapping[int, Any]) -> bool:
        """Whether one of the two boards was not assessed."""
        return any(job.number not in results for job, key in zip(self.jobs, self._keys, strict=True) if key in _ENDS)

    def figures(self, results: Mapping[int, Any]) -> Figures:
        """By what was assessed, the figures by lane."""
        known: dict[tuple[str, int] | str, dict[str, LaneFigures]] = {_FIRST: {}, _SECOND: {}}
        for job, key in zip(self.jobs, self._keys, strict=True):
            if job.number in results:
                known[key] = {one.lane: one for one in results[job.number]}
        return known

    def changed(self, at: int, one: TakeableDifference, figures: Figures) -> Changed:
        """A difference with its effects."""
        into, out = figures.get(("into", at), {}), figures.get(("out", at), {})
        effects = []
        for lane, found in into.items():
            gained = found.margin_guards - figures[_FIRST][lane].margin_guards
            lost = figures[_SECOND][lane].margin_guards - out[lane].margin_guards if lane in out else None
            if max(abs(gained), abs(lost or 0.0)) > NOTHING_GUARDS:
                effects.append(ChangeEffect(lane=lane, into_first_guards=gained, out_of_second_guards=lost))
        return Changed(
            where=one.where, name=one.name, kind=one.kind, said=one.said, effects=tuple(effects),
            apart=self._apart.get(at, ""),
        )  # fmt: skip


_ENDS = (_FIRST, _SECOND)


def _unsound(board: Board) -> str:
    """Why a board with one change can't be assessed; "" where it can. A channel held twice does not matter here."""
    for fault in check(board):
        if not fault.place.endswith(".channel"):
            return f"{fault.problem}; it goes together with other changes"
    return ""


def _wanted(first: Board, second: Board, lanes: Sequence[str] | None) -> tuple[str, ...]:
    names = tuple(dict.fromkeys(lane.name for board in (first, second) for lane in board.lanes))
    for name in lanes or ():
        if name not in names:
            raise StudyError(f"neither board has a lane {quoted(name)}; choose {any_of(names)}")
    if not names:
        raise StudyError("neither board has a lane; add one first")
    return names if lanes is None else tuple(dict.fromkeys(lanes))
