"""Decisions symbol by symbol, with decision feedback that runs on what was decided, right or wrong."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Floats, Samples
from workbench.waveform.source import LevelNumbers


class Tuning(NamedTuple):
    """How the receiver is set.

    Attributes:
        crossing_ui: mean crossing at a symbol's start, UI after its start at the transmitter.
        sampling_ui: where it samples, UI after the recovered crossing.
        range_v: levels up to here are told apart, V.
        threshold_v: between symbol levels, V, rising.
        taps_v: what decision feedback subtracts, V, shape (taps,).
    """

    crossing_ui: float
    sampling_ui: float
    range_v: float
    threshold_v: tuple[float, ...]
    taps_v: Floats


class DecidedSymbols(NamedTuple):
    """What a receiver made of samples.

    Attributes:
        level: the level it decided on, shape (n,).
        level_v: what it decided on, feedback subtracted, V, shape (n,).
        feedback_v: what was subtracted, V, shape (n,); None without feedback.
        kept: the last decisions, as levels, that the next block's feedback runs on, shape (taps,).
    """

    level: LevelNumbers
    level_v: Samples
    feedback_v: Samples | None
    kept: Samples


def decided(seen: Samples, tuning: Tuning, before: Samples) -> DecidedSymbols:
    """Decide on samples one after the other.

    All are first decided on as if nothing were fed back; then what each decision changes in those after it is worked
    in until nothing changes any more. Feedback looks backward only, so there is one such end, and it is the one that
    a receiver reaches symbol by symbol.

    Args:
        seen: samples, V, shape (n,).
        tuning: thresholds and taps.
        before: the last decisions before, oldest first, as levels from -1 to 1, shape (taps,).
    """
    taps = tuning.taps_v.astype(np.float32)
    threshold = np.array(tuning.threshold_v, np.float32)
    if not taps.size:
        return DecidedSymbols(_sliced(seen, threshold), seen, None, before)
    levels = np.linspace(-1.0, 1.0, threshold.size + 1).astype(np.float32)
    index = _sliced(seen, threshold)
    sent = np.concatenate([before, levels[index]])
    feedback = _fed_back(sent, taps)
    while True:
        made = _sliced(seen - feedback, threshold)
        changed = np.flatnonzero(made != index)
        if not changed.size:
            break
        index = made
        sent[taps.size :] = levels[index]
        if changed.size * taps.size > seen.size // 8:
            feedback = _fed_back(sent, taps)
            continue
        after = np.unique(np.minimum(changed[:, None] + np.arange(1, taps.size + 1), seen.size - 1))
        feedback[after] = sum(tap * sent[after + taps.size - 1 - number] for number, tap in enumerate(taps))
    return DecidedSymbols(index, seen - feedback, feedback, sent[-taps.size :])


def _fed_back(sent: Samples, taps: Samples) -> Samples:
    """What is fed back to each decision: taps times the decisions before it; `sent` begins with those before all."""
    count = sent.size - taps.size
    fed = np.zeros(count, np.float32)
    for number, tap in enumerate(taps):
        first = taps.size - 1 - number
        fed += tap * sent[first : first + count]
    return fed


def _sliced(level_v: Samples, threshold_v: Samples | Floats) -> LevelNumbers:
    if threshold_v.size == 1:
        return np.asarray((level_v > threshold_v[0]).view(np.int8))
    return np.searchsorted(threshold_v, level_v).astype(np.int8)
