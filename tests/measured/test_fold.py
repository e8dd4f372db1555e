"""Folded eyes and recovered clocks of waveforms that are made here, edge by edge.

Sources: trapezoids by hand; the loop's own theory (F. M. Gardner, Phaselock Techniques: the error transfer of a
second-order loop of damping 1 is ``s^2 / (s + w)^2``); Shannon's interpolation of a band-limited waveform.
"""

import numpy as np
import pytest

from tests.lanes import lane_board, plan_of, trace
from workbench.board.measurement import MeasuredWaveform
from workbench.engine.memo import Memo
from workbench.errors import TableError
from workbench.measured.overlay.clock import LOOP_PER_RATE, crossings_s, recovered
from workbench.measured.overlay.fold import fold, sliced
from workbench.measured.overlay.response import beside_lane
from workbench.measured.overlay.waveform import expected
from workbench.parts.networks.packed import packed

UI_S = 2e-10
RAMP_S = 4e-11 / 0.6
"""The whole ramp of a linear edge of 40 ps from 20 to 80 %."""


def bits(count: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).choice([-1.0, 1.0], count)


def trapezoids(symbols, edge_s, time_s, half_v=0.5, ramp_s=RAMP_S):
    """NRZ with linear edges, each centred where `edge_s` has it."""
    steps = np.diff(symbols, prepend=symbols[0])
    at = np.nonzero(steps)[0]
    corners_s = np.stack([edge_s[at] - ramp_s / 2, edge_s[at] + ramp_s / 2], axis=1).ravel()
    corners_v = np.stack([symbols[at] - steps[at], symbols[at]], axis=1).ravel() * half_v
    return np.interp(time_s, corners_s, corners_v, left=symbols[0] * half_v, right=symbols[-1] * half_v)


def measured(time_s, level_v, probe="pins") -> MeasuredWaveform:
    return MeasuredWaveform(
        name="scope", lane="D0", probe=probe, points=time_s.size, time_s=packed(time_s), level_v=packed(level_v)
    )


def record(count=2000, *, seed=1, moved_s=0.0, ui_s=UI_S, per_ui=40.0, noise_v=0.0):
    """Symbols and their waveform with edges moved by `moved_s` (s, one or one an edge)."""
    symbols = bits(count, seed)
    edge_s = np.arange(count) * ui_s + moved_s
    time_s = np.arange(0.0, count * ui_s, UI_S / per_ui)
    noise = noise_v * np.random.default_rng(seed + 1).normal(size=time_s.size)
    return symbols, measured(time_s, trapezoids(symbols, edge_s, time_s) + noise)


