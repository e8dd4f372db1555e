"""The statistical eye of a received signal: at which phases it is looked at, and what samples it is made of."""

from collections.abc import Callable

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.codes.machine import Machine
from workbench.engine.coded.eye import CodedPhases
from workbench.engine.lane.equalizers import Received
from workbench.engine.lane.path import LanePlan
from workbench.engine.lane.probe import PINS, RECEIVER, Probe
from workbench.engine.lane.waves import sampled
from workbench.engine.tails.eye import Eye, EyeReach, bending_s, eye_of, filled, joined_eye, refined
from workbench.engine.tails.jitter import Mixture, dual_dirac
from workbench.engine.tails.quick import quick_level_v
from workbench.engine.tails.samples import Sample, treated

_EXTENSIONS = 4


def eye_received(
    plan: LanePlan,
    probe: Probe,
    received: Received,
    error_ratio: float,
    *,
    reach: EyeReach,
    machine: Machine | None,
) -> Eye:
    """The statistical eye of what a receiver decides on, without what the lanes beside it add.

    Args:
        plan: the lane.
        probe: where.
        received: the signal there.
        error_ratio: where the eye's accuracy is needed.
        reach: how much of the eye is wanted.
        machine: the line code that its symbols are counted by; None: as independent.
    """
    waves = received.waves
    sampling = _sampling(plan, probe)
    # From just before the crossing to just after the next, so that the whole unit interval lies between phases.
    before = _before_crossing(received, sampling)
    all_phases = int(np.floor(waves.crossing)) - before + np.arange(before + waves.grid.samples_per_ui + 2)
    coded = CodedPhases(lambda at: sample_at(received, at), all_phases, machine) if machine is not None else None

    def times_s(at: Integers | Floats) -> Floats:
        return np.asarray((at - waves.crossing) * waves.grid.dt_s)

    def look(at: Integers | Floats) -> Eye:
        time_s = times_s(at)
        if coded is not None:
            tail = coded.tail(at, error_ratio, reach)
            return Eye(plan.profile.ui_s, time_s, tail, sampling, received.signal.wrong)
        return eye_of(
            sample_at(received, at),
            ui_s=plan.profile.ui_s,
            time_s=time_s,
            sampling=sampling,
            wrong=received.signal.wrong,
            error_ratio=error_ratio,
            reach=reach,
        )

    every_other = np.append(all_phases[:-1:2], all_phases[-1])
    if reach is EyeReach.PICTURE:
        return look(every_other)
    if reach is EyeReach.ALL:
        eye = look(all_phases) if coded is None else _drawn(look, every_other, all_phases, times_s(all_phases))
    else:
        if coded is not None:
            level_v = coded.level_v(error_ratio)
        else:
            level_v = np.interp(all_phases, every_other, quick_level_v(sample_at(received, every_other), error_ratio))
        counting = _phases_that_count(received, all_phases, sampling, level_v)
        # A mask is held against the contour wherever it reaches.
        first = np.arange(all_phases.size) if _has_mask(plan, probe) else counting
        eye = _opening(look, all_phases, first, times_s(all_phases), error_ratio)

    def places(times_s: Floats) -> Floats:
        return waves.crossing + times_s / waves.grid.dt_s

    finer = refined(eye, lambda times_s: look(places(times_s)), error_ratio)
    if finer is eye or eye.seen is None:
        return finer
    return finer._replace(seen=treated(sample_at(received, places(finer.time_s))))


