"""Stages between linear stretches: saturation, slicing, emphasis, the receiver's front."""

import math

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import LIMITING, LINEAR, trace
from tests.waveform.help import line_of, plan_with
from workbench.board.model import Stage
from workbench.engine.lane.probe import resolve_probe
from workbench.parts.conditioners.linear import GainSetting
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings
from workbench.waveform.stages import Slicing, crossings_in, delayed, read_near

QUIET = {"input_noise_v": 0.0, "random_jitter_s": 0.0, "deterministic_jitter_s": 0.0}
SLOW = "bits:" + "1" * 40 + "0" * 40
PATH = (trace(0.05), Stage(device="U1", channel=1), trace(0.05))


def staged(part, **options):
    """A lossless lane with one quiet stage."""
    plan = plan_with(PATH, part="limiting" if part.name == "limiting" else "linear", **options)
    return replace(plan, stages=(replace(plan.stages[0], part=replace(part, **QUIET)),))


def settled_v(plan):
    """Highest and lowest level in the middle of long runs, at the receiver."""
    line = line_of(plan, WaveformSettings(pattern=SLOW))
    wave = [line.block() for _ in range(2)][-1].wave[1600:14400]
    # The middle of 40 equal symbols: what settles there.
    return float(np.quantile(wave, 0.75)), float(np.quantile(wave, 0.25))


@pytest.mark.parametrize("limit_v", [0.6, 1.2, 10.0])
def test_a_linear_stage_settles_at_the_hyperbolic_tangent(limit_v):
    """0.5 V in, gain 6 dB: ``limit/2 tanh(2 v/limit)`` with v = 0.5 * 10^(6/20) V, by the definition in the part."""
    plan = staged(replace(LINEAR, swing=(GainSetting(setting="unity", gain_db=6.0, limit_v=limit_v),)))
    high, low = settled_v(plan)
    v = 0.5 * 10.0 ** (6.0 / 20.0)
    expected = limit_v / 2.0 * math.tanh(2.0 * v / limit_v)
    assert (high, low) == (pytest.approx(expected, rel=2e-3), pytest.approx(-expected, rel=2e-3))


@pytest.mark.parametrize(("sensitivity_v", "share"), [(0.0, 1.0), (0.5, 1.0), (2.0, 0.5)])
def test_a_limiting_stage_remakes_its_swing_as_far_as_its_gain_reaches(sensitivity_v, share):
    """1 V swing in, 0.8 V swing out; at half of the input swing that it needs, half of that.

    What counts is the excursion's peak, and a step that is cut off at the samples' Nyquist overshoots by 3 %.
    """
    high, low = settled_v(staged(replace(LIMITING, sensitivity_v=sensitivity_v)))
    assert (high, low) == (pytest.approx(0.4 * share, rel=0.03), pytest.approx(-0.4 * share, rel=0.03))


def test_emphasis_lasts_its_own_time():
    """6 dB: the first 0.2 ns (one UI) of a run at 0.4 V, settled at 0.4 V less 6 dB."""
    plan = staged(LIMITING)
    stage = plan.stages[0]
    plan = replace(plan, stages=(replace(stage, settings=stage.settings | {"emphasis": "on"}),))
    high, low = settled_v(plan)
    settled = 0.4 * 10.0 ** (-6.0 / 20.0)
    assert (high, low) == (pytest.approx(settled, rel=5e-3), pytest.approx(-settled, rel=5e-3))
    line = line_of(plan, WaveformSettings(pattern=SLOW))
    wave = [line.block() for _ in range(2)][-1].wave[1600:14400]
    assert wave.max() == pytest.approx(0.4, rel=0.04)
    loud = np.count_nonzero(wave > (0.4 + settled) / 2.0) / np.count_nonzero(np.diff(wave > 0.0) & (wave[1:] > 0.0))
    assert loud / 16.0 == pytest.approx(1.0, abs=0.08)


def test_crossings_stand_where_a_sine_has_them():
    """A sine at the Nyquist frequency of the symbols, 16 samples a UI: its zeros are known."""
    at = np.arange(2000) / 16.0
    wave = np.sin(np.pi * (at - 0.3137)).astype(np.float32)
    found = crossings_in(wave, 16, 1900)
    expected = np.arange(1, 119) + 0.3137
    assert found.place / 16.0 == pytest.approx(expected[: found.place.size], abs=2e-6)
    assert np.array_equal(found.rising, expected[: found.place.size].astype(int) % 2 == 0)


def test_a_wave_is_read_between_its_samples():
    at = np.arange(400) / 16.0
    wave = np.cos(0.8 * np.pi * at).astype(np.float32)
    away = np.linspace(-3.0, 3.0, 20).astype(np.float32)
    seen = read_near(wave, 40, 16, away)
    places = 2.5 + np.arange(20) + away / 16.0
    assert seen == pytest.approx(np.cos(0.8 * np.pi * places), abs=2e-5)


@pytest.mark.parametrize("longest", [0.9, 4.0], ids=["by the quartic", "by the cubic"])
def test_a_wave_is_delayed_sample_by_sample(longest):
    at = np.arange(400) / 16.0
    wave = np.cos(0.8 * np.pi * at).astype(np.float32)
    delay = np.linspace(-longest, longest, 300).astype(np.float32)
    expected = np.cos(0.8 * np.pi * (np.arange(50, 350) - delay) / 16.0)
    assert delayed(wave, 50, delay) == pytest.approx(expected, abs=2e-5)


def test_a_linear_stages_own_jitter_is_in_the_crossings():
    """Lossless lane, dual-Dirac jitter of 20 ps in the stage alone: crossings 10 ps to either side."""
    part = replace(LINEAR, swing=(GainSetting(setting="unity", limit_v=10.0),))
    plan = staged(part)
    stage = plan.stages[0]
    jittery = replace(stage, part=replace(stage.part, deterministic_jitter_s=2e-11))
    plan = replace(plan, stages=(jittery,))
    settings = WaveformSettings(pattern="random", bits=20_000, error_ratio=1e-2, corner_per_rate=0.0)
    jitter = run(plan, resolve_probe(plan, "receiver"), settings).measures.jitter
    assert jitter.rms_s == pytest.approx(1e-11, rel=0.03)
    assert jitter.peak_to_peak_s == pytest.approx(2e-11, rel=0.25)


def test_a_slicer_agrees_with_itself_across_blocks():
    """Noise about zero: each block's last sample is the next one's first, whatever that takes it for."""
    rng = np.random.default_rng(5)
    wave = rng.normal(size=16 * 64).astype(np.float32)
    stage = staged(LIMITING).stages[0]

    def sliced(blocks):
        slicing = Slicing(stage, ui_s=2e-10, per_ui=16, random=np.random.default_rng(1))
        times, steps = [], []
        for first, last in blocks:
            part = wave[(first - 3) * 16 : (last + 3) * 16].copy()
            # Filters round differently from block to block.
            part += np.float32(1e-7) * rng.normal(size=part.size).astype(np.float32)
            edges = slicing.push(first - 3.0, 3, part)
            times.append(edges.time_ui)
            steps.append(edges.step)
        return np.concatenate(times), np.concatenate(steps)

    times, steps = sliced([(3, 61)])
    times_of_parts, steps_of_parts = sliced([(3, 20), (20, 21), (21, 61)])
    kept = steps_of_parts != 0.0
    assert steps_of_parts[kept] == pytest.approx(steps[steps != 0.0])
    assert times_of_parts[kept] == pytest.approx(times[steps != 0.0], abs=1e-5)
