"""Errors that decision feedback makes of errors, against bits decided one by one."""

import numpy as np
import pytest
from scipy.special import ndtr

from tests.thinning import some
from workbench.engine.verdict.propagation import errors_per_error


def counted(taps_v, noise_v, symbols=4_000_000, seed=1):
    """Errors of a receiver that feeds its decisions back over those of one that is told the symbols, 1 V each.

    Only stretches after an error differ, so that only these are walked through.
    """
    rng = np.random.default_rng(seed)
    sent = rng.choice((-1.0, 1.0), symbols)
    seen = sent + noise_v * rng.standard_normal(symbols)  # what is left when all feedback is right
    first = np.flatnonzero((seen > 0.0) != (sent > 0.0))
    errors, at = 0, 0
    for start in first.tolist():
        if start < at or start + 200 > symbols:
            continue
        wrong = [0.0] * len(taps_v)
        at = start
        while True:
            sample = seen[at] + 2.0 * sum(tap * one for tap, one in zip(taps_v, wrong, strict=True))
            missed = (sample > 0.0) != (sent[at] > 0.0)
            errors += missed
            wrong = [sent[at] if missed else 0.0, *wrong[:-1]]
            at += 1
            if not any(wrong):
                break
    return errors / first.size


@pytest.mark.parametrize(
    ("taps_v",),  # noqa: PT006 - a tuple is one value
    some([((0.3,),), ((0.5, 0.2),), ((0.4, 0.3, 0.2, 0.15, 0.1),), ((0.6, 0.5, 0.4, 0.3, 0.2),), ((0.0, 0.4),)], 3),
)
def test_a_chain_of_the_last_errors_makes_as_many_as_bits_do(taps_v):
    noise_v = 0.36

    def error_ratio_at(level_v):
        return ndtr((level_v - 1.0) / noise_v)

    chained = errors_per_error(np.array(taps_v), error_ratio_at)
    assert chained == pytest.approx(counted(taps_v, noise_v), rel=0.04)
    assert chained > 1.0


def test_without_feedback_an_error_is_one_error():
    assert errors_per_error(np.zeros(0), lambda level_v: 0.5 + 0.0 * level_v) == 1.0
