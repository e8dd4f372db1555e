"""What other lanes add to a sample: a bounded density, laid over the tail exactly.

Symbols of other lanes are independent of one's own, and each has a few cursors of its own here. Their sum is no
Gaussian: its few large terms are bounded, which a power sum would miss by 10 to 300 per cent of the whole at 1e-12. So
it is kept as a density on levels, made by shifting and adding, and laid over the tail level by level: all terms are
positive, so that the result is as good far down as the tail itself.
"""

from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import product
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.engine.tails.density import LOG_FLOOR, Tail

_BINS = 36
"""Groups of levels to each side of zero, for all strangers together."""
_MOST = 64
"""More levels than that are put into groups."""
_AT_ONCE = 16
"""So many combinations of cursors are added to a density in one go."""
_BLOCK = 2**16
"""So many sums of a level and a stranger's are computed in one go: what fits a fast memory."""
_LEAST_SHARE = 2e-3
"""Cursors below that share of the largest are left out: a thousand of them would not reach it."""


class AddedDensity(NamedTuple):
    """A symmetric density: levels in V, rising, and how likely each is, shape (N,) each."""

    level_v: Floats
    chance: Floats


def density_of(strangers: Sequence[tuple[Floats, tuple[float, ...]]]) -> AddedDensity | None:
    """The density of all strangers' sum, each at one phase.

    Args:
        strangers: of each the cursors in V, shape (K,), or at several phases that are alike, shape (M, K), and its
            symbol levels.

    Returns:
        The density; None where nothing is added.
    """
    return added_up(each_density(strangers))


class EachDensity(NamedTuple):
    """The density of each stranger by itself, and how wide groups of levels are, V."""

    each: tuple[AddedDensity, ...]
    bin_v: float

    def scaled(self, shares: Sequence[float]) -> "EachDensity":
        """The same with what each stranger adds multiplied by its share."""
        both = zip(self.each, shares, strict=True)
        each = tuple(AddedDensity(share * one.level_v, one.chance) for one, share in both)
        return EachDensity(each, _bin_v(float(one.level_v[-1]) for one in each))


def each_density(strangers: Sequence[tuple[Floats, tuple[float, ...]]]) -> EachDensity:
    """The density of each stranger by itself.

    Args:
        strangers: of each its cursors in V, shape (K,) or (M, K), and its levels; as for `density_of`.
    """
    bin_v = _bin_v(float(np.abs(np.atleast_2d(cursors)).sum(axis=1).max()) for cursors, _ in strangers)
    return EachDensity(tuple(_at_phases(cursors, levels, bin_v) for cursors, levels in strangers), bin_v)


def _bin_v(reaches_v: Iterable[float]) -> float:
    """How wide groups of levels are, V, for strangers that reach that far, V."""
    return sum(reaches_v) / _BINS


def added_up(known: EachDensity) -> AddedDensity | None:
    """The density of the sum of all strangers; None where nothing is added."""
    whole = AddedDensity(np.zeros(1), np.ones(1))
    for one in known.each:
        whole = _sum(whole, one, known.bin_v)
    return whole if known.bin_v > 0.0 and float(whole.level_v[-1]) > 0.0 else None


def each_left_out(known: EachDensity) -> list[AddedDensity]:
    """For each of the strangers, at least one, the density of the sum of all others."""
    nothing = AddedDensity(np.zeros(1), np.ones(1))
    before, after = [nothing], [nothing]
    for one, other in zip(known.each[:-1], known.each[:0:-1], strict=True):
        before.append(_sum(before[-1], one, known.bin_v))
        after.append(_sum(after[-1], other, known.bin_v))
    return [_sum(one, other, known.bin_v) for one, other in zip(before, after[::-1], strict=True)]


def _sum(one: AddedDensity, other: AddedDensity, bin_v: float) -> AddedDensity:
    """The density of the sum of two independent ones."""
    if one.level_v.size == 1 and one.level_v[0] == 0.0:
        return other
    level_v, chance = one.level_v[:, None] + other.level_v, one.chance[:, None] * other.chance
    return _grouped(level_v.ravel(), chance.ravel(), bin_v)


