"""What the lanes beside a lane take of its eye, each and all together."""

from collections.abc import Iterator

import numpy as np

from workbench.engine.assessment import AggressorResult, CrosstalkResult, EyeResult, PowerSumResult
from workbench.engine.lane.lane import Observed
from workbench.engine.lane.path import LanePlan
from workbench.engine.memo import Memo
from workbench.engine.tails.density import Tail
from workbench.engine.tails.eye import Eye
from workbench.engine.tails.strangers import AddedDensity, added_up, each_left_out, laid_over, log_with
from workbench.engine.verdict.measures import opening
from workbench.engine.verdict.power_sums import power_sums, standard_axis

_LEVELS = 13
"""So many levels tell where a contour lies between two that are known."""


def crosstalk_result(memo: Memo, plan: LanePlan, observed: Observed, eye: EyeResult) -> CrosstalkResult | None:
    """The figures of an eye with neighbours; None where no other lane adds anything.

    Args:
        memo: the store of known results.
        plan: the lane.
        observed: what stands at the probe point.
        eye: its measures, neighbours included.
    """
    if observed.alone is None:
        return None
    without = opening(observed._replace(eye=observed.alone), eye.ber)
    here = _at_the_probe_point(observed, observed.alone, eye)
    found = (*here, *_pushing(plan, observed, without.height_v - eye.height_v - sum(one.height_cost_v for one in here)))
    return CrosstalkResult(
        height_v_without=without.height_v,
        width_ui_without=without.width_s / observed.alone.ui_s,
        rms_v=float(np.sqrt(sum(one.rms_v**2 for one in here))),
        peak_v=sum(one.peak_v for one in here),
        aggressors=tuple(sorted(found, key=lambda one: -one.height_cost_v)),
        spans=tuple(_power_sums(memo, plan, observed.probe.span)),
    )


def _at_the_probe_point(observed: Observed, alone: Eye, eye: EyeResult) -> tuple[AggressorResult, ...]:
    """What each aggressor adds to the samples themselves."""
    near, each = about(alone, eye.center_s), observed.strange
    if each is None or not each.each:
        return ()
    whole = added_up(each)
    near_all = near if whole is None else near._replace(tail=laid_over(near.tail, whole))
    all_v = half_height_v(near_all, eye)
    # With any of them left out the contour lies between those with all and with none.
    between_v = float(near_all.levels_v(eye.ber).min()), float(near.levels_v(eye.ber).max())
    return tuple(
        AggressorResult(
            lane=one.stranger.lane,
            where=one.stranger.where,
            at=eye.probe,
            rms_v=one.rms_v,
            peak_v=one.peak_v,
            height_cost_v=max(2.0 * (_level_v(near, others, eye, between_v) - all_v), 0.0),
        )
        for one, others in zip(observed.beside, each_left_out(each), strict=True)
    )


def _level_v(near: Eye, others: AddedDensity, measured: EyeResult, between_v: tuple[float, float]) -> float:
    """Half the opening at the sampling instant with what `others` add, V; at both phases it lies between two levels."""
    at_v = np.linspace(*between_v, _LEVELS)
    root = np.sqrt(-np.log(measured.ber))
    found = [
        np.interp(root, np.sqrt(-log_with(near.tail, phase, at_v, others))[::-1], at_v[::-1])
        for phase in range(near.time_s.size)
    ]
    return float(np.interp(measured.center_s, near.time_s, found))


def _pushing(plan: LanePlan, observed: Observed, cost_v: float) -> tuple[AggressorResult, ...]:
    """What each aggressor before the last limiting stage adds there; each takes its share of the cost by its power."""
    if not observed.pushing:
        return ()
    square_v2 = sum(one.rms_v**2 for one in observed.pushing)
    return tuple(
        AggressorResult(
            lane=one.stranger.lane,
            where=one.stranger.where,
            at=plan.stages[max(observed.stages)].ref,
            rms_v=one.rms_v,
            peak_v=one.peak_v,
            height_cost_v=max(cost_v, 0.0) * (one.rms_v**2 / square_v2 if square_v2 > 0.0 else 0.0),
        )
        for one in observed.pushing
    )


def _power_sums(memo: Memo, plan: LanePlan, last: int) -> Iterator[PowerSumResult]:
    """Crosstalk over frequency of every span up to a probe point's that has neighbours."""
    nyquist_hz = plan.profile.nyquist_hz
    for number in range(last + 1):
        seen = power_sums(memo, plan, number, standard_axis(plan.profile.ui_s))
        if seen is not None:
            yield PowerSumResult(
                from_=plan.spans[number].from_,
                to=plan.spans[number].to,
                psnext_db=seen.at(seen.near_db, nyquist_hz),
                psfext_db=seen.at(seen.far_db, nyquist_hz),
                loss_to_crosstalk_db=float(np.interp(nyquist_hz, seen.f_hz, seen.ratio_db)),
                icn_v=seen.noise_v,
            )


def about(eye: Eye, time_s: float) -> Eye:
    """The eye at the two phases about an instant (s) alone."""
    after = min(max(int(np.searchsorted(eye.time_s, time_s)), 1), eye.time_s.size - 1)
    some = slice(after - 1, after + 1)
    return eye._replace(time_s=eye.time_s[some], tail=Tail(eye.tail.v[some], eye.tail.log_p[some]))


def half_height_v(eye: Eye, measured: EyeResult) -> float:
    """Half the opening at the sampling instant, V."""
    return float(np.interp(measured.center_s, eye.time_s, eye.levels_v(measured.ber)))
