"""A measured waveform folded into an eye at its own clock, and the symbols in it.

Time runs from 0 to 1 UI between two mean crossings, as in the model's eye. What an oscilloscope samples a few times a
UI is first sampled finer, band-limited (C. E. Shannon, Proc. IRE 37(1), 1949, theorem 1).
"""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats
from workbench.board.measurement import MeasuredWaveform
from workbench.errors import TableError
from workbench.measured.overlay.clock import LOOP_PER_RATE, RecoveredClock, crossings_s, recovered
from workbench.wording import quoted

PHASES = 64
LEVELS = 256
NRZ = (-1.0, 1.0)
_FINE_PER_UI = 32
_COARSEST_PER_UI = 2.2
_EVEN = 0.05
_RIM_SAMPLES = 32


class Waveform(NamedTuple):
    """A waveform in time: `time_s` (s, rising) and `level_v` (V), shape (n,) each."""

    time_s: Floats
    level_v: Floats


class FoldedEye(NamedTuple):
    """A measured eye.

    Attributes:
        clock: the recovered clock.
        symbols: the symbols, each one of the levels, shape (clock.symbols,).
        time_ui: shape (P,), from 0 to 1.
        level_v: shape (N,), rising, symmetric about 0.
        density: probability density in 1/V, shape (P, N).
        sampling_ui: the middle of the opening along time.
        height_v: the smallest opening there that was seen, V; negative where closed.
        width_ui: the opening along time at the threshold that was seen, UI; 0 where closed.
        jitter_rms_ui: of the crossings against the clock, UI.
    """

    clock: RecoveredClock
    symbols: Floats
    time_ui: Floats
    level_v: Floats
    density: Floats
    sampling_ui: float
    height_v: float
    width_ui: float
    jitter_rms_ui: float


def fold(
    measured: MeasuredWaveform, ui_s: float, *, levels: tuple[float, ...] = NRZ, loop_per_rate: float = LOOP_PER_RATE
) -> FoldedEye:
    """Fold a waveform into an eye.

    Args:
        measured: the waveform.
        ui_s: the nominal unit interval, s.
        levels: the symbol levels, the outer ones -1 and 1.
        loop_per_rate: the clock recovery's bandwidth over the symbol rate; 0 for a constant clock.

    Raises:
        TableError: it is sampled too coarsely, or no clock near the nominal rate is in it.
    """
    wave = finer(Waveform(measured.times_s(), measured.levels_v()), ui_s, quoted(measured.name))
    clock = recovered(crossings_s(*wave), ui_s, quoted(measured.name), loop_per_rate=loop_per_rate)
    jitter_ui = clock.jitter_s / ui_s
    low, high = float(jitter_ui.max()), 1.0 + float(jitter_ui.min())
    sampling_ui = (low + high) / 2.0
    samples = at_phase(wave, clock, sampling_ui)
    symbols = sliced(samples, levels)
    level_v, density = _density(wave, clock)
    return FoldedEye(
        clock=clock,
        symbols=symbols,
        time_ui=(np.arange(PHASES) + 0.5) / PHASES,
        level_v=level_v,
        density=density,
        sampling_ui=sampling_ui,
        height_v=_height_v(samples, symbols),
        width_ui=max(high - low, 0.0),
        jitter_rms_ui=float(np.std(jitter_ui)),
    )


def finer(wave: Waveform, ui_s: float, name: str) -> Waveform:
    """A waveform with enough samples in a UI to read it between them; itself where it has them.

    Args:
        wave: the waveform.
        ui_s: unit interval, s.
        name: what sentences call it.

    Raises:
        TableError: it is sampled too coarsely to be read between its samples.
    """
    time_s, level_v = wave
    step_s = float(time_s[-1] - time_s[0]) / (time_s.size - 1)
    per_ui = ui_s / step_s
    if per_ui < _COARSEST_PER_UI:
        problem = f"it has {per_ui:.2g} samples in a unit interval"
        raise TableError(name, None, problem, "sample it three times as fast as its symbols, or check the time's unit")
    even = np.abs(time_s - (time_s[0] + step_s * np.arange(time_s.size))).max() < _EVEN * step_s
    if per_ui >= _FINE_PER_UI or not even:
        return wave
    factor = int(np.ceil(_FINE_PER_UI / per_ui))
    count = time_s.size
    # A record mirrored at both ends closes on itself without a jump.
    mirrored = np.concatenate([level_v, level_v[::-1]])
    spectrum = np.fft.rfft(mirrored)
    fine = np.fft.irfft(spectrum, 2 * count * factor)[: (count - 1) * factor + 1] * factor
    rim = min(_RIM_SAMPLES, count // 8) * factor
    at = np.arange(fine.size) / factor
    return Waveform((time_s[0] + step_s * at)[rim:-rim], fine[rim:-rim])


def at_phase(wave: Waveform, clock: RecoveredClock, phase_ui: float) -> Floats:
    """The waveform at one phase (UI) of every symbol, V, shape (symbols,)."""
    begin, end = clock.edge_s[:-1], clock.edge_s[1:]
    return np.asarray(np.interp(begin + phase_ui * (end - begin), wave.time_s, wave.level_v))


def sliced(samples: Floats, levels: tuple[float, ...]) -> Floats:
    """The symbols that samples (V, shape (n,)) are nearest to, each one of the levels.

    The outer levels in V are the medians of the samples beyond all inner thresholds, found in a few rounds.
    """
    outer_v = float(np.percentile(np.abs(samples), 90.0))
    known: Floats = np.asarray(levels, np.float64)
    nearest: Floats = np.sign(samples)
    for _ in range(8):
        nearest = known[np.abs(samples[:, None] / outer_v - known).argmin(axis=1)]
        outer_v = float(np.median(np.abs(samples[np.abs(nearest) == 1.0])))
    return nearest


def _height_v(samples: Floats, symbols: Floats) -> float:
    """The smallest gap between the samples of neighbouring symbols, V."""
    groups = [samples[symbols == level] for level in np.unique(symbols)]
    return min((float(high.min() - low.max()) for low, high in pairwise(groups)), default=0.0)


def _density(wave: Waveform, clock: RecoveredClock) -> tuple[Floats, Floats]:
    """Levels in V, and the probability density in 1/V at each phase, shape (P, N)."""
    reach = 1.05 * float(np.abs(wave.level_v).max())
    edges = np.linspace(-reach, reach, LEVELS + 1)
    rows = [
        np.histogram(at_phase(wave, clock, (phase + 0.5) / PHASES), bins=edges, density=True)[0]
        for phase in range(PHASES)
    ]
    return (edges[1:] + edges[:-1]) / 2.0, np.array(rows)
