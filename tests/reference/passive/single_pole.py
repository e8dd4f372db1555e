"""Closed forms of a single-pole channel driven by ramps, and the engine's signal for the same channel.

The closed forms are derived: a step through a pole tau is ``1 - exp(-t/tau)``; a linear ramp of length R is the running
mean of such steps.
"""

import numpy as np

from workbench.engine.lane.grid import Grid, full_points
from workbench.engine.lane.signal import Signal
from workbench.engine.lane.waves import sampled, waves_of
from workbench.engine.tails.eye import Eye, eye_of, refined
from workbench.engine.tails.jitter import Mixture, dual_dirac
from workbench.parts.edge import RAMP_PER_RISE_TIME
from workbench.parts.transmitter import Taps, symbol_spectrum

ONE_TAP = Taps(0.0, 1.0, 0.0)


def ramp_step(t, *, tau, ramp):
    """Response at times t to a ramp from 0 to 1 that starts at 0 and takes `ramp`; all in one unit of time."""

    def integral(x):
        x = np.maximum(x, 0.0)
        return x - tau * (1.0 - np.exp(-x / tau))

    return (integral(t) - integral(t - ramp)) / ramp


def ramp_pulse(t, *, tau, ramp):
    """Response to a symbol of one unit of time."""
    return ramp_step(t, tau=tau, ramp=ramp) - ramp_step(t - 1.0, tau=tau, ramp=ramp)


def signal_of(
    gain,
    *,
    ui_s=2e-10,
    window_ui=64,
    rise_ui=0.15,
    taps=ONE_TAP,
    noise_v=0.0,
    jitter: Mixture | None = None,
) -> Signal:
    """A signal of half swing 1 V after a channel of complex `gain(f)`, with `noise_v` rms."""
    grid = Grid(ui_s, window_ui, full_points(window_ui))
    f_hz = grid.f_hz

    def spectrum(with_taps):
        return gain(f_hz) * symbol_spectrum(f_hz, ui_s=ui_s, rise_time_s=rise_ui * ui_s, taps=with_taps)

    return Signal(
        axis=grid,
        tapped=spectrum(taps),
        plain=spectrum(ONE_TAP),
        taps=taps,
        delay_s=0.0,
        noise=np.full(f_hz.size, noise_v**2 / (grid.df_hz * f_hz.size)),
        jitter=jitter if jitter is not None else dual_dirac(random_s=0.0, deterministic_s=0.0),
        wrong=0.0,
    )


def single_pole(tau_s):
    """Complex gain of one pole of time constant tau."""
    return lambda f_hz: 1.0 / (1.0 + 2j * np.pi * f_hz * tau_s)


def ramp_ui(rise_ui):
    """Length of a ramp in UI for a 20-80 % rise time in UI."""
    return rise_ui * RAMP_PER_RISE_TIME


def open_between(signal: Signal, ratio: float, noise_v: float) -> tuple[float, float]:
    """Between which places, UI, the program says that the eye of such a signal is open, independent symbols."""
    waves, ui_s = waves_of(signal), signal.axis.ui_s

    def eye_at(places: np.ndarray) -> Eye:
        return eye_of(
            sampled(waves, signal, at=places, noise_v=noise_v), ui_s=ui_s, sampling=None, wrong=0.0, error_ratio=ratio,
            time_s=(places - waves.crossing) * waves.grid.dt_s,
        )  # fmt: skip

    at = int(np.floor(waves.crossing)) + np.arange(waves.grid.samples_per_ui + 2)
    eye = refined(eye_at(at), lambda time_s: eye_at(waves.crossing + time_s / waves.grid.dt_s), ratio)
    low, high = eye.crossings_s(ratio)
    return (waves.crossing_s + low) / ui_s, (waves.crossing_s + high) / ui_s
