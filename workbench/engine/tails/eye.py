"""The statistical eye at one probe point: error ratio over time and level, and what is read off it.

Given the upper symbol, ``P(t, v)`` is the probability that the sample at time t lies at or below v; the contour of an
error ratio is where P equals it, the opening is twice its level (the lower half mirrors the upper one), and at the
threshold v = 0 P is the error ratio itself. Everything is interpolated in ``sqrt(-ln P)``, which is nearly straight
where Gaussians rule.
"""

from collections.abc import Callable
from enum import Enum
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.engine.tails.density import LOG_FLOOR, Tail, tail_near, tail_of
from workbench.engine.tails.jitter import Mixture
from workbench.engine.tails.quick import quick_tail
from workbench.engine.tails.samples import Sample, Treated, treated

_COARSE_STEPS, _FINER = 64, 4
"""Where an opening ends is looked for at so many steps of a unit interval, and about it at so many in each."""
_BETWEEN, _REFINEMENTS = 3, 3
"""So many phases are put between two where an end of the opening is loose, at most so often: to 1/2048 UI."""
_LOOSE_UI = 0.0005
"""By no more than that may an end of the opening miss its place."""
_LOW, _ALIKE = 5e-4, 1e-3
"""By no more than that share may the level in the middle be missed; a phase so near it, in steps, is the middle."""
_BENT_AT, _MISSED = (1e-3, 1e-9, 1e-15), 0.001
"""Contours that tell whether a cubic between phases is enough, and by what share of the largest level it may miss."""
_SMOOTHED = 0.1
"""A sampling instant that moves by more than this share of the time between phases, rms, smooths what lies between."""
_NODE_STEP = 0.5
_NODES = 17
_ROOT_FLOOR = float(np.sqrt(-LOG_FLOOR))


class EyeReach(Enum):
    """How much of an eye is wanted: its measures at one error ratio; a picture for the moment; all of it to 1e-18.

    The picture for the moment is for what moves under the hand: every other phase, its contours by the saddlepoint
    alone, some per cent of the swing off after a limiting stage. The full one is to follow.
    """

    MEASURES = "measures"
    PICTURE = "picture"
    ALL = "all"


