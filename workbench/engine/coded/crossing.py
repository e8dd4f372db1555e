"""How rarely a sample of a line code lies below zero: what the edges of a limiting stage come from."""

import numpy as np

from workbench.arrays import Floats
from workbench.codes.machine import Machine
from workbench.engine.coded.tails import coded_sample, coded_tail_at, ladder_of
from workbench.engine.tails.density import LOG_FLOOR, Tail
from workbench.engine.tails.quick import tail_of_ladder
from workbench.engine.tails.samples import Sample, sample_rows
from workbench.engine.tails.tilts import Ladder

_DEEPEST = 51.0
"""``-ln P`` of the rarest crossing that counts, 1e-22."""
_DEPTHS = np.array([2.5, 7.0, 14.0, 24.0, 38.0])
"""Tilts, as ``-ln P`` of the tail they aim at; each phase gets the one that its zero is nearest to."""


def log_below_zero(sample: Sample, machine: Machine, *, sketch: bool = False) -> Floats:
    """``ln P(sample <= 0)`` at each phase, shape (P,).

    Args:
        sample: what is received, its mean above zero; several of its symbols may be known.
        machine: the line code.
        sketch: by the saddlepoint alone.
    """
    ladder = ladder_of(coded_sample(sample, machine), _DEEPEST)
    if sketch:
        return log_at_zero(tail_of_ladder(ladder))
    depth = _depth_of_zero(ladder)
    nearest = np.abs(depth[:, None] - _DEPTHS).argmin(axis=1)
    out = np.full(depth.size, LOG_FLOOR)
    for at, aimed in enumerate(_DEPTHS.tolist()):
        phases = np.nonzero((nearest == at) & (depth < _DEEPEST))[0]
        if phases.size:
            tail = coded_tail_at(sample_rows(sample, phases), machine, ladder.rows(phases), aimed)
            out[phases] = log_at_zero(tail)
    return out


def _depth_of_zero(ladder: Ladder) -> Floats:
    """How deep in the tail zero lies, about; infinite beyond the last rung."""
    rows = zip(ladder.slope, ladder.depth, strict=True)
    return np.array([np.interp(0.0, slope[::-1], depth[::-1], left=np.inf) for slope, depth in rows])


def log_at_zero(tail: Tail) -> Floats:
    """``ln P(sample <= 0)`` at each phase of a tail, shape (P,)."""
    deepest = np.sqrt(-LOG_FLOOR)
    rows = zip(tail.v, tail.log_p, strict=True)
    root = [np.interp(0.0, v, np.sqrt(-log_p), left=deepest, right=0.0) for v, log_p in rows]
    return -(np.array(root) ** 2)
