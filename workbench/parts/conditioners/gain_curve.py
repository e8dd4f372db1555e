"""A gain that is known at some frequencies only, as a causal filter: smooth between them, minimum phase everywhere.

Between the points the gain in dB follows a monotone cubic over the logarithm of frequency (F. N. Fritsch, R. E.
Carlson, Monotone piecewise cubic interpolation, SIAM J. Numer. Anal. 17, 1980, 238), which is then taken as many
straight pieces. The phase that belongs to a straight piece is known in closed form (H. W. Bode, Network Analysis and
Feedback Amplifier Design, 1945, chapter XV): a slope of n times 20 dB a decade that begins at f0 has the phase
``n (2/pi) chi2(f/f0)`` below f0 and ``n (pi/2 - (2/pi) chi2(f0/f))`` above it, chi2 being Legendre's chi function of
order two. The sum over all breaks is the minimum phase of the whole, exactly: nothing wraps around, and nothing comes
before its cause.
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from workbench.arrays import Complexes, Floats

PIECES = 6
"""Straight pieces between two points of a table."""
FALL_DB_PER_DECADE = 40.0
"""How a gain falls beyond its last point where nothing else is known: two poles (common practice, no source)."""
_DB_PER_NEPER = 20.0 / np.log(10.0)
_TURN = np.sqrt(2.0) - 1.0
_TERMS = 12


class _Breaks(NamedTuple):
    """Straight pieces of a gain over ``ln f``: where they meet, the gain there in dB, how far each break bends it."""

    ln_f: Floats
    gain_db: Floats
    bend: Floats
    last_slope: float


def chi2(x: Floats) -> Floats:
    """Legendre's chi function of order two, ``sum x^(2k+1) / (2k+1)^2``, for 0 <= x <= 1, shape (n,).

    Above ``sqrt(2) - 1`` by its reflection ``chi2(x) + chi2((1-x)/(1+x)) = pi^2/8 + ln(x) ln((1+x)/(1-x)) / 2``
    (L. Lewin, Polylogarithms and Associated Functions, 1981, section 1.8).
    """
    x = np.asarray(x, np.float64)
    far = x > _TURN
    near = np.where(far, (1.0 - x) / (1.0 + x), x)
    total, power, square = np.zeros_like(near), near.copy(), near * near
    for term in range(_TERMS):
        total += power / (2 * term + 1) ** 2
        power *= square
    inside = far & (x < 1.0)
    mid = np.where(inside, x, 0.5)
    crossed = np.where(inside, 0.5 * np.log(mid) * np.log((1.0 + mid) / (1.0 - mid)), 0.0)
    return np.where(far, np.pi**2 / 8.0 + crossed - total, total)


def causal_gain(
    points_hz: tuple[float, ...],
    gain_db: tuple[float, ...],
    f_hz: Floats,
    *,
    fall_db_per_decade: float = FALL_DB_PER_DECADE,
) -> Complexes:
    """The complex gain that belongs to a table of gains.

    Args:
        points_hz: where the gain is known, Hz, rising, above 0.
        gain_db: the gain there, dB. Below the first point it is the first one's.
        f_hz: where it is wanted, Hz, shape (n,).
        fall_db_per_decade: how it falls beyond the last point, dB a decade.

    Returns:
        Complex gain, shape (n,); 0 Hz has the first point's gain and no phase.
    """
    breaks = _breaks(points_hz, gain_db, fall_db_per_decade)
    positive = np.maximum(f_hz, 1e-3)
    ln_f = np.log(positive)
    level_db = np.interp(ln_f, breaks.ln_f, breaks.gain_db)
    level_db += np.maximum(ln_f - breaks.ln_f[-1], 0.0) * breaks.last_slope
    apart = ln_f[:, np.newaxis] - breaks.ln_f
    share = (2.0 / np.pi) * chi2(np.exp(-np.abs(apart)))
    phase = np.where(apart > 0.0, np.pi / 2.0 - share, share) @ (breaks.bend / _DB_PER_NEPER)
    return np.asarray(10.0 ** (level_db / 20.0) * np.exp(1j * np.where(f_hz > 0.0, phase, 0.0)), np.complex128)


@lru_cache(maxsize=256)
def _breaks(points_hz: tuple[float, ...], gain_db: tuple[float, ...], fall_db_per_decade: float) -> _Breaks:
    ln_points, levels = np.log(np.array(points_hz)), np.array(gain_db)
    if ln_points.size == 1:
        ln_f, gain = ln_points, levels
    else:
        share = np.arange(PIECES) / PIECES
        ln_f = np.append(
            (ln_points[:-1, np.newaxis] + np.diff(ln_points)[:, np.newaxis] * share).ravel(), ln_points[-1]
        )
        gain = _monotone_cubic(ln_points, levels, ln_f)
    last = -fall_db_per_decade / np.log(10.0)
    slopes = np.concatenate([[0.0], np.diff(gain) / np.diff(ln_f), [last]])
    return _Breaks(ln_f, gain, np.diff(slopes), last)


def _monotone_cubic(x: Floats, y: Floats, at: Floats) -> Floats:
    """Fritsch and Carlson's interpolant through (x, y), flat at the first point, evaluated inside."""
    step = np.diff(x)
    secant = np.diff(y) / step
    slope = np.zeros_like(y)
    left, right = secant[:-1], secant[1:]
    weight = (2.0 * step[1:] + step[:-1], step[1:] + 2.0 * step[:-1])
    product, share = left * right, weight[0] * right + weight[1] * left
    rises = product > 0.0
    slope[1:-1] = np.where(rises, product * (weight[0] + weight[1]) / np.where(rises, share, 1.0), 0.0)
    slope[-1] = secant[-1]
    index = np.clip(np.searchsorted(x, at, side="right") - 1, 0, x.size - 2)
    t = (at - x[index]) / step[index]
    h00, h10 = (1.0 + 2.0 * t) * (1.0 - t) ** 2, t * (1.0 - t) ** 2
    h01, h11 = t**2 * (3.0 - 2.0 * t), t**2 * (t - 1.0)
    bent = h10 * slope[index] + h11 * slope[index + 1]
    return np.asarray(h00 * y[index] + h01 * y[index + 1] + bent * step[index])
