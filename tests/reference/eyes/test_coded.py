"""The coded eye against exact enumeration of every sequence of the code, and against long encoded data."""

from itertools import product
from math import erfc, sqrt

import numpy as np
import pytest

from tests.codes.test_machine import window_chances
from workbench.codes.eight_ten import EightTen, data_codes, decoded
from workbench.codes.machine import Machine, eight_ten, independent
from workbench.codes.pattern import symbols_of
from workbench.engine.coded.tails import coded_sample, coded_tail, coded_tail_near, ladder_of
from workbench.engine.coded.worst import widest_drift, worst_samples_v, worst_sequence
from workbench.engine.tails.boundaries import Displaced
from workbench.engine.tails.density import Tail, lower_tail
from workbench.engine.tails.samples import EdgeShifts, Sample
from workbench.engine.tails.tilts import Ladder

MAIN = 3
CURSORS = np.array([0.004, -0.012, 0.05, 1.0, 0.24, 0.11, -0.06, 0.05, 0.035, 0.02, -0.012, 0.007])
"""An invented pulse: three symbols in front of the main one, eight after it."""
NOISE_V = 0.045


DEEPEST = 42.0


def where(sample: Sample, machine: Machine) -> Ladder:
    return ladder_of(coded_sample(sample, machine), DEEPEST)


def whole(sample: Sample, machine: Machine) -> Tail:
    return coded_tail(sample, machine, where(sample, machine))


def near(sample: Sample, machine: Machine, ratio: float) -> Tail:
    return coded_tail_near(sample, machine, where(sample, machine), ratio)


def a_sample(cursors: np.ndarray = CURSORS, edges: EdgeShifts | None = None) -> Sample:
    return Sample(np.array([cursors]), {MAIN: 1.0}, np.array([NOISE_V]), edges)


def gaussian_below(v: np.ndarray, mean: float, sigma: float) -> np.ndarray:
    return np.array([0.5 * erfc((mean - level) / (sigma * sqrt(2.0))) for level in v])


def enumerated(machine: Machine, v: np.ndarray, cursors: np.ndarray = CURSORS) -> np.ndarray:
    """ln P(sample <= v | upper symbol), every sequence of the code counted with its probability."""
    total, share = np.zeros(v.size), 0.0
    for window, chance in window_chances(machine, cursors.size).items():
        newest_first = np.array(window[::-1])
        if newest_first[MAIN] > 0.0:
            total += chance * gaussian_below(v, float(newest_first @ cursors), NOISE_V)
            share += chance
    return np.log(total / share)


def read(tail, v: np.ndarray) -> np.ndarray:
    return -(np.interp(v, tail.v[0], np.sqrt(-tail.log_p[0])) ** 2)


def level(tail: Tail, ratio: float) -> float:
    return float(np.interp(sqrt(-np.log(ratio)), np.sqrt(-tail.log_p[0])[::-1], tail.v[0][::-1]))


@pytest.mark.parametrize("machine", [independent(), eight_ten()], ids=lambda one: one.name)
def test_every_sequence_counts_with_its_probability(machine: Machine) -> None:
    v = np.linspace(0.05, 0.75, 15)
    exact, found = enumerated(machine, v), read(whole(a_sample(), machine), v)
    deep = exact > -41.0
    assert exact[deep].min() < -30.0
    assert np.abs(found - exact)[deep].max() < 0.02


def test_independent_symbols_give_the_plain_tail() -> None:
    v = np.linspace(0.0, 0.9, 40)
    sample = a_sample()
    plain, coded = lower_tail(sample), whole(sample, independent())
    drawn = read(plain, v) > -DEEPEST
    assert np.abs(read(plain, v) - read(coded, v))[drawn].max() < 0.03


def test_displaced_boundaries_count_with_the_transitions_that_the_code_has() -> None:
    """Dual-Dirac displacement at two boundaries: every sequence with every displacement, exactly."""
    change_v = np.array([0.05, 0.03])
    boundaries = (MAIN, MAIN - 1)

    def displaced(which: np.ndarray) -> Displaced:
        size = np.array([change_v[boundaries.index(int(j))] if int(j) in boundaries else 0.0 for j in which])
        change = np.stack([size, -size], axis=1)[:, None, :, None]
        return Displaced(np.full((1, 2), 0.5), change, np.zeros_like(change))

    slope = np.zeros((1, CURSORS.size))
    slope[0, list(boundaries)] = change_v
    sample = a_sample(edges=EdgeShifts(slope, 1.0, displaced))
    v, total, share = np.linspace(0.1, 0.6, 6), np.zeros(6), 0.0
    for window, chance in window_chances(eight_ten(), CURSORS.size).items():
        newest = np.array(window[::-1])
        if newest[MAIN] < 0.0:
            continue
        share += chance
        steps = [newest[j] - newest[j + 1] for j in boundaries]
        for signs in product((1.0, -1.0), repeat=2):
            moved = sum(sign * step * size for sign, step, size in zip(signs, steps, change_v, strict=True))
            total += chance / 4.0 * gaussian_below(v, float(newest @ CURSORS) + moved, NOISE_V)
    found = read(whole(sample, eight_ten()), v)
    assert np.abs(found - np.log(total / share)).max() < 0.05


