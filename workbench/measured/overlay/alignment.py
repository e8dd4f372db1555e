"""Laying one curve on another in time and level.

The delay comes from the cross-correlation of the parts that overlap, to the nearest grid point, and is then refined
together with gain and offset by Gauss-Newton on the squared difference, well below the sample interval: the
maximum-likelihood delay in white noise (G. C. Carter, "Coherence and time delay estimation", Proc. IEEE 75(2), 1987).
"""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Bools, Floats

_MOST_POINTS = 2**20
_ROUNDS = 25
_FEWEST_COMMON = 4
_LEAST_OVERLAP = 0.8
"""Share of the shorter curve that has to lie on the longer one."""
_HARDLY = 1e-6


class SampledCurve(NamedTuple):
    """A curve: `x` in s, rising, and `y`, shape (n,) each."""

    x: Floats
    y: Floats


class Alignment(NamedTuple):
    """How a measured curve lies to the model: measured(x) = gain * model(x - delay_s) + offset.

    `delay_s` in s; `gain` a bare ratio and `offset` in the curve's unit, 1 and 0 where the level was left alone.
    """

    delay_s: float
    gain: float
    offset: float


class CurveDifference(NamedTuple):
    """What is left between two curves, in their unit: rms, mean, worst (with its sign), and where on the x axis."""

    rms: float
    mean: float
    worst: float
    worst_at: float


def difference_of(x: Floats, measured: Floats, model: Floats) -> CurveDifference:
    """Measured minus model, curves of shape (n,) on the axis `x`."""
    apart = measured - model
    at = int(np.abs(apart).argmax())
    return CurveDifference(
        rms=float(np.sqrt(np.mean(apart**2))),
        mean=float(apart.mean()),
        worst=float(apart[at]),
        worst_at=float(x[at]),
    )


def aligned(model: SampledCurve, bench: SampledCurve, *, level: bool, most_shift_s: float | None = None) -> Alignment:
    """The alignment of a measured curve to a model.

    Args:
        model: the model.
        bench: what was measured.
        level: whether gain and offset are fitted too.
        most_shift_s: the largest delay that is looked for, to either side, s; None: any at which they overlap.
    """
    coarse = _coarse_delay_s(model, bench, level=level, most_shift_s=most_shift_s)
    return _refined(model, bench, Alignment(coarse, 1.0, 0.0), level=level)


def _coarse_delay_s(model: SampledCurve, bench: SampledCurve, *, level: bool, most_shift_s: float | None) -> float:
    """The lag on a common even grid at which the curves are most alike where they overlap.

    What lies beyond the overlap does not count: a reflectometer's record begins before the lane and ends after it.
    """
    span = max(float(curve.x[-1] - curve.x[0]) for curve in (model, bench))
    step = max(min(float(np.median(np.diff(curve.x))) for curve in (model, bench)), span / _MOST_POINTS)
    m, y = _evenly(model, step), _evenly(bench, step)
    shift = float(m.mean())
    sums = _Overlap(m - shift, y - shift)
    delays = sums.lags * step + float(bench.x[0] - model.x[0])
    usable = sums.count >= _LEAST_OVERLAP * min(m.size, y.size)
    if most_shift_s is not None and (usable & (np.abs(delays) <= most_shift_s + step)).any():
        usable &= np.abs(delays) <= most_shift_s + step
    scores = sums.correlation() if level else -sums.mean_square_difference()
    return float(delays[int(np.where(usable, scores, -np.inf).argmax())])


class _Overlap:
    """Sums over the overlap of a model (m,) and a measured curve (n,) at every lag, by fast transforms."""

    def __init__(self, model: Floats, measured: Floats) -> None:
        self._length = 1 << (model.size + measured.size - 2).bit_length()
        self.lags = np.arange(-(model.size - 1), measured.size)
        ones = [np.ones(model.size), np.ones(measured.size)]
        self.count = np.maximum(np.round(self._sum(ones[0], ones[1])), 1.0)
        self._product = self._sum(model, measured)
        self._model, self._model2 = self._sum(model, ones[1]), self._sum(model**2, ones[1])
        self._bench, self._bench2 = self._sum(ones[0], measured), self._sum(ones[0], measured**2)

    def mean_square_difference(self) -> Floats:
        """Of the two as they stand, shape (lags,)."""
        return np.asarray((self._model2 - 2.0 * self._product + self._bench2) / self.count)

    def correlation(self) -> Floats:
        """Pearson's coefficient, shape (lags,); 0 where one of the two hardly varies."""
        n = self.count
        covariance = self._product - self._model * self._bench / n
        squares = (self._model2 - self._model**2 / n) * (self._bench2 - self._bench**2 / n)
        varies = squares > _HARDLY**2 * float(squares.max())
        return np.asarray(np.where(varies, covariance / np.sqrt(np.where(varies, squares, 1.0)), 0.0))

    def _sum(self, model: Floats, measured: Floats) -> Floats:
        spectra = np.fft.rfft(measured, self._length) * np.conj(np.fft.rfft(model, self._length))
        return np.asarray(np.fft.irfft(spectra, self._length)[self.lags % self._length])


def _evenly(curve: SampledCurve, step: float) -> Floats:
    x, y = curve
    return np.asarray(np.interp(np.arange(int((x[-1] - x[0]) / step) + 1) * step + x[0], x, y))


def _refined(model: SampledCurve, bench: SampledCurve, start: Alignment, *, level: bool) -> Alignment:
    (model_x, model_y), (x, y) = model, bench
    slope = np.gradient(model_y, model_x)
    best, least = start, np.inf
    now = start
    for _ in range(_ROUNDS):
        inside = common(model_x, x, now.delay_s)
        if int(inside.sum()) < _FEWEST_COMMON:
            return best
        at = x[inside] - now.delay_s
        there, rate = np.interp(at, model_x, model_y), np.interp(at, model_x, slope)
        columns = [-now.gain * rate]
        columns += [there, np.ones_like(there)] if level else []
        apart = y[inside] - now.gain * there - now.offset
        size = float(np.mean(apart**2))
        if size >= least:
            return best
        best, least = now, size
        moved = np.linalg.lstsq(np.array(columns).T, apart, rcond=None)[0]
        now = Alignment(now.delay_s + float(moved[0]), *(np.array(now[1:]) + (moved[1:] if level else 0.0)).tolist())
    return best


def common(model_x: Floats, x: Floats, delay_s: float) -> Bools:
    """Which points of a measured axis lie on the model's, shape (n,), with the measured curve `delay_s` (s) late."""
    inside = (x - delay_s >= model_x[0]) & (x - delay_s <= model_x[-1])
    return np.asarray(inside)
