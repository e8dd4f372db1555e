"""Whether lanes hold over tolerance: every corner of what may vary, or one thing at a time."""

from collections.abc import Iterator, Sequence
from itertools import product

import msgspec
import numpy as np
from msgspec.structs import replace

from workbench.board.model import Board
from workbench.errors import StudyError
from workbench.studies.figures import LaneFigures
from workbench.studies.pool.jobs import Assess, Basis
from workbench.studies.pool.running import UNHURRIED, Effort, Outcome, answer_jobs
from workbench.studies.pool.size import LIMIT, refuse_too_many
from workbench.studies.record import AnswerOrigin, made_of
from workbench.studies.variation.tolerances import Factor, Tolerance, Variation, require_sound_at, variation_of
from workbench.wording import any_of, quoted


class CornerFactor(msgspec.Struct, frozen=True, kw_only=True):
    """What varies: its label, its tolerance, and both ends as people write them."""

    label: str
    tolerance: Tolerance
    low: str
    high: str


class Corner(msgspec.Struct, frozen=True, kw_only=True):
    """One combination of deviations, in the factors' order (shares, or in each tolerance's unit), with the lanes."""

    deviations: tuple[float, ...]
    lanes: tuple[LaneFigures, ...]


class LaneCorners(msgspec.Struct, frozen=True, kw_only=True):
    """A lane over all corners.

    Attributes:
        lane: its name.
        nominal: its figures with nothing deviating.
        worst, best: at the corner where its margin is least and largest.
        worst_at: what deviates there, in words; "" where nothing does.
        failing: how many of the corners fail.
        effect_guards: for each factor, how much the margin is larger at its upper than at its lower end, guard bands:
            with everything else as it is, or over all corners on average.
    """

    lane: str
    nominal: LaneFigures
    worst: LaneFigures
    best: LaneFigures
    worst_at: str
    failing: int
    effect_guards: tuple[float, ...]


class CornersAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What a corners study found.

    Attributes:
        made: which board and program it is of.
        every: whether all combinations of ends were assessed, or one factor at a time.
        factors: what varied.
        corners: nominal first.
        lanes: every lane over the corners.
    """

    made: AnswerOrigin
    every: bool
    factors: tuple[CornerFactor, ...]
    corners: tuple[Corner, ...]
    lanes: tuple[LaneCorners, ...]


def corners_study(
    basis: Basis,
    tolerances: Sequence[Tolerance],
    *,
    lanes: Sequence[str] | None = None,
    every: bool = True,
    limit: int = LIMIT,
    effort: Effort = UNHURRIED,
) -> CornersAnswer:
    """Assess lanes at the ends of tolerances.

    Args:
        basis: the board, and where and at which error ratio its lanes are judged.
        tolerances: what varies; what varies by lane is at the same end on all of them.
        lanes: the lanes wanted; None: all.
        every: all combinations of both ends of all factors; False: each factor alone, the others as they are.
        limit: the most assessments to make.
        effort: how it is carried out.

    Raises:
        StudyError: a lane or what varies is not there, a range is empty, reversed or leaves what a field may hold, the
            limit does not suffice, or nothing was known when it was cancelled.
    """
    names = wanted_lanes(basis.board, lanes)
    variation = variation_of(basis.board, tolerances, names)
    ends = [(factor.tolerance.low, factor.tolerance.high) for factor in variation.factors]
    count = 1 + (2 ** len(ends) if every else 2 * len(ends))
    refuse_too_many(basis, names[0], count * len(names), limit, effort)
    require_sound_at(variation, ends)
    points = list(corner_points(ends, every=every))
    jobs = [
        Assess(number=number, changes=variation.changes(deviations), lanes=names)
        for number, deviations in enumerate(points)
    ]

    def answered(outcome: Outcome) -> CornersAnswer:
        if 0 not in outcome.results:
            raise StudyError(f"{outcome.stopped}, too few to answer anything; let it run longer")
        corners = tuple(
            Corner(deviations=points[number], lanes=found) for number, found in outcome.results.items()
        )
        return CornersAnswer(
            made=made_of(basis, [outcome]),
            every=every,
            factors=tuple(_factor(factor) for factor in variation.factors),
            corners=corners,
            lanes=tuple(_lane(variation, corners, at) for at in range(len(names))),
        )

    return answered(answer_jobs(replace(basis, board=variation.board), jobs, effort, answered))


def wanted_lanes(board: Board, lanes: Sequence[str] | None) -> tuple[str, ...]:
    """The names of the lanes that are wanted, each once; None: all.

    Raises:
        StudyError: there is no such lane, or the board has none.
    """
    names = tuple(lane.name for lane in board.lanes)
    if not names:
        raise StudyError("the board has no lanes; add one first")
    for name in lanes or ():
        if name not in names:
            raise StudyError(f"there is no lane {quoted(name)}; choose {any_of(names)}")
    return names if lanes is None else tuple(dict.fromkeys(lanes))


def corner_points(ends: Sequence[tuple[float, float]], *, every: bool) -> Iterator[tuple[float, ...]]:
    """Deviations of all factors at each corner, none deviating first.

    Args:
        ends: the least and largest deviation of each factor.
        every: all combinations of both ends; False: each factor alone.
    """
    none = (0.0,) * len(ends)
    yield none
    if every:
        yield from product(*ends)
        return
    for at, (low, high) in enumerate(ends):
        for end in (low, high):
            yield (*none[:at], end, *none[at + 1 :])


def _factor(factor: Factor) -> CornerFactor:
    tolerance = factor.tolerance
    low, high = factor.shown(tolerance.low), factor.shown(tolerance.high)
    return CornerFactor(label=factor.label, tolerance=tolerance, low=low, high=high)


def _lane(variation: Variation, corners: Sequence[Corner], at: int) -> LaneCorners:
    worst = min(corners, key=lambda corner: corner.lanes[at].margin_guards)
    best = max(corners, key=lambda corner: corner.lanes[at].margin_guards)
    factors = variation.factors
    deviating = [
        variation.told(factor, deviation)
        for factor, deviation in zip(factors, worst.deviations, strict=True)
        if deviation
    ]
    nominal = corners[0].lanes[at]
    return LaneCorners(
        lane=nominal.lane,
        nominal=nominal,
        worst=worst.lanes[at],
        best=best.lanes[at],
        worst_at=", ".join(deviating),
        failing=sum(corner.lanes[at].verdict == "fail" for corner in corners),
        effect_guards=tuple(_effect(factor, corners, place, at) for place, factor in enumerate(factors)),
    )


def _effect(factor: Factor, corners: Sequence[Corner], place: int, at: int) -> float:
    """The mean margin at a factor's upper end less that at its lower end, guard bands; NaN where one is missing."""
    means = []
    for end in (factor.tolerance.high, factor.tolerance.low):
        margins = [one.lanes[at].margin_guards for one in corners[1:] if one.deviations[place] == end]
        means.append(float(np.mean(margins)) if margins else float("nan"))
    return means[0] - means[1]
