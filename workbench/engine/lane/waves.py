"""A signal in time: its pulse and step, and samples of them at the phases of one unit interval."""

from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.engine.lane.grid import Grid
from workbench.engine.lane.signal import Signal
from workbench.engine.tails.boundaries import Displaced
from workbench.engine.tails.jitter import JitterParts, Mixture, narrowed, whole
from workbench.engine.tails.rest import known_levels
from workbench.engine.tails.samples import EdgeShifts, Far, Sample

LEAD_UI = 8
"""The window starts this many UI before the time of flight: what a line's dispersion sends ahead fits in.

More than `_SYMBOLS_AHEAD`, so that no boundary that counts meets the place where the window closes on itself.
"""
_SYMBOLS_AHEAD = 6
_LIKELY_STEP = 1.5
"""Size of a driven step that is not known. Its mean is 1, but where a tail is read edges stand where they hurt: 2."""


class Waves(NamedTuple):
    """Pulse and step response on the grid.

    Attributes:
        grid: the grid.
        pulse_v: response to one symbol of half the swing, shape (samples,).
        plain_v: the same without transmit taps.
        step_v: the plain pulse summed over all earlier symbols: the response to a step of half the swing.
        start_s: time of the first sample, counted from the symbol's start at the transmitter.
        crossing: where the mean crossing at the symbol's start stands, in samples (not whole).
    """

    grid: Grid
    pulse_v: Floats
    plain_v: Floats
    step_v: Floats
    start_s: float
    crossing: float

    @property
    def peak(self) -> int:
        """The sample where the pulse is largest."""
        return int(self.pulse_v.argmax())

    @property
    def crossing_s(self) -> float:
        """The mean crossing at the symbol's start, counted from its start at the transmitter, s."""
        return self.start_s + self.crossing * self.grid.dt_s


def waves_of(signal: Signal) -> Waves:
    """The signal's pulse and step in time; its axis must be a grid."""
    grid = signal.axis
    assert isinstance(grid, Grid)
    lead_s = LEAD_UI * grid.ui_s
    late = np.exp(-2j * np.pi * grid.f_hz * lead_s)
    pulse = grid.time_response(signal.tapped * late)
    same = signal.plain is signal.tapped or signal.taps == (0.0, 1.0, 0.0)
    plain = pulse if same else grid.time_response(signal.plain * late)
    step = plain.reshape(grid.window_ui, grid.samples_per_ui).cumsum(axis=0).ravel()
    return Waves(grid, pulse, plain, step, signal.delay_s - lead_s, _crossing(pulse, grid.samples_per_ui))


def settling_pulse_v(signal: Signal) -> Floats:
    """The pulse in V from `LEAD_UI` before its time of flight on: at the window's end it should be over, (samples,)."""
    grid = signal.axis
    assert isinstance(grid, Grid)
    return np.roll(grid.time_response(signal.tapped), LEAD_UI * grid.samples_per_ui)


def pulse_v(signal: Signal) -> Floats:
    """The pulse alone in V at all times of the grid, wherever it starts, shape (samples,)."""
    grid = signal.axis
    assert isinstance(grid, Grid)
    return grid.time_response(signal.tapped)


def _crossing(pulse: Floats, per_ui: int) -> float:
    """Where a rising edge crosses zero on average: the pulse equals itself one UI later, before its peak."""
    peak = int(pulse.argmax())
    at = np.arange(peak - per_ui, peak + 1)
    n = pulse.size
    difference = pulse[at % n] - pulse[(at + per_ui) % n]
    above = np.nonzero(difference > 0.0)[0]
    first = int(above[0]) if above.size else per_ui
    if first == 0:
        return float(at[0])
    low, high = difference[first - 1], difference[first]
    return float(at[first - 1] - low / (high - low)) if high > low else float(at[first])


def sampled(
    waves: Waves,
    signal: Signal,
    *,
    at: Integers | Floats,
    noise_v: float,
    given: tuple[float | Floats, ...] = (1.0,),
    held_v: Floats | None = None,
) -> Sample:
    """Samples at some grid points, in the terms of `tails`.

    Args:
        waves: pulse and step.
        signal: where they come from: its edges' displacement and taps.
        at: grid points, or places between them, in or near the UI of the symbol decided on, shape (P,).
        noise_v: rms noise, V.
        given: levels of the symbol decided on and of those before it, as far as they are known; shape (P,) where they
            differ.
        held_v: what decision feedback takes off the cursors after the main one, V; shape (taps,).
    """
    grid, per_ui = waves.grid, waves.grid.samples_per_ui
    origin = at - _SYMBOLS_AHEAD * per_ui
    cursors = _columns(waves.pulse_v, origin, grid)
    if held_v is not None and held_v.size:
        after = slice(_SYMBOLS_AHEAD + 1, _SYMBOLS_AHEAD + 1 + held_v.size)
        cursors[:, after] -= held_v[: cursors[:, after].shape[1]]
    known = {_SYMBOLS_AHEAD + i: level for i, level in enumerate(given)}
    edges = _edges(waves, signal, origin)
    sample = Sample(cursors_v=cursors, given=known, noise_v=np.full(at.size, noise_v), edges=edges)
    return sample._replace(cursors_v=cursors + leaning_as_cursors(sample, signal.jitter, signal.jitter.told))


