"""What stands between linear stretches: a stage that passes the wave on and saturates, or one that slices it."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Bools, Floats, Samples
from workbench.engine.lane.path import StagePlan
from workbench.waveform.source import Jitter


def jitter_of(stage: StagePlan, ui_s: float) -> Jitter:
    """A stage's own jitter; `ui_s` is the unit interval in s."""
    return Jitter(stage.part.random_jitter_s / ui_s, stage.part.deterministic_jitter_s / ui_s)


class Saturating:
    """A linear stage: its own jitter delays the wave by a little, more here and less there; then it saturates.

    Each symbol boundary draws a delay, and between boundaries it runs evenly from one to the next.

    Args:
        stage: the stage.
        ui_s: unit interval, s.
        per_ui: samples a UI.
        crossing_ui: where edges cross, after their symbols' start, UI.
        random: where jitter comes from.
    """

    def __init__(
        self, stage: StagePlan, *, ui_s: float, per_ui: int, crossing_ui: float, random: np.random.Generator
    ) -> None:
        self._half_v = np.float32(stage.part.limit_v(stage.settings) / 2.0)
        self._jitter, self._random = jitter_of(stage, ui_s), random
        self._per_ui, self._crossing_ui = per_ui, crossing_ui
        self._last = self._jitter.draw(2, random)

    def push(self, start_ui: float, margin_ui: int, wave: Samples) -> Samples:
        """The next block's output, shape (block_ui * per_ui,).

        Args:
            start_ui: where the wave's first sample stands, UI.
            margin_ui: how far the wave reaches beyond the block on both sides, UI.
            wave: shape ((block_ui + 2 margin_ui) * per_ui,).
        """
        margin = margin_ui * self._per_ui
        passed = wave[margin:-margin]
        if not self._jitter.still:
            passed = delayed(wave, margin, self._delays(start_ui, passed.size))
        return np.asarray(self._half_v * np.tanh(passed / self._half_v), np.float32)

    def _delays(self, start_ui: float, count: int) -> Samples:
        """Delay of each sample of a block, in samples."""
        length_ui = count // self._per_ui
        drawn = np.concatenate([self._last, self._jitter.draw(length_ui, self._random)])
        self._last = drawn[-2:].copy()
        drawn *= np.float32(self._per_ui)
        # The first delay belongs to the last boundary before the block, the last one to the first after it.
        first = (start_ui - self._crossing_ui) % 1.0 * self._per_ui
        skipped = int(first)
        part = (first - skipped + np.arange(self._per_ui)) / self._per_ui
        rows = drawn[:-1, None] + np.diff(drawn)[:, None] * part.astype(np.float32)
        return np.asarray(rows.ravel()[skipped : skipped + count], np.float32)


def delayed(wave: Samples, first: int, delay: Samples) -> Samples:
    """A wave from its sample `first` on, each sample read `delay` earlier (in samples), shape (n,).

    By the quartic through the five samples about it; where a delay is too long for that, by the cubic through four.
    """
    size = delay.size
    if float(np.abs(delay).max()) > 1.5:
        return read_near(wave, first, 1, -delay)
    a, b, c, d, e = (wave[first + aside : first + aside + size] for aside in (-2, -1, 0, 1, 2))
    x = -delay
    outer, inner = a + e, b + d
    aside, beside = e - a, d - b
    fourth = (outer - np.float32(4.0) * inner + np.float32(6.0) * c) * np.float32(1.0 / 24.0)
    third = (aside - np.float32(2.0) * beside) * np.float32(1.0 / 12.0)
    second = (np.float32(16.0) * inner - outer - np.float32(30.0) * c) * np.float32(1.0 / 24.0)
    slope = (np.float32(8.0) * beside - aside) * np.float32(1.0 / 12.0)
    return np.asarray(c + x * (slope + x * (second + x * (third + x * fourth))))


class SlicedEdges(NamedTuple):
    """Steps that leave a slicing stage: instants in UI and heights in units of half the swing, shape (n,) each."""

    time_ui: Floats
    step: Samples