def _before_crossing(received: Received, sampling: Mixture | None) -> int:
    """How many phases before the mean crossing are looked at too.

    Decision feedback may open the eye as far as there: an instant that moves beyond it then meets an open eye, no coin.
    """
    if not received.taps_v.size or sampling is None:
        return 0
    grid = received.waves.grid
    return min(int(np.ceil(_reach_s(sampling) / grid.dt_s)), grid.samples_per_ui // 4)


def _reach_s(sampling: Mixture) -> float:
    """How far the sampling instant's jitter reaches to either side, s."""
    return 8.5 * float(sampling.sigma_s.max()) + float(np.abs(sampling.offset_s).max())


def _has_mask(plan: LanePlan, probe: Probe) -> bool:
    """Whether a mask of the profile's may be held against the eye there."""
    limits = (plan.profile.limits, plan.profile.pad_limits)
    return probe.name in (RECEIVER, PINS) and any(one is not None and one.mask is not None for one in limits)


def _drawn(look: Callable[[Integers], Eye], first: Integers, all_phases: Integers, time_s: Floats) -> Eye:
    """The whole eye at all phases, only those computed that a cubic through the `first` ones would miss."""
    eye = look(first)
    bent = all_phases[np.isin(time_s, bending_s(eye, time_s))]
    return filled(joined_eye(eye, look(bent)) if bent.size else eye, time_s)


def _opening(
    look: Callable[[Integers], Eye], all_phases: Integers, first: Integers, time_s: Floats, error_ratio: float
) -> Eye:
    """The eye about its opening: at the phases that should tell it first, then further out while they don't."""
    step_s, earliest_s = float(time_s[1] - time_s[0]), min(float(time_s[1]), 0.0)
    seen = np.zeros(all_phases.size, bool)
    seen[first] = True
    eye = look(all_phases[seen])
    for _ in range(_EXTENSIONS):
        unseen_s = eye.unseen_s(error_ratio, earliest_s)
        if unseen_s is None:
            break
        known = np.flatnonzero(seen)
        left, right = (int(np.ceil(far_s / step_s - 1e-6)) for far_s in unseen_s)
        more = np.r_[max(known[0] - left, 0) : known[0], known[-1] + 1 : min(known[-1] + 1 + right, seen.size)]
        if not more.size:
            return eye
        seen[more] = True
        eye = joined_eye(eye, look(all_phases[more]))
    return eye if seen.all() else joined_eye(eye, look(all_phases[~seen]))


def sample_at(received: Received, at: Integers | Floats) -> Sample:
    """Samples of what a receiver decides on at grid points, or between, `at` (shape (P,)), given the upper symbol."""
    return sampled(received.waves, received.signal, at=at, noise_v=received.noise_v, held_v=received.taps_v)


def sample_of_interval(received: Received) -> Sample:
    """Samples at the grid points of one unit interval."""
    first = int(np.ceil(received.waves.crossing))
    return sample_at(received, first + np.arange(received.waves.grid.samples_per_ui))


def _phases_that_count(received: Received, at: Integers, sampling: Mixture | None, level: Floats) -> Integers:
    """Which phases the measures are read at: about both ends of the opening, where it is sampled, where it is highest.

    The saddlepoint's leading term (`level`, V) says where these are; the margin covers its error and the sampling
    jitter's reach.
    """
    reach = 2
    if sampling is not None:
        reach += int(np.ceil(_reach_s(sampling) / received.waves.grid.dt_s))
    best = int(level.argmax())
    below_left, below_right = np.nonzero(level[:best] <= 0.0)[0], np.nonzero(level[best:] <= 0.0)[0]
    if level[best] <= 0.0:
        near = set(range(best - reach, best + reach + 1))
    else:
        low = int(below_left[-1]) if below_left.size else 0
        high = best + int(below_right[0]) if below_right.size else at.size - 1
        middle = (low + high) // 2
        # Dual-Dirac jitter counts as Gaussian in this estimate, so the true ends may lie further out; further in than
        # the ends themselves only the middle counts.
        out = max(reach + 1, 4)
        near = {*range(low - out, low + 4), *range(high - 3, high + out + 1), *range(middle - 1, middle + 3)}
        near |= set(range(middle - reach + 2, middle + reach))
    if received.taps_v.size:
        # After decision feedback the receiver decides where its own rule says, not in the middle.
        decision = received.decision - int(at[0])
        near |= set(range(decision - reach + 1, decision + reach))
    return np.array(sorted(phase for phase in near if 0 <= phase < at.size))


def _sampling(plan: LanePlan, probe: Probe) -> Mixture | None:
    """The receiver's own jitter, at the receiver only."""
    if probe.name not in (RECEIVER, PINS):
        return None
    receiver = plan.receiver
    return dual_dirac(random_s=receiver.random_jitter_s, deterministic_s=receiver.deterministic_jitter_s)
