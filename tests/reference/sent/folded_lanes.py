"""The distribution of a received sample of a whole lane, in the time domain: symbol by symbol, edge by edge.

A line code is walked from its oldest symbol to its newest with one histogram of level for each state and each pair or
triple of last symbols. An edge is put at every place that its jitter may have, and the step response is read there.
Histograms are folded by sums of positive numbers: no tilt, no transform, no slope, nothing taken together or for
Gaussian but the noise. Of the program it takes the step response alone (its pulse is held elsewhere); the Gaussian
integral, the spline and the search for a root are scipy's.
"""

from typing import NamedTuple

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import brentq
from scipy.special import log_ndtr, logsumexp

from tests.reference.sent.true_edges import histogram

_REACH, _FINE = 9.5, 0.02
_AHEAD, _BEHIND = 6, 56


class FoldedLane(NamedTuple):
    """What arrives and what is decided.

    Attributes:
        step: response to a step of half the swing at times in UI, V.
        transitions: of the code: state before, state after, symbol, chance, each shape (E,).
        share: how probable each state is, shape (S,).
        noise_v: rms.
        jitter: random (rms) and deterministic (from one of two places to the other), UI.
        taps: transmitter's weights of the symbol after, the symbol, the symbol before.
        held_v: what feedback takes off for each symbol before, V.
    """

    step: object
    transitions: tuple
    share: np.ndarray
    noise_v: float
    jitter: tuple = (0.0, 0.0)
    taps: tuple = (0.0, 1.0, 0.0)
    held_v: tuple = ()

    def pulse(self, x):
        """Response to one symbol at times in UI, V."""
        before, main, after = self.taps
        plain = [self.step(x - late) - self.step(x - late - 1.0) for late in (-1.0, 0.0, 1.0)]
        return before * plain[0] + main * plain[1] + after * plain[2]


def step_of(samples, per_ui):
    """A step response from its samples: nothing before them, at rest after."""
    at = np.arange(samples.size) / per_ui
    inside = CubicSpline(at, samples)
    return lambda x: np.where(x < 0.0, 0.0, np.where(x > at[-1], samples[-1], inside(np.clip(x, 0.0, at[-1]))))


def _displacements(random, deterministic):
    x = np.arange(-_REACH, _REACH + _FINE / 2.0, _FINE) if random else np.zeros(1)
    chance = np.exp(-0.5 * x**2)
    places = (-deterministic / 2.0, deterministic / 2.0) if deterministic else (0.0,)
    tau = np.concatenate([place + random * x for place in places])
    chance = np.tile(chance, len(places))
    return tau, chance / chance.sum()


def _kernel(values, chances, bin_v):
    """The histogram of values, and the variance that sharing each between two bins adds, V^2."""
    part = values / bin_v - np.floor(values / bin_v)
    return histogram(values, chances, bin_v), float(chances @ (part * (1.0 - part))) * bin_v**2


def _fold(bins, kernel):
    at, of = np.flatnonzero(bins), np.flatnonzero(kernel)
    some = np.convolve(bins[at[0] : at[-1] + 1], kernel[of[0] : of[-1] + 1])
    first = at[0] + of[0] - kernel.size // 2
    out = np.zeros_like(bins)
    out[first : first + some.size] = some
    return out


def _begun(lane, length):
    """Every state with so many symbols before it, and its probability."""
    reached = {(state, ()): share for state, share in enumerate(lane.share)}
    for _ in range(length):
        after = {}
        for (state, past), share in reached.items():
            for target, symbol, chance in _from(lane, state):
                key = target, (*past, symbol)
                after[key] = after.get(key, 0.0) + share * chance
        reached = after
    return reached


def _from(lane, state):
    source, target, symbol, chance = lane.transitions
    return [(int(target[e]), float(symbol[e]), float(chance[e])) for e in np.flatnonzero(source == state)]


