"""The receiver's equalization: the best gain of a CTLE and the taps of decision feedback, found from the pulse."""

from typing import NamedTuple

import numpy as np

from workbench.board.profile import Profile
from workbench.engine.grid import Grid
from workbench.engine.limiting import noise_rms_v
from workbench.engine.quick import quick_level_v
from workbench.engine.signal import Signal
from workbench.engine.waves import Waves, sampled, waves_of
from workbench.parts.receiver import NOISE_BAND_PER_RATE, Ctle, Dfe, Receiver, ReferenceEqualizer
from workbench.parts.twoport import Floats

_TRIAL_STEPS = (-6, -3, 0, 3, 6)


class Equalization(NamedTuple):
    """What a receiver does: its CTLE (None without) and its decision feedback."""

    ctle: Ctle | None
    dfe: Dfe


class Received(NamedTuple):
    """The signal behind the receiver's equalization.

    Attributes:
        signal: behind the CTLE, receiver noise included.
        waves: its pulse and step.
        noise_v: rms noise, V.
        dc_gain_db: the CTLE's gain at rest; None without one.
        taps_v: what decision feedback subtracts, V, shape (taps,).
        decision: the grid point the taps were taken at, in the UI of the main cursor.
    """

    signal: Signal
    waves: Waves
    noise_v: float
    dc_gain_db: float | None
    taps_v: Floats
    decision: int


def equalization_of(receiver: Receiver, profile: Profile) -> Equalization:
    """The receiver's own equalization, or the profile's reference where the receiver asks for that."""
    if isinstance(receiver.equalizer, ReferenceEqualizer):
        reference = profile.reference
        if reference is None:
            return Equalization(None, receiver.dfe)
        return Equalization(reference.equalizer, receiver.dfe if receiver.dfe.taps else reference.dfe)
    return Equalization(receiver.equalizer if isinstance(receiver.equalizer, Ctle) else None, receiver.dfe)


def at_pins(signal: Signal, receiver: Receiver, profile: Profile) -> Signal:
    """The signal at the pins with the receiver's noise: white up to 0.75 of the rate."""
    if receiver.noise_v == 0.0:
        return signal
    band_hz = NOISE_BAND_PER_RATE / profile.ui_s
    f_hz = signal.axis.f_hz
    return signal._replace(noise=signal.noise + np.where(f_hz <= band_hz, receiver.noise_v**2 / band_hz, 0.0))


def receive(signal: Signal, equalization: Equalization, error_ratio: float) -> Received:
    """The signal behind the equalization that opens the eye the most at `error_ratio`.

    Every gain of the CTLE is tried with its own DFE taps at a few phases about the pulse's peak; what counts is the
    level that the upper symbol falls below with probability `error_ratio`.
    """
    gains = equalization.ctle.choices() if equalization.ctle is not None else (None,)
    if len(gains) == 1 and not equalization.dfe.taps:
        return _with_gain(signal, equalization, gains[0])
    best: Received | None = None
    best_level = -np.inf
    for gain_db in gains:
        tried = _with_gain(signal, equalization, gain_db)
        level, decision = _score(tried, equalization.dfe, error_ratio)
        if best is None or level > best_level:
            best, best_level = (
                tried._replace(taps_v=_taps(tried.waves, equalization.dfe, decision), decision=decision),
                level,
            )
    assert best is not None
    if not equalization.dfe.taps:
        return best
    decision = decision_phase(best.waves, best.taps_v)
    return best._replace(taps_v=_taps(best.waves, equalization.dfe, decision), decision=decision)


def _with_gain(signal: Signal, equalization: Equalization, gain_db: float | None) -> Received:
    if equalization.ctle is not None and gain_db is not None:
        signal = signal.through(equalization.ctle.transfer(gain_db, signal.axis.f_hz))
    waves = waves_of(signal)
    return Received(signal, waves, noise_rms_v(signal, waves.grid.df_hz), gain_db, np.zeros(0), waves.peak)


def _score(received: Received, dfe: Dfe, error_ratio: float) -> tuple[float, int]:
    """Best level in V over the trial phases, and that phase."""
    waves = received.waves
    best, at = -np.inf, waves.peak
    for step in _TRIAL_STEPS:
        phase = waves.peak + step * waves.grid.samples_per_ui // 32
        taps = _taps(waves, dfe, phase)
        sample = sampled(waves, received.signal, at=np.array([phase]), noise_v=received.noise_v, held_v=taps)
        level = float(quick_level_v(sample, error_ratio)[0])
        if level > best:
            best, at = level, phase
    return best, at


def _taps(waves: Waves, dfe: Dfe, phase: int) -> Floats:
    at = phase + waves.grid.samples_per_ui * np.arange(1, dfe.taps + 1)
    limit = np.array([dfe.limit_of(tap) for tap in range(dfe.taps)])
    return np.asarray(np.clip(waves.pulse_v[at % waves.grid.samples], -limit, limit))


def decision_phase(waves: Waves, taps_v: Floats) -> int:
    """The grid point where a receiver with decision feedback samples.

    K. H. Mueller and M. Mueller, IEEE Trans. Comm. 24(5), 1976, 516-531: where the first pre-cursor equals the first
    post-cursor, the latter after decision feedback of `taps_v` (V); searched about the peak.
    """
    grid: Grid = waves.grid
    per_ui = grid.samples_per_ui
    at = waves.peak + np.arange(-per_ui // 2, per_ui // 2)
    first_tap = float(taps_v[0]) if taps_v.size else 0.0
    pre = waves.pulse_v[(at - per_ui) % grid.samples]
    post = waves.pulse_v[(at + per_ui) % grid.samples] - first_tap
    return int(at[np.abs(pre - post).argmin()])