@pytest.mark.campaign
@pytest.mark.parametrize("machine", [independent(), eight_ten()], ids=lambda one: one.name)
def test_displacements_that_older_symbols_tell_apart_count_with_these_symbols(machine: Machine) -> None:
    """Four kinds of displacement far wider than the noise, as after a limiting stage: every sequence, exactly."""
    cursors, noise_v = CURSORS[:8], 0.004
    by_kind = np.array([0.02, -0.11, 0.07, -0.05])
    boundary = MAIN
    change = np.zeros((1, 4, 2, 1))
    change[0, :, :, 0] = by_kind[:, None] + np.array([0.01, -0.01])
    edges = EdgeShifts(
        slope_v_per_s=np.where(np.arange(cursors.size) == boundary, 0.08, 0.0)[None],
        square_s2=1.0,
        displaced=lambda which: Displaced(np.full((4, 2), 0.5), np.repeat(change, which.size, 0),
                                          np.zeros((which.size, 4, 2, 1))),
        kinds=4,
    )  # fmt: skip
    sample = Sample(np.array([cursors]), {MAIN: 1.0}, np.array([noise_v]), edges)
    v = np.linspace(0.2, 0.7, 2001)
    total, share = np.zeros(v.size), 0.0
    for window, chance in window_chances(machine, cursors.size).items():
        newest = np.array(window[::-1])
        if newest[MAIN] < 0.0:
            continue
        share += chance
        before = newest[boundary + 1]
        kind = (newest[boundary + 2] != before) + 2 * (newest[boundary + 3] != before)
        for part in change[0, kind, :, 0]:
            total += chance / 2.0 * gaussian_below(v, float(newest @ cursors) + (1.0 - before) * float(part), noise_v)
    exact = np.sqrt(-np.log(np.clip(total / share, 1e-300, 1.0)))
    for ratio in (1e-3, 1e-6, 1e-9, 1e-12, 1e-15):
        wanted = np.interp(sqrt(-np.log(ratio)), exact[::-1], v[::-1])
        assert level(whole(sample, machine), ratio) == pytest.approx(wanted, abs=1e-4 + 0.05 * noise_v)
        assert level(near(sample, machine, ratio), ratio) == pytest.approx(wanted, abs=1e-4 + 0.05 * noise_v)


@pytest.mark.parametrize("noise_v", [0.0, 3e-4, 3e-3])
def test_next_to_no_noise_loses_nothing_on_the_way(noise_v: float) -> None:
    """What the code forbids weighs exp(-1000) and less against what it allows: the worst sequence still bounds it."""
    sample = Sample(np.array([CURSORS]), {MAIN: 1.0}, np.array([noise_v]))
    found = level(near(sample, eight_ten(), 1e-15), 1e-15)
    sigma = max(noise_v, 3e-4)
    worst = float(worst_samples_v(eight_ten(), CURSORS[None], MAIN)[0])
    assert worst - 8.0 * sigma < found < worst - 4.0 * sigma


def test_a_slow_tail_counts_as_long_encoded_data_have_it() -> None:
    """A tail of many small cursors, where a balanced code differs most from independent symbols."""
    cursors = np.concatenate([CURSORS[: MAIN + 1], 0.08 * np.arange(1.0, 120.0) ** -0.75])
    symbols = symbols_of(EightTen(21).stream().take(500_000)).astype(float)
    seen = np.convolve(symbols, cursors)[cursors.size : symbols.size]
    noise = np.random.default_rng(5).normal(0.0, NOISE_V, seen.size)
    upper = symbols[cursors.size - MAIN : symbols.size - MAIN] > 0.0
    samples = np.sort((seen + noise)[upper])
    found = whole(a_sample(cursors), eight_ten())
    plain = lower_tail(a_sample(cursors))
    for share in (1e-3, 1e-2):
        level = samples[int(share * samples.size)]
        counted_in = 4.0 * sqrt(10.0 / (share * samples.size))  # neighbours share symbols: a tenth counts as new
        assert read(found, np.array([level]))[0] == pytest.approx(np.log(share), abs=counted_in)
        assert read(plain, np.array([level]))[0] > np.log(share) + counted_in