def distribution_at(lane, x):
    """Levels (V), their probabilities given the upper symbol, and what rms is left for Gaussian noise.

    Args:
        lane: what arrives.
        x: time since the start of the symbol decided on, UI.
    """
    bin_v = lane.noise_v / 10.0
    before, main, after = lane.taps
    newer = int(before != 0.0)
    width = 1 + newer + int(after != 0.0)
    tau, chances = _displacements(*lane.jitter)
    most = 1.15 * np.abs(lane.pulse(x + np.arange(-_AHEAD, _BEHIND + 1))).sum()
    most += (abs(before) + abs(main) + abs(after)) * abs(float(lane.step(x + _BEHIND + 1)))
    size = int(np.ceil(most / bin_v)) + 400

    def driven(past):
        """The level that symbols (oldest first, the last one not sent yet where there is a tap before) drive."""
        at = len(past) - 1 - newer
        return main * past[at] + (before * past[at + 1] if newer else 0.0) + (after * past[at - 1] if after else 0.0)

    state, added = {}, 0.0
    for (where, past), share in _begun(lane, width).items():
        kernel, _ = _kernel(driven(past) * lane.step(x + _BEHIND + 1 - tau), chances, bin_v)
        start = np.zeros(2 * size + 1)
        start[size] = share
        state[where, past] = _fold(start, kernel)
    for number in range(-_BEHIND + newer, _AHEAD + 1):
        since = x - (number - newer) - tau
        moves, held = lane.step(since), 0.0
        if 0 < -number <= len(lane.held_v):
            held = lane.held_v[-number - 1]
        kernels, following = {}, {}
        for (where, past), bins in state.items():
            for target, symbol, chance in _from(lane, where):
                if number == 0 and symbol < 0.0:
                    continue
                late = (*past, symbol)
                change = round(driven(late[1:]) - driven(late[:-1]), 12)
                key = change, symbol if held else 0.0
                if key not in kernels:
                    kernels[key] = _kernel(change * moves - (symbol * held if held else 0.0), chances, bin_v)
                kernel, more = kernels[key]
                added += float(bins.sum()) * chance * more
                to = target, late[1:]
                moved = chance * (_fold(bins, kernel) if kernel.size > 5 or kernel[2] != 1.0 else bins)
                following[to] = following[to] + moved if to in following else moved
        state = following
    total = sum(state.values())
    some = total > 0.0
    older = lane.pulse(x + np.arange(_BEHIND + 1, 4 * _BEHIND))
    # What is older still is a slow tail, of which a balanced code makes next to nothing.
    left = lane.noise_v**2 - added + (float(older @ older) if lane.share.size == 1 else 0.0)
    return bin_v * np.arange(-size, size + 1)[some], total[some] / total.sum(), float(np.sqrt(left))


def log_below(found, v):
    """``ln P(sample <= v)`` of a distribution at levels in V, shape (n,)."""
    levels, chances, noise_v = found
    return logsumexp(log_ndtr((np.atleast_1d(v)[:, None] - levels) / noise_v) + np.log(chances), axis=1)


def level_at(lane, x, ratio):
    """The level, V, that the upper symbol's sample falls below with an error ratio."""
    found = distribution_at(lane, x)
    reach = float(np.abs(found[0]).max()) + 10.0 * lane.noise_v
    return brentq(lambda v: float(log_below(found, v)[0]) - np.log(ratio), -reach, reach, xtol=1e-6)


def ends_at(lane, ratio, low, high):
    """Where the error ratio at the threshold passes `ratio`, UI, near two guesses; nan where that is nowhere near."""

    def beyond(x):
        # Nearly straight along time, as a Gaussian is.
        return np.sqrt(-float(log_below(distribution_at(lane, x), 0.0)[0])) - np.sqrt(-np.log(ratio))

    found = []
    for guess, inward in ((low, 1.0), (high, -1.0)):
        open_at, closed_at = guess + 0.02 * inward, guess - 0.02 * inward
        known = beyond(open_at) > 0.0 > beyond(closed_at)
        found.append(brentq(beyond, open_at, closed_at, xtol=1e-4, rtol=1e-5) if known else np.nan)
    return tuple(found)
