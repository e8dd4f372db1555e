"""The density of a received sample where it is not rare, its symbols as a line code sends them; as `tails.bulk` is."""

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.coded.along import AxisPoints, transformed
from workbench.engine.coded.counting import spread_of
from workbench.engine.coded.leaning import of_one_kind
from workbench.engine.coded.tails import coded_sample
from workbench.engine.tails.bulk import Bulk, levels_of
from workbench.engine.tails.samples import Sample

_FURTHEST = 2.5
"""Where along u, times the Gaussian part's rms, next to nothing is left of it."""
_LEAST_EDGE = 0.3
"""Boundaries whose displacement does less than that share of the Gaussian part's rms go in with it."""


def coded_bulk(sample: Sample, machine: Machine, *, sketch: bool = False) -> Bulk:
    """The density at every phase, on levels that all phases share.

    Args:
        sample: what is received; two-level symbols.
        machine: the line code.
        sketch: for a picture of the moment: no more levels than a picture shows.
    """
    sample = _of_one_kind(sample)
    gaussian, moved = spread_of(sample, machine, least_edge=_LEAST_EDGE)
    sigma = np.sqrt(gaussian + moved)
    levels = levels_of(sample, sigma, gaussian, sketch=sketch)
    furthest = _FURTHEST / float(np.sqrt(levels.shown(gaussian).min()))
    coded = coded_sample(sample, machine, furthest, least_edge=_LEAST_EDGE, sketch=sketch)
    # What goes in with the Gaussian part depends on how far along u: this look's own variance belongs to its moves.
    shown = levels.shown(coded.variance)
    still = np.zeros(sigma.size)
    along = AxisPoints.evenly(still, still + levels.step, levels.half, precise=False)
    value, log_scale = transformed(coded.moves, coded.begun, along, shown)
    return levels.density(value.T, log_scale - coded.log_share)


def _of_one_kind(sample: Sample) -> Sample:
    """The sample with displacements that hang on no older symbols, each as it is on average over these.

    What is not rare hardly shows the difference, and the older symbols need not be remembered.
    """
    edges = sample.edges
    if edges is None or edges.kinds == 1:
        return sample
    return sample._replace(edges=edges.mapped(of_one_kind)._replace(kinds=1))
