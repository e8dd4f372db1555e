"""Where assessments of a study are made: the board once, a memo that stays warm, jobs that say what to assess.

Everything here is small, travels by pickle and imports no window: a job is made in one process and done in another.
"""

import time
from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import Any, NamedTuple, TypeVar

import msgspec

from workbench.board.edits.changes import Change, changed
from workbench.board.index import Index
from workbench.board.library import profile_of
from workbench.board.model import Board
from workbench.engine.lane.lane import observe
from workbench.engine.lane.path import LanePlan, plan_lane
from workbench.engine.lane.probe import RECEIVER, resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import EyeReach
from workbench.engine.verdict.margin import judge_lane
from workbench.engine.verdict.measures import eye_result
from workbench.errors import Stopped, WorkbenchError
from workbench.studies.figures import LaneFigures, figures_of

ValueT = TypeVar("ValueT")

EYES = "observed"
"""The memo's word for what is never shared in a study: the eye itself."""


class Basis(msgspec.Struct, frozen=True, kw_only=True):
    """What all assessments of a study have in common.

    Attributes:
        board: the board, sound.
        sha256: of the board's file as it was read; "" where the board is no file yet, then of what would be written.
        probe: the probe point.
        ber: the error ratio; None: each profile's own.
        symbols: which symbols count.
    """

    board: Board
    sha256: str = ""
    probe: str = RECEIVER
    ber: float | None = None
    symbols: Symbols = Symbols.CODED


class Shared(NamedTuple):
    """How often something that is shared was asked for (a span, a signal, a line), and how often it was known."""

    asked: int
    known: int

    @property
    def ratio(self) -> float:
        """Share of what was asked that was known."""
        return self.known / self.asked if self.asked else 0.0


class CountingMemo(Memo):
    """A memo that counts what it knew, eyes apart."""

    def __init__(self) -> None:
        super().__init__()
        self._asked = self._made = 0

    @property
    def shared(self) -> Shared:
        """The count so far."""
        return Shared(self._asked, self._asked - self._made)

    def get(self, key: Hashable, make: Callable[[], ValueT]) -> ValueT:
        """As the memo's own, counted."""
        if isinstance(key, tuple) and key[0] == EYES:
            return super().get(key, make)
        self._asked += 1

        def counted() -> ValueT:
            self._made += 1
            return make()

        return super().get(key, counted)


class Assessor:
    """Assesses variants of one board.

    Args:
        basis: what all assessments have in common.
        stopped: asked before every assessment; True ends the job.
    """

    def __init__(self, basis: Basis, stopped: Callable[[], bool] = lambda: False) -> None:
        self.basis, self._stopped = basis, stopped
        self.memo = CountingMemo()

    def figures(
        self, board: Board, lanes: Sequence[str], *, refine: Callable[[LanePlan], LanePlan] | None = None,
        reach: EyeReach = EyeReach.MEASURES,
    ) -> tuple[LaneFigures, ...]:  # fmt: skip
        """The figures of some lanes of a variant of the board.

        Args:
            board: the variant.
            lanes: the lanes' names.
            refine: what is done to a lane's plan before it is assessed; None: nothing.
            reach: `EyeReach.PICTURE` for a sketch, some per cent of the swing off at most.

        Raises:
            Stopped: the study is cancelled.
        """
        index = Index(board)
        by_name = {lane.name: lane for lane in board.lanes}
        plans = (
            plan_lane(index, by_name[name], profile_of(board, by_name[name].profile or board.profile)) for name in lanes
        )
        return tuple(self._figures(board, plan if refine is None else refine(plan), reach) for plan in plans)

    def _figures(self, board: Board, plan: LanePlan, reach: EyeReach) -> LaneFigures:
        if self._stopped():
            raise Stopped
        error_ratio = plan.profile.ber.value if self.basis.ber is None else self.basis.ber
        probe = resolve_probe(plan, self.basis.probe)
        observed = observe(self.memo, plan, probe, error_ratio, reach=reach, symbols=self.basis.symbols)
        eye = eye_result(observed, error_ratio, worst=False)
        return figures_of(plan.name, eye, judge_lane(self.memo, plan, observed, eye, board.guard), board.guard)


class StudyJob(msgspec.Struct, frozen=True, kw_only=True):
    """One independent piece of a study.

    Attributes:
        number: where its result belongs.
        group: jobs of one group share much, and are computed at one place.
    """

    number: int
    group: int = -1

    @property
    def assessments(self) -> int:
        """How many assessments it takes, for progress."""
        return 1

    def do(self, assessor: Assessor) -> Any:  # noqa: ANN401 - every job has its own result
        """Its result, small and picklable; raises Stopped where the study is cancelled."""
        raise NotImplementedError


class Assess(StudyJob, frozen=True, kw_only=True):
    """Some lanes of one variant of the board; its result is their figures in the lanes' order."""

    changes: tuple[Change, ...] = ()
    lanes: tuple[str, ...]

    @property
    def assessments(self) -> int:
        """One for each lane."""
        return len(self.lanes)

    def do(self, assessor: Assessor) -> tuple[LaneFigures, ...]:
        """The lanes' figures; raises Stopped where the study is cancelled."""
        return assessor.figures(changed(assessor.basis.board, self.changes), self.lanes)


class Done(NamedTuple):
    """What became of a chunk of jobs.

    Attributes:
        results: (job's number, its result), as far as it came in `REPORT_S`.
        shared: what was shared while doing them.
        problem: the sentence of the error that ended it; "" where none did.
    """

    results: tuple[tuple[int, Any], ...]
    shared: Shared
    problem: str = ""


REPORT_S = 0.5
"""So long a worker does jobs of a chunk before it reports; what is left of the chunk comes back to be done."""


def do_jobs(assessor: Assessor, jobs: Iterable[StudyJob]) -> Done:
    """Do jobs one after another, at least one; what was done before a stop or an error is kept."""
    ends_s = time.monotonic() + REPORT_S
    before = assessor.memo.shared
    results: list[tuple[int, Any]] = []
    problem = ""
    try:
        for job in jobs:
            results.append((job.number, job.do(assessor)))
            if time.monotonic() > ends_s:
                break
    except Stopped:
        pass  # what was done until then is the result
    except WorkbenchError as error:
        # As a sentence: an exception of several arguments would not survive the journey.
        problem = str(error)
    after = assessor.memo.shared
    return Done(tuple(results), Shared(after.asked - before.asked, after.known - before.known), problem)
