"""Displacements by the symbols before them, and what of the chain's inputs counts together."""

from itertools import product

import numpy as np
import pytest

from tests.lanes import lane_board, plan_of, trace
from workbench.engine.lane.lane import observe
from workbench.engine.lane.probe import resolve_probe
from workbench.engine.lane.received_eye import sample_at
from workbench.engine.memo import Memo
from workbench.engine.tails.boundaries import windows_of
from workbench.engine.tails.density import lower_tail
from workbench.engine.tails.jitter import Mixture, dual_dirac, of_kinds, together
from workbench.engine.tails.quick import quick_tail
from workbench.engine.tails.samples import negated, sample_rows, side_by_side, treated

NRZ = (-1.0, 1.0)
FOUR = (-1.0, -1.0 / 3.0, 1.0 / 3.0, 1.0)
TWO_KINDS = Mixture(
    np.array([0.1, 0.4, 0.3, 0.2]), np.array([-2e-12, 1e-12, 4e-12, 5e-12]), np.array([1e-12, 2e-12, 1e-12, 5e-13]), 2
)


@pytest.mark.parametrize("levels", [NRZ, FOUR])
@pytest.mark.parametrize("taps", [(0.0, 1.0, 0.0), (0.0, 0.8, -0.2), (-0.1, 0.7, -0.2)])
def test_windows_hold_every_combination_with_the_step_that_the_taps_drive(levels, taps):
    """By definition: what the driver sends is a sum of taps times symbols; the step is its change. Derived here."""
    windows = windows_of(levels, taps)
    before, main, after = taps
    symbols = 2 + bool(before) + bool(after)
    at = 1 + bool(after)  # the symbol that starts at the boundary; beyond the window nothing is tapped
    for combination, which in zip(product(levels, repeat=symbols), windows.which, strict=True):
        def sent(i, of=combination):
            return sum(tap * of[i + shift] for shift, tap in ((1, before), (0, main), (-1, after)) if tap)

        assert windows.step[which] == pytest.approx(sent(at) - sent(at - 1), abs=1e-8)
    assert windows.step[-1] == 0.0


def test_kinds_are_told_by_the_older_symbols_likeness_to_the_one_before_the_edge():
    windows = windows_of(NRZ, (0.0, 1.0, 0.0), 8)
    for combination, which in zip(product(NRZ, repeat=5), windows.which, strict=True):
        *older, last, new = combination
        if new == last:
            assert windows.step[which] == 0.0
            continue
        differs = [symbol != last for symbol in reversed(older)]
        assert windows.step[which] == new - last
        assert windows.kind[which] == sum(2**i for i, differ in enumerate(differs) if differ)


def moments(mixture):
    weight, offset_s, sigma_s = mixture.by_kind()
    mean = (weight * offset_s).sum(axis=1)
    return weight.sum(axis=1), mean, (weight * (sigma_s**2 + offset_s**2)).sum(axis=1) - mean**2


def test_independent_jitter_adds_its_variance_to_every_kind():
    total, mean, variance = moments(TWO_KINDS)
    added = dual_dirac(random_s=3e-12, deterministic_s=8e-12)
    both = together(TWO_KINDS, added)
    assert both.kinds == 2
    assert moments(both)[0] == pytest.approx(total)
    assert moments(both)[1] == pytest.approx(mean)
    assert moments(both)[2] == pytest.approx(variance + added.rms_s**2)


def test_a_lean_is_told_as_two_kinds_for_each():
    lean_s = np.array([[3e-12], [1e-12]])
    leaning = TWO_KINDS._replace(lean_s=lean_s, told=1)
    spelled = of_kinds([Mixture(*kind) for kind in zip(*leaning.by_kind(), strict=True)])
    assert leaning.all_kinds == spelled.kinds == 4
    assert moments(leaning)[1].tolist() == pytest.approx(
        np.concatenate([moments(TWO_KINDS)[1] + lean_s[:, 0], moments(TWO_KINDS)[1] - lean_s[:, 0]]).tolist()
    )
    assert leaning.square_s2 == pytest.approx(spelled.square_s2)
    assert leaning.rms_s == pytest.approx(spelled.rms_s)


def lossy_sample():
    board = lane_board((trace(0.5, "lossy"),), receiver={"noise_v": 5e-3}, transmitter={"random_jitter_s": 2e-12})
    plan = plan_of(board)
    received = observe(Memo(), plan, resolve_probe(plan, "receiver"), 1e-9).received
    first = int(np.ceil(received.waves.crossing))
    return sample_at(received, first + np.arange(4, 28, 4))


def test_samples_side_by_side_have_the_tails_they_have_alone():
    """Within a tenth of a per mille of half a volt: side by side more terms count one by one."""
    sample = lossy_sample()
    together_ = lower_tail(side_by_side([sample, negated(sample)]))
    for half, alone in enumerate([sample, negated(sample)]):
        tail = lower_tail(alone)
        for phase in range(sample.noise_v.size):
            for ratio in (1e-3, 1e-9, 1e-15):
                found = [level(one, row, ratio) for one, row in ((tail, phase), (together_, half * 6 + phase))]
                assert found[0] == pytest.approx(found[1], abs=5e-5)


def test_some_rows_of_a_sample_have_the_tails_of_all():
    sample = lossy_sample()
    tail, some = lower_tail(sample), lower_tail(sample_rows(sample, np.array([1, 4])))
    for row, phase in enumerate((1, 4)):
        assert level(some, row, 1e-9) == pytest.approx(level(tail, phase, 1e-9), abs=5e-5)


def test_a_quick_tail_is_the_full_one_within_a_percent_of_the_eye():
    sample = lossy_sample()
    full, quick = lower_tail(sample), quick_tail(treated(sample))
    height_v = level(full, 3, 1e-3)
    for phase in range(sample.noise_v.size):
        for ratio in (1e-3, 1e-6, 1e-12, 1e-15):
            assert level(quick, phase, ratio) == pytest.approx(level(full, phase, ratio), abs=0.01 * height_v)


def level(tail, phase, ratio):
    return float(np.interp(np.sqrt(-np.log(ratio)), np.sqrt(-tail.log_p[phase])[::-1], tail.v[phase][::-1]))