def test_the_worst_sample_is_the_least_over_all_sequences() -> None:
    windows = np.array(list(window_chances(eight_ten(), CURSORS.size)))[:, ::-1]
    upper = windows[windows[:, MAIN] > 0.0]
    assert worst_samples_v(eight_ten(), CURSORS[None], MAIN)[0] == pytest.approx((upper @ CURSORS).min(), abs=1e-12)
    plain = CURSORS[MAIN] - (np.abs(CURSORS).sum() - CURSORS[MAIN])
    assert worst_samples_v(independent(), CURSORS[None], MAIN)[0] == pytest.approx(plain, abs=1e-12)


def test_the_worst_of_two_words_is_the_worst_of_all_pairs_of_words() -> None:
    """Brute force over all pairs of data words from both disparities, the symbol decided on in the second."""
    cursors = np.random.default_rng(8).normal(0.0, 0.1, 11)
    cursors[0] = 1.0
    codes = data_codes()
    levels = {side: np.array([[1.0 if bit == "1" else -1.0 for bit in (code.minus if side < 0 else code.plus)]
                              for code in codes]) for side in (-1, +1)}  # fmt: skip
    least = np.inf
    for side in (-1, +1):
        for code, head in zip(codes, levels[side], strict=True):
            both = np.hstack([np.tile(head, (256, 1)), levels[-side if code.flips else side]])
            for at in range(10, 20):
                samples = both[:, at - 10 : at + 1][:, ::-1] @ cursors
                least = min(least, float(samples[both[:, at] > 0.0].min(initial=np.inf)))
    assert worst_samples_v(eight_ten(), cursors[None], 0)[0] == pytest.approx(least, abs=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_the_worst_sequence_can_be_sent_over_and_over_and_makes_those_samples(seed: int) -> None:
    cursors = CURSORS + np.random.default_rng(seed).normal(0.0, 0.02, CURSORS.size)
    worst = worst_sequence(eight_ten(), cursors, MAIN)
    bits = np.tile((worst.symbols > 0.0).astype(np.uint8), 3)
    assert worst.symbols.size % 10 == 0
    assert worst.bits == "".join(map(str, bits[: worst.symbols.size]))
    assert any(
        (found := decoded(bits, disparity=side)).known.all() and found.disparity_fits.all() and not found.control.any()
        for side in (-1, +1)
    )
    assert worst.sample_v == pytest.approx(worst_samples_v(eight_ten(), cursors[None], MAIN)[0], abs=1e-12)
    for decided, level in ((worst.upper, 1.0), (worst.lower, -1.0)):
        around = worst.symbols[decided + MAIN - np.arange(cursors.size)]
        assert worst.symbols[decided] == level
        assert around @ cursors == pytest.approx(level * worst.sample_v, abs=1e-12)


def test_the_worst_sequence_of_independent_symbols_opposes_every_cursor() -> None:
    """Peak distortion: each symbol has the sign that its cursor hurts by."""
    worst = worst_sequence(independent(), CURSORS, MAIN)
    around = worst.symbols[worst.upper + MAIN - np.arange(CURSORS.size)]
    assert (around == np.where(np.arange(CURSORS.size) == MAIN, 1.0, -np.sign(CURSORS))).all()


def test_the_widest_drift_is_what_a_slow_high_pass_reaches_and_random_data_do_not_pass_it() -> None:
    """The best sequence for a high-pass of 2,000 symbols by value iteration, an independent way to the same."""
    machine, keep = eight_ten(), 1.0 - 1.0 / 2000.0
    drift: np.ndarray = np.zeros(machine.states)
    for _ in range(30_000):
        into = machine.symbol + keep * drift[machine.source]
        drift = np.full(machine.states, -np.inf)
        np.maximum.at(drift, machine.target, into)
    assert widest_drift(machine) == pytest.approx(drift.max(), rel=0.01)
    symbols = symbols_of(EightTen(3).stream().take(100_000))
    held = 0.0
    largest = 0.0
    for symbol in symbols.tolist():
        held = symbol + keep * held
        largest = max(largest, abs(held))
    assert largest < widest_drift(machine)
    assert widest_drift(independent()) == np.inf
