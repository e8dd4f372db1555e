"""Ratio of complete elliptic integrals, by the arithmetic-geometric mean.

M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 17.6: ``K(k) = pi / (2 agm(1, k'))``.
"""

import math


def complementary_ratio(k: float) -> float:
    """``K(k') / K(k)`` for a modulus 0 < k < 1, k' its complement ``sqrt(1 - k^2)``."""
    return _mean(1.0, math.sqrt((1.0 - k) * (1.0 + k))) / _mean(1.0, k)


def _mean(a: float, b: float) -> float:
    while abs(a - b) > 1e-15 * a:
        a, b = (a + b) / 2.0, math.sqrt(a * b)
    return a
