"""Finding the best joint settings of devices that share lanes: exactly from tables, or one device after another."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import product
from math import prod
from typing import Any

import numpy as np

from workbench.arrays import Floats
from workbench.errors import StudyError
from workbench.studies.figures import LaneFigures
from workbench.studies.pool.jobs import Assess
from workbench.studies.pool.processes import Pool
from workbench.studies.pool.running import Effort, Outcome, carry_out
from workbench.studies.setting_search.answer import GroupAnswer, RankedSettings
from workbench.studies.setting_search.group import Choice, DeviceGroup, LaneSet
from workbench.studies.setting_search.joint import JointMargins, best_choice, joined_table, least_nearby

RANKED = 20_000
"""Up to so many joint combinations are ranked; of more, only the best and what differs from it in one device."""
_ROUNDS = 6


class Search:
    """What is known of a group's lanes so far, and the pool that finds out more.

    Args:
        group: the devices and their lanes.
        pool: who assesses.
        effort: how it is carried out.
        plateau_guards: how far below the best the plateau reaches, guard bands.
    """

    def __init__(self, group: DeviceGroup, pool: Pool, effort: Effort, plateau_guards: float) -> None:
        self.group, self._pool, self._effort, self._plateau_guards = group, pool, effort, plateau_guards
        self._known: dict[tuple[Choice, Choice], tuple[LaneFigures, ...]] = {}
        self.outcome = carry_out(pool, [], effort)

    def exactly(self, answer_of: Callable[[GroupAnswer], Any]) -> GroupAnswer:
        """All lanes' tables, then the best of all choices.

        Args:
            answer_of: makes the study's answer of the group's, for who watches it grow.
        """
        group, few = self.group, prod(self.group.sizes) <= RANKED
        wanted = ((some, at) for some in group.lane_sets for at in product(*map(range, group.shape_of(some))))
        self._assess(wanted, (lambda: answer_of(self._ranked())) if few else None)
        if few:
            return self._ranked()
        tables = [self._table(some) for some in group.lane_sets]
        best = best_choice(group.sizes, [table.worst_where_unknown() for table in tables])
        if best is None:
            return self.stepwise()
        for device in range(len(group.members)):
            best = self._kindest(best, device)
        how = (
            f"every lane's table over its own devices, joined exactly: {self.outcome.assessments:,} assessments stand "
            f"for all {prod(group.sizes):,} combinations"
        )
        return self._about(best, exact=not self.outcome.stopped, how=how)

    def stepwise(self) -> GroupAnswer:
        """One device after another set to its best, the others as they stand, until nothing improves."""
        choice, least = self.group.current, -np.inf
        for _ in range(_ROUNDS):
            before = least
            for device in range(len(self.group.members)):
                choice, least = self._best_of(choice, device)
            if least <= before or self.outcome.stopped:
                break
        how = (
            "one device after another set to its best until nothing improved, "
            f"{self.outcome.assessments:,} assessments: NOT exact, another joint setting may be better"
        )
        return self._about(choice, exact=False, how=how)

    def figures(self, choice: Sequence[int]) -> tuple[LaneFigures, ...] | None:
        """Every lane's figures for a choice, in the group's order of lanes; None where one is not known."""
        found: dict[str, LaneFigures] = {}
        for some in self.group.lane_sets:
            known = self._known.get((some.devices, some.part_of(choice)))
            if known is None:
                return None
            found.update((one.lane, one) for one in known)
        return tuple(found[lane] for lane in self.group.lanes)

    def _assess(
        self, wanted: Iterable[tuple[LaneSet, Choice]], growing: Callable[[], Any] | None = None
    ) -> None:
        """Find out what is missing of what is wanted; meanwhile what is `growing` is made of what is known by then."""
        missing = [(some, at) for some, at in wanted if (some.devices, at) not in self._known]
        jobs = [
            Assess(
                number=number,
                group=self.group.sharing(some, at),
                changes=self.group.changes(some.devices, at),
                lanes=some.lanes,
            )
            for number, (some, at) in enumerate(missing)
        ]
        before = self.outcome

        def learn(outcome: Outcome) -> None:
            for number, found in outcome.results.items():
                some, at = missing[number]
                self._known[some.devices, at] = found
            self.outcome = before.and_then(outcome)

        def answered(outcome: Outcome) -> Any:  # noqa: ANN401 - whatever the study makes of it
            learn(outcome)
            return growing() if growing is not None else None

        learn(carry_out(self._pool, jobs, self._effort, answered if growing is not None else None))

    def _best_of(self, choice: Choice, device: int) -> tuple[Choice, float]:
        """The choice with one device at its best, and the least margin then; where nothing is better, it stays."""
        tried = [(*choice[:device], at, *choice[device + 1 :]) for at in range(self.group.sizes[device])]
        self._assess(dict.fromkeys((some, some.part_of(one)) for one in tried for some in self.group.lane_sets))
        best, least = choice, self._least(choice)
        for one in tried:
            margin = self._least(one)
            if margin > least:
                best, least = one, margin
        return best, least

    def _kindest(self, choice: Choice, device: int) -> Choice:
        """The choice with one device as it serves the other lanes best too: the worst lane is not all there is."""
        tried = [choice, *((*choice[:device], at, *choice[device + 1 :]) for at in range(self.group.sizes[device]))]
        return max(tried, key=lambda one: margins_from_worst(self.figures(one) or ()))

    def _least(self, choice: Choice) -> float:
        found = self.figures(choice)
        return -np.inf if found is None else min(one.margin_guards for one in found)

    def _table(self, some: LaneSet) -> JointMargins:
        """The least margin of some lanes; NaN where it is not known."""
        margin = np.full(self.group.shape_of(some), np.nan)
        for at in np.ndindex(*margin.shape):
            known = self._known.get((some.devices, at))
            if known is not None:
                margin[at] = min(one.margin_guards for one in known)
        return JointMargins(some.devices, margin)

    def _ranked(self) -> GroupAnswer:
        """All joint combinations, ranked."""
        tables = [self._table(some) for some in self.group.lane_sets]
        margin = joined_table(self.group.sizes, tables, 0).margin
        nearby = self._nearby(margin)
        candidates = [
            one for choice in np.ndindex(*margin.shape) for one in self._candidate(choice, float(nearby[choice]))
        ]
        tried = f"{len(candidates):,} of {margin.size:,}" if self.outcome.stopped else f"all {margin.size:,}"
        return self._answer(candidates, exact=not self.outcome.stopped, how=f"{tried} combinations on every lane")

    def _nearby(self, margin: Floats) -> Floats:
        by_control = margin.reshape(tuple(length for member in self.group.members for length in member.shape))
        return least_nearby(np.where(np.isnan(by_control), np.inf, by_control)).reshape(margin.shape)

    def _about(self, best: Choice, *, exact: bool, how: str) -> GroupAnswer:
        """The best joint choice with everything that differs from it in one device."""
        candidates = [one for choice in dict.fromkeys(self._one_device_away(best)) for one in self._candidate(choice)]
        return self._answer(candidates, exact=exact, how=how)

    def _one_device_away(self, best: Choice) -> Iterator[Choice]:
        yield best
        for device, size in enumerate(self.group.sizes):
            for at in range(size):
                yield (*best[:device], at, *best[device + 1 :])

    def _candidate(self, choice: Choice, nearby: float | None = None) -> Iterator[RankedSettings]:
        """A choice as a candidate, where it is known."""
        found = self.figures(choice)
        if found is not None:
            least = min(one.margin_guards for one in found)
            settings = self.group.settings(choice)
            yield RankedSettings(settings=settings, lanes=found, margin_guards=least, nearby_guards=nearby)

    def _answer(self, candidates: list[RankedSettings], *, exact: bool, how: str) -> GroupAnswer:
        if not candidates:
            raise StudyError(f"{self.outcome.stopped}, too few to answer anything; let it run longer")
        candidates.sort(key=lambda one: margins_from_worst(one.lanes), reverse=True)
        plateau = plateau_of(candidates, self._plateau_guards)
        recommended = max(plateau, key=lambda one: (_sturdiness(one), margins_from_worst(one.lanes)))
        return GroupAnswer(
            devices=tuple(member.words for member in self.group.members),
            served=tuple(member.lanes for member in self.group.members),
            lanes=self.group.lanes,
            positions=tuple(member.positions for member in self.group.members),
            exact=exact,
            how=how,
            combinations=prod(self.group.sizes),
            candidates=tuple(candidates),
            plateau=plateau,
            recommended=recommended,
            current=next(self._candidate(self.group.current), None),
            reason=_reason(candidates[0], recommended, len(plateau), self._plateau_guards),
        )


def margins_from_worst(lanes: Sequence[LaneFigures]) -> tuple[float, ...]:
    """What orders settings: the worst lane's margin, then the next one's and so on, in guard bands."""
    return tuple(sorted(one.margin_guards for one in lanes))


def plateau_of(candidates: Sequence[RankedSettings], within_guards: float) -> tuple[RankedSettings, ...]:
    """The candidates within some guard bands of the first, with its verdict."""
    best = candidates[0]
    least = best.margin_guards - within_guards
    return tuple(
        one for one in candidates if one.margin_guards >= least and one.worst.verdict == best.worst.verdict
    )


def _sturdiness(candidate: RankedSettings) -> float:
    return -np.inf if candidate.nearby_guards is None else candidate.nearby_guards


def _reason(best: RankedSettings, recommended: RankedSettings, plateau: int, within_guards: float) -> str:
    worst = recommended.worst
    stands = f"the worst lane, {worst.lane}, has a normalized margin of "
    stands += f"{recommended.margin_guards:+z.2f} ({worst.verdict})"
    if recommended.nearby_guards is None or best.nearby_guards is None:
        return f"{stands}: the best joint setting found; what stands one step around it was not mapped"
    steps = f"one step of any setting leaves {recommended.nearby_guards:+z.2f} or more"
    if recommended is best:
        if plateau == 1:
            return f"{stands}: the best, and nothing else comes within {within_guards:g} of it; {steps}"
        return f"{stands}: the best, and the sturdiest of the {plateau} within {within_guards:g} of it; {steps}"
    return (
        f"{stands}, {best.margin_guards - recommended.margin_guards:.2f} below the best, but of the {plateau} within "
        f"{within_guards:g} of it the sturdiest: {steps}, around the best {best.nearby_guards:+z.2f}"
    )
