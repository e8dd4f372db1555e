"""Measures of an eye from counts: bathtub, height, width, jitter."""

import math
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.waveform.counts import CROSSING_BINS, FINE_LEVELS, Tally
from workbench.waveform.result import CountedOpening, JitterFound, Method
from workbench.waveform.tails import GaussianTail, counted, fitted, quantile, spread

_HALF = 0.5
_COUNTABLE = 20.0


class Bathtub(NamedTuple):
    """Wrong symbols beside a threshold by sampling time.

    Attributes:
        time_ui: UI from the crossing before the symbol, rising, shape (n,).
        wrong: how many were wrong there, shape (n,).
        total: of how many.
        best: where fewest were; the middle of them.
    """

    time_ui: Floats
    wrong: Integers
    total: float
    best: int

    def side(self, right: bool) -> tuple[Floats, Floats]:
        """Distance from the best place, falling inward, and the wrong ones, shape (k,) each.

        Places rise from outside to inside.
        """
        if right:
            return -self.time_ui[self.best :][::-1], self._outward(self.wrong[self.best :])[::-1]
        return self.time_ui[: self.best + 1], self._outward(self.wrong[: self.best + 1][::-1])[::-1]

    @staticmethod
    def _outward(wrong: Integers) -> Floats:
        return np.maximum.accumulate(wrong).astype(np.float64)


