"""Studies that were asked for in the window: those that wait, the one that runs, those that were answered."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, Literal

from workbench.board.kept_answer import KeptAnswer
from workbench.board.model import Board
from workbench.board.writing import design_sha256
from workbench.quantity import show
from workbench.studies.kinds.fields import at_gap
from workbench.studies.pool.jobs import Basis
from workbench.studies.presentation import Presentation
from workbench.studies.study import Study, Values

Edit = Callable[[Board], Board]

MOST_ANSWERS = 20
"""More are not held; the oldest goes first."""
_APPLIED = "Applied. "
_ENDED = ("answered", "failed")
State = Literal["waiting", "running", "answered", "failed"]


@dataclass(eq=False)
class AskedStudy:
    """One study about one thing.

    Attributes:
        study, subject, typed, values: what was asked.
        basis: the board it is asked of.
        gap_m: as if every gap between neighbours were so wide, m; None: as the board has them.
        state: where it stands.
        shown: its answer as far as it is, as it is shown.
        answer: the answer itself.
        sentence: what is said of it.
        of: the board that the answer speaks of: the one that was open, or what applying it made of that.
    """

    study: Study
    subject: str
    typed: str
    values: Values
    basis: Basis
    gap_m: float | None = None
    state: State = "waiting"
    shown: Presentation | None = None
    answer: Any = None
    sentence: str = ""
    of: Board | None = field(default=None)

    @property
    def name(self) -> str:
        """What it is called among the answers."""
        return f"{self.study.title}: {self.subject}{gap_words(self.gap_m)}"

    @property
    def label(self) -> str:
        """Its name with where it stands."""
        return self.name if self.state == "answered" else f"{self.name} ({self.state})"

    def is_about(self, study: Study, subject: str, typed: str) -> bool:
        """Whether it asks the same, at whatever gap."""
        return (self.study.word, self.subject, self.typed) == (study.word, subject, typed)

    def asks_the_same(self, other: "AskedStudy") -> bool:
        """Whether another asks the same, at the same gap."""
        return self.is_about(other.study, other.subject, other.typed) and self.gap_m == other.gap_m

    def edited(self, edit: Edit) -> Edit:
        """An edit that the answer offers, with the gap that it was answered at."""
        gap_m = self.gap_m
        return edit if gap_m is None else lambda board: edit(at_gap(board, gap_m))

    def is_stale(self, board: Board) -> bool:
        """Whether the board is another one by now than the answer speaks of."""
        of = self.of if self.of is not None else self.basis.board
        return board is not of and board != of

    def grow(self, answer: Any) -> Presentation:  # noqa: ANN401 - every study has its own answer
        """Take an answer as far as it is, and how that is shown; a ranking would not stand still to be read."""
        shown = self.study.present_growing(answer)
        shown = shown if self.study.rows_stand else shown._replace(rows=())
        self.shown, self.answer = shown, answer
        self.sentence = f"So far, {answer.made.stopped.removesuffix(' so far')}: {shown.sentence}"
        return shown

    def end(self, answer: Any) -> Presentation:  # noqa: ANN401 - as above
        """Take the answer, and how it is shown.

        One that was cut short keeps the picture it had grown to: another view of it could show less than that.
        """
        stopped = answer.made.stopped
        shown = self.study.present_growing(answer) if stopped else self.study.present(answer)
        self.state, self.shown, self.answer = "answered", shown, answer
        self.sentence = f"{shown.sentence} {f'Not complete: {stopped}.' if stopped else ''}".strip()
        return shown

    def retell(self) -> None:
        """Show the answer anew, as in another unit."""
        if self.answer is None:
            return
        applied = _APPLIED if self.sentence.startswith(_APPLIED) else ""
        if self.state == "answered":
            self.end(self.answer)
        elif self.state == "running":
            self.grow(self.answer)
        self.sentence = applied + self.sentence

    def note_applied(self, board: Board) -> None:
        """The answer was applied, which made a board of it."""
        self.of, self.sentence = board, f"{_APPLIED}{self.sentence.removeprefix(_APPLIED)}"

    def kept(self) -> KeptAnswer:
        """The answer as it stands, to be kept with the board."""
        assert self.shown is not None
        return KeptAnswer(
            name=self.name, study=self.study.title, subject=self.subject, sentence=self.shown.sentence,
            heads=self.shown.heads, rows=tuple(row.cells for row in self.shown.rows),
            board_sha256=design_sha256(self.of if self.of is not None else self.basis.board),
        )  # fmt: skip


def gap_words(gap_m: float | None) -> str:
    """What is said of the gap (m) that a study is asked at, after its name."""
    return "" if gap_m is None else f", {show(gap_m, 'm')} between neighbours"


class AskedStudies:
    """What was asked for, the latest last; one runs at a time, the others wait in their order."""

    def __init__(self) -> None:
        self.all: list[AskedStudy] = []

    @property
    def running(self) -> AskedStudy | None:
        """The one that runs."""
        return next((one for one in self.all if one.state == "running"), None)

    @property
    def next(self) -> AskedStudy | None:
        """The one whose turn it is once none runs."""
        return next((one for one in self.all if one.state == "waiting"), None)

    def add(self, *studies: AskedStudy) -> None:
        """Take some in; an answer to the same question gives way to it, and of too many the oldest goes."""
        for asked in studies:
            alike = [one for one in self.all if one.asks_the_same(asked) and one.state in _ENDED]
            self.all = [*(one for one in self.all if one not in alike), asked]
        ended = [one for one in self.all if one.state in _ENDED]
        for one in ended[: max(len(self.all) - MOST_ANSWERS, 0)]:
            self.all.remove(one)

    def give_up_waiting(self) -> None:
        """Forget those whose turn has not come."""
        self.all = [one for one in self.all if one.state != "waiting"]
