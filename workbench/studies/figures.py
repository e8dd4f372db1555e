"""What a study keeps of an assessment: a lane's figures, with the one margin that orders them."""

from collections.abc import Iterable

import msgspec

from workbench.board.model import Guard
from workbench.engine.assessment import EyeResult, LaneAssessment, Verdict
from workbench.engine.verdict.margin import Judged, least_of, margin_guards

_JUST_FAILING = -1e-9


class LaneFigures(msgspec.Struct, frozen=True, kw_only=True):
    """A lane under one variant of the board.

    Attributes:
        lane: the lane's name.
        height_v, width_ui: the eye's opening, V and UI, as an assessment has them.
        margin_height_v, margin_width_ui: opening less limit, V and UI; None where no limit is known.
        verdict: the assessment's.
        margin_guards: the one margin that orders, in guard bands; see `margin_guards`.
    """

    lane: str
    height_v: float
    width_ui: float
    margin_height_v: float | None
    margin_width_ui: float | None
    verdict: Verdict
    margin_guards: float


def figures_of(lane: str, eye: EyeResult, judged: Judged, guard: Guard) -> LaneFigures:
    """The figures of an eye that was judged.

    Args:
        lane: the lane's name.
        eye: its measures.
        judged: what came of the profile's limits.
        guard: the board's guard bands.
    """
    found = judged.margin
    margin = margin_guards(
        height_v=eye.height_v,
        over_height_v=least_of(eye.height_v - (judged.limits.height_v or 0.0), found.mask_v),
        over_width_ui=eye.width_ui - (judged.limits.width_ui or 0.0),
        guard=guard,
    )
    return LaneFigures(
        lane=lane,
        height_v=eye.height_v,
        width_ui=eye.width_ui,
        margin_height_v=found.height_v,
        margin_width_ui=found.width_ui,
        verdict=found.verdict,
        # An eye just closed, with no limit known, has no margin to either side; it fails all the same.
        margin_guards=min(margin, _JUST_FAILING) if found.verdict == "fail" else margin,
    )


def figures_of_assessment(found: LaneAssessment, guard: Guard) -> LaneFigures:
    """The figures of a lane that was assessed in full."""
    return figures_of(found.lane, found.eye, Judged(found.limits, found.margin), guard)


def worst_of(figures: Iterable[LaneFigures]) -> LaneFigures:
    """The lane of the least margin, the first of equals; raises ValueError where there is none."""
    return min(figures, key=lambda one: one.margin_guards)


def verdict_at(margin: float) -> Verdict:
    """The verdict that a margin in guard bands stands for."""
    if not margin >= 0.0:
        return "fail"
    return "marginal" if margin < 1.0 else "pass"
