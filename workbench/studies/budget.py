"""A lane's margin budget: the lane again with one thing after another made ideal, in a stated order and its reverse.

Effects overlap: what jitter costs depends on how much loss has left. So everything is told three ways, by how much the
margin grows when it is made ideal alone, when it is in turn in the stated order, and in turn in the reverse order; the
spread between them is shown.
"""

from collections.abc import Mapping, Sequence

import msgspec

from workbench.board.model import Board, Run, Stage, bundle_of
from workbench.errors import StudyError
from workbench.studies.figures import LaneFigures
from workbench.studies.ideal import EQUALIZATION, NEIGHBOURS, SKEW, STEPS, ideal_figures, settings_tried
from workbench.studies.pool.jobs import Assessor, Basis, StudyJob
from workbench.studies.pool.running import UNHURRIED, Effort, Outcome, answer_jobs
from workbench.studies.pool.size import LIMIT, refuse_too_many
from workbench.studies.record import AnswerOrigin, made_of
from workbench.studies.variation.corners import wanted_lanes

SLIGHT_GUARDS = 0.05
"""Less is not worth a word."""

States = Mapping[frozenset[str], LaneFigures]


class BudgetItem(msgspec.Struct, frozen=True, kw_only=True):
    """What one thing costs a lane.

    Attributes:
        name: the thing; see `ideal`.
        alone: the lane's figures with it alone made ideal.
        alone_guards: how much margin that adds, guard bands.
        forward_guards, reverse_guards: how much it adds in its turn in the stated order, and in the reverse.
        spread_guards: how far these three lie apart: how much its effect overlaps with the others'.
        alone_height_v, alone_width_ui: what it alone adds to the eye, V and UI.
    """

    name: str
    alone: LaneFigures
    alone_guards: float
    forward_guards: float
    reverse_guards: float
    spread_guards: float
    alone_height_v: float
    alone_width_ui: float


class LaneBudget(msgspec.Struct, frozen=True, kw_only=True):
    """The margin budget of a lane.

    Attributes:
        lane: its name.
        now: its figures as it is.
        ideal: with everything made ideal.
        items: in the stated order.
        said: what would help most, in a sentence.
    """

    lane: str
    now: LaneFigures
    ideal: LaneFigures
    items: tuple[BudgetItem, ...]
    said: str


class BudgetAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What a budget study found: the stated order, and every lane's budget."""

    made: AnswerOrigin
    order: tuple[str, ...]
    lanes: tuple[LaneBudget, ...]


class Ideal(StudyJob, frozen=True, kw_only=True):
    """A lane with some things made ideal; its result is its figures."""

    lane: str
    steps: tuple[str, ...]
    tried: int
    has: frozenset[str]

    @property
    def assessments(self) -> int:
        """One; with equalization, one more for each setting."""
        return 1 + (self.tried if EQUALIZATION in self.steps else 0)

    def do(self, assessor: Assessor) -> LaneFigures:
        """The lane's figures; raises Stopped where the study is cancelled."""
        return ideal_figures(assessor, self.lane, frozenset(self.steps))


def budget_study(
    basis: Basis, *, lanes: Sequence[str] | None = None, settings: bool = True, limit: int = LIMIT,
    effort: Effort = UNHURRIED,
) -> BudgetAnswer:  # fmt: skip
    """Find the margin budgets of lanes.

    Args:
        basis: the board, and where and at which error ratio its lanes are judged.
        lanes: the lanes wanted; None: all.
        settings: whether equalization is made ideal too, which tries every setting of a lane's devices.
        limit: the most assessments to make.
        effort: how it is carried out.

    Raises:
        StudyError: there is no such lane, the limit does not suffice, or nothing was known when it was cancelled.
    """
    names = wanted_lanes(basis.board, lanes)
    jobs: list[Ideal] = []
    for lane in names:
        tried = settings_tried(basis.board, lane) if settings else 0
        has = _has(basis.board, lane)
        for state in _states(_order(tried, has)):
            steps = tuple(step for step in STEPS if step in state)
            jobs.append(
                Ideal(
                    number=len(jobs), group=names.index(lane), lane=lane, steps=steps, tried=tried, has=has
                )
            )  # fmt: skip
    refuse_too_many(basis, names[0], sum(job.assessments for job in jobs), limit, effort)

    def answered(outcome: Outcome) -> BudgetAnswer:
        return _answer(basis, jobs, outcome)

    return answered(answer_jobs(basis, jobs, effort, answered))


