"""The gap that would be enough: at which a lane that its neighbours hurt passes; solved, and looked at again."""

import math
from typing import NamedTuple

from msgspec.structs import replace

from workbench.board.model import Guard
from workbench.engine.assessment import CrosstalkResult, EyeResult
from workbench.engine.lane.lane import Observed, observe
from workbench.engine.lane.path import LanePlan, Neighbour
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.eye import Eye
from workbench.engine.tails.strangers import added_up, laid_over
from workbench.engine.verdict.crosstalk import about, half_height_v
from workbench.engine.verdict.margin import Judged, judge_lane
from workbench.engine.verdict.measures import eye_result
from workbench.parts.lines.coupling import SpacingCoupling

SHARE = 0.5
"""Neighbours that take more than that of the margin that a lane would have without them get a finding."""
_WIDEST_M, _STEP_M, _WIDER = 5e-3, 1e-5, 1.06
_HALVINGS, _LOOKS = 12, 6


class Question(NamedTuple):
    """How a lane is judged: where, at which error ratio, by which symbols, with which guard bands, over which height.

    `limit_v` is the least height that is asked of it, V.
    """

    probe: str
    error_ratio: float
    symbols: Symbols
    guard: Guard
    limit_v: float


def is_hurt(crosstalk: CrosstalkResult, eye: EyeResult, limit_height_v: float | None) -> bool:
    """Whether neighbours take more than half of the margin over the height limit (V) that the lane has without them."""
    left_v = crosstalk.height_v_without - (limit_height_v or 0.0)
    return left_v > 0.0 and crosstalk.height_v_without - eye.height_v > SHARE * left_v


def enough_gap_m(
    memo: Memo, plan: LanePlan, observed: Observed, crosstalk: CrosstalkResult, *, eye: EyeResult, question: Question
) -> float | None:
    """The gap of the worst aggressor's bundle, m, at which the lane passes and keeps half of its margin.

    None where the lane is not hurt, would not pass without neighbours, or no gap up to 5 mm is enough.

    Args:
        memo: the store of known results.
        plan: the lane.
        observed: what stands at the probe point.
        crosstalk: its neighbours' figures.
        eye: the eye's measures.
        question: how it is judged.
    """
    if not is_hurt(crosstalk, eye, question.limit_v):
        return None
    beside = [one for one in plan.neighbours if one.where == crosstalk.aggressors[0].where]
    now = beside[0].along.coupling if beside[0].along is not None else None
    if not isinstance(now, SpacingCoupling) or not _would_pass(memo, plan, question):
        return None
    left_v = crosstalk.height_v_without - question.limit_v
    wanted_v = crosstalk.height_v_without - min(SHARE * left_v, left_v - question.guard.height_v)
    gap_m = _about_enough_m(plan, observed, eye, beside, (now.gap_m, wanted_v))
    for _ in range(_LOOKS):
        gap_m = math.ceil(gap_m / _STEP_M - 1e-6) * _STEP_M
        if gap_m > _WIDEST_M:
            return None
        if _is_enough(memo, _at_gap(plan, beside[0].bundle, gap_m), question, wanted_v):
            return round(gap_m, 6)
        gap_m *= _WIDER
    return None


def _at_gap(plan: LanePlan, bundle: str, gap_m: float) -> LanePlan:
    moved = tuple(
        one.at_gap(plan.spans[one.span].elements[one.element], gap_m) if one.bundle == bundle else one
        for one in plan.neighbours
    )
    return replace(plan, neighbours=moved)


def _would_pass(memo: Memo, plan: LanePlan, question: Question) -> bool:
    return _judged(memo, replace(plan, neighbours=()), question)[1].margin.verdict == "pass"


def _is_enough(memo: Memo, plan: LanePlan, question: Question, wanted_v: float) -> bool:
    eye, judged = _judged(memo, plan, question)
    return judged.margin.verdict == "pass" and eye.height_v >= wanted_v


def _judged(memo: Memo, plan: LanePlan, question: Question) -> tuple[EyeResult, Judged]:
    seen = observe(
        memo, plan, resolve_probe(plan, question.probe), question.error_ratio, symbols=question.symbols
    )
    eye = eye_result(seen, question.error_ratio, worst=False)
    return eye, judge_lane(memo, plan, seen, eye, question.guard)


def _about_enough_m(
    plan: LanePlan, observed: Observed, eye: EyeResult, beside: list[Neighbour], asked: tuple[float, float]
) -> float:
    """The least gap at which the eye at the sampling instant is as high as `asked`: (gap now in m, height in V).

    What each neighbour adds is taken to fall as its end's level does; the gap is halved on a logarithmic scale.
    """
    assert observed.alone is not None
    near = about(observed.alone, eye.center_s)
    low_m, high_m = asked[0], _WIDEST_M
    for _ in range(_HALVINGS):
        middle_m = math.sqrt(low_m * high_m)
        if _height_v(near, plan, observed, eye, (beside, middle_m)) < asked[1]:
            low_m = middle_m
        else:
            high_m = middle_m
    return high_m


def _height_v(
    near: Eye, plan: LanePlan, observed: Observed, eye: EyeResult, moved: tuple[list[Neighbour], float]
) -> float:
    """The height at the sampling instant with some neighbours' bundle at another gap, m."""
    neighbours, gap_m = moved
    shares = {}
    for one in neighbours:
        there = one.at_gap(plan.spans[one.span].elements[one.element], gap_m)
        shares[one.aggressor.name, one.where] = _level(there) / max(_level(one), 1e-12)
    each = observed.strange
    density = None if each is None else added_up(
        each.scaled([shares.get((one.stranger.lane, one.stranger.where), 1.0) for one in observed.beside])
    )  # fmt: skip
    over = near if density is None else near._replace(tail=laid_over(near.tail, density))
    return 2.0 * half_height_v(over, eye)


def _level(neighbour: Neighbour) -> float:
    """The level of what a neighbour adds where it matters, in units of its own."""
    assert neighbour.along is not None  # what has a gap
    ratios = neighbour.along.ratios
    return ratios.near_end() if neighbour.against else max(ratios.far_end(1.0), 1e-6 * ratios.near_end())
