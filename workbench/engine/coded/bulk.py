"""The density of a received sample where it is not rare, its symbols as a line code sends them; as `tails.bulk` is."""

import numpy as np

from workbench.codes.machine import Machine
from workbench.engine.coded.chain import Along, transformed
from workbench.engine.coded.tails import coded_sample
from workbench.engine.tails.bulk import Bulk, levels_of
from workbench.engine.tails.samples import Sample

_FURTHEST = 2.5
"""Where along u, times the Gaussian part's rms, next to nothing is left of it."""


def coded_bulk(sample: Sample, machine: Machine, *, sketch: bool = False) -> Bulk:
    """The density at every phase, on levels that all phases share.

    Args:
        sample: what is received; two-level symbols.
        machine: the line code.
        sketch: for a picture of the moment: no more levels than a picture shows.
    """
    about = coded_sample(sample, machine, 0.0)
    sigma = np.sqrt(about.variance + about.moved)
    levels = levels_of(sample, sigma, about.variance, sketch=sketch)
    shown = levels.shown(about.variance)
    coded = coded_sample(sample, machine, _FURTHEST / float(np.sqrt(shown.min())))
    still = np.zeros(sigma.size)
    along = Along(still, still + levels.step, levels.half, precise=False)
    value, log_scale = transformed(coded.moves, coded.begun, along)
    gaussian = np.exp(-0.5 * shown[:, None] * along.u**2)
    return levels.density((value * gaussian).T, log_scale - coded.log_share)
