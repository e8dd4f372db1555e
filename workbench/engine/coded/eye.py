"""The eye of the line code that an interface really uses, at one probe point.

Behind a limiting stage the code holds for the last span; what moves the stage's own edges is taken as it is for
independent symbols, which moves them rather too far.
"""

from typing import NamedTuple

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.coded.tails import coded_sample, coded_tail_near, oldest_column
from workbench.engine.coded.worst import WorstSequence, worst_samples_v, worst_sequence
from workbench.engine.lane.lane import Observed, sample_at
from workbench.engine.tails.chain import Integers
from workbench.engine.tails.density import Tail
from workbench.engine.tails.eye import Eye

_COARSE = 3
"""Phases between those that are computed first; the ends and the middle of the opening then get all of theirs."""


class CodedEye(NamedTuple):
    """What a line code makes of an eye.

    Attributes:
        observed: as it was observed, its eye that of the code.
        worst_v: the height, V, that the worst sequence of the code leaves, without noise and jitter.
        worst: that sequence.
    """

    observed: Observed
    worst_v: float
    worst: WorstSequence


def coded_eye(observed: Observed, machine: Machine, error_ratio: float) -> CodedEye:
    """The eye of a line code, from the eye of independent symbols.

    Args:
        observed: the eye of independent symbols.
        machine: the line code.
        error_ratio: where height and width are read.
    """
    waves = observed.received.waves
    at = int(np.floor(waves.crossing)) + np.arange(waves.grid.samples_per_ui + 2)
    coded = coded_sample(sample_at(observed.received, at), machine)
    time_s = (at - waves.crossing) * waves.grid.dt_s

    def eye_at(phases: Integers) -> Eye:
        tail = coded_tail_near(coded.rows(phases), error_ratio)
        return observed.eye._replace(time_s=time_s[phases], tail=tail)

    first = np.arange(0, at.size, _COARSE)
    eye = eye_at(first)
    more = _worth_more(observed, eye, first, int(at[0]), error_ratio)
    return CodedEye(observed._replace(eye=_together(eye, eye_at(more))), *worst_of(observed, machine))


def _worth_more(observed: Observed, eye: Eye, first: Integers, origin: int, error_ratio: float) -> Integers:
    """Phases beside those that are known which the ends of the opening, or its middle, lie between."""
    level = eye.levels_v(error_ratio)
    sampling, dt_s = eye.sampling, observed.received.waves.grid.dt_s
    reach = 1 if sampling is None else 1 + int(np.ceil(sampling.rms_s / dt_s))
    near: set[int] = set()
    ends: list[float] = []
    for at in np.nonzero((level[1:] > 0.0) != (level[:-1] > 0.0))[0]:
        near |= set(range(int(first[at]) - reach + 1, int(first[at + 1]) + reach))
        ends.append(first[at] + (first[at + 1] - first[at]) * level[at] / (level[at] - level[at + 1]))
    centre = int((ends[0] + ends[-1]) / 2.0) if len(ends) > 1 else int(first[level.argmax()])
    near |= set(range(centre - reach, centre + reach + 2))
    if observed.received.taps_v.size:
        decided = observed.received.decision - origin
        near |= set(range(decided - reach, decided + reach + 1))
    return np.array(sorted(phase for phase in near - set(first.tolist()) if 0 <= phase <= first[-1]), np.int64)


def _together(one: Eye, other: Eye) -> Eye:
    """Two eyes' phases in one, in order, on the finer of their grids."""
    bins = max(one.tail.v.shape[1], other.tail.v.shape[1])
    both = [_resampled(eye.tail, bins) for eye in (one, other)]
    time_s = np.concatenate([one.time_s, other.time_s])
    order = np.argsort(time_s)
    v, log_p = (np.concatenate(columns)[order] for columns in zip(*both, strict=True))
    return one._replace(time_s=time_s[order], tail=Tail(v, log_p))


def _resampled(tail: Tail, bins: int) -> Tail:
    places, given = np.linspace(0.0, 1.0, bins), np.linspace(0.0, 1.0, tail.v.shape[1])
    v = np.array([np.interp(places, given, row) for row in tail.v])
    root = [np.interp(here, row, np.sqrt(-p)) for here, row, p in zip(v, tail.v, tail.log_p, strict=True)]
    return Tail(v, -(np.array(root) ** 2))


def worst_of(observed: Observed, machine: Machine) -> tuple[float, WorstSequence]:
    """The height that the worst sequence leaves at the phase where it is largest, and that sequence.

    The sequence goes back as far as symbols count at all.

    Args:
        observed: two-level symbols at the probe point.
        machine: the line code.
    """
    waves = observed.received.waves
    at = int(np.ceil(waves.crossing)) + np.arange(waves.grid.samples_per_ui)
    sample = sample_at(observed.received, at)
    main = next(iter(sample.given))
    least_v = worst_samples_v(machine, sample.cursors_v, main)
    best = int(least_v.argmax())
    telling = sample.cursors_v[best, : oldest_column(sample, machine)]
    return 2.0 * float(least_v[best]), worst_sequence(machine, telling, main)
