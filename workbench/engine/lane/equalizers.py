"""The receiver's equalization: the best gain of a CTLE and the taps of decision feedback, found from the pulse."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Integers
from workbench.board.profile import Profile
from workbench.engine.lane.limiting import noise_rms_v
from workbench.engine.lane.signal import Signal
from workbench.engine.lane.strangers import noise_of
from workbench.engine.lane.waves import Waves, sampled, waves_of
from workbench.engine.tails.quick import quick_level_v
from workbench.parts.receiver import (
    NOISE_BAND_PER_RATE,
    ContinuousEqualizer,
    Ctle,
    Dfe,
    PolesAndZeros,
    Receiver,
    ReferenceEqualizer,
)

_TRIAL_STEPS = (-6, -3, 0, 3, 6)
_AREA_STEP = 2
_PLACES_A_GAIN, _LIKELY = 3, 10
_CURSORS = 4, 60
_SETTLING = 64
"""Taps and the place they are taken at hang on each other; so often they are found anew at most."""
SAMPLE_STEP_UI = 0.05
"""PCI Express Base Specification 6.x, table 8-15: the sample is moved in steps of 0.05 UI at 32 GT/s."""


class Equalization(NamedTuple):
    """What a receiver does: its CTLE (None without), its feedback, and whether height times width is sought."""

    ctle: ContinuousEqualizer | None
    dfe: Dfe
    by_area: bool = False


class Received(NamedTuple):
    """The signal after the receiver's equalization.

    Attributes:
        signal: after the CTLE, receiver noise included.
        waves: its pulse and step.
        noise_v: rms noise, V.
        dc_gain_db: the CTLE's DC gain; None without one.
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
    by_area = receiver.settings_by == "area"
    if isinstance(receiver.equalizer, ReferenceEqualizer):
        reference = profile.reference
        if reference is None:
            return Equalization(None, receiver.dfe, by_area)
        return Equalization(reference.equalizer, receiver.dfe if receiver.dfe.taps else reference.dfe, by_area)
    own = receiver.equalizer if isinstance(receiver.equalizer, Ctle | PolesAndZeros) else None
    return Equalization(own, receiver.dfe, by_area)


def at_pins(signal: Signal, receiver: Receiver, profile: Profile) -> Signal:
    """The signal at the pins with the receiver's noise: white up to 0.75 of the rate."""
    if receiver.noise_v == 0.0:
        return signal
    band_hz = NOISE_BAND_PER_RATE / profile.ui_s
    f_hz = signal.axis.f_hz
    return signal._replace(noise=signal.noise + np.where(f_hz <= band_hz, receiver.noise_v**2 / band_hz, 0.0))


def receive(signal: Signal, equalization: Equalization, error_ratio: float) -> Received:
    """The signal after the equalization that opens the eye the most at `error_ratio`.

    Every gain of the CTLE is tried with its own DFE taps at a few phases about the pulse's peak; what counts is the
    level that the upper symbol falls below with probability `error_ratio`, or that level times the eye's width.
    """
    gains = equalization.ctle.choices() if equalization.ctle is not None else (None,)
    if equalization.by_area or equalization.dfe.sample_left_ui > 0.0:
        return _searched(signal, equalization, gains, error_ratio)
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
    return _settled(best, equalization.dfe, best.decision)


def receive_beside(signal: Signal, equalization: Equalization, error_ratio: float) -> Received:
    """As `receive`; the choice of gain and taps weighs what other lanes add by its power.

    A boost that lifts the neighbours more than the signal is no gain; feedback takes nothing of theirs away.
    """
    if not signal.strangers:
        return receive(signal, equalization, error_ratio)
    weighed = signal._replace(noise=signal.noise + noise_of(signal), strangers=())
    chosen = receive(weighed, equalization, error_ratio)
    plain = _with_gain(signal, equalization, chosen.dc_gain_db)
    return plain._replace(taps_v=chosen.taps_v, decision=chosen.decision)


def _searched(
    signal: Signal, equalization: Equalization, gains: tuple[float | None, ...], error_ratio: float
) -> Received:
    """Every gain with every place that the receiver may sample at; the largest height, or height times width.

    The places: half a UI after the mean crossing, and left of that by steps of 0.05 UI as far as it may go; a receiver
    that may not, where decision feedback's own rule puts it. A bound on the level says which few are worth the eye.
    """
    found: list[Received] = []
    for gain_db in gains:
        plain = _with_gain(signal, equalization, gain_db)
        tried = [
            plain._replace(taps_v=_taps(plain.waves, equalization.dfe, decision), decision=decision)
            for decision in _places(plain, equalization.dfe)
        ]
        found += sorted(tried, key=_bound_v, reverse=True)[:_PLACES_A_GAIN]
    likely = sorted(found, key=_bound_v, reverse=True)[:_LIKELY]
    return max(likely, key=lambda one: eye_score(one, error_ratio, by_area=equalization.by_area))