class Eye(NamedTuple):
    """The eye over one unit interval from the mean crossing on.

    Attributes:
        ui_s: unit interval, s.
        time_s: the phases, counted from the mean crossing, s, rising, shape (P,); they need not be even.
        tail: ``ln P(sample <= v)`` given the upper symbol, before the sampling instant's own jitter.
        sampling: displacement of the sampling instant; None for an ideal one.
        wrong: probability that the symbol was taken for another before it came here.
        seen: the samples that it was made of, unless only the measures were wanted.
    """

    ui_s: float
    time_s: Floats
    tail: Tail
    sampling: Mixture | None
    wrong: float
    seen: Treated | None = None

    def log_error(self, time_s: Floats) -> Floats:
        """Natural logarithm of the error ratio at the threshold at times `time_s` (s from the crossing), shape (n,)."""
        weight, shift_s = self._nodes()
        # Beyond the unit interval the neighbour's symbol rules: the sample is as good as a coin.
        coin = np.sqrt(np.log(2.0))
        at = time_s[:, None] + shift_s
        root = np.interp(at, self.time_s, self._threshold_roots(), left=coin, right=coin)
        return self._mixed(_log(np.exp(-(root**2)) @ weight), 0.5)

    def log_probability(self, time_s: float) -> tuple[Floats, Floats]:
        """Levels (V, rising, shape (N,)) and ``ln P(sample <= v)`` at one time (s), with sampling jitter and slips."""
        nearest = int(np.abs(self.time_s - time_s).argmin())
        levels = self.tail.v[nearest]
        near = self._reach(time_s)
        roots = np.stack([np.sqrt(-np.interp(levels, self.tail.v[p], self.tail.log_p[p])) for p in near])
        weight, shift_s = self._nodes()
        rows = np.interp(time_s + shift_s, self.time_s[near], np.arange(len(near)))
        low = np.minimum(rows.astype(int), len(near) - 2)
        part = (rows - low)[:, None]
        root = roots[low] * (1.0 - part) + roots[low + 1] * part
        log_p = _log(weight @ np.exp(-(root**2)))
        mirrored = 1.0 - np.exp(np.interp(-levels, levels, log_p, left=LOG_FLOOR, right=0.0))
        return levels, self._mixed(log_p, mirrored)

    def level_v(self, time_s: float, error_ratio: float) -> float:
        """The contour's level in V at one time: half the opening, negative where it is closed."""
        levels, log_p = self.log_probability(time_s)
        return float(np.interp(np.sqrt(-np.log(error_ratio)), np.sqrt(-log_p)[::-1], levels[::-1]))

    def levels_v(self, error_ratio: float) -> Floats:
        """Half the opening at every phase for an ideal sampling instant, V, shape (P,)."""
        root = np.sqrt(-np.log(error_ratio))
        return np.array(
            [np.interp(root, np.sqrt(-self.tail.log_p[p])[::-1], self.tail.v[p][::-1]) for p in range(self.time_s.size)]
        )

    def unseen_s(self, error_ratio: float, earliest_s: float = 0.0) -> tuple[float, float] | None:
        """How far the phases should reach further to either side for both ends of the opening to lie between, s.

        None where more than that is missing: in a closed eye, where it is least closed, or open by a little, only all
        phases tell; so they do where phases within are missing. No phase lies before `earliest_s`, s.
        """
        over = self._threshold_roots() - np.sqrt(-np.log(error_ratio))
        if not (over > 0.0).any():
            return None
        step_s = float(np.diff(self.time_s).min())
        gap = np.diff(self.time_s) > 1.5 * step_s
        if (gap & ((over[1:] > 0.0) != (over[:-1] > 0.0))).any():
            return None
        crossed_s = self.crossings_s(error_ratio)
        shift_s = self._nodes()[1]
        first_s, last_s = float(self.time_s[0]), float(self.time_s[-1])
        low_s = (first_s if over[0] > 0.0 or crossed_s is None else crossed_s[0]) + float(shift_s.min())
        high_s = (last_s if over[-1] > 0.0 or crossed_s is None else crossed_s[1]) + float(shift_s.max())
        # What counts for an end is what lies outside it: inside, hardly any error is made.
        outside = (low_s, low_s - float(shift_s.min())), (high_s - float(shift_s.max()), high_s)
        if any((gap & (self.time_s[1:] > one_s) & (self.time_s[:-1] < other_s)).any() for one_s, other_s in outside):
            return None
        beyond_s = 3.0 * step_s
        low_s -= beyond_s if over[0] > 0.0 else step_s
        high_s += beyond_s if over[-1] > 0.0 else step_s
        return max(first_s - max(low_s, earliest_s), 0.0), max(min(high_s, self.ui_s) - last_s, 0.0)

    def _threshold_roots(self) -> Floats:
        return np.array([_root_at(self.tail, phase, 0.0) for phase in range(self.time_s.size)])

    def crossings_s(self, error_ratio: float) -> tuple[float, float] | None:
        """Where the error ratio at the threshold passes `error_ratio` on both sides of its best; None where closed."""
        if self._ideal:
            return self._level_crossings_s(error_ratio)
        limit = np.sqrt(-np.log(error_ratio))
        coarse_s = np.linspace(0.0, self.ui_s, _COARSE_STEPS + 1)
        over = np.sqrt(-self.log_error(coarse_s)) - limit
        best = int(over.argmax())
        steps = _bracket(over, best) if over[best] > 0.0 else range(max(best - 1, 0), min(best + 1, _COARSE_STEPS))
        # Fine steps only where the ends lie; in an eye that seems closed, where it is least closed.
        finer = [np.linspace(coarse_s[i], coarse_s[i + 1], _FINER + 1)[1:-1] for i in steps if i is not None]
        more_s = np.concatenate([*finer, np.zeros(0)])
        order = np.argsort(np.concatenate([coarse_s, more_s]))
        both = np.concatenate([over, np.sqrt(-self.log_error(more_s)) - limit])
        return self._ends_s(np.concatenate([coarse_s, more_s])[order], both[order])

    def _level_crossings_s(self, error_ratio: float) -> tuple[float, float] | None:
        """The same for an ideal sampling instant: where the contour's level passes zero, which it does evenly."""
        own = (error_ratio - 0.5 * self.wrong) / (1.0 - self.wrong)
        return None if own <= 0.0 else self._ends_s(self.time_s, self.levels_v(own))

    def _ends_s(self, time_s: Floats, over: Floats) -> tuple[float, float] | None:
        """Where what should be above zero passes it on both sides of its largest, within the unit interval."""
        best = int(over.argmax())
        if over[best] <= 0.0:
            return None
        left, right = _bracket(over, best)
        low = 0.0 if left is None else _cross(time_s, over, left)
        high = self.ui_s if right is None else _cross(time_s, over, right)
        return max(low, 0.0), min(high, self.ui_s)

    def loose_ends_s(self, error_ratio: float) -> Floats:
        """Times, shape (k,), worth to be looked at as well, since an end of the opening lies loosely between phases.

        Between phases the contour is taken for straight; the bends at both sides tell by how much it may miss.
        """
        found: list[float] = []
        if self.sampling is not None and self.sampling.rms_s > _SMOOTHED * float(np.diff(self.time_s).min()):
            return np.array(found)
        level = self.levels_v(error_ratio)
        best = int(level.argmax())
        for end in _bracket(level, best) if level[best] > 0.0 else ():
            if end is not None and self._loose(level, end):
                found += np.linspace(self.time_s[end], self.time_s[end + 1], _BETWEEN + 2)[1:-1].tolist()
        return np.array(found)

    def loose_middle_s(self, error_ratio: float) -> Floats:
        """The middle of the opening, s, shape (1,), where the contour bends there between phases; else shape (0,).

        An eye that jitter closes nearly has its top there, and phases to either side lie lower.
        """
        ends = self.crossings_s(error_ratio)
        if ends is None:
            return np.zeros(0)
        middle_s = (ends[0] + ends[1]) / 2.0
        i = int(np.clip(np.searchsorted(self.time_s, middle_s) - 1, 0, self.time_s.size - 2))
        level = self.levels_v(error_ratio)
        near = slice(max(i - 1, 0), i + 3)
        bend = np.abs(np.diff(np.diff(level[near]) / np.diff(self.time_s[near]))).sum()
        step_s = float(self.time_s[i + 1] - self.time_s[i])
        far = np.abs(self.time_s - middle_s).min() > _ALIKE * step_s
        return np.array([middle_s] if far and bend * step_s / 8.0 > _LOW * level.max() else [])

    def _loose(self, level: Floats, i: int) -> bool:
        near = slice(max(i - 1, 0), i + 3)
        slope = np.diff(level[near]) / np.diff(self.time_s[near])
        step_s = float(self.time_s[i + 1] - self.time_s[i])
        own = slope[min(i, 1)]
        miss_s = np.abs(slope - own).max() / max(abs(float(own)), np.finfo(float).tiny) * step_s / 8.0
        return bool(miss_s > _LOOSE_UI * self.ui_s)

    @property
    def _ideal(self) -> bool:
        return self.sampling is None or (self.sampling.rms_s == 0.0 and not self.sampling.offset_s.any())

    def _nodes(self) -> tuple[Floats, Floats]:
        """Weights (sum 1) and displacements (s) that stand for the sampling instant's jitter."""
        if self.sampling is None or self._ideal:
            return np.ones(1), np.zeros(1)
        # An even grid sums a Gaussian with spectral accuracy; half a sigma is ample.
        steps = _NODE_STEP * np.arange(-_NODES, _NODES + 1)
        gauss = np.exp(-0.5 * steps**2)
        weight = np.outer(self.sampling.weight, gauss / gauss.sum())
        shift_s = self.sampling.offset_s[:, None] + np.outer(self.sampling.sigma_s, steps)
        return weight.ravel(), shift_s.ravel()

    def _reach(self, time_s: float) -> list[int]:
        at = time_s + self._nodes()[1]
        last = self.time_s.size - 1
        low = min(max(int(np.searchsorted(self.time_s, at.min(), side="right")) - 1, 0), last - 1)
        high = min(max(int(np.searchsorted(self.time_s, at.max())), low + 1), last)
        return list(range(low, high + 1))

    def _mixed(self, log_p: Floats, mirrored: Floats | float) -> Floats:
        """With symbols taken for another before: `mirrored` is what the opposite symbol would give."""
        if self.wrong == 0.0:
            return log_p
        return _log((1.0 - self.wrong) * np.exp(log_p) + self.wrong * mirrored)


