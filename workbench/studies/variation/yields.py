"""How many boards will hold: draws over tolerance, the share that keeps its limits, and what drives it."""

from collections.abc import Sequence
from typing import NamedTuple

import msgspec
import numpy as np
from msgspec.structs import replace

from workbench.arrays import Floats, Integers
from workbench.errors import StudyError
from workbench.studies.pool.jobs import Assess, Basis
from workbench.studies.pool.running import UNHURRIED, Effort, Outcome, answer_jobs
from workbench.studies.pool.size import LIMIT, refuse_too_many
from workbench.studies.record import AnswerOrigin, made_of
from workbench.studies.variation.corners import wanted_lanes
from workbench.studies.variation.statistics import normal_of, random_points, rank_correlation, sobol_points
from workbench.studies.variation.tolerances import SIGMAS, Factor, Tolerance, Variation, require_sound_at, variation_of
from workbench.waveform.bounds import clopper_pearson

CONFIDENCE = 0.95
LEVELS = (0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99)
BOARD = ""
"""Stands for the whole board, whose margin is its worst lane's, among the lanes' names."""


class Driver(msgspec.Struct, frozen=True, kw_only=True):
    """A factor and Spearman's rank correlation of its deviation with the margin."""

    label: str
    correlation: float


class Proportion(msgspec.Struct, frozen=True, kw_only=True):
    """A share of the draws with the ends of its 95 % confidence interval."""

    value: float
    low: float
    high: float


class YieldOf(msgspec.Struct, frozen=True, kw_only=True):
    """A lane, or the whole board, over all draws.

    Attributes:
        lane: its name; "" for the board, whose margin is that of its worst lane.
        keeps_limits: the share of draws that do not fail.
        keeps_guard: the share that pass, guard bands and all.
        margin_guards: the margin of every draw, guard bands, in the draws' order.
        quantiles: the margin at the answer's levels, guard bands.
        drivers: what moves the margin, the strongest first.
    """

    lane: str
    keeps_limits: Proportion
    keeps_guard: Proportion
    margin_guards: tuple[float, ...]
    quantiles: tuple[float, ...]
    drivers: tuple[Driver, ...]


class YieldAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """What a yield study found.

    Attributes:
        made: which board and program it is of.
        draws: how many were assessed.
        seed: what they follow from, with the tolerances.
        sobol: whether they are Sobol points instead of independent draws; the intervals are those of as many
            independent ones, which are wider as a rule.
        tolerances: as declared.
        levels: the levels of the quantiles.
        lanes: every lane, and the board first where there is more than one.
    """

    made: AnswerOrigin
    draws: int
    seed: int
    sobol: bool
    tolerances: tuple[Tolerance, ...]
    levels: tuple[float, ...]
    lanes: tuple[YieldOf, ...]


def yield_study(
    basis: Basis,
    tolerances: Sequence[Tolerance],
    *,
    lanes: Sequence[str] | None = None,
    draws: int = 1000,
    seed: int = 1,
    sobol: bool = False,
    limit: int = LIMIT,
    effort: Effort = UNHURRIED,
) -> YieldAnswer:
    """Assess lanes with deviations drawn from their tolerances.

    Args:
        basis: the board, and where and at which error ratio its lanes are judged.
        tolerances: what varies.
        lanes: the lanes wanted; None: all.
        draws: how many; a power of two for Sobol points.
        seed: of the draws.
        sobol: Sobol points instead of independent draws.
        limit: the most assessments to make.
        effort: how it is carried out.

    Raises:
        StudyError: a lane or what varies is not there, a range is empty or reversed, a draw leaves what a field may
            hold, the counts don't fit, or nothing was known when it was cancelled.
    """
    names = wanted_lanes(basis.board, lanes)
    variation = variation_of(basis.board, tolerances, names)
    if draws < 2:
        raise StudyError(f"{draws} draws do not make a distribution; ask for 2 or more")
    refuse_too_many(basis, names[0], draws * len(names), limit, effort)
    drawn = _Drawn(variation, names, draws, seed, sobol=sobol)
    require_sound_at(variation, drawn.ranges())

    def answered(outcome: Outcome) -> YieldAnswer:
        margins = drawn.margins(outcome)
        done = np.nonzero(~np.isnan(margins).any(axis=1))[0].astype(np.int64)
        if done.size < 2:
            raise StudyError(f"{outcome.stopped}, too few to answer anything; let it run longer")
        board = [drawn.board_of(margins, done)] if len(names) > 1 else []
        return YieldAnswer(
            made=made_of(basis, [outcome]),
            draws=int(done.size),
            seed=seed,
            sobol=sobol,
            tolerances=tuple(tolerances),
            levels=LEVELS,
            lanes=(*board, *(drawn.lane_of(margins, done, at) for at in range(len(names)))),
        )

    return answered(answer_jobs(replace(basis, board=variation.board), drawn.jobs(), effort, answered))


