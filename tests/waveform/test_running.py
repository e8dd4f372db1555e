"""Whole runs: the same each time, stopped when asked, refused with a sentence."""

import pickle

import numpy as np
import pytest
from msgspec.structs import replace

from tests.lanes import UI_S, invented_profile, lane_board, plan_of, sourced, trace
from tests.waveform.help import IDEAL, plan_with
from workbench.board.model import Run, Stage
from workbench.engine.lane.probe import probe_names, resolve_probe
from workbench.errors import EngineError, PatternError
from workbench.parts.receiver import Dfe
from workbench.waveform.counts import COLUMNS
from workbench.waveform.running import run
from workbench.waveform.settings import WaveformSettings

JITTER = {"random_jitter_s": 2e-12, "deterministic_jitter_s": 1e-11}
FEW = WaveformSettings(pattern="random", bits=20_000, error_ratio=1e-2)


def at(plan, name="receiver"):
    return resolve_probe(plan, name)


def test_a_run_is_the_same_each_time_and_another_with_another_seed():
    plan = plan_with((trace(0.2, "lossy"),), transmitter=JITTER, receiver={"noise_v": 3e-3})
    first, again = run(plan, at(plan), FEW), run(plan, at(plan), FEW)
    assert first.measures == again.measures
    assert np.array_equal(first.density, again.density)
    other = run(plan, at(plan), WaveformSettings(pattern="random", bits=20_000, error_ratio=1e-2, seed=2))
    assert other.measures != first.measures
    assert other.measures.openings[0].height_v == pytest.approx(first.measures.openings[0].height_v, rel=0.01)


def test_as_many_symbols_are_counted_as_were_asked_for():
    seen = []
    plan = plan_with(transmitter=JITTER)
    found = run(plan, at(plan), FEW, lambda done, total: seen.append((done, total)))
    assert found.complete
    assert found.measures.errors.symbols == 20_000
    assert seen[-1] == (20_000, 20_000)
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)
    # Every sample of every symbol is in the density, and all columns have their share.
    assert found.density.sum() == 20_000 * 16
    assert found.density.sum(axis=1).min() > 0.3 * found.density.sum() / COLUMNS


def test_a_result_goes_to_another_process():
    plan = plan_with(transmitter=JITTER)
    found = run(plan, at(plan), FEW)
    back = pickle.loads(pickle.dumps(found))
    assert back.measures == found.measures
    assert np.array_equal(back.density, found.density)


@pytest.mark.campaign
def test_a_cancelled_run_says_what_it_has_or_that_it_has_nothing():
    plan = plan_with(transmitter=JITTER)
    blocks = []
    long = WaveformSettings(pattern="random", bits=10**9)
    found = run(plan, at(plan), long, lambda *done: blocks.append(done), lambda: len(blocks) > 12)
    assert not found.complete
    assert 0 < found.measures.errors.symbols < 10**6
    with pytest.raises(EngineError, match="cancelled before anything was counted"):
        run(plan, at(plan), long, None, lambda: True)


@pytest.mark.campaign
@pytest.mark.parametrize("part", ["linear", "limiting"])
def test_every_probe_point_can_be_looked_at(part):
    plan = plan_with((trace(0.1, "lossy"), Stage(device="U1", channel=1), trace(0.1, "lossy")), part=part)
    few = WaveformSettings(pattern="prbs7", bits=2000, error_ratio=1e-2)
    for name in probe_names(plan):
        found = run(plan, at(plan, name), few)
        assert found.measures.errors.errors == 0
        assert found.measures.openings[0].height_v > 0.3


def test_displaced_edges_leave_the_width_of_the_closed_form():
    """Lossless and noiseless: crossings are where edges were put. Dual-Dirac and Gaussian, one edge in two there:
    ``P(x) = (Q((x - d)/s) + Q((x + d)/s))/4`` is 1e-3 at 0.1663 UI (solved outside with scipy's ndtr and brentq)."""
    plan = plan_with(transmitter={"random_jitter_s": 5e-12, "deterministic_jitter_s": 4e-11})
    settings = WaveformSettings(pattern="random", bits=200_000, error_ratio=1e-3, corner_per_rate=0.0)
    found = run(plan, at(plan), settings).measures
    opening = found.opening("counted", 1e-3)
    assert opening is not None
    assert opening.width_ui == pytest.approx(1.0 - 2.0 * 0.1663, abs=4.0 * opening.width_error_ui)
    assert found.jitter.random_s == pytest.approx(5e-12, rel=0.1)
    assert found.jitter.deterministic_s == pytest.approx(4e-11, rel=0.08)
    assert found.jitter.rms_s == pytest.approx(np.hypot(5e-12, 2e-11), rel=0.01)