def eye_of(
    sample: Sample,
    *,
    ui_s: float,
    time_s: Floats,
    sampling: Mixture | None,
    wrong: float,
    error_ratio: float,
    reach: EyeReach = EyeReach.MEASURES,
) -> Eye:
    """The eye of samples at the phases of one unit interval.

    Args:
        sample: samples at P phases, given the upper symbol.
        ui_s: unit interval, s.
        time_s: the phases, s from the mean crossing, shape (P,).
        sampling: displacement of the sampling instant.
        wrong: probability that a limiting stage before took the symbol for another.
        error_ratio: where height and width are read.
        reach: how much of the distribution is wanted.
    """
    if reach is EyeReach.MEASURES:
        return Eye(ui_s, time_s, tail_near(sample, error_ratio), sampling, wrong)
    seen = treated(sample)
    return Eye(ui_s, time_s, tail_of(seen) if reach is EyeReach.ALL else quick_tail(seen), sampling, wrong, seen)


def _root_at(tail: Tail, phase: int, v: float) -> float:
    levels, log_p = tail.v[phase], tail.log_p[phase]
    if v < levels[0]:
        return _ROOT_FLOOR
    if v > levels[-1]:
        return 0.0
    at = int(np.searchsorted(levels, v))
    near = slice(max(at - 1, 0), at + 1)
    return float(np.interp(v, levels[near], np.sqrt(-log_p[near])))


