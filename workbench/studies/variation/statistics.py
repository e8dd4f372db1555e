"""Statistics of a yield: draws and rank correlation; its intervals are those of `waveform.bounds`."""

import warnings

import numpy as np

from workbench.arrays import Floats
from workbench.errors import StudyError

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
    from scipy.special import ndtri  # noqa: PLC0415 - slow to load, and needed only here

    return np.asarray(mean + sigma * ndtri(np.clip(points, _EDGE, 1.0 - _EDGE)), np.float64)


def rank_correlation(x: Floats, y: Floats) -> float:
    """Spearman's rank correlation of two samples, shape (n,); ties share their mean rank; 0 where one is constant."""
    from scipy.stats import spearmanr  # noqa: PLC0415 - slow to load, and needed only here

    if np.ptp(x) == 0.0 or np.ptp(y) == 0.0:
        return 0.0
    return float(spearmanr(x, y).statistic)