def bathtub(tally: Tally, threshold: int, sampling_ui: float) -> Bathtub:
    """The bathtub of a threshold: the count at the sampling time, and what toggled on the way from there."""
    toggles = tally.toggles[threshold]
    summed = np.concatenate([[0], np.cumsum(toggles)])
    time_ui = np.arange(summed.size) / CROSSING_BINS - _HALF
    here = int(np.searchsorted(time_ui, sampling_ui))
    wrong = tally.wrong[threshold] + summed[here] - summed
    inside = (time_ui >= 0.0) & (time_ui <= 1.0)
    time_ui, wrong = time_ui[inside], np.maximum(wrong[inside], 0)
    fewest = np.flatnonzero(wrong == wrong.min())
    return Bathtub(time_ui, wrong, float(tally.beside[threshold]), int(fewest[fewest.size // 2]))


class _Ends(NamedTuple):
    """Both ends of a width, or of a height: each a place rising toward the inside of the eye."""

    low: float | None
    high: float | None
    error: float | None

    @property
    def opening(self) -> float | None:
        """From one end to the other."""
        if self.low is None or self.high is None:
            return None
        return 0.0 - self.high - self.low


def _width(tub: Bathtub, ratio: float, method: Method) -> _Ends:
    """Ends of the opening along time; `high` is counted backward."""
    if method == "extrapolated":
        lines = [fitted(*tub.side(right), tub.total, _transitions(tub, right)) for right in (False, True)]
        low, high = (None if line is None else line.at(ratio) for line in lines)
        return _Ends(low, high, None)
    if tub.wrong[tub.best] > ratio * tub.total:
        return _Ends(0.0, 0.0, None)
    sides = [tub.side(right) for right in (False, True)]
    errors = [spread(*side, tub.total, ratio) for side in sides]
    low, high = (counted(*side, tub.total, ratio) for side in sides)
    return _Ends(low, high, _together(errors))


def _transitions(tub: Bathtub, right: bool) -> float:
    """What a Gaussian of a dual-Dirac pair holds at one end: half of all transitions there, of which half are upward.

    At the mean crossing itself half of the transitions are still to come, so that is what is wrong there.
    """
    outside = tub.side(right)[1][0]
    return max(float(outside), 1.0) / tub.total


def _together(errors: list[float | None]) -> float | None:
    first, second = errors
    return None if first is None or second is None else math.hypot(first, second)


def _height(tally: Tally, threshold: int, ratio: float, method: Method, range_v: float) -> _Ends:
    """Ends of the opening between two levels; places rise toward the inside."""
    edges = (np.arange(FINE_LEVELS + 1) / (FINE_LEVELS / 2) - 1.0) * range_v
    upper, lower = tally.sampled[threshold + 1], tally.sampled[threshold]
    below = np.concatenate([[0], np.cumsum(upper)]).astype(np.float64)
    above = np.concatenate([np.cumsum(lower[::-1])[::-1], [0]]).astype(np.float64)
    # From the inside outward: the upper level's tail falls toward low levels, the lower one's toward high levels.
    sides = [(-edges[::-1], below[::-1], float(upper.sum())), (edges, above, float(lower.sum()))]
    if method == "extrapolated":
        lines = [fitted(place, beyond, total, 1.0) for place, beyond, total in sides]
        ends = [None if line is None else line.at(ratio) for line in lines]
        return _Ends(ends[0], ends[1], None)
    ends = [counted(*side, ratio) for side in sides]
    return _Ends(ends[0], ends[1], _together([spread(*side, ratio) for side in sides]))


def opening_of(
    tally: Tally, *, ratio: float, method: Method, sampling_ui: float, range_v: float, ui_s: float
) -> CountedOpening:
    """The smallest opening of all eyes at an error ratio.

    Args:
        tally: the counts.
        ratio: the error ratio, given the symbol.
        method: "counted" or "extrapolated".
        sampling_ui: where was sampled, UI after the crossing.
        range_v: of the sampled levels, V.
        ui_s: unit interval, s.
    """
    heights, widths = [], []
    for threshold in range(tally.toggles.shape[0]):
        heights.append(_height(tally, threshold, ratio, method, range_v))
        widths.append(_width(bathtub(tally, threshold, sampling_ui), ratio, method))
    height = _smallest(heights)
    width = _smallest(widths)
    width_ui = None if width is None or width.opening is None else max(width.opening, 0.0)
    return CountedOpening(
        error_ratio=ratio, method=method,
        height_v=None if height is None else height.opening,
        width_s=None if width_ui is None else width_ui * ui_s, width_ui=width_ui,
        height_error_v=None if height is None else height.error,
        width_error_ui=None if width is None else width.error,
    )  # fmt: skip


def _smallest(ends: list[_Ends]) -> _Ends | None:
    """The smallest opening; None where one is not known."""
    if any(end.opening is None for end in ends):
        return None
    return min(ends, key=lambda end: end.opening or 0.0)


def openings_of(
    tally: Tally, *, ratios: tuple[float, ...], sampling_ui: float, range_v: float, ui_s: float
) -> tuple[CountedOpening, ...]:
    """The eye at the wanted error ratios by both ways; where one can't be counted, also at the least ratio that can.

    Args:
        tally: the counts.
        ratios: the wanted error ratios.
        sampling_ui: where was sampled, UI after the crossing.
        range_v: of the sampled levels, V.
        ui_s: unit interval, s.
    """
    countable = countable_ratio(int(tally.beside.min()))
    found = []
    wanted = {*ratios, *(max(countable, ratio) for ratio in ratios)}
    for ratio in sorted(wanted, reverse=True):
        can_count = ratio >= countable * (1.0 - 1e-9)
        methods: tuple[Method, ...] = ("counted", "extrapolated") if can_count else ("extrapolated",)
        found += [
            opening_of(tally, ratio=ratio, method=method, sampling_ui=sampling_ui, range_v=range_v, ui_s=ui_s)
            for method in methods
        ]
    return tuple(found)


def countable_ratio(symbols: int) -> float:
    """The least power of ten that `symbols` symbols can be expected to show a score of times."""
    return min(float(10.0 ** np.ceil(np.log10(_COUNTABLE / max(symbols, 1)) - 1e-9)), 0.1)


def jitter_of(tally: Tally, *, error_ratio: float, ui_s: float) -> JitterFound:
    """Jitter of the crossings, separated by a dual-Dirac fit to both tails.

    Args:
        tally: the counts.
        error_ratio: for the total.
        ui_s: unit interval, s.
    """
    counts = tally.crossings
    total = float(counts.sum())
    middle = (np.arange(CROSSING_BINS) + 0.5) / CROSSING_BINS - _HALF
    mean = float(counts @ middle) / total
    square = float(counts @ (middle - mean) ** 2) / total - 1.0 / 12.0 / CROSSING_BINS**2
    rms_ui = math.sqrt(max(square, 0.0))
    seen = np.flatnonzero(counts)
    edges = np.arange(CROSSING_BINS + 1) / CROSSING_BINS - _HALF
    late = np.concatenate([np.cumsum(counts[::-1])[::-1], [0]]).astype(np.float64)
    early = np.concatenate([[0], np.cumsum(counts)]).astype(np.float64)
    tails = [fitted(edges, late, total, _HALF), fitted(-edges[::-1], early[::-1], total, _HALF)]
    random_ui, deterministic_ui = _separated(tails)
    total_ui = None
    if random_ui is not None and deterministic_ui is not None:
        total_ui = deterministic_ui + 2.0 * float(quantile(np.array([error_ratio]))[0]) * random_ui
    in_s = [None if value is None else value * ui_s for value in (random_ui, deterministic_ui, total_ui)]
    return JitterFound(
        rms_s=rms_ui * ui_s, peak_to_peak_s=float(seen[-1] - seen[0] + 1) / CROSSING_BINS * ui_s,
        random_s=in_s[0], deterministic_s=in_s[1], total_s=in_s[2], error_ratio=error_ratio,
    )  # fmt: skip


def _separated(tails: list[GaussianTail | None]) -> tuple[float | None, float | None]:
    late, early = tails
    if late is None or early is None:
        return None, None
    return (late.sigma + early.sigma) / 2.0, late.mean + early.mean


def middle_ui(tally: Tally, threshold: int, sampling_ui: float, error_ratio: float) -> float:
    """The middle of the opening along time, UI after the crossing: where a receiver that knows the eye samples.

    At the wanted error ratio as far as the tails tell, else at the least one that can be counted; in a closed eye,
    where fewest are wrong.

    Args:
        tally: counts of a pilot stretch.
        threshold: which of the thresholds.
        sampling_ui: where the pilot was sampled, UI.
        error_ratio: the wanted one.
    """
    tub = bathtub(tally, threshold, sampling_ui)
    ways: tuple[tuple[Method, float], ...] = (
        ("extrapolated", error_ratio), ("counted", countable_ratio(int(tub.total)))
    )  # fmt: skip
    for method, ratio in ways:
        ends = _width(tub, ratio, method)
        if ends.low is not None and ends.high is not None and ends.low < -ends.high:
            return (ends.low - ends.high) / 2.0
    return float(tub.time_ui[tub.best])
