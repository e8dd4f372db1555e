"""Moved edges: the tail of a sample against histograms of edges that are really moved, and dual-Dirac in the eye."""

import numpy as np
import pytest
from scipy.special import ndtri

from tests.campaigns.edge_lanes import seen
from tests.campaigns.edge_tables import Case, folded
from tests.lanes import lane_board, plan_of, trace
from tests.reference.passive.single_pole import ramp_step, ramp_ui, signal_of, single_pole
from tests.reference.sent.folded_lanes import level_at as folded_level_at
from tests.reference.sent.true_edges import Source, ends_at, gaussian_pair, gaussian_parts, level_at, log_tail_at
from tests.thinning import some
from workbench.codes.machine import independent
from workbench.engine.coded.eye import CodedPhases
from workbench.engine.lane.lane import observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.received_eye import sample_at
from workbench.engine.lane.waves import sampled, waves_of
from workbench.engine.memo import Memo
from workbench.engine.symbols import Symbols
from workbench.engine.tails.density import lower_tail, tail_near
from workbench.engine.tails.eye import EyeReach, eye_of
from workbench.engine.tails.jitter import Mixture, dual_dirac
from workbench.parts.transmitter import Taps

UI_S = 2e-10
RISE_UI = 0.2
ERROR_RATIOS = np.array([1e-3, 1e-6, 1e-9, 1e-12])


def step_of(tau_ui, rise_ui=RISE_UI):
    return lambda t: ramp_step(t, tau=tau_ui, ramp=ramp_ui(rise_ui))


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
    source = Source(step_of(tau_ui), gaussian_pair(random_ui, deterministic_ui), taps)
    deviation = []
    for ratio in ERROR_RATIOS:
        tail = tail_near(sample, ratio) if local else lower_tail(sample)
        level = np.interp(np.sqrt(-np.log(ratio)), np.sqrt(-tail.log_p[0])[::-1], tail.v[0][::-1])
        true = log_tail_at(source, t=exactly_ui, noise_v=noise_v, v=np.array([level]), bin_v=noise_v / 16.0)
        deviation.append(float(true[0] - np.log(ratio)))
    # In ln P; at 1e-12 and 10 mV of noise 0.1 is below 0.2 mV.
    assert np.abs(deviation).max() < 0.1


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
    exactly_ui = (at[0] * waves.grid.dt_s + waves.start_s) / UI_S
    if told:
        weight, offset_ui = np.tile(weight, (2, 1)), np.concatenate([offset_ui + lean_ui, offset_ui - lean_ui])
    displaced = [gaussian_parts(w, o, (0.012, 0.012)) for w, o in zip(weight, offset_ui, strict=True)]
    source = Source(step_of(tau_ui), displaced, told=1 + told)
    for ratio in ERROR_RATIOS:
        tail = tail_near(sample, ratio) if local else lower_tail(sample)
        level = np.interp(np.sqrt(-np.log(ratio)), np.sqrt(-tail.log_p[0])[::-1], tail.v[0][::-1])
        true = log_tail_at(source, t=exactly_ui, noise_v=noise_v, v=np.array([level]), bin_v=noise_v / 16.0)
        # At 1e-12 and 20 mV of noise that is below 0.5 mV.
        assert abs(float(true[0] - np.log(ratio))) < 0.15


@pytest.mark.parametrize(
    ("tau_ui", "rise_ui", "random_ui", "deterministic_ui", "ratio"),
    [
        (0.45, 0.2, 0.0195, 0.1, 1e-12),
        (0.45, 0.2, 0.0195, 0.0, 1e-15),
        (0.1, 0.05, 0.008, 0.0, 1e-15),
        (0.1, 0.05, 0.02, 0.0, 1e-12),
        (0.3, 0.15, 0.05, 0.0, 1e-15),
    ],
)
def test_an_eye_with_random_jitter_is_right_down_to_1e_15(tau_ui, rise_ui, random_ui, deterministic_ui, ratio):
    """To first order the second case would be 2.2 % of the swing too high and 0.03 UI too wide."""
    noise_v, bin_v = 0.005, 0.001
    jitter = dual_dirac(random_s=random_ui * UI_S, deterministic_s=deterministic_ui * UI_S)
    signal = signal_of(single_pole(tau_ui * UI_S), ui_s=UI_S, rise_ui=rise_ui, jitter=jitter)
    waves = waves_of(signal)
    at = int(np.floor(waves.crossing)) + np.arange(waves.grid.samples_per_ui + 2)
    eye = eye_of(
        sampled(waves, signal, at=at, noise_v=noise_v), ui_s=UI_S, time_s=(at - waves.crossing) * waves.grid.dt_s,
        sampling=None, wrong=0.0, error_ratio=ratio,
    )  # fmt: skip
    low, high = (waves.crossing_s + end_s for end_s in eye.crossings_s(ratio))
    middle = int(np.abs(waves.crossing_s + eye.time_s - 0.5 * (low + high)).argmin())
    middle_ui = (waves.crossing_s + eye.time_s[middle]) / UI_S
    source = Source(step_of(tau_ui, rise_ui), gaussian_pair(random_ui, deterministic_ui))
    true_v = level_at(source, middle_ui, ratio, noise_v=noise_v, bin_v=bin_v)
    # Half the opening over half the swing, 1 V.
    assert eye.levels_v(ratio)[middle] == pytest.approx(true_v, abs=0.005)
    true_low, true_high = ends_at(source, ratio, low / UI_S, high / UI_S, noise_v=noise_v, bin_v=bin_v)
    assert (high - low) / UI_S == pytest.approx(true_high - true_low, abs=0.005)