class _Column(NamedTuple):
    """What one column of the draws is: a factor, for one lane where it varies by lane."""

    factor: int
    lane: int | None


class _Drawn:
    """Deviations of all draws."""

    def __init__(self, variation: Variation, lanes: Sequence[str], draws: int, seed: int, *, sobol: bool) -> None:
        self._variation, self._lanes = variation, tuple(lanes)
        self._columns = [
            _Column(at, lane)
            for at, factor in enumerate(variation.factors)
            for lane in (range(len(lanes)) if factor.by_lane else (None,))
        ]
        points = (sobol_points if sobol else random_points)(draws, len(self._columns), seed)
        self._deviations = np.stack(
            [_deviations(variation.factors[c.factor], points[:, n]) for n, c in enumerate(self._columns)], axis=1
        )
        self._together = not any(factor.by_lane for factor in variation.factors)

    def ranges(self) -> list[tuple[float, float]]:
        """Least and largest deviation of every factor."""
        ends = []
        for at in range(len(self._variation.factors)):
            drawn = self._deviations[:, [n for n, column in enumerate(self._columns) if column.factor == at]]
            ends.append((float(drawn.min()), float(drawn.max())))
        return ends

    def jobs(self) -> list[Assess]:
        """A job a draw; a job a draw and lane where lanes have deviations of their own."""
        found: list[Assess] = []
        for draw in range(self._deviations.shape[0]):
            for at, lane in enumerate(self._lanes if not self._together else self._lanes[:1]):
                changes = self._variation.changes(self._of(draw, at))
                lanes = self._lanes if self._together else (lane,)
                found.append(Assess(number=len(found), group=draw, changes=changes, lanes=lanes))
        return found

    def margins(self, outcome: Outcome) -> Floats:
        """Margins in guard bands, NaN where not known, shape (draws, lanes)."""
        margins = np.full((self._deviations.shape[0], len(self._lanes)), np.nan)
        for number, found in outcome.results.items():
            values = [one.margin_guards for one in found]
            if self._together:
                margins[number] = values
            else:
                margins[divmod(number, len(self._lanes))] = values[0]
        return margins

    def lane_of(self, margins: Floats, done: Integers, at: int) -> YieldOf:
        """A lane's yield, its drivers the factors that reach it."""
        columns = [n for n, column in enumerate(self._columns) if column.lane in (None, at)]
        return self._of_margins(self._lanes[at], margins[done, at], done, columns)

    def board_of(self, margins: Floats, done: Integers) -> YieldOf:
        """The yield of all lanes together."""
        return self._of_margins(BOARD, margins[done].min(axis=1), done, list(range(len(self._columns))))

    def _of(self, draw: int, lane: int) -> list[float]:
        """The deviation of every factor for a lane."""
        return [
            float(self._deviations[draw, n]) for n, column in enumerate(self._columns) if column.lane in (None, lane)
        ]

    def _of_margins(self, lane: str, margins: Floats, done: Integers, columns: Sequence[int]) -> YieldOf:
        drivers = [
            Driver(label=self._label(n), correlation=rank_correlation(self._deviations[done, n], margins))
            for n in columns
        ]
        return YieldOf(
            lane=lane,
            keeps_limits=_share(int((margins >= 0.0).sum()), margins.size),
            keeps_guard=_share(int((margins >= 1.0).sum()), margins.size),
            margin_guards=tuple(margins.tolist()),
            quantiles=tuple(np.quantile(margins, LEVELS).tolist()),
            drivers=tuple(sorted(drivers, key=lambda one: -abs(one.correlation))),
        )

    def _label(self, column: int) -> str:
        known = self._columns[column]
        label = self._variation.factors[known.factor].label
        return label if known.lane is None else f"{label} on {self._lanes[known.lane]}"


def _deviations(factor: Factor, points: Floats) -> Floats:
    low, high = factor.tolerance.low, factor.tolerance.high
    if factor.tolerance.distribution == "uniform":
        return low + (high - low) * points
    return normal_of(points, mean=(low + high) / 2.0, sigma=(high - low) / 2.0 / SIGMAS)


def _share(successes: int, trials: int) -> Proportion:
    low, high = clopper_pearson(successes, trials, CONFIDENCE)
    return Proportion(value=successes / trials, low=low, high=high)
