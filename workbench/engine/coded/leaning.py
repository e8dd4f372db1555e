"""Which displaced boundaries are told apart by the symbols before, where a lane has more of them than can be counted.

Without loss nothing that is reflected ever dies away: hundreds of boundaries count then, and each takes the state of a
line code times all that its older symbols may be. The largest are told apart by these symbols; of the others they only
shift the sample, as small cursors of their own do.
"""

import numpy as np

from workbench.arrays import Floats
from workbench.engine.tails.boundaries import Displaced
from workbench.engine.tails.rest import known_levels
from workbench.engine.tails.samples import Sample

_MOST_KINDS = 256
"""Kinds of all boundaries together that are told apart; the lanes of a board that works take 20 to 130."""
_LIKELY_STEP = 1.5
"""Size of a driven step that is not known. Its mean is 1, but where a tail is read edges stand where they hurt: 2."""


def told_apart(displaced: dict[int, Displaced], sample: Sample) -> tuple[dict[int, Displaced], Floats]:
    """What boundaries do, the largest by older symbols, and what these symbols add to the others as cursors.

    Args:
        displaced: by boundary, `Displaced` of one boundary each.
        sample: with edges.

    Returns:
        The displacements, some of one kind, and cursors to be added, V, shape (P, K).
    """
    leaning_v = np.zeros_like(sample.cursors_v)
    kinds = sample.edges.kinds if sample.edges is not None else 1
    if kinds == 1 or len(displaced) * kinds <= _MOST_KINDS:
        return displaced, leaning_v
    leans = {j: _leans_v(one) for j, one in displaced.items()}
    largest = sorted(displaced, key=lambda j: -float(np.abs(leans[j]).sum(axis=0).max()))
    found = dict(displaced)
    for j in largest[_MOST_KINDS // kinds :]:
        found[j] = of_one_kind(_upright(displaced[j], leans[j])).in_parts(displaced[j].weight.shape[1])
        newer, older = known_levels(sample.given, range(j, j + 2), leaning_v.shape[0])
        size = np.abs(newer - older)
        push = np.where(np.isnan(size), _LIKELY_STEP, size)
        room = leaning_v.shape[1] - j - 2
        leaning_v[:, j + 2 : j + 2 + leans[j].shape[0]] -= (push * leans[j]).T[:, :room]
    return found, leaning_v


def of_one_kind(displaced: Displaced) -> Displaced:
    """What boundaries do whatever the symbols before, which are taken as equally likely."""
    kinds, parts = displaced.weight.shape
    change_v, spread_v = (
        column.reshape(column.shape[0], 1, kinds * parts, -1) for column in (displaced.change_v, displaced.spread_v)
    )
    return Displaced(displaced.weight.reshape(1, -1) / kinds, change_v, spread_v)


def _unlike(kinds: int) -> Floats:
    """-1.0 where an older symbol is unlike the one before the boundary, else 1.0; shape (older symbols, kinds)."""
    older = kinds.bit_length() - 1
    return 1.0 - 2.0 * (np.arange(kinds) >> np.arange(older)[:, None] & 1)


def _leans_v(one: Displaced) -> Floats:
    """By how much each older symbol shifts what one boundary does to either side, V, shape (older symbols, P)."""
    mean_v = (one.weight[:, :, None] * one.change_v[0]).sum(axis=1)
    kinds = mean_v.shape[0]
    return np.asarray(_unlike(kinds) @ mean_v / kinds)


def _upright(one: Displaced, leans_v: Floats) -> Displaced:
    """The same without these shifts."""
    shift_v = _unlike(one.weight.shape[0]).T @ leans_v
    return one._replace(change_v=one.change_v - shift_v[:, None])