def _answer(basis: Basis, jobs: Sequence[Ideal], outcome: Outcome) -> BudgetAnswer:
    """The lanes all of whose states are known; raises StudyError where none is."""
    known: dict[str, dict[frozenset[str], LaneFigures]] = {}
    orders = {job.lane: _order(job.tried, job.has) for job in jobs}
    for job in jobs:
        if job.number in outcome.results:
            known.setdefault(job.lane, {})[frozenset(job.steps)] = outcome.results[job.number]
    budgets = []
    for lane, states in known.items():
        order = orders[lane]
        if set(_states(order)) == states.keys():
            budgets.append(_budget(lane, order, states))
    if not budgets:
        raise StudyError(f"{outcome.stopped}, too few to answer anything; let it run longer")
    return BudgetAnswer(made=made_of(basis, [outcome]), order=STEPS, lanes=tuple(budgets))


def _order(tried: int, has: frozenset[str]) -> tuple[str, ...]:
    """The steps of a lane: without devices it has no equalization to set, and of neighbours and skew what it `has`."""
    out = {*(() if tried else (EQUALIZATION,)), *({NEIGHBOURS, SKEW} - has)}
    return tuple(step for step in STEPS if step not in out)


def _has(board: Board, lane: str) -> frozenset[str]:
    """Whether a lane has neighbours, and legs that differ."""
    path = next(one.path for one in board.lanes if one.name == lane)
    beside = any(bundle_of(one) is not None for one in path)
    skewed = any(one.skew_s for one in path if not isinstance(one, Stage))
    longer = any(one.mismatch_m for one in path if isinstance(one, Run))
    return frozenset({*([NEIGHBOURS] if beside else ()), *([SKEW] if skewed or longer else ())})


def _states(order: Sequence[str]) -> list[frozenset[str]]:
    """What has to be assessed: as it is, each alone, and both orders; each once."""
    backward = tuple(reversed(order))
    alone = [frozenset({step}) for step in order]
    in_turn = [frozenset(some[:count]) for some in (order, backward) for count in range(len(order) + 1)]
    return list(dict.fromkeys([frozenset(), *alone, *in_turn]))


def _budget(lane: str, order: Sequence[str], states: States) -> LaneBudget:
    now, ideal = states[frozenset()], states[frozenset(order)]
    items = tuple(_item(step, at, order, states) for at, step in enumerate(order))
    return LaneBudget(lane=lane, now=now, ideal=ideal, items=items, said=_said(now, items))


def _item(step: str, at: int, order: Sequence[str], states: States) -> BudgetItem:
    now, alone = states[frozenset()], states[frozenset({step})]
    before, after = states[frozenset(order[:at])], states[frozenset(order[: at + 1])]
    others, and_it = states[frozenset(order[at + 1 :])], states[frozenset(order[at:])]
    gains = (
        alone.margin_guards - now.margin_guards, after.margin_guards - before.margin_guards,
        and_it.margin_guards - others.margin_guards,
    )  # fmt: skip
    return BudgetItem(
        name=step,
        alone=alone,
        alone_guards=gains[0],
        forward_guards=gains[1],
        reverse_guards=gains[2],
        spread_guards=max(gains) - min(gains),
        alone_height_v=alone.height_v - now.height_v,
        alone_width_ui=alone.width_ui - now.width_ui,
    )


_WITHOUT = {
    "loss": "less loss",
    "reflections": "fewer reflections",
    "via stubs": "shorter via stubs",
    "deterministic jitter": "less deterministic jitter",
    "random jitter": "less random jitter",
    "noise": "less noise",
    NEIGHBOURS: "neighbours further off",
    SKEW: "legs of equal length",
    EQUALIZATION: "other settings",
}


def _said(now: LaneFigures, items: Sequence[BudgetItem]) -> str:
    ranked = sorted(items, key=lambda item: -item.alone_guards)
    strong = [item for item in ranked if item.alone_guards >= SLIGHT_GUARDS]
    stands = f"{now.lane} has a normalized margin of {now.margin_guards:+z.2f} ({now.verdict})"
    if not strong:
        return f"{stands}, and none of these things alone would help it"
    first, *others = strong
    most = (
        f"{_WITHOUT[first.name]} would help it most: with {_gone(first.name)} it would come to "
        f"{first.alone.margin_guards:+z.2f} ({first.alone.verdict}), {first.alone_height_v * 1e3:+z.0f} mV and "
        f"{first.alone_width_ui:+z.3f} UI"
    )
    if not others:
        return f"{stands}; {most}; nothing else would do much"
    then = ", ".join(f"{_WITHOUT[item.name]} {item.alone_guards:+z.2f}" for item in others[:2])
    return f"{stands}; {most}; then {then}"


def _gone(name: str) -> str:
    return "the best settings" if name == EQUALIZATION else f"no {name} at all"
