"""What the lanes beside a lane take of its eye, each and all together."""

import numpy as np

from workbench.engine.assessment import AggressorResult, CrosstalkResult, EyeResult
from workbench.engine.lane.lane import Observed
from workbench.engine.lane.strangers import strange_density
from workbench.engine.tails.density import Tail
from workbench.engine.tails.eye import Eye
from workbench.engine.tails.strangers import laid_over
from workbench.engine.verdict.measures import opening

_AROUND_UI = 0.15
"""So far to each side of the sampling instant its own jitter may reach."""


def crosstalk_result(observed: Observed, eye: EyeResult) -> CrosstalkResult | None:
    """The figures of an eye with neighbours; None where no other lane adds anything.

    Args:
        observed: what stands at the probe point.
        eye: its measures, neighbours included.
    """
    if observed.alone is None:
        return None
    without = opening(observed._replace(eye=observed.alone), eye.ber)
    near = _about(observed.alone, eye.center_s)
    all_v = _half_v(_over(near, observed, None), eye)
    found = [
        AggressorResult(
            lane=one.stranger.lane,
            where=one.stranger.where,
            rms_v=one.rms_v,
            peak_v=one.peak_v,
            height_cost_v=2.0 * (_half_v(_over(near, observed, number), eye) - all_v),
        )
        for number, one in enumerate(observed.beside)
    ]
    return CrosstalkResult(
        height_v_without=without.height_v,
        width_ui_without=without.width_s / observed.alone.ui_s,
        rms_v=float(np.sqrt(sum(one.rms_v**2 for one in found))),
        peak_v=sum(one.peak_v for one in found),
        aggressors=tuple(sorted(found, key=lambda one: -one.height_cost_v)),
    )


def _about(eye: Eye, time_s: float) -> Eye:
    """The eye at the phases about an instant alone."""
    reach_s = _AROUND_UI * eye.ui_s if eye.sampling is not None else 0.0
    low, high = np.searchsorted(eye.time_s, (time_s - reach_s, time_s + reach_s))
    some = slice(max(int(low) - 1, 0), int(high) + 1)
    return eye._replace(time_s=eye.time_s[some], tail=Tail(eye.tail.v[some], eye.tail.log_p[some]))


def _over(eye: Eye, observed: Observed, without: int | None) -> Eye:
    """The eye with all neighbours but one."""
    others = strange_density(observed.beside, without)
    return eye if others is None else eye._replace(tail=laid_over(eye.tail, others))


def _half_v(eye: Eye, measured: EyeResult) -> float:
    """Half the opening at the sampling instant, V."""
    return float(np.interp(measured.center_s, eye.time_s, eye.levels_v(measured.ber)))