def test_duty_cycle_distortion_splits_the_crossings():
    """A lone 1 longer by 20 ps: rising edges 10 ps early, falling ones 10 ps late."""
    plan = plan_with()
    settings = WaveformSettings(pattern="prbs9", bits=5000, duty_cycle_s=2e-11, error_ratio=1e-2)
    found = run(plan, at(plan), settings)
    assert found.measures.jitter.rms_s == pytest.approx(1e-11, rel=0.05)
    assert found.measures.jitter.peak_to_peak_s == pytest.approx(2e-11, abs=UI_S / 100)


def test_wander_of_several_unit_intervals_is_followed():
    """Sinusoidal jitter of 3 UI far below the loop's corner: the eye after the recovered clock stays open."""
    plan = plan_with()
    slow = {"sine_jitter_s": 3.0 * UI_S, "sine_jitter_hz": 1.0 / UI_S / 2e5}
    settings = WaveformSettings(pattern="random", bits=60_000, error_ratio=1e-2, **slow)
    followed = run(plan, at(plan), settings).measures
    assert followed.errors.errors == 0
    assert followed.openings[0].width_ui > 0.9
    still = WaveformSettings(pattern="random", bits=60_000, error_ratio=1e-2, corner_per_rate=0.0, **slow)
    assert run(plan, at(plan), still).measures.errors.errors > 1000


@pytest.mark.campaign
def test_decision_feedback_opens_the_eye_that_it_sees():
    plan = plan_with((trace(0.9, "lossy"),), receiver={"dfe": Dfe(taps=3)})
    without = plan_with((trace(0.9, "lossy"),))
    few = WaveformSettings(pattern="random", bits=20_000, error_ratio=1e-2, corner_per_rate=0.0)
    fed, plain = run(plan, at(plan), few).measures, run(without, at(without), few).measures
    assert len(fed.dfe_taps_v) == 3
    assert fed.errors.errors == 0
    assert fed.openings[0].height_v > plain.openings[0].height_v + 0.5 * sum(np.abs(fed.dfe_taps_v))


def test_four_levels_are_decided_and_their_smallest_eye_measured():
    """Matched, lossless: levels a third of the swing apart, 1/3 V each eye less next to nothing."""
    profile = invented_profile(levels=(-1.0, -1.0 / 3.0, 1.0 / 3.0, 1.0), rate_bps=sourced(10e9))
    plan = plan_of(lane_board(IDEAL, profile=profile, receiver={"noise_v": 5e-3}))
    few = WaveformSettings(pattern="random", bits=40_000, error_ratio=1e-2, corner_per_rate=0.0)
    found = run(plan, at(plan), few).measures
    assert found.errors.symbols == 20_000
    assert found.errors.errors == 0
    assert found.swing_v == pytest.approx(1.0, rel=5e-3)
    # 2 Q(1e-2) sigma off a third of a volt.
    assert found.openings[0].height_v == pytest.approx(1.0 / 3.0 - 2.0 * 2.326 * 5e-3, abs=5e-3)


@pytest.mark.campaign
def test_a_lane_that_never_settles_is_refused_in_a_sentence():
    mismatched = {"resistance_ohm": 10_000.0}
    plan = plan_with((Run(line="trace", length_m=3.0),), transmitter=mismatched, receiver=mismatched)
    with pytest.raises(EngineError, match=r"lane D0 never settles: .* % of the pulse's peak is left after 4096 UI; ."):
        run(plan, at(plan), FEW)


@pytest.mark.parametrize(
    ("pattern", "sentence"),
    [
        ("bits:", "holds no bit"),
        ("bits:0120", "holds '2'"),
        ("bits:1111", "never changes"),
        ("morse", "there is no pattern"),
        ("file:missing.txt", "can't be read"),
    ],
)
def test_a_pattern_that_cant_be_sent_is_refused_in_a_sentence(pattern, sentence):
    plan = plan_with()
    with pytest.raises(PatternError, match=sentence):
        run(plan, at(plan), replace(FEW, pattern=pattern))


@pytest.mark.parametrize(
    ("zeros", "sentence"),
    [(3000, "no edge is among the symbols counted; count more"), (200_000, "no edges arrive on lane D0; send a")],
)
def test_a_pattern_whose_edges_are_too_rare_is_refused_in_a_sentence(zeros, sentence):
    plan = plan_with(transmitter=JITTER)
    with pytest.raises(EngineError, match=sentence):
        run(plan, at(plan), WaveformSettings(pattern="bits:1" + "0" * zeros, bits=1000))


@pytest.mark.parametrize("bits", [0, 999, 10**11, -5])
def test_a_bit_count_that_cant_be_is_refused_in_a_sentence(bits):
    with pytest.raises(EngineError, match="bits can't be sent; write a number from 1000 to"):
        WaveformSettings(bits=bits)
