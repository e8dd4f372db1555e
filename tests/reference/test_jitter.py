"""Moved edges: the tail of a sample against every sequence of symbols and displacements, and dual-Dirac in the eye."""

import numpy as np
import pytest
from scipy.special import ndtri

from tests.lanes import lane_board, plan_of, trace
from tests.reference.enumeration import jittered_log_tail, told_log_tail
from tests.reference.single_pole import ramp_step, ramp_ui, signal_of, single_pole
from workbench.engine.lane.lane import observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.waves import sampled, waves_of
from workbench.engine.memo import Memo
from workbench.engine.tails.density import lower_tail, tail_near
from workbench.engine.tails.eye import Reach
from workbench.engine.tails.jitter import Mixture, dual_dirac
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


@pytest.mark.parametrize("told", [0, 1])
@pytest.mark.parametrize("local", [False, True])
def test_edges_that_know_the_symbols_before_give_the_tail_of_all_sequences(local, told):
    """Two kinds by the symbol before the edge's own two, or four where one more only shifts the edge."""
    tau_ui, noise_v, kinds = 0.6, 0.02, 2
    offset_ui = np.array([[-0.05, 0.01], [0.0, 0.06]])
    lean_ui = np.array([[0.03], [0.02]])[:, :told]
    weight = np.array([[0.3, 0.7], [0.6, 0.4]])
    jitter = Mixture(
        weight.ravel() / kinds, offset_ui.ravel() * UI_S, np.full(4, 0.012) * UI_S, kinds, lean_ui * UI_S, told
    )
    signal = signal_of(single_pole(tau_ui * UI_S), ui_s=UI_S, rise_ui=RISE_UI, taps=Taps(0.0, 1.0, 0.0), jitter=jitter)
    waves = waves_of(signal)
    at = np.array([round((1.05 * UI_S - waves.start_s) / waves.grid.dt_s)])
    sample = sampled(waves, signal, at=at, noise_v=noise_v)
    t = at[0] * waves.grid.dt_s / UI_S + waves.start_s / UI_S + np.arange(-AHEAD, BEHIND + 1)

    def step(t):
        return ramp_step(t, tau=tau_ui, ramp=ramp_ui(RISE_UI))

    if told:
        weight, offset_ui = np.tile(weight, (2, 1)), np.concatenate([offset_ui + lean_ui, offset_ui - lean_ui])
    boundaries = range(AHEAD - 1, AHEAD + 4)
    aside = 0.012
    change = {j: step(t[j] - offset_ui) - step(t[j]) for j in boundaries}
    spread = {j: (step(t[j] - offset_ui + aside) - step(t[j] - offset_ui - aside)) / 2.0 for j in boundaries}
    for ratio in ERROR_RATIOS:
        tail = tail_near(sample, ratio) if local else lower_tail(sample)
        level = np.interp(np.sqrt(-np.log(ratio)), np.sqrt(-tail.log_p[0])[::-1], tail.v[0][::-1])
        true = told_log_tail(
            cursors=step(t) - step(t - 1.0), given={AHEAD: 1.0}, boundaries=boundaries, weight=weight, change=change,
            spread=spread, older=1 + told, noise=noise_v, v=np.array([level]),
        )  # fmt: skip
        assert abs(float(true[0] - np.log(ratio))) < 0.05


EDGES = {"random_jitter_s": 2e-12}


def eye_of_lane(transmitter=None, receiver=None, ratio=1e-12):
    board = lane_board((trace(0.05),), transmitter=transmitter, receiver=receiver)
    plan = plan_of(board)
    return observe(Memo(), plan, resolve_probe(plan, "receiver"), ratio, reach=Reach.ALL).eye


@pytest.mark.parametrize("ratio", [1e-6, 1e-9, 1e-12, 1e-15])
@pytest.mark.parametrize("end", ["transmitter", "receiver"])
def test_a_clean_lane_closes_by_total_jitter(end, ratio):
    """``TJ = DJ + 2 Q RJ`` (INCITS MJSQ, from memory) with Q of what is left when half the edges do not move away and
    half the dual-Dirac lies on the far side: P = 1/2 (transition) x 1/2 (near part) x Q-function at each end. Derived.
    For the sampling instant the same: the wrong side of a boundary is wrong only if there is a transition.
    """
    random_s, deterministic_s = 2e-12, 2e-11
    jitter = {"random_jitter_s": random_s, "deterministic_jitter_s": deterministic_s}
    # Edges that stand still are sharper than the grid of 1/32 UI; with the receiver's jitter the edges have some too.
    ends = {"transmitter": jitter} if end == "transmitter" else {"receiver": jitter, "transmitter": EDGES}
    low, high = eye_of_lane(**ends, ratio=ratio).crossings_s(ratio)
    quantile = -ndtri(4.0 * ratio)
    sigma_s = random_s if end == "transmitter" else np.hypot(random_s, EDGES["random_jitter_s"])
    total_s = deterministic_s + 2.0 * quantile * sigma_s
    assert UI_S - (high - low) == pytest.approx(total_s, abs=0.005 * UI_S)


def test_the_sampling_instants_jitter_is_a_convolution_along_time():
    """Direct numerical integration of the unjittered error ratio over the instant's density."""
    random_s, deterministic_s = 2.5e-12, 1.2e-11
    still = eye_of_lane(EDGES)
    moved = eye_of_lane(EDGES, {"random_jitter_s": random_s, "deterministic_jitter_s": deterministic_s})
    offsets = np.linspace(-3e-11, 3e-11, 6001)
    density = sum(np.exp(-0.5 * ((offsets - side * deterministic_s / 2.0) / random_s) ** 2) for side in (-1, 1))
    density = density / density.sum()
    for time_ui in (0.12, 0.15, 0.2, 0.8, 0.85, 0.88):
        at = time_ui * UI_S + offsets
        known = float(np.log(density @ np.exp(still.log_error(at))))
        assert moved.log_error(np.array([time_ui * UI_S]))[0] == pytest.approx(known, rel=0.01)
