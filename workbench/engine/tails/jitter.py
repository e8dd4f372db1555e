"""Distributions of an edge's displacement in time, as mixtures of Gaussians.

Random jitter is Gaussian, deterministic jitter dual-Dirac: two Gaussians half its size to either side, so that total
jitter is ``DJ + 2 Q RJ`` (INCITS MJSQ, Fibre Channel Methodologies for Jitter and Signal Quality). What a limiting
stage makes of its input's crossings is a mixture of more parts.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats

NO_LEAN = np.zeros((1, 0))


class Mixture(NamedTuple):
    """Weights (sum 1), mean displacements in s and rms widths in s of the parts, shape (n,) each.

    Where the displacement depends on the symbols before, the parts of each of the `kinds` (`chain.Windows`), equally
    likely, stand one after the other, as many for each; all together are the displacement whatever the symbols. Still
    older symbols only shift it: by `lean_s` (s, shape (kinds, T)) where the symbol is like the one before the edge,
    else by as much to the other side. The first `told` of these are told apart wherever the displacement counts; what
    the others do is in the parts as well, and their leans say how it hangs together with these symbols.
    """

    weight: Floats
    offset_s: Floats
    sigma_s: Floats
    kinds: int = 1
    lean_s: Floats = NO_LEAN
    told: int = 0

    @property
    def square_s2(self) -> float:
        """Mean square displacement, s^2."""
        leaning = float((self.lean_s[:, : self.told] ** 2).sum()) / self.kinds
        return float(self.weight @ (self.sigma_s**2 + self.offset_s**2)) + leaning

    @property
    def rms_s(self) -> float:
        """Rms displacement about the mean, s."""
        return float(np.sqrt(max(self.square_s2 - float(self.weight @ self.offset_s) ** 2, 0.0)))

    @property
    def pattern_s(self) -> float:
        """Rms displacement by the symbols alone, as far as they are told apart or lean, s."""
        weight, offset_s, _ = self.upright().by_kind()
        means_s = (weight * offset_s).sum(axis=1)
        return float(np.sqrt(means_s.var() + (self.lean_s**2).mean(axis=0).sum()))

    @property
    def older(self) -> int:
        """How many symbols before the edge's own two it depends on."""
        return self.kinds.bit_length() - 1 + self.told

    @property
    def all_kinds(self) -> int:
        """How many kinds there are, counting those that the oldest symbols only shift."""
        return 1 << self.older

    def upright(self) -> "Mixture":
        """The displacement without what the oldest symbols add to it."""
        return self._replace(lean_s=np.zeros((self.kinds, 0)), told=0)

    def by_kind(self) -> tuple[Floats, Floats, Floats]:
        """Weights (sum 1 each), displacements and widths of each of all kinds' parts, shape (all kinds, C) each."""
        weight, offset_s, sigma_s = (column.reshape(self.kinds, -1) for column in self[:3])
        for lean_s in self.lean_s.T[: self.told]:
            leaning = np.tile(lean_s, offset_s.shape[0] // self.kinds)[:, None]
            offset_s = np.concatenate([offset_s + leaning, offset_s - leaning])
        again = self.all_kinds // self.kinds, 1
        return np.tile(weight * self.kinds, again), offset_s, np.tile(sigma_s, again)

    def by_kind_in_two(self) -> tuple[Floats, Floats, Floats]:
        """The same with the parts of each half of a kind, in their order, made one of the same mean and spread: shape
        (all kinds, 2) each.
        """
        weight, offset_s, sigma_s = self.by_kind()
        if weight.shape[1] <= 2:
            return weight, offset_s, sigma_s
        half = weight.shape[1] // 2
        low, high = (
            _as_one(weight[:, some], offset_s[:, some], sigma_s[:, some]) for some in (slice(half), slice(half, None))
        )
        first, second, third = (np.stack(both, axis=1) for both in zip(low, high, strict=True))
        return first, second, third


def _as_one(weight: Floats, offset_s: Floats, sigma_s: Floats) -> tuple[Floats, Floats, Floats]:
    """Each row's parts as one: weight, mean and rms width, shape (kinds,) each."""
    total = weight.sum(axis=1)
    share = weight / np.maximum(total, np.finfo(float).tiny)[:, None]
    mean = (share * offset_s).sum(axis=1)
    square = (share * (offset_s**2 + sigma_s**2)).sum(axis=1)
    return total, mean, np.sqrt(np.maximum(square - mean**2, 0.0))


def dual_dirac(*, random_s: float, deterministic_s: float) -> Mixture:
    """Jitter of rms `random_s` about two positions `deterministic_s` apart, both in s."""
    if deterministic_s == 0.0:
        return Mixture(np.ones(1), np.zeros(1), np.array([random_s]))
    half = deterministic_s / 2.0
    return Mixture(np.full(2, 0.5), np.array([-half, half]), np.full(2, random_s))


def of_kinds(mixtures: Sequence[Mixture], lean_s: Floats = NO_LEAN, told: int = 0) -> Mixture:
    """One displacement of as many equally likely kinds as there are mixtures, which have as many parts each.

    Older symbols shift each kind by its row of `lean_s`, s, shape (kinds, older symbols); so many of these are
    `told` apart.
    """
    weight, offset_s, sigma_s = (np.concatenate(columns) for columns in list(zip(*mixtures, strict=True))[:3])
    return Mixture(weight / len(mixtures), offset_s, sigma_s, len(mixtures), lean_s, told)


def together(first: Mixture, second: Mixture, parts: int = 4) -> Mixture:
    """The sum of two independent displacements in no more than `parts` parts a kind, or as many as the first has.

    The second is of one kind.
    """
    most = max(parts, first.weight.size // first.kinds)
    each = first.upright().by_kind()
    return of_kinds([_sum(Mixture(*kind), second, most) for kind in zip(*each, strict=True)], first.lean_s, first.told)


def _sum(first: Mixture, second: Mixture, parts: int) -> Mixture:
    mixed = Mixture(
        np.outer(first.weight, second.weight).ravel(),
        np.add.outer(first.offset_s, second.offset_s).ravel(),
        np.hypot.outer(first.sigma_s, second.sigma_s).ravel(),
    )
    return merged(mixed, parts)


_NARROWEST_UI = 0.004
"""Gaussians no wider than that need no narrower ones: their far ends lie where the edge is as it is in their middle."""
_NARROW_UI = (0.010, 0.2), (0.015, 0.5)
"""Width of a narrow Gaussian and its least share of the narrowest that it stands for; the second where the first would
be too many. Wide ones round the corners of a step, which an eye's top shows that jitter nearly closes."""
_NOT_WIDER, _SPACING = 0.7, 1.9
"""Its largest share of the narrowest; spacing of neighbours over the spread of those that meet at one place. The sum
then ripples by less than 1 %, which no level shows."""
_REACH = 8.3
"""How many rms widths are followed to either side: as far as 1e-15 reaches."""
_FINE = 8
_MOST_NARROW = 160
"""A stage that makes many kinds of edges has each in parts by decades already."""


class JitterParts(NamedTuple):
    """Displacements as Gaussians that are looked up on the true step, shape (kinds, C) each.

    Weights (sum 1 each), middles and rms widths, s; `at_s` is where on the step each one is looked up. Far from all
    edges a Gaussian of a sum is not met in its middle, but on the side towards its own far end.
    """

    weight: Floats
    offset_s: Floats
    sigma_s: Floats
    at_s: Floats


def whole(weight: Floats, offset_s: Floats, sigma_s: Floats) -> JitterParts:
    """Parts as they are, each looked up in its middle; offsets and widths in s, shape (kinds, C) each."""
    return JitterParts(weight, offset_s, sigma_s, offset_s)


def narrowed(mixture: Mixture, *, ui_s: float) -> JitterParts | None:
    """The same displacement as many narrow Gaussians; None where all are narrow already, or that would be too many.

    A Gaussian of variance S is the sum of Gaussians of variance s whose middles have variance S - s. Where the density
    is f, the middles of those that are met at a displacement x average ``x + s d ln f / dx`` (M. C. K. Tweedie's
    formula, after H. Robbins, "An empirical Bayes approach to statistics", Proc. 3rd Berkeley Symposium 1956, 157-163):
    so a Gaussian with its middle there is looked up at x. That keeps what the step does to it right however far out it
    is met.

    Args:
        mixture: the displacement.
        ui_s: unit interval, s.
    """
    weight, offset_s, sigma_s = mixture.by_kind()
    narrowest_s = float(sigma_s.min())
    if narrowest_s <= _NARROWEST_UI * ui_s:
        return None
    for width_ui, least in _NARROW_UI:
        own_s = float(np.clip(width_ui * ui_s, least * narrowest_s, _NOT_WIDER * narrowest_s))
        share = (own_s / narrowest_s) ** 2
        between_s = np.sqrt(sigma_s**2 - own_s**2)
        low_s, high_s = (offset_s - _REACH * between_s).min(axis=1), (offset_s + _REACH * between_s).max(axis=1)
        count = int(np.ceil(float((high_s - low_s).max()) / (_SPACING * own_s * np.sqrt(1.0 - share)))) + 1
        if mixture.all_kinds * count <= _MOST_NARROW:
            break
    else:
        return None
    middle_s = np.linspace(low_s, high_s, count, axis=1)
    height, _ = _density(middle_s, weight, offset_s, between_s)
    # Out at the far ends a middle is met from further out still.
    beyond_s = _REACH * float(between_s.max()) * share / (1.0 - share)
    met_s = np.linspace(low_s - beyond_s, high_s + beyond_s, _FINE * count, axis=1)
    _, lean = _density(met_s, weight, offset_s, sigma_s)
    seen_s = met_s + own_s**2 * lean
    return JitterParts(
        height / height.sum(axis=1, keepdims=True),
        middle_s,
        np.full(middle_s.shape, own_s),
        np.array([np.interp(*row) for row in zip(middle_s, seen_s, met_s, strict=True)]),
    )


def _density(at_s: Floats, weight: Floats, offset_s: Floats, sigma_s: Floats) -> tuple[Floats, Floats]:
    """A mixture's density over its largest, and the slope of its logarithm, 1/s, at displacements (kinds, N)."""
    aside = (at_s[:, :, None] - offset_s[:, None]) / sigma_s[:, None]
    log_part = np.log(np.maximum(weight / sigma_s, np.finfo(float).tiny))[:, None] - 0.5 * aside**2
    most = log_part.max(axis=2, keepdims=True)
    part = np.exp(log_part - most)
    total = part.sum(axis=2)
    slope = -(part * aside / sigma_s[:, None]).sum(axis=2) / total
    log_total = np.log(total) + most[:, :, 0]
    return np.exp(log_total - log_total.max(axis=1, keepdims=True)), slope


def merged(mixture: Mixture, parts: int) -> Mixture:
    """At most `parts` parts of the same weight, mean and variance; those that add the least spread merge first."""
    order = np.argsort(mixture.offset_s)
    weight, offset, sigma = (column[order].copy() for column in mixture[:3])
    while weight.size > parts:
        pair = weight[:-1] * weight[1:] / np.maximum(weight[:-1] + weight[1:], np.finfo(float).tiny)
        cost = pair * np.diff(offset) ** 2
        i = int(cost.argmin())
        total = max(weight[i] + weight[i + 1], np.finfo(float).tiny)
        mean = (weight[i] * offset[i] + weight[i + 1] * offset[i + 1]) / total
        spread = weight[i] * (sigma[i] ** 2 + (offset[i] - mean) ** 2)
        spread += weight[i + 1] * (sigma[i + 1] ** 2 + (offset[i + 1] - mean) ** 2)
        offset[i], sigma[i], weight[i] = mean, np.sqrt(spread / total), total
        weight, offset, sigma = (np.delete(column, i + 1) for column in (weight, offset, sigma))
    return Mixture(weight, offset, sigma)
