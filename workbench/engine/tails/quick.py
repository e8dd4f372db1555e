"""Tails by the saddlepoint alone: no transform, for choosing where to look and for pictures that move.

H. E. Daniels, "Saddlepoint approximations in statistics", Ann. Math. Statist. 25, 1954, 631-650. Nothing that a lane is
judged by is read from it.
"""

import math

import numpy as np

from workbench.arrays import Floats
from workbench.engine.tails.density import LOG_FLOOR, Tail
from workbench.engine.tails.samples import Sample, Treated, split_of
from workbench.engine.tails.tilts import Ladder, interpolated, ladder_of

_ROOT_FLOOR = float(np.sqrt(-LOG_FLOOR))
_RUNGS = 15
_STEEPEST = 30.0
"""Beyond that many sigmas the Gaussian integral's own tail leaves floating point; it is deeper than any floor."""


def quick_tail(seen: Treated) -> Tail:
    """The lower tail at every phase: the whole of it from one ladder."""
    return tail_of_ladder(ladder_of(*seen, _RUNGS))


def tail_of_ladder(ladder: Ladder) -> Tail:
    """The lower tail that a ladder tells.

    ``P = exp(K(theta) - theta v + u^2 / 2) Q(|u|)`` with ``u = theta sqrt(K'')``: the leading term with its Gaussian
    integral kept whole, so that it holds up to the mean. Good to a percent of the swing in level.
    """
    log_p = _saddlepoint_log_p(ladder)
    tails = [_from_rungs(ladder, log_p, phase) for phase in range(log_p.shape[0])]
    v, roots = (np.array(column) for column in zip(*tails, strict=True))
    return Tail(v, -(roots**2))


def _saddlepoint_log_p(ladder: Ladder) -> Floats:
    """ln P at each rung's level, shape (P, steps)."""
    curvature = np.gradient(ladder.slope, axis=1) / np.gradient(ladder.theta, axis=1)
    u = np.minimum(-ladder.theta * np.sqrt(np.maximum(curvature, 1e-30)), _STEEPEST)
    scaled = np.reshape([math.erfc(one) for one in (u / np.sqrt(2.0)).ravel().tolist()], u.shape)
    return np.asarray(np.log(0.5 * scaled) + 0.5 * u**2 - ladder.depth)


def _from_rungs(ladder: Ladder, log_p: Floats, phase: int) -> tuple[Floats, Floats]:
    """Levels, rising, and ``sqrt(-ln P)`` of one phase, from the floor to certainty."""
    roots = np.maximum.accumulate(np.sqrt(np.clip(-log_p[phase], np.log(2.0), -LOG_FLOOR)))[::-1]
    levels = ladder.slope[phase, ::-1]
    step_v = max(float(ladder.sigma[phase]), 1e-9)
    slope = (roots[0] - roots[-1]) / max(float(levels[-1] - levels[0]), 1e-9)
    outward = levels[0] - (_ROOT_FLOOR - roots[0]) / max(slope, 1e-9)
    mean = max(float(ladder.mean[phase]), float(levels[-1]) + 1e-6 * step_v)
    v = np.concatenate([[outward], levels, [mean, mean + 6.0 * step_v]])
    return v, np.concatenate([[_ROOT_FLOOR], roots, [np.sqrt(np.log(2.0)), 0.0]])


def quick_level_v(sample: Sample, error_ratio: float) -> Floats:
    """About where ``P(sample <= v)`` equals `error_ratio`, V, shape (P,); displacements count as Gaussian."""
    return level_of(ladder_of(sample, split_of(sample), None), error_ratio)


def level_of(ladder: Ladder, error_ratio: float) -> Floats:
    """About where ``P(sample <= v)`` equals `error_ratio`, V, shape (P,): the saddlepoint's leading term.

    ``P = exp(-depth) / (|theta| sigma sqrt(2 pi))`` (Daniels 1954) with sigma from the slope along the ladder. Good
    to a few percent, which is what choosing an equalizer takes.
    """
    curvature = np.gradient(ladder.slope, axis=1) / np.gradient(ladder.theta, axis=1)
    spread = np.abs(ladder.theta) * np.sqrt(np.maximum(curvature, 1e-30) * 2.0 * np.pi)
    depth = np.maximum.accumulate(ladder.depth + np.log(np.maximum(spread, 1.0)), axis=1)
    return interpolated(depth, ladder.slope, -float(np.log(error_ratio)))
