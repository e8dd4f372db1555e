"""Steps between samples, and blocks that must not be seen in the wave."""

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import trace
from tests.thinning import sparing
from tests.waveform.help import line_of, plan_with
from workbench.board.model import Stage
from workbench.waveform.edges import USABLE, EdgeTrain, correction
from workbench.waveform.settings import WaveformSettings

PER_UI, LENGTH_UI = 8, 512


def spectrum_of(wave, f_per_ui):
    """Spectrum of drawn steps that begins and ends at 0, corrected, in UI, at frequencies in 1/UI."""
    at = np.arange(wave.size) / PER_UI
    turned = np.exp(-2j * np.pi * np.outer(f_per_ui, at)) @ wave / PER_UI
    return turned * correction(f_per_ui / PER_UI)


@pytest.mark.parametrize("apart_ui", [1.0, 0.05], ids=["far apart", "in one sample"])
def test_drawn_steps_have_the_spectrum_of_true_ones(apart_ui):
    """The Fourier transform of steps, ``sum h exp(-jwt) / jw``, in the band that the samples are said to carry."""
    rng = np.random.default_rng(1)
    times = 20.0 + np.sort(rng.uniform(0.0, 400.0 * apart_ui, 400))
    heights = rng.choice([-2.0, 2.0], 400)
    heights[-1] -= heights.sum()
    train = EdgeTrain(PER_UI, 0.5)
    wave = train.push(0.0, LENGTH_UI, times, heights)
    f_per_ui = np.linspace(0.01, USABLE * PER_UI, 23)
    w = 2.0 * np.pi * f_per_ui
    expected = np.exp(-1j * np.outer(w, times)) @ heights / (1j * w)
    drawn = spectrum_of(wave, f_per_ui) * np.exp(1j * w * train.delay_ui)
    assert np.abs(drawn - expected).max() < 1e-3 * np.abs(heights).sum() ** 0.5


def test_one_step_is_as_exact_as_is_said_wherever_it_stands():
    """Against ``exp(-jwt)/jw`` of one step up and one down: 2e-4 of a step's own up to a quarter of the rate."""
    f_per_ui = np.array([0.05, 0.1, 0.2, 0.25, USABLE]) * PER_UI
    w = 2.0 * np.pi * f_per_ui
    for part in np.linspace(0.0, 1.0, 12):
        times, heights = np.array([20.0 + part / PER_UI, 40.05]), np.array([1.0, -1.0])
        train = EdgeTrain(PER_UI, 0.5)
        drawn = spectrum_of(train.push(0.0, 64, times, heights), f_per_ui) * np.exp(1j * w * train.delay_ui)
        apart = np.abs(drawn * 1j * w - np.exp(-1j * np.outer(w, times)) @ heights)
        assert apart[:-1].max() < 4e-4
        assert apart[-1] < 2e-3


def test_blocks_of_steps_join_without_a_seam():
    rng = np.random.default_rng(2)
    times = np.sort(rng.uniform(0.0, 64.0, 60)) + rng.normal(0.0, 0.3, 60)
    heights = rng.choice([-2.0, 2.0], 60)
    whole = EdgeTrain(PER_UI, 2.0).push(0.0, 64, times, heights)
    train, parts = EdgeTrain(PER_UI, 2.0), []
    for start in range(0, 64, 16):
        # A step may be pushed with any block that it lies within reach of.
        here = (np.clip(times, 0.0, 63.9) >= start) & (np.clip(times, 0.0, 63.9) < start + 16)
        parts.append(train.push(float(start), 16, times[here], heights[here]))
    assert np.concatenate(parts) == pytest.approx(whole, abs=2e-6)


def test_the_level_does_not_drift_over_many_blocks():
    train = EdgeTrain(PER_UI, 0.5, level=-1.0)
    up = np.array([2.0, -2.0] * 500)
    for block in range(300):
        wave = train.push(1000.0 * block, 1000, 1000.0 * block + np.arange(1000) + 0.37, up)
    assert float(wave.min()) == pytest.approx(-1.0, abs=2e-5)
    assert float(wave.max()) == pytest.approx(1.0, abs=2e-5)


@pytest.mark.campaign
@pytest.mark.parametrize("part", sparing(["linear", "limiting"], "limiting"))
def test_frames_and_blocks_leave_no_mark_in_the_wave(part):
    """The same lane in blocks of one frame and of four: the same wave, sample for sample."""
    plan = plan_with((trace(0.2, "lossy"), Stage(device="U1", channel=1), trace(0.2, "lossy")), part=part)
    stage = plan.stages[0]
    quiet = {"input_noise_v": 0.0, "random_jitter_s": 0.0, "deterministic_jitter_s": 0.0}
    plan = replace(plan, stages=(replace(stage, part=replace(stage.part, **quiet)),))
    waves = []
    for rows in (4, 1):
        line = line_of(plan, WaveformSettings(pattern="prbs9"), rows=rows, shifts=1)
        blocks = [line.block() for _ in range(8 // rows)]
        margin = blocks[0].margin_ui * 16
        waves.append(np.concatenate([block.wave[margin:-margin] for block in blocks]))
    assert waves[0].size == waves[1].size
    # From rest the first frames are on their way; then PRBS 9 runs through all of them.
    assert waves[0][16 * 2048 :] == pytest.approx(waves[1][16 * 2048 :], abs=2e-5)
    assert waves[0].std() > 0.1