class Slicing:
    """A limiting stage: its output steps where the equalized input crosses zero.

    An excursion that stays within the sensitivity comes out smaller in proportion: gain is finite. Where a crossing
    stands between two samples is found by a cubic through four.

    Args:
        stage: the stage.
        ui_s: unit interval, s.
        per_ui: samples a UI.
        random: where jitter comes from.
    """

    def __init__(self, stage: StagePlan, *, ui_s: float, per_ui: int, random: np.random.Generator) -> None:
        self._half_v = stage.part.sensitivity_v / 2.0
        self._jitter, self._random, self._per_ui = jitter_of(stage, ui_s), random, per_ui
        self._last_v: np.float32 | None = None
        self._level = 0.0

    @property
    def reach_ui(self) -> float:
        """The farthest that jitter moves a step, UI."""
        return self._jitter.reach_ui

    def push(self, start_ui: float, margin_ui: int, wave: Samples) -> SlicedEdges:
        """The steps of the next block.

        Args:
            start_ui: where the wave's first sample stands, UI.
            margin_ui: how far the wave reaches beyond the block on both sides, UI.
            wave: shape ((block_ui + 2 margin_ui) * per_ui,); its first sample of the block is made to agree with what
                the block before took it for.
        """
        margin = margin_ui * self._per_ui
        first, last = margin, wave.size - margin
        if self._last_v is not None:
            wave[first] = self._last_v
        self._last_v = wave[last]
        places = crossings_in(wave, first, last).place
        moved = self._jitter.draw(places.size, self._random)
        time_ui = start_ui + places / self._per_ui + moved
        level = self._levels(wave, places, first)
        step = np.diff(level, prepend=self._level)
        self._level = float(level[-1])
        # What the block begins with is a step only where it is the first of all.
        return SlicedEdges(np.concatenate([[start_ui + margin_ui], time_ui]), step)

    def _levels(self, wave: Samples, places: Floats, first: int) -> Floats:
        """The output's level from the block's begin on and after each crossing, shape (n + 1,)."""
        upward = bool(wave[first] > 0.0)
        sign = np.where(np.arange(places.size + 1) % 2 == 0, 1.0, -1.0) * (1.0 if upward else -1.0)
        if self._half_v == 0.0:
            return sign
        starts = np.concatenate([[first], np.floor(places).astype(np.intp) + 1])
        highest = np.maximum.reduceat(np.abs(wave), starts)
        level = sign * np.minimum(highest / self._half_v, 1.0)
        if self._level:
            # The excursion that goes on from the block before keeps its level.
            level[0] = self._level
        return level


class Crossing(NamedTuple):
    """Where a wave crosses zero, from its first sample on in samples or UI, and whether it rises; shape (n,) each."""

    place: Floats
    rising: Bools


def crossings_in(wave: Samples, first: int, last: int) -> Crossing:
    """Where a wave, shape (samples,), crosses zero between samples `first` and `last`: places in samples.

    A straight line, then one step of Newton on the cubic through four samples: with 16 samples a UI what is left is
    below 1e-4 UI. Where Newton leads away the straight line stands.
    """
    above = wave[first : last + 1] > 0.0
    at = np.flatnonzero(above[1:] != above[:-1])
    rising = above[1:][at]
    at += first
    a, b, c, d = (wave[at + step] for step in (-1, 0, 1, 2))
    straight = b / (b - c)
    slope, second, third = _cubic(a, b, c, d)
    value = b + straight * (slope + straight * (second + straight * third))
    steep = slope + straight * (2.0 * second + straight * (3.0 * third))
    moved = straight - value / np.where(steep == 0.0, np.float32(np.inf), steep)
    return Crossing(np.asarray(at + np.clip(moved, 0.0, 1.0), np.float64), rising)


def read_near(wave: Samples, first: int, step: int, away: Samples) -> Samples:
    """A wave read between its samples, once every `step` samples, by the cubic through four.

    Args:
        wave: the wave.
        first: the sample next to the first place.
        step: samples from one place to the next.
        away: how far after its sample each place stands, in samples, shape (n,).
    """
    whole = np.floor(away)
    x = away - whole
    at = np.arange(first, first + step * away.size, step)
    at += whole.astype(np.intp)
    a, b, c, d = (wave.take(at + aside) for aside in (-1, 0, 1, 2))
    slope, second, third = _cubic(a, b, c, d)
    return np.asarray(b + x * (slope + x * (second + x * third)))


def _cubic(a: Samples, b: Samples, c: Samples, d: Samples) -> tuple[Samples, Samples, Samples]:
    """Coefficients of the cubic through values at -1, 0, 1 and 2, beside `b`."""
    third = (d - a) * np.float32(1.0 / 6.0) + (b - c) * np.float32(0.5)
    second = (a + c) * np.float32(0.5) - b
    return c - b - second - third, second, third