def _log(probability: Floats) -> Floats:
    """Weights that add up to one but for the last bit must not make it more than certain."""
    return np.asarray(np.log(np.clip(probability, np.exp(LOG_FLOOR), 1.0)))


def _bracket(over: Floats, best: int) -> tuple[int | None, int | None]:
    """After which places, to the left and right of the best, what is above zero there passes it; None: nowhere."""
    left, right = np.nonzero(over[:best] <= 0.0)[0], np.nonzero(over[best:] <= 0.0)[0]
    return int(left[-1]) if left.size else None, best + int(right[0]) - 1 if right.size else None


def _cross(x: Floats, y: Floats, i: int) -> float:
    return float(x[i] - y[i] / (y[i + 1] - y[i]) * (x[i + 1] - x[i]))


def refined(eye: Eye, look: Callable[[Floats], Eye], error_ratio: float) -> Eye:
    """The eye with as many more phases as the ends and the middle of its opening take.

    Args:
        eye: as known so far.
        look: the same eye at other times, s from the mean crossing, shape (k,).
        error_ratio: at which the opening is read.
    """
    for _ in range(_REFINEMENTS):
        more_s = eye.loose_ends_s(error_ratio)
        if not more_s.size:
            break
        eye = joined_eye(eye, look(more_s))
    middle_s = eye.loose_middle_s(error_ratio)
    return joined_eye(eye, look(middle_s)) if middle_s.size else eye


def bending_s(eye: Eye, time_s: Floats) -> Floats:
    """Which of the times, s, shape (k,), a cubic through the known phases may miss: where contours have corners.

    Args:
        eye: at even phases.
        time_s: those in question, s from the mean crossing, rising.
    """
    levels = np.array([eye.levels_v(ratio) for ratio in _BENT_AT])
    # Halfway between two of its points a cubic misses 3/128 of the fourth difference.
    missed = 3.0 / 128.0 * np.abs(np.diff(np.pad(levels, ((0, 0), (2, 2)), mode="edge"), n=4, axis=1)).max(axis=0)
    missed[[0, 1, -2, -1]] = missed[[2, 2, -3, -3]]
    doubtful = missed > _MISSED * np.abs(levels).max()
    beside = np.clip(np.searchsorted(eye.time_s, time_s), 1, eye.time_s.size - 1)
    return np.asarray(time_s[(doubtful[beside] | doubtful[beside - 1]) & ~np.isin(time_s, eye.time_s)])


def filled(eye: Eye, time_s: Floats) -> Eye:
    """The eye with phases between those that are known, each level by a cubic through the four nearest of these.

    For what is drawn: the contours miss by 0.1 % of the swing or 0.001 UI where `bending_s` are known as well.

    Args:
        eye: at four phases or more.
        time_s: the phases wanted, s from the mean crossing, rising, shape (P,), those of the eye among them.
    """
    bins = eye.tail.v.shape[1]
    root = np.linspace(_ROOT_FLOOR, 0.0, bins)
    known = zip(eye.tail.v, eye.tail.log_p, strict=True)
    levels = np.array([np.interp(-root, -np.sqrt(-log_p), v) for v, log_p in known])
    first = np.clip(np.searchsorted(eye.time_s, time_s) - 2, 0, eye.time_s.size - 4)
    near_s = eye.time_s[first[:, None] + np.arange(4)]
    v = np.zeros((time_s.size, bins))
    for one in range(4):
        others = [other for other in range(4) if other != one]
        share = np.prod((time_s[:, None] - near_s[:, others]) / (near_s[:, [one]] - near_s[:, others]), axis=1)
        v += share[:, None] * levels[first + one]
    tail = Tail(np.maximum.accumulate(v, axis=1), np.tile(-(root**2), (time_s.size, 1)))
    return eye._replace(time_s=time_s, tail=tail)


def joined_eye(one: Eye, other: Eye) -> Eye:
    """Two eyes' phases in one, in order, on the finer of their grids; what the first was made of stays."""
    bins = max(one.tail.v.shape[1], other.tail.v.shape[1])
    both = [_resampled(eye.tail, bins) for eye in (one, other)]
    time_s = np.concatenate([one.time_s, other.time_s])
    order = np.argsort(time_s)
    v, log_p = (np.concatenate(columns)[order] for columns in zip(*both, strict=True))
    return one._replace(time_s=time_s[order], tail=Tail(v, log_p))


def _resampled(tail: Tail, bins: int) -> Tail:
    if tail.v.shape[1] == bins:
        return tail
    places, given = np.linspace(0.0, 1.0, bins), np.linspace(0.0, 1.0, tail.v.shape[1])
    v = np.array([np.interp(places, given, row) for row in tail.v])
    root = [np.interp(here, row, np.sqrt(-p)) for here, row, p in zip(v, tail.v, tail.log_p, strict=True)]
    return Tail(v, -(np.array(root) ** 2))