def leaning_as_cursors(sample: Sample, jitter: Mixture, told: int) -> Floats:
    """About what the shifts of edges by still older symbols add to these symbols' cursors, V, shape (P, K).

    An edge shifts the same way whichever way it goes as seen from the older symbol, so a step of size D adds D times
    the slope times the shift; a step that is not known counts with a likely size.

    Args:
        sample: with edges.
        jitter: the leaning displacement.
        told: so many of its leans are in the edges already.
    """
    cursors = np.zeros_like(sample.cursors_v)
    edges = sample.edges
    lean_s = jitter.lean_s.mean(axis=0)
    if edges is None or lean_s.size <= told:
        return cursors
    level = known_levels(sample.given, range(cursors.shape[1]), cursors.shape[0]).T
    size = np.abs(level[:, :-1] - level[:, 1:])
    push = np.where(np.isnan(size), _LIKELY_STEP, size) * edges.slope_v_per_s[:, :-1]
    first = 2 + (jitter.kinds.bit_length() - 1)
    for older, lean in enumerate(lean_s[told:], told):
        cursors[:, first + older :] += lean * push[:, : cursors.shape[1] - first - older]
    return cursors


def _columns(samples: Floats, origin: Integers | Floats, grid: Grid) -> Floats:
    return _read(samples, origin[:, None] + grid.samples_per_ui * np.arange(grid.window_ui))


def _read(samples: Floats, at: Integers | Floats) -> Floats:
    """Samples at grid points or, of places as floats, between them."""
    if at.dtype.kind == "i":
        return np.asarray(samples[at.astype(np.int64) % samples.size])
    return between(samples, at.astype(np.float64))


def _edges(waves: Waves, signal: Signal, origin: Integers | Floats) -> EdgeShifts | None:
    jitter = signal.jitter
    if jitter.square_s2 == 0.0:
        return None
    grid = waves.grid
    slope = np.gradient(waves.step_v) / grid.dt_s
    # Where the window closes on itself the step falls back to zero; no edge is there.
    slope[[0, -1]] = 0.0
    narrow = narrowed(jitter, ui_s=grid.ui_s)
    coarse = _looked_up(waves, origin, whole(*jitter.by_kind_in_two()))
    return EdgeShifts(
        slope_v_per_s=_columns(slope, origin, grid),
        square_s2=jitter.square_s2,
        displaced=_looked_up(waves, origin, narrow if narrow is not None else whole(*jitter.by_kind())),
        coarse=coarse,
        taps=(signal.taps.before, signal.taps.main, signal.taps.after),
        kinds=jitter.all_kinds,
        far=None if narrow is None else _far(waves, slope, narrow, jitter, origin),
    )


def _looked_up(waves: Waves, origin: Integers | Floats, parts: JitterParts) -> Callable[[Integers], Displaced]:
    """What displacements in parts do, for boundaries counted from grid points `origin`, shape (P,)."""
    grid = waves.grid
    narrowest_s = 1e-3 * grid.dt_s
    aside = np.maximum(parts.sigma_s, narrowest_s)[..., None] / grid.dt_s
    spreads = (parts.sigma_s > 0.0)[..., None]
    on_s = (parts.offset_s - parts.at_s)[..., None]
    in_its_middle = not on_s.any()

    def displaced(boundaries: Integers) -> Displaced:
        at = origin + grid.samples_per_ui * boundaries[:, None]
        moved = at[:, None, None] - parts.at_s[..., None] / grid.dt_s
        start = _read(waves.step_v, at)[:, None, None]
        if in_its_middle:
            late, early, there = between(waves.step_v, np.stack([moved + aside, moved - aside, moved]))
            return Displaced(parts.weight, there - start, np.abs(late - early) / 2.0 * spreads)
        late, early = between(waves.step_v, np.stack([moved + aside, moved - aside]))
        rate_v = (late - early) / 2.0
        change = (late + early) / 2.0 - start - on_s / (aside * grid.dt_s) * rate_v
        return Displaced(parts.weight, change, np.abs(rate_v))

    return displaced


def _far(waves: Waves, slope: Floats, parts: JitterParts, jitter: Mixture, origin: Integers | Floats) -> Far:
    """What the furthest displacements of each boundary do, to either side; slope in V/s on the grid."""
    grid = waves.grid
    square, bend = jitter.square_s2 * slope**2, np.zeros(grid.samples)
    reach = np.array([parts.at_s.min(), parts.at_s.max()]) / grid.dt_s
    for steps in (np.sign(reach) * np.maximum(np.round(np.abs(reach)), 1.0)).astype(int).tolist():
        # The step does not close on itself: beyond both ends of the window it stays as it is.
        padded = np.pad(waves.step_v, abs(steps), mode="edge")
        change = padded[abs(steps) - steps :][: grid.samples] - waves.step_v
        square = np.maximum(square, jitter.square_s2 * (change / (steps * grid.dt_s)) ** 2)
        bend = np.maximum(bend, np.abs(change + slope * (steps * grid.dt_s)))
    nearest = np.round(origin).astype(np.int64)
    return Far(_columns(square, nearest, grid), _columns(bend, nearest, grid))


def between_points(waves: Waves, part: float) -> Waves:
    """The waves with every sample taken `part` of a grid step later; times still count the points before."""
    at = np.arange(waves.grid.samples) + part
    # The step does not close on itself: beyond both ends of the window it stays as it is.
    step = between(np.pad(waves.step_v, 2, mode="edge"), at + 2.0)
    return waves._replace(pulse_v=between(waves.pulse_v, at), plain_v=between(waves.plain_v, at), step_v=step)


_CUBIC = np.arange(-1, 3)


def between(samples: Floats, at: Floats) -> Floats:
    """Samples at places between grid points, by a cubic through four of them; the shape of `at`."""
    whole = np.floor(at).astype(np.int64)
    x = at - whole
    n = samples.size
    a, b, c, d = samples[(whole + _CUBIC.reshape(-1, *[1] * whole.ndim)) % n]
    return np.asarray(
        b + x * ((c - a) / 2.0 + x * (a - 2.5 * b + 2.0 * c - d / 2.0 + x * ((d - a) / 2.0 + 1.5 * (b - c))))
    )