def _bound_v(received: Received) -> float:
    """What the main cursor leaves, V: less all others, or six sigma of them where that is less, and less noise."""
    waves = received.waves
    at = received.decision + waves.grid.samples_per_ui * np.arange(-_CURSORS[0], _CURSORS[1])
    cursors = waves.pulse_v[at % waves.grid.samples].copy()
    main = float(cursors[_CURSORS[0]])
    cursors[_CURSORS[0]] = 0.0
    cursors[_CURSORS[0] + 1 : _CURSORS[0] + 1 + received.taps_v.size] -= received.taps_v
    spread_v = min(float(np.abs(cursors).sum()), 6.0 * float(np.sqrt(np.sum(cursors**2))))
    return main - spread_v - 6.0 * received.noise_v


def _places(received: Received, dfe: Dfe) -> list[int]:
    waves = received.waves
    per_ui = waves.grid.samples_per_ui
    if dfe.sample_left_ui > 0.0:
        steps = np.arange(int(dfe.sample_left_ui / SAMPLE_STEP_UI + 1e-6) + 1)
        return [round(waves.crossing + (0.5 - step * SAMPLE_STEP_UI) * per_ui) for step in steps]
    return [_settled(received, dfe, waves.peak).decision if dfe.taps else waves.peak]


def eye_score(received: Received, error_ratio: float, *, by_area: bool) -> float:
    """How good a receiver's eye is: its level at the sampling instant in V, or that times the width in UI.

    By the saddlepoint's leading term; a closed eye counts as its level, which is below 0. Without decision feedback the
    instant is where the level is highest.

    Args:
        received: the signal after the equalization that is tried.
        error_ratio: at which the eye is read.
        by_area: whether the width counts too (PCI Express Base Specification 6.x, 8.5.1.3, as quoted in a public
            transcription: the largest eye height times width).
    """
    waves = received.waves
    half = waves.grid.samples_per_ui // 2
    at = received.decision + np.arange(-half, half + 1, _AREA_STEP)
    sample = sampled(waves, received.signal, at=at, noise_v=received.noise_v, held_v=received.taps_v)
    level_v = quick_level_v(sample, error_ratio)
    middle = half // _AREA_STEP if received.taps_v.size else int(level_v.argmax())
    height_v = float(level_v[middle])
    if not by_area or height_v <= 0.0:
        return height_v
    return height_v * _width_ui(level_v, middle) * _AREA_STEP / waves.grid.samples_per_ui


def _width_ui(level_v: Floats, middle: int) -> float:
    """How many steps the level stays above 0 about the middle, with the parts of a step at its ends."""
    total = 0.0
    for side in (level_v[middle::-1], level_v[middle:]):
        closed = np.nonzero(side <= 0.0)[0]
        if not closed.size:
            total += side.size - 1.0
            continue
        first = int(closed[0])
        total += first - 1.0 + float(side[first - 1] / (side[first - 1] - side[first]))
    return total


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
    low, high = dfe.bounds_v(float(waves.pulse_v[phase % waves.grid.samples]))
    return np.asarray(np.clip(waves.pulse_v[at % waves.grid.samples], low, high))


def _settled(received: Received, dfe: Dfe, start: int) -> Received:
    """The receiver once its sampling place and its taps have settled: each is where the other puts it.

    Where the place goes to and fro between grid points, the one is taken where the first cursors differ least.
    """
    waves = received.waves
    seen = [start]
    while len(seen) <= _SETTLING:
        following = decision_phase(waves, _taps(waves, dfe, seen[-1]))
        if following in seen:
            seen = seen[seen.index(following) :]
            break
        seen.append(following)
    decision = min(seen, key=lambda at: abs(_left_over_v(waves, _taps(waves, dfe, at), np.array([at]))[0]))
    return received._replace(taps_v=_taps(waves, dfe, decision), decision=decision)


def decision_phase(waves: Waves, taps_v: Floats) -> int:
    """The grid point where a receiver with decision feedback samples.

    K. H. Mueller and M. Mueller, IEEE Trans. Comm. 24(5), 1976, 516-531: where the first pre-cursor equals the first
    post-cursor, the latter after decision feedback of `taps_v` (V, shape (taps,)); searched about the peak.
    """
    per_ui = waves.grid.samples_per_ui
    at = waves.peak + np.arange(-per_ui // 2, per_ui // 2)
    return int(at[np.abs(_left_over_v(waves, taps_v, at)).argmin()])


def _left_over_v(waves: Waves, taps_v: Floats, at: Integers) -> Floats:
    """First pre-cursor less what feedback leaves of the first post-cursor, V, at grid points."""
    grid = waves.grid
    first_tap = float(taps_v[0]) if taps_v.size else 0.0
    pre = waves.pulse_v[(at - grid.samples_per_ui) % grid.samples]
    post = waves.pulse_v[(at + grid.samples_per_ui) % grid.samples]
    return np.asarray(pre - (post - first_tap))
