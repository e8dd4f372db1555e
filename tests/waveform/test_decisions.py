"""Decision feedback that runs on its own decisions, against a loop that decides one symbol after the other."""

import numpy as np
import pytest

from workbench.waveform.decisions import Tuning, decided


def one_by_one(seen, taps, thresholds, before):
    levels = np.linspace(-1.0, 1.0, len(thresholds) + 1)
    past, out = list(before), []
    for sample in seen:
        fed = sum(tap * past[-1 - number] for number, tap in enumerate(taps))
        index = int(np.searchsorted(thresholds, sample - fed))
        out.append(index)
        past.append(levels[index])
    return np.array(out)


@pytest.mark.parametrize("noise_v", [0.05, 0.4, 2.0], ids=["few errors", "many", "closed"])
@pytest.mark.parametrize("thresholds", [(0.0,), (-0.6, 0.0, 0.6)], ids=["two levels", "four"])
def test_feedback_runs_on_what_was_decided_right_or_wrong(noise_v, thresholds):
    rng = np.random.default_rng(3)
    taps = np.array([0.5, -0.3, 0.2])
    levels = np.linspace(-1.0, 1.0, len(thresholds) + 1)
    sent = levels[rng.integers(0, levels.size, 3000)]
    seen = sent + noise_v * rng.normal(size=3000)
    for number, tap in enumerate(taps, 1):
        seen[number:] += tap * sent[:-number]
    seen = seen.astype(np.float32)
    tuning = Tuning(0.0, 0.5, 4.0, thresholds, taps)
    before = np.array([1.0, -1.0, 1.0], np.float32)
    whole = decided(seen, tuning, before)
    assert np.array_equal(whole.level, one_by_one(seen, taps.astype(np.float32), thresholds, before))
    # In two blocks the second one runs on what the first decided.
    first = decided(seen[:1700], tuning, before)
    second = decided(seen[1700:], tuning, first.kept)
    assert np.array_equal(np.concatenate([first.level, second.level]), whole.level)


def test_an_error_propagates():
    """One tap that takes off all of the symbol before: a wrong decision makes the next one wrong with it."""
    tuning = Tuning(0.0, 0.5, 4.0, (0.0,), np.array([1.0]))
    sent = np.ones(6)
    seen = sent + np.concatenate([[1.0], sent[:-1]])
    seen[2] -= 2.5
    made = decided(seen.astype(np.float32), tuning, np.array([1.0], np.float32))
    # Decided wrongly at 2; what is fed back then is off by 2, in favour of the next, which stays right.
    assert made.level.tolist() == [1, 1, 0, 1, 1, 1]
    assert made.feedback_v is not None
    assert made.feedback_v[3] == -1.0
