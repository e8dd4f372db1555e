"""Ratio of complete elliptic integrals, by the arithmetic-geometric mean.

M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions, 17.6: ``K(k) = pi / (2 agm(1, k'))``.
"""

import math

_SMALL = 1e-8


def complementary_ratio(k: float, log_complement: float | None = None) -> float:
    """``K(k') / K(k)`` for a modulus 0 < k <= 1, k' its complement ``sqrt(1 - k^2)``.

    Args:
        k: the modulus.
        log_complement: natural logarithm of k', where the caller knows it better than `k` can tell: close to 1 the
            digits of `k` say nothing of k' any more. Must be given where `k` rounds to 1.
    """
    if log_complement is None:
        log_complement = 0.5 * math.log((1.0 - k) * (1.0 + k))
    return _mean_with_one(log_complement) / _mean_with_one(math.log(k))


def _mean_with_one(log_b: float) -> float:
    """Arithmetic-geometric mean of 1 and ``exp(log_b)``."""
    if log_b < math.log(_SMALL):
        # K(k) = ln(4/k') to order k'^2 (17.3.26 there), so that the mean is this.
        return math.pi / 2.0 / (math.log(4.0) - log_b)
    a, b = 1.0, math.exp(log_b)
    while abs(a - b) > 1e-15 * a:
        a, b = (a + b) / 2.0, math.sqrt(a * b)
    return a
