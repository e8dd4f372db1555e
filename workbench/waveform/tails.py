"""Tails of counted distributions: read where there are counts, continued where there are none.

Two ways, always named: *counted* reads the ratio that was seen; *extrapolated* fits a straight line to the Gaussian
quantile of the tail's ratios (the Q scale; INCITS MJSQ, Methodologies for Jitter and Signal Quality, and for time its
dual-Dirac model: two Gaussians, each holding half of what crosses) and follows it down. A tail that bends further out
than the counts reach is not seen by either.
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats

FEWEST_COUNTS = 8
_SHALLOWEST = 0.02
_SPAN = 1e3
_LEAST_POINTS = 4


class GaussianTail(NamedTuple):
    """A Gaussian tail: the quantile of ratio r is ``mean + Q(r) sigma`` outward.

    Attributes:
        mean: where the Gaussian stands, in the unit of what was counted.
        sigma: its width, positive.
        share: of everything counted, what the Gaussian holds.
    """

    mean: float
    sigma: float
    share: float

    def at(self, ratio: float) -> float:
        """Where the tail holds no more than `ratio` of everything."""
        return self.mean + self.sigma * float(quantile(np.array([min(ratio / self.share, 0.5)]))[0])


def quantile(ratio: Floats) -> Floats:
    """How many sigma a Gaussian exceeds with a probability `ratio`, shape (n,)."""
    from scipy.special import ndtri  # noqa: PLC0415 - the program starts without it

    return np.asarray(-ndtri(ratio))


def fitted(place: Floats, beyond: Floats, total: float, share: float) -> GaussianTail | None:
    """The line through a tail's quantiles, each weighed by its counts; None where there are too few.

    Args:
        place: rising outward, shape (n,).
        beyond: counts beyond each place, falling, shape (n,).
        total: all counts.
        share: of all, what the tail's Gaussian holds; 0.5 for a dual-Dirac one.
    """
    if total <= 0.0:
        return None
    ratio = beyond / total / share
    lowest = FEWEST_COUNTS / total / share
    highest = min(_SHALLOWEST, _SPAN * lowest)
    change = np.append(np.diff(beyond) < 0.0, True)
    use = (ratio >= lowest) & (ratio <= highest) & change
    if np.count_nonzero(use) < _LEAST_POINTS:
        return None
    q, x, weight = quantile(ratio[use]), place[use], np.sqrt(beyond[use])
    # Integers beyond neighbouring places are nearly the same ones: their weight is only relative.
    slope, start = np.polynomial.polynomial.polyfit(q, x, 1, w=weight)[::-1]
    return GaussianTail(float(start), float(slope), share) if slope > 0.0 else None


def counted(place: Floats, beyond: Floats, total: float, ratio: float) -> float | None:
    """Where the counts beyond fall to `ratio` of all, between places even in ``sqrt(-ln ratio)``; None if never.

    Args:
        place: rising outward, shape (n,).
        beyond: counts beyond each place, falling, shape (n,).
        total: all counts.
        ratio: what is looked for.
    """
    wanted = ratio * total
    below = np.flatnonzero(beyond <= wanted)
    if wanted <= 0.0 or not below.size:
        return None
    at = int(below[0])
    if at == 0:
        return float(place[0])
    high, low = float(beyond[at - 1]), max(float(beyond[at]), 0.5 * min(wanted, 1.0))
    root = np.sqrt(-np.log(np.array([high, wanted, low]) / total * (1.0 - 1e-12)))
    part = (root[1] - root[0]) / (root[2] - root[0]) if root[2] > root[0] else 1.0
    return float(place[at - 1] + min(part, 1.0) * (place[at] - place[at - 1]))


def spread(place: Floats, beyond: Floats, total: float, ratio: float) -> float | None:
    """Standard error of `counted`: half of how far it moves between one standard deviation more counts and fewer.

    `place` and `beyond` have shape (n,), as `counted` takes them.
    """
    expected = ratio * total
    if expected < 1.0:
        return None
    aside = np.sqrt(expected)
    ends = [counted(place, beyond, total, (expected + side * aside) / total) for side in (1.0, -0.99)]
    low, high = ends
    return None if low is None or high is None else abs(high - low) / 2.0