def test_the_symbols_and_the_opening_of_a_clean_trapezoid():
    symbols, wave = record()
    eye = fold(wave, UI_S)
    kept = eye.symbols
    first = round(eye.clock.edge_s[0] / UI_S)
    assert np.array_equal(kept, symbols[first : first + kept.size])
    assert eye.clock.offset == pytest.approx(0.0, abs=1e-6)
    assert eye.width_ui == pytest.approx(1.0, abs=1e-3)
    assert eye.height_v == pytest.approx(1.0, abs=1e-6)
    assert eye.sampling_ui == pytest.approx(0.5, abs=1e-3)
    # The density is one over all levels at each phase, and in the middle only at the two plateaus.
    step = eye.level_v[1] - eye.level_v[0]
    assert eye.density.sum(axis=1) * step == pytest.approx(np.ones(eye.time_ui.size))
    middle = eye.density[eye.time_ui.size // 2]
    assert set(np.round(np.abs(eye.level_v[middle > 0.0]), 1)) == {0.5}


@pytest.mark.parametrize("ppm", [-5000.0, -300.0, 0.0, 120.0, 4900.0])
def test_the_rate_is_recovered(ppm):
    _, wave = record(ui_s=UI_S / (1.0 + ppm * 1e-6))
    assert fold(wave, UI_S).clock.offset == pytest.approx(ppm * 1e-6, abs=2e-7)


def test_two_places_of_edges_narrow_the_eye_by_their_distance():
    """Dual-Dirac of 10 ps to each side, alternating at random: the width shrinks by 20 ps of 200 ps."""
    moved = 1e-11 * bits(4000, 7)
    _, wave = record(4000, moved_s=moved)
    eye = fold(wave, UI_S, loop_per_rate=0.0)
    assert eye.width_ui == pytest.approx(1.0 - 0.1, abs=0.003)
    assert eye.jitter_rms_ui == pytest.approx(0.05, rel=0.03)


@pytest.mark.campaign
def test_random_jitter_and_noise_come_out_at_their_size():
    moved = 1.5e-12 * np.random.default_rng(3).normal(size=6000)
    _, wave = record(6000, moved_s=moved)
    assert fold(wave, UI_S).jitter_rms_ui * UI_S == pytest.approx(1.5e-12, rel=0.04)
    _, wave = record(3000, noise_v=0.01)
    eye = fold(wave, UI_S)
    # 3000 samples of 10 mV rms: the extremes of 1500 to each side lie near 3.3 sigma (normal order statistics).
    assert 1.0 - eye.height_v == pytest.approx(2 * 3.3 * 0.01, rel=0.2)


@pytest.mark.parametrize("ratio", [0.5, 1.0, 3.0, 30.0])
def test_slow_jitter_is_tracked_as_the_loops_theory_says(ratio):
    """Sinusoidal jitter at `ratio` times the loop's natural frequency, half its bandwidth, in a record of many of its
    time constants. Discrete time and missing transitions leave a few percent."""
    loop = 20.0 * LOOP_PER_RATE
    count = 8000
    natural_per_ui = loop / 2.0
    phase = 2.0 * np.pi * ratio * natural_per_ui * np.arange(count)
    symbols = bits(count)
    edge_s = np.arange(count) * UI_S + 5e-12 * np.sin(phase)
    at = np.nonzero(np.diff(symbols))[0] + 1
    clock = recovered(edge_s[at], UI_S, "wave", loop_per_rate=loop)
    seen = np.std(clock.jitter_s[at.size // 4 :]) * np.sqrt(2.0)
    assert seen / 5e-12 == pytest.approx(ratio**2 / (1.0 + ratio**2), rel=0.12)


def test_a_spread_clock_is_followed():
    """5000 ppm down and up again in 30 us is common practice (no source); here in 3 us, ten times as steep."""
    count = 14_000
    spread = 0.005 * np.abs((np.arange(count) * UI_S / 1.5e-6) % 2.0 - 1.0)
    edge_s = np.cumsum(UI_S * (1.0 + spread))
    symbols = bits(count)
    at = np.nonzero(np.diff(symbols))[0] + 1
    clock = recovered(edge_s[at], UI_S, "wave", loop_per_rate=10.0 * LOOP_PER_RATE)
    assert clock.symbols == at[-1] - at[0]
    assert np.abs(clock.jitter_s).max() < 0.1 * UI_S
    assert clock.offset == pytest.approx(-spread[at[0] : at[-1]].mean(), abs=1e-4)


def test_a_constant_clock_leaves_all_jitter():
    moved = 5e-12 * np.sin(np.arange(9000) * 1e-3)
    _, wave = record(9000, moved_s=moved, per_ui=10.0)
    constant, tracked = fold(wave, UI_S, loop_per_rate=0.0), fold(wave, UI_S)
    assert constant.jitter_rms_ui > 2.5 * tracked.jitter_rms_ui


def test_few_samples_a_ui_are_read_between():
    """A waveform without anything above its sampling rate's half, 3.3 samples a UI: its crossings are those of the same
    waveform sampled finely."""
    count = 600
    rng = np.random.default_rng(5)
    tones = rng.uniform(0.02, 0.62, 40) / UI_S
    size, turn = rng.normal(size=40) * 0.05, rng.uniform(0, 6.28, 40)

    def carried(time_s):
        # A clock pattern at a quarter of the rate carries it, so that there is a clock to find.
        clock = 0.6 * np.sin(np.pi * time_s / UI_S / 1.0)
        return clock + 0.1 * np.sum(size[:, None] * np.sin(2 * np.pi * tones[:, None] * time_s + turn[:, None]), axis=0)

    coarse, fine = (np.arange(0.0, count * UI_S, UI_S / n) for n in (3.3, 64.0))
    eyes = [fold(measured(time_s, carried(time_s)), UI_S) for time_s in (coarse, fine)]
    assert eyes[0].jitter_rms_ui == pytest.approx(eyes[1].jitter_rms_ui, rel=0.03)
    assert eyes[0].height_v == pytest.approx(eyes[1].height_v, rel=0.02)


def test_times_that_are_not_even_are_read_too():
    symbols = bits(500)
    rng = np.random.default_rng(2)
    time_s = np.cumsum(rng.uniform(2e-12, 8e-12, 20_000))
    wave = measured(time_s, trapezoids(symbols, np.arange(500) * UI_S, time_s))
    eye = fold(wave, UI_S)
    assert eye.width_ui == pytest.approx(1.0, abs=0.01)


def test_to_and_fro_about_zero_counts_once():
    time_s = np.linspace(0.0, 1.0, 2001)
    level = np.where(time_s < 0.5, -1.0, 1.0) * np.minimum(np.abs(time_s - 0.5) * 20.0, 1.0)
    wiggle = 0.04 * np.sin(time_s * 700.0)
    assert crossings_s(time_s, level).size == 1
    (crossing,) = crossings_s(time_s, level + wiggle)
    assert crossing == pytest.approx(0.5, abs=0.01)
    assert crossings_s(time_s, np.ones(2001)).size == 0


def test_four_levels_are_told_apart():
    levels = (-1.0, -1.0 / 3.0, 1.0 / 3.0, 1.0)
    sent = np.random.default_rng(1).choice(levels, 400)
    noisy = 0.37 * sent + 0.01 * np.random.default_rng(2).normal(size=400)
    assert np.array_equal(sliced(noisy, levels), sent)


def test_the_middle_eye_of_four_levels_is_as_wide_as_its_edges_leave_it():
    """A linear edge from -1 to 1/3 goes through zero at three quarters of the ramp, one from -1/3 to 1 at one quarter:
    half a ramp is lost."""
    levels = (-1.0, -1.0 / 3.0, 1.0 / 3.0, 1.0)
    sent = np.random.default_rng(1).choice(levels, 2000)
    time_s = np.arange(0.0, 2000 * UI_S, UI_S / 40)
    wave = measured(time_s, trapezoids(sent, np.arange(2000) * UI_S, time_s))
    eye = fold(wave, UI_S, levels=levels, loop_per_rate=0.0)
    # The fitted clock itself is as uncertain as 1500 crossings of 0.06 UI rms leave it.
    assert eye.width_ui == pytest.approx(1.0 - 0.5 * RAMP_S / UI_S, abs=5e-3)
    assert eye.height_v == pytest.approx(1.0 / 3.0, abs=1e-6)
    first = round(eye.clock.edge_s[0] / UI_S)
    assert np.array_equal(eye.symbols, sent[first : first + eye.symbols.size])


@pytest.mark.parametrize(("make", "says"), [
    (lambda: record(ui_s=1.31 * UI_S)[1], "no clock near 5 GHz"),
    (lambda: measured(np.arange(500) * 5e-12, np.full(500, 0.4)), "goes through 0 V 0 times"),
    (lambda: record(per_ui=1.5)[1], "samples in a unit interval"),
    (lambda: measured(np.arange(4000) * 5e-12, np.random.default_rng(1).normal(size=4000)), "no clock"),
])  # fmt: skip
def test_what_has_no_clock_or_too_few_samples_is_refused(make, says):
    with pytest.raises(TableError, match=says):
        fold(make(), UI_S)


IDEAL = plan_of(lane_board(
    (trace(0.1),), transmitter={"resistance_ohm": 100.0, "capacitance_f": 0.0},
    receiver={"resistance_ohm": 100.0, "capacitance_f": 0.0},
))  # fmt: skip


def test_a_waveform_lies_on_the_lane_s_own():
    """Through an ideal lane the waveform is the transmitter's trapezoid of half the swing, 0.5 V; the bench's is 10 %
    lower, 20 mV off, 150 ppm fast, late by 3.21 ns, and has 2 mV of noise."""
    symbols = bits(1500)
    edge_s = np.arange(1500) * UI_S / (1.0 + 150e-6) + 3.21e-9
    time_s = np.arange(edge_s[0], edge_s[-1], 7e-12)
    level_v = 0.9 * trapezoids(symbols, edge_s, time_s) + 0.02
    noisy = level_v + 0.002 * np.random.default_rng(4).normal(size=time_s.size)
    over = beside_lane(Memo(), IDEAL, measured(time_s, noisy))
    assert over.alignment.gain == pytest.approx(0.9, rel=2e-3)
    assert over.alignment.offset == pytest.approx(0.02, abs=1e-3)
    # The noise, and as much again from the trapezoid's corners, which neither 7 ps nor a 32nd of a UI carries.
    assert 0.002 / 0.9 < over.difference.rms < 0.0034
    assert any("+150" in note or "+149" in note for note in over.notes)
    assert over.x.size > 0.9 * time_s.size
    assert [figure.label for figure in over.figures] == ["eye height", "eye width"]
    assert over.figures[1].measured == pytest.approx(over.figures[1].model, abs=0.05)


def test_a_waveform_of_another_lane_shows_where_it_differs():
    """The same bits with an echo 3 UI late of a tenth: the difference's rms is a tenth of 0.5 V, less what the level's
    alignment takes (a random pattern's echo is orthogonal to it, so hardly anything)."""
    symbols = bits(1500)
    edge_s = np.arange(1500) * UI_S
    time_s = np.arange(edge_s[0], edge_s[-1], 7e-12)
    level_v = trapezoids(symbols, edge_s, time_s)
    echo = 0.1 * trapezoids(symbols, edge_s + 3 * UI_S, time_s)
    over = beside_lane(Memo(), IDEAL, measured(time_s, level_v + echo))
    assert over.difference.rms == pytest.approx(0.1 * np.sqrt(np.mean(level_v**2)), rel=0.1)


def test_a_record_shorter_than_the_pulse_is_refused():
    symbols = bits(100)
    time_s = np.arange(0.0, 100 * UI_S, 7e-12)
    lossy = plan_of(lane_board((trace(1.0, "lossy"),)))
    with pytest.raises(TableError, match="longer record"):
        beside_lane(Memo(), lossy, measured(time_s, trapezoids(symbols, np.arange(100) * UI_S, time_s)))


def test_expected_waveforms_are_sums_of_pulses():
    from workbench.engine.views import PulseCurve

    time_ui = np.arange(-32, 129) / 32
    pulse = PulseCurve(time_ui, np.exp(-((time_ui - 0.5) ** 2)), np.zeros(0), np.zeros(0))
    symbols = bits(20)
    curve = expected(symbols, pulse)
    for at in (3.0, 7.5, 11.25):
        by_hand = sum(
            a * np.interp(at - k, time_ui, pulse.pulse_v, left=0.0, right=0.0) for k, a in enumerate(symbols)
        )
        assert np.interp(at, curve.x, curve.y) == pytest.approx(by_hand, abs=1e-9)