def log_with(tail: Tail, phase: int, at_v: Floats, density: AddedDensity) -> Floats:
    """``ln P(sample <= v)`` of one phase with strangers added at levels `at_v` (V, shape (n,)), shape (n,)."""
    roots = np.sqrt(-np.clip(tail.log_p[phase], LOG_FLOOR, 0.0))
    root = np.interp(at_v[:, None] - density.level_v, tail.v[phase], roots)
    return np.asarray(np.log(np.exp(-(root**2)) @ density.chance))


def _at_phases(cursors: Floats, levels: tuple[float, ...], bin_v: float) -> AddedDensity:
    phases = [_of_cursors(row, levels, bin_v) for row in np.atleast_2d(cursors)]
    level_v = np.concatenate([one.level_v for one in phases])
    chance = np.concatenate([one.chance for one in phases]) / len(phases)
    order = np.argsort(level_v)
    return AddedDensity(level_v[order], chance[order])


def laid_over(tail: Tail, density: AddedDensity) -> Tail:
    """The tail of a sample with strangers added: over their levels, the sum of chance times the tail that far off."""
    # The tail's own levels, spread by the reach: what hardly adds anything leaves every one of them as it is.
    v = tail.v + np.interp(
        np.linspace(0.0, 1.0, tail.v.shape[1]), (0.0, 1.0), (float(density.level_v[0]), float(density.level_v[-1]))
    )
    log_p = np.empty_like(v)
    weight = np.log(np.maximum(density.chance, np.finfo(float).tiny))
    known = np.sqrt(-np.clip(tail.log_p, LOG_FLOOR, 0.0))
    at_once = max(_BLOCK // (v.shape[1] * weight.size), 1)
    for first in range(0, v.shape[0], at_once):
        some = range(first, min(first + at_once, v.shape[0]))
        at = v[some.start : some.stop, :, None] - density.level_v
        root = np.stack([np.interp(at[phase - first], tail.v[phase], known[phase]) for phase in some])
        terms = weight - root**2
        most = terms.max(axis=2)
        # Single precision tells a sum of like terms to 1e-7 of it, which no logarithm shows.
        share = np.exp((terms - most[:, :, None]).astype(np.float32)).sum(axis=2)
        log_p[some.start : some.stop] = most + np.log(share.astype(np.float64))
    return Tail(v, np.clip(log_p, LOG_FLOOR, 0.0))


def _of_cursors(cursors_v: Floats, levels: tuple[float, ...], bin_v: float) -> AddedDensity:
    """One stranger's density at one phase: all combinations of its symbols, those next to each other in groups."""
    size = np.abs(cursors_v)
    found = AddedDensity(np.zeros(1), np.ones(1))
    kept = np.sort(size[size > _LEAST_SHARE * float(size.max(initial=0.0))])[::-1]
    some = max(int(np.log(_AT_ONCE) / np.log(max(len(levels), 2))), 1)
    for first in range(0, kept.size, some):
        now = kept[first : first + some]
        steps = _combinations(levels, now.size) @ now
        level_v = (found.level_v[:, None] + steps).ravel()
        chance = np.repeat(found.chance, steps.size) / steps.size
        found = _grouped(level_v, chance, bin_v)
    return found


@lru_cache(maxsize=32)
def _combinations(levels: tuple[float, ...], count: int) -> Floats:
    """All combinations of so many symbols, shape (len(levels) ** count, count)."""
    return np.array(list(product(levels, repeat=count)))


def _grouped(level_v: Floats, chance: Floats, bin_v: float) -> AddedDensity:
    """Levels in groups `bin_v` wide, each at its members' mean, so that none lies further out than they do."""
    if level_v.size <= _MOST:
        order = np.argsort(level_v)
        return AddedDensity(level_v[order], chance[order])
    group = np.rint(level_v / bin_v).astype(np.int64)
    group -= group.min()
    total = np.asarray(np.bincount(group, chance), np.float64)
    mean_v = np.bincount(group, chance * level_v) / np.where(total > 0.0, total, 1.0)
    there = total > 0.0
    return AddedDensity(mean_v[there], total[there])
