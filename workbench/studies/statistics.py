"""Statistics of a yield: draws, intervals, rank correlation."""

import warnings
from statistics import NormalDist

import numpy as np

from workbench.errors import StudyError
from workbench.parts.twoport import Floats

_EDGE = 2.0**-53


def random_points(count: int, columns: int, seed: int) -> Floats:
    """Independent uniform draws, shape (count, columns)."""
    return np.random.default_rng(seed).random((count, columns))


def sobol_points(count: int, columns: int, seed: int) -> Floats:
    """Scrambled Sobol points, shape (count, columns): more even than random draws.

    I. M. Sobol', USSR Comput. Math. Math. Phys. 7(4), 1967, 86-112; scrambling after A. B. Owen, as scipy has it.

    Raises:
        StudyError: the count is no power of two, at which alone they are even.
    """
    from scipy.stats import qmc  # noqa: PLC0415 - slow to load, and needed only here

    if count & (count - 1):
        below = 1 << (count.bit_length() - 1)
        raise StudyError(f"{count} Sobol points are not even; ask for a power of two, {below} or {2 * below}")
    with warnings.catch_warnings():
        # A single point is drawn on request; what it is good for is the caller's to judge.
        warnings.simplefilter("ignore", UserWarning)
        points = qmc.Sobol(columns, scramble=True, rng=np.random.default_rng(seed)).random(count)
    return np.asarray(points, np.float64)


def normal_of(points: Floats, *, mean: float, sigma: float) -> Floats:
    """Normally distributed values of uniform points, by the inverse distribution; the same shape."""
    normal = NormalDist()
    inside = np.clip(points, _EDGE, 1.0 - _EDGE)
    return np.asarray(mean + sigma * np.vectorize(normal.inv_cdf, otypes=[np.float64])(inside), np.float64)


def clopper_pearson(successes: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """The exact confidence interval of a share.

    C. J. Clopper, E. S. Pearson, "The use of confidence or fiducial limits illustrated in the case of the binomial",
    Biometrika 26, 1934, 404-413: the quantiles of two beta distributions.
    """
    from scipy.special import betaincinv  # noqa: PLC0415 - slow to load, and needed only here

    outside = (1.0 - confidence) / 2.0
    low = 0.0 if successes == 0 else float(betaincinv(successes, trials - successes + 1, outside))
    high = 1.0 if successes == trials else float(betaincinv(successes + 1, trials - successes, 1.0 - outside))
    return low, high


def rank_correlation(x: Floats, y: Floats) -> float:
    """Spearman's rank correlation of two samples, shape (n,); ties share their mean rank; 0 where one is constant."""
    first, second = _ranks(x), _ranks(y)
    first, second = first - first.mean(), second - second.mean()
    size = float(np.sqrt((first**2).sum() * (second**2).sum()))
    return float((first * second).sum()) / size if size > 0.0 else 0.0


def _ranks(x: Floats) -> Floats:
    _, place, count = np.unique(x, return_inverse=True, return_counts=True)
    last = np.cumsum(count)
    return np.asarray((last - (count - 1) / 2.0)[place], np.float64)
