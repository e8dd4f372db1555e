"""The waveform engine against closed forms and a general-purpose library: no eye statistics take part."""

import numpy as np
import pytest
from scipy import signal

from tests.lanes import UI_S, trace
from tests.waveform.help import line_of, plan_with, steps_and_wave, superposed
from workbench.codes.pattern import symbols_of
from workbench.codes.prbs import Prbs
from workbench.engine.lane.lane import observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.memo import Memo
from workbench.parts.receiver import Ctle
from workbench.waveform.course import Front
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

RAMP_UI = 4e-11 / 0.6 / UI_S
JITTER = {"random_jitter_s": 4e-12, "deterministic_jitter_s": 3e-11}
TAU_UI = 0.75
POLE = {"capacitance_f": TAU_UI * UI_S / 50.0}
"""50 ohm of source and load in parallel charge the receiver's capacitance: one pole."""


def ramp_through_pole(t):
    """Response of a single pole to a ramp of `RAMP_UI` up to 1, by hand: the step's ``1 - exp(-t/tau)`` integrated."""

    def integrated(t):
        t = np.maximum(t, 0.0)
        return t - TAU_UI * (1.0 - np.exp(-t / TAU_UI))

    return (integrated(t) - integrated(t - RAMP_UI)) / RAMP_UI


@pytest.mark.parametrize("jitter", [{}, JITTER], ids=["still", "jitter"])
@pytest.mark.parametrize("samples_per_ui", [8, 16])
def test_single_pole_sample_for_sample(jitter, samples_per_ui):
    """Every sample within 2e-3 of the swing of the closed form: what is left is the band above the samples' Nyquist."""
    plan = plan_with((), transmitter=jitter, receiver=POLE)
    settings = WaveformSettings(pattern="random", samples_per_ui=samples_per_ui)
    *sent, at, wave = steps_and_wave(plan, settings)
    expected = 0.5 * superposed(ramp_through_pole, *sent, at, reach_ui=16.0)
    assert np.abs(wave - expected).max() < 2e-3
    assert (wave - expected).std() < (3e-4 if samples_per_ui == 16 else 6e-4)


def test_transmit_taps_shape_the_driven_levels():
    """Pre-shoot and de-emphasis through the same pole: driven levels by the taps' definition, symbol by symbol."""
    plan = plan_with((), transmitter={"deemphasis_db": 6.0, "preshoot_db": 3.5}, receiver=POLE)
    settings = WaveformSettings(pattern="prbs9")
    *_, at, wave = steps_and_wave(plan, settings)
    before, main, after = plan.transmitter.taps()
    a = symbols_of(Prbs(9).stream().take(20_000)).astype(np.float64)
    # The third symbol taken is number 0.
    driven = before * a[2:] + main * a[1:-1] + after * a[:-2]
    heights = np.diff(driven)
    expected = 0.5 * superposed(ramp_through_pole, np.arange(heights.size), heights, driven[0], at, reach_ui=16.0)
    assert np.abs(wave - expected).max() < 2e-3


def test_ctle_in_time_is_the_one_that_scipy_has():
    """scipy.signal.lsim of the same zero and poles, driven by the same ramps at 256 points a UI."""
    ctle = Ctle(first_pole_hz=2e9, second_pole_hz=6e9, dc_gain_db=(-6.0,))
    plan = plan_with((), receiver=POLE)
    settings = WaveformSettings(pattern="random")
    *sent, at, wave = steps_and_wave(plan, settings, front=Front(ctle, -6.0))
    fine = 256
    t = np.arange(24 * fine) / fine
    driving = np.clip(t / RAMP_UI, 0.0, 1.0)
    rest = 10.0 ** (-6.0 / 20.0)
    w = 2.0 * np.pi * UI_S * np.array([2e9 * rest, 2e9, 6e9])
    # The closed form's pole belongs to the system too, so that one call does all.
    system = signal.ZerosPolesGain([-w[0]], [-w[1], -w[2], -1.0 / TAU_UI], rest * w[1] * w[2] / w[0] / TAU_UI)
    _, response, _ = signal.lsim(system.to_ss(), driving, t)
    few = at[:4000]
    # What is older than the reach has settled: at the DC gain.
    swinging = superposed(lambda since: np.interp(since, t, response) - rest, *sent, few, reach_ui=23.0)
    settled = superposed(np.ones_like, *sent, few, reach_ui=23.0)
    older = superposed(np.zeros_like, *sent, few, reach_ui=23.0)
    expected = 0.5 * (swinging - older + rest * settled)
    assert np.abs(wave[:4000] - expected).max() < 2e-3


def test_prbs_through_a_channel_is_the_pulse_convolved():
    """numpy's convolution of the symbols with the pulse response that the other engine computes on its own grid."""
    plan = plan_with((trace(0.25, "lossy"),), transmitter={"deemphasis_db": 3.5})
    settings = WaveformSettings(pattern="prbs11", samples_per_ui=16)
    line = line_of(plan, settings, rows=1)
    arrived = [line.block() for _ in range(5)][-1]
    assert arrived.shift == 0
    waves = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-3).received.waves
    pulse, lead_ui = waves.pulse_v[::2], 8
    symbols = symbols_of(Prbs(11).stream().take(arrived.first + arrived.symbols.size + 100))[2:]
    impulses = np.zeros(symbols.size * 16)
    impulses[::16] = symbols
    start = round((arrived.start_ui + lead_ui) * 16)
    expected = np.convolve(impulses[start - pulse.size + 1 : start + 4000], pulse, mode="valid")
    # The pulse ends with its window, where 1e-4 of it may be left; the wave goes on.
    assert np.abs(arrived.wave[:4000] - expected).max() < 2e-3 * pulse.max()


def test_error_ratio_in_gaussian_noise_is_the_q_function():
    """Matched lossless lane: 0.3 V against 0.1 V rms is Q(3) = 1.3499e-3 (tables of the normal distribution).

    Slow edges, so that no ringing is on the level sampled. By hand over 4e7 bits: 54281 errors, 53996 expected, one
    standard deviation being 232; against 0.4 V 1275, 1267 expected.
    """
    plan = plan_with(transmitter={"swing_v": 0.6, "rise_time_s": 8e-11}, receiver={"noise_v": 0.1})
    settings = WaveformSettings(pattern="random", bits=200_000, error_ratio=1e-3, corner_per_rate=0.0)
    errors = run(plan, resolve_probe(plan, "receiver"), settings).measures.errors
    assert errors.symbols == 200_000
    assert abs(errors.errors - 269.98) < 3.5 * np.sqrt(269.98)
    assert errors.low < 1.3499e-3 < errors.high


def test_a_first_order_loop_follows_slow_jitter_and_leaves_fast():
    """What remains of sinusoidal jitter at f is ``(f/fc)/sqrt(1 + (f/fc)^2)``: a single-pole high-pass."""
    plan = plan_with(transmitter={"rise_time_s": 5e-11})
    corner_hz = 1.0 / UI_S / 400.0
    for ratio in (0.2, 1.0, 5.0):
        settings = WaveformSettings(
            pattern="random", bits=30_000, corner_per_rate=1.0 / 400.0, sine_jitter_s=0.2 * UI_S,
            sine_jitter_hz=ratio * corner_hz, error_ratio=1e-3,
        )  # fmt: skip
        seen = run(plan, resolve_probe(plan, "receiver"), settings).measures.jitter.rms_s
        left = ratio / np.hypot(1.0, ratio)
        assert seen == pytest.approx(0.1 * UI_S / np.sqrt(2.0) * left, rel=0.03)