@pytest.mark.parametrize(("length_m", "coded", "wanted_v"), [(0.05, False, 0.8949), (0.3, True, 0.3124)])
def test_the_top_of_an_eye_that_jitter_nearly_closes_is_where_whole_lanes_folded_say(length_m, coded, wanted_v):
    """0.05 UI rms: between two phases of the grid, and between two humps of the distribution, which no tilt lights up.

    Heights of `tests.campaigns.edge_tables`, whose folding takes seconds.
    """
    height_v = seen(Case(length_m, 0.05, coded=coded).board(), 1e-12, coded).height_v
    assert height_v == pytest.approx(wanted_v, abs=0.005)


@pytest.mark.parametrize("local", [False, True])
def test_what_lies_between_two_humps_is_read_off_both(local):
    """Ideal trapezoids whose edges reach the middle once in 1e11: above all is level, then falls all at once."""
    board = Case(0.05, 0.05).board()
    plan = plan_of(board)
    received = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-12, symbols=Symbols.INDEPENDENT).received
    at = np.array([277, 278])
    found = tail_near(sample_at(received, at), 1e-12) if local else lower_tail(sample_at(received, at))
    lane = folded(Case(0.05, 0.05), seen(board, 1e-12, coded=False))
    for phase, place in enumerate(at):
        level = np.interp(np.sqrt(-np.log(1e-12)), np.sqrt(-found.log_p[phase])[::-1], found.v[phase][::-1])
        assert level == pytest.approx(folded_level_at(lane, place / 32.0, 1e-12), abs=0.0025)


EDGES = {"random_jitter_s": 2e-12}


def eye_of_lane(transmitter=None, receiver=None, ratio=1e-12):
    board = lane_board((trace(0.05),), transmitter=transmitter, receiver=receiver)
    plan = plan_of(board)
    return observe(Memo(), plan, resolve_probe(plan, "receiver"), ratio, reach=EyeReach.ALL).eye


@pytest.mark.parametrize("ratio", some([1e-6, 1e-9, 1e-12, 1e-15], 2))
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


@pytest.mark.campaign
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
        assert moved.log_error(np.array([time_ui * UI_S]))[0] == pytest.approx(known, rel=0.02)


@pytest.mark.parametrize(("tau_ui", "rise_ui", "random_ui"), [(0.3, 0.15, 0.05), (0.1, 0.05, 0.02)])
def test_jitter_acts_the_same_whichever_symbols_count(tau_ui, rise_ui, random_ui):
    """A line code of one state is independent symbols; its sums are another way."""
    ratio, noise_v = 1e-12, 0.005
    signal = signal_of(
        single_pole(tau_ui * UI_S), ui_s=UI_S, rise_ui=rise_ui,
        jitter=dual_dirac(random_s=random_ui * UI_S, deterministic_s=0.0),
    )  # fmt: skip
    waves = waves_of(signal)
    at = int(np.floor(waves.crossing)) + np.arange(waves.grid.samples_per_ui + 2)
    phases = CodedPhases(lambda some: sampled(waves, signal, at=some, noise_v=noise_v), at, independent())
    coded = phases.tail(at, ratio, EyeReach.MEASURES)
    plain = tail_near(sampled(waves, signal, at=at, noise_v=noise_v), ratio)
    root = np.sqrt(-np.log(ratio))
    one_v, other_v = (
        [np.interp(root, np.sqrt(-tail.log_p[p])[::-1], tail.v[p][::-1]) for p in range(at.size)]
        for tail in (coded, plain)
    )
    assert one_v == pytest.approx(other_v, abs=0.002)
