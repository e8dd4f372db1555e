"""Moved edges: the tail of a sample against every sequence of symbols and displacements, and dual-Dirac in the eye."""

import numpy as np
import pytest

from tests.reference.enumeration import jittered_log_tail
from tests.reference.single_pole import ramp_step, ramp_ui, signal_of, single_pole
from workbench.engine.jitter import dual_dirac
from workbench.engine.tails import lower_tail, tail_near
from workbench.engine.waves import sampled, waves_of
from workbench.parts.transmitter import Taps

UI_S = 2e-10
RISE_UI = 0.2
AHEAD, BEHIND = 2, 8  # symbols about the one decided on that are enumerated; the rest is below 1e-5
ERROR_RATIOS = np.array([1e-3, 1e-6, 1e-9, 1e-12])


def enumerated(*, tau_ui, phase_ui, random_ui, deterministic_ui, taps, noise_v, v):
    """``ln P`` at levels v for a sample `phase_ui` after the symbol's start, all from closed forms in units of UI."""
    ramp = ramp_ui(RISE_UI)

    def step(t):
        return ramp_step(t, tau=tau_ui, ramp=ramp)

    t = phase_ui + np.arange(-AHEAD, BEHIND + 1)  # time since each symbol's start, newest first

    def pulse(at):
        return step(at) - step(at - 1.0)

    cursors = taps.before * pulse(t + 1.0) + taps.main * pulse(t) + taps.after * pulse(t - 1.0)
    boundaries = range(AHEAD - 2, AHEAD + 5)
    offsets = np.array([-0.5, 0.5]) * deterministic_ui if deterministic_ui else np.zeros(1)
    change, spread = {}, {}
    for j in boundaries:
        moved = step(t[j] - offsets)
        change[j] = moved - step(t[j])
        tilt = step(t[j] - offsets + random_ui) - step(t[j] - offsets - random_ui)
        spread[j] = tilt / 2.0
    return jittered_log_tail(
        cursors=cursors, given={AHEAD: 1.0}, boundaries=boundaries, weight=np.full(offsets.size, 1.0 / offsets.size),
        change=change, spread=spread, taps=taps, noise=noise_v, v=v,
    )  # fmt: skip


CASES = [
    # tau, phase, rj, dj (UI), taps, noise
    (0.45, 0.95, 0.0, 0.10, Taps(0.0, 1.0, 0.0), 0.02),
    (0.45, 0.95, 0.01, 0.10, Taps(0.0, 1.0, 0.0), 0.02),
    (0.45, 1.20, 0.02, 0.0, Taps(0.0, 1.0, 0.0), 0.01),
    (0.60, 0.60, 0.008, 0.06, Taps(0.0, 1.0, 0.0), 0.02),
    (0.60, 1.10, 0.008, 0.10, Taps(0.0, 0.8, -0.2), 0.02),
    (0.60, 1.00, 0.008, 0.10, Taps(-0.1, 0.9, 0.0), 0.02),
    (0.60, 1.00, 0.008, 0.10, Taps(-0.1, 0.7, -0.2), 0.01),
]


@pytest.mark.parametrize("local", [False, True])
@pytest.mark.parametrize("case", CASES)
def test_moved_edges_give_the_tail_of_all_sequences_and_displacements(case, local):
    tau_ui, phase_ui, random_ui, deterministic_ui, taps, noise_v = case
    jitter = dual_dirac(random_s=random_ui * UI_S, deterministic_s=deterministic_ui * UI_S)
    signal = signal_of(single_pole(tau_ui * UI_S), ui_s=UI_S, rise_ui=RISE_UI, taps=taps, jitter=jitter)
    waves = waves_of(signal)
    at = np.array([round((phase_ui * UI_S - waves.start_s) / waves.grid.dt_s)])
    exactly_ui = (at[0] * waves.grid.dt_s + waves.start_s) / UI_S
    sample = sampled(waves, signal, at=at, noise_v=noise_v)
    deviation = []
    for ratio in ERROR_RATIOS:
        tail = tail_near(sample, ratio) if local else lower_tail(sample)
        level = np.interp(np.sqrt(-np.log(ratio)), np.sqrt(-tail.log_p[0])[::-1], tail.v[0][::-1])
        true = enumerated(
            tau_ui=tau_ui, phase_ui=exactly_ui, random_ui=random_ui, deterministic_ui=deterministic_ui, taps=taps,
            noise_v=noise_v, v=np.array([level]),
        )  # fmt: skip
        deviation.append(float(true[0] - np.log(ratio)))
    # In ln P; at 1e-12 and 10 mV of noise 0.05 is below 0.1 mV.
    assert np.abs(deviation).max() < 0.05
