"""What the lanes beside a lane take of its eye, each and all together."""

import numpy as np

from workbench.engine.assessment import AggressorResult, CrosstalkResult, EyeResult
from workbench.engine.lane.lane import Observed
from workbench.engine.lane.strangers import cursors_of, mean_square, peak_v, strange_density
from workbench.engine.tails.strangers import laid_over
from workbench.engine.verdict.measures import opening


def crosstalk_result(observed: Observed, eye: EyeResult) -> CrosstalkResult | None:
    """The figures of an eye with neighbours; None where no other lane adds anything.

    Args:
        observed: what stands at the probe point.
        eye: its measures, neighbours included.
    """
    if observed.alone is None:
        return None
    without = opening(observed._replace(eye=observed.alone), eye.ber)
    found = [_aggressor(observed, eye, number) for number in range(len(observed.received.signal.strangers))]
    return CrosstalkResult(
        height_v_without=without.height_v,
        width_ui_without=without.width_s / observed.eye.ui_s,
        rms_v=float(np.sqrt(sum(one.rms_v**2 for one in found))),
        peak_v=sum(one.peak_v for one in found),
        aggressors=tuple(sorted(found, key=lambda one: -one.height_cost_v)),
    )


def _aggressor(observed: Observed, eye: EyeResult, number: int) -> AggressorResult:
    signal = observed.received.signal
    stranger = signal.strangers[number]
    every = np.atleast_2d(cursors_of(signal, stranger._replace(asynchronous=True)))
    return AggressorResult(
        lane=stranger.lane,
        where=stranger.where,
        rms_v=float(np.sqrt(mean_square(stranger.levels) * np.mean(np.sum(every**2, axis=1)))),
        peak_v=peak_v(signal, stranger),
        height_cost_v=_height_without_v(observed, eye, number) - eye.height_v,
    )


def _height_without_v(observed: Observed, eye: EyeResult, number: int) -> float:
    """The eye's height with all other neighbours but one."""
    assert observed.alone is not None
    others = strange_density(observed.received.signal, without=number)
    left = observed.alone if others is None else observed.alone._replace(tail=laid_over(observed.alone.tail, others))
    return opening(observed._replace(eye=left), eye.ber).height_v
