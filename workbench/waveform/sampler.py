"""The end of the lane: the clock is recovered, symbols are decided on, and everything is counted."""

from typing import NamedTuple

import numpy as np

from workbench.arrays import Bools, Floats, Integers, Samples
from workbench.waveform.clock import ClockLoop
from workbench.waveform.counts import COLUMNS, CROSSING_BINS, FINE_LEVELS, LEVELS, Tally
from workbench.waveform.decisions import DecidedSymbols, Tuning, decided
from workbench.waveform.line import SHIFTS, Arrived
from workbench.waveform.models.clock import ModelClock
from workbench.waveform.source import BitSource, Jitter, LevelNumbers
from workbench.waveform.stages import Crossing, crossings_in, read_near


class Settling(NamedTuple):
    """Numbers of the symbols from which on the lane has settled, and the clock."""

    lane: int
    clock: int


class _Block(NamedTuple):
    """A block as the sampler sees it: its wave, where that starts (UI), and its symbols."""

    wave: Samples
    start_ui: float
    first: int
    length: int


class Sampler:
    """Takes blocks of the wave at the probe point and counts.

    Args:
        tuning: how the receiver is set.
        clock: the recovered clock.
        jitter: of the sampling instant.
        source: what was sent.
        per_ui: samples a UI.
        levels: how many levels a symbol has.
        random: where jitter comes from.
        thinning: one sample in so many goes into the density; 0 for none.
    """

    def __init__(
        self,
        tuning: Tuning,
        clock: ClockLoop | ModelClock,
        *,
        jitter: Jitter,
        source: BitSource,
        per_ui: int,
        levels: int,
        random: np.random.Generator,
        thinning: int,
    ) -> None:
        self._tuning, self._clock, self._jitter, self._source = tuning, clock, jitter, source
        self._per_ui, self._random, self._thinning = per_ui, random, thinning
        self._symbols: LevelNumbers = np.zeros(0, np.int8)
        self._oldest = 0
        self._next: int | None = None
        self._last_away = np.float32(0.0)
        self._turn = 0
        self._decided = np.zeros(tuning.taps_v.size, np.float32)
        self.tally = Tally(levels)

    def push(self, block: Arrived, settling: Settling, left: int | None = None) -> None:
        """Look at a block.

        Args:
            block: the block.
            settling: when the lane and the clock have settled; what comes before is not counted.
            left: how many symbols are still to be counted; None for all.
        """
        if not self._symbols.size:
            self._oldest = block.first
        self._symbols = np.concatenate([self._symbols, block.symbols])
        length = block.wave.size // self._per_ui - 2 * block.margin_ui
        if self._next is None:
            self._next = int(np.ceil(block.start_ui + block.margin_ui - self._tuning.crossing_ui))
        seen = _Block(block.wave, block.start_ui + block.shift / (SHIFTS * self._per_ui), self._next, length)
        self._next += length
        if seen.first < max(settling.lane, self._oldest + 2):
            return
        counts = seen.first >= settling.clock
        if counts and left is not None:
            seen = seen._replace(length=min(length, left))
        symbols = self._symbols[seen.first - 1 - self._oldest :][: seen.length + 1]
        self._probe(seen, symbols, counts=counts)
        self._forget(self._next - 2)

    def _forget(self, before: int) -> None:
        self._symbols = self._symbols[before - self._oldest :]
        self._oldest = before

    def _probe(self, block: _Block, symbols: LevelNumbers, *, counts: bool) -> None:
        """Count a block; `symbols` starts with the one before it."""
        found, number = self._crossings(block, 0.0)
        self._clock.begin(block.first)
        clock_ui = self._clock.follow(number, found.place, block.length)
        away_ui = self._away(clock_ui, block.length)
        made = decided(self._sampled(block, away_ui[1:]), self._tuning, self._decided)
        self._decided = made.kept
        if not counts:
            return
        self.tally.symbols += block.length
        self.tally.errors += int(np.count_nonzero(made.level != symbols[1:]))
        self._count_sampled(made, symbols[1:])
        self._count_crossings(found.place if clock_ui is None else found.place - clock_ui[number])
        for threshold, level_v in enumerate(self._tuning.threshold_v):
            if made.feedback_v is not None:
                self._toggles_in_rows(block, threshold, symbols, away_ui, made.feedback_v)
                continue
            if level_v:
                found, number = self._crossings(block, level_v)
            self._toggles(threshold, found, number, symbols, away_ui)
        self._count_density(block, away_ui[1:], made.feedback_v)

    def _away(self, clock_ui: Samples | None, count: int) -> Samples:
        """How far the sampling clock stands from each symbol's place, from the symbol before the block on, UI."""
        away_ui = np.empty(count + 1, np.float32)
        away_ui[0] = self._last_away
        away_ui[1:] = self._jitter.draw(count, self._random)
        if clock_ui is not None:
            away_ui[1:] += clock_ui
        self._last_away = away_ui[-1]
        return away_ui

    def _crossings(self, block: _Block, level_v: float) -> tuple[Crossing, Integers]:
        """Crossings about a block's boundaries, UI from their boundary's place, and the number of each in the block."""
        origin_ui = block.first + self._tuning.crossing_ui - block.start_ui
        index = (origin_ui - 0.5) * self._per_ui
        first, last = int(np.floor(index)), int(np.ceil(index + block.length * self._per_ui))
        wave = block.wave - np.float32(level_v) if level_v else block.wave
        found = crossings_in(wave, first, last)
        place_ui = found.place / self._per_ui - origin_ui
        nearest = place_ui
        if self._source.wanders:
            nearest = place_ui - self._source.wander_ui(place_ui + block.first)
        number = np.rint(nearest).astype(np.int64)
        here = (number >= 0) & (number < block.length)
        place_ui -= number
        return Crossing(place_ui[here], found.rising[here]), number[here]

    def _sampled(self, block: _Block, away_ui: Samples) -> Samples:
        at_ui = self._tuning.crossing_ui + self._tuning.sampling_ui - block.start_ui + block.first
        first = int(at_ui * self._per_ui)
        aside = np.float32(at_ui * self._per_ui - first)
        return read_near(block.wave, first, self._per_ui, away_ui * np.float32(self._per_ui) + aside)

    def _count_sampled(self, made: DecidedSymbols, symbols: LevelNumbers) -> None:
        tally, bins = self.tally, FINE_LEVELS
        place = made.level_v * np.float32(bins / 2 / self._tuning.range_v) + np.float32(bins / 2)
        np.clip(place, 0.0, bins - 1.0, out=place)
        at = place.astype(np.intp)
        at += symbols * np.intp(bins)
        tally.sampled += np.bincount(at, minlength=tally.sampled.size).reshape(tally.sampled.shape)
        for threshold, level_v in enumerate(self._tuning.threshold_v):
            wrong = (made.level_v > level_v) != (symbols > threshold)
            if tally.wrong.size > 1:
                beside = (symbols == threshold) | (symbols == threshold + 1)
                wrong &= beside
                tally.beside[threshold] += np.count_nonzero(beside)
            else:
                tally.beside[threshold] += symbols.size
            tally.wrong[threshold] += np.count_nonzero(wrong)

    def _count_crossings(self, from_clock_ui: Floats) -> None:
        at = ((from_clock_ui + 1.5) * CROSSING_BINS).astype(np.intp)
        self.tally.crossings += np.bincount(at % CROSSING_BINS, minlength=CROSSING_BINS)

    def _toggles(
        self,
        threshold: int,
        found: Crossing,
        number: Integers,
        symbols: LevelNumbers,
        away: Floats,
    ) -> None:
        """Where symbols turn right, less where they turn wrong, each seen from its own sampling instant's clock.

        Symbol `number` starts with the crossing, whose place counts from its boundary; the one before ends with it.
        """
        for behind in (0, 1):
            at = number + (1 - behind)
            self._add_toggles(threshold, found.place + behind - away[at], found.rising, symbols[at])

    def _add_toggles(self, threshold: int, place_ui: Floats, rising: Bools, symbol: LevelNumbers) -> None:
        bins = self.tally.toggles.shape[1]
        at = ((place_ui + 0.5) * CROSSING_BINS).astype(np.intp)
        np.clip(at, 0, bins - 1, out=at)
        right = rising == (symbol > threshold)
        if self.tally.wrong.size > 1:
            beside = (symbol == threshold) | (symbol == threshold + 1)
            at, right = at[beside], right[beside]
        at += right * np.intp(bins)
        turned = np.bincount(at, minlength=2 * bins)
        self.tally.toggles[threshold] += turned[bins:] - turned[:bins]

    def _toggles_in_rows(
        self, block: _Block, threshold: int, symbols: LevelNumbers, away: Floats, feedback_v: Samples
    ) -> None:
        """The same after decision feedback: each symbol is looked at with what was subtracted for it."""
        start, phase_ui = self._rows(block)
        wide = self._per_ui + 4
        rows = _strided(block.wave[start - 2 :], block.length, self._per_ui, wide) - feedback_v[:, None]
        flat = (rows - np.float32(self._tuning.threshold_v[threshold])).ravel()
        found = crossings_in(flat, 1, flat.size - 3)
        row, column = np.divmod(found.place, wide)
        inside = (column >= 1.0) & (column < wide - 2)
        number = row[inside].astype(np.int64)
        place_ui = (column[inside] - 2.0) / self._per_ui + phase_ui - away[number + 1]
        kept = (place_ui > 0.0) & (place_ui < 1.0)
        self._add_toggles(
            threshold, place_ui[kept], found.rising[inside][kept], symbols[number[kept] + 1]
        )

    def _rows(self, block: _Block) -> tuple[int, float]:
        """The first sample of the block's first symbol, and how far after that symbol's start it stands, UI."""
        behind = (block.first + self._tuning.crossing_ui - block.start_ui) * self._per_ui
        start = int(np.ceil(behind))
        return start, (start - behind) / self._per_ui

    def _count_density(self, block: _Block, away_ui: Samples, feedback_v: Samples | None) -> None:
        """Count one sample in `thinning` of each symbol, in turn from block to block: all columns fill evenly."""
        if not self._thinning:
            return
        start, phase_ui = self._rows(block)
        rows = block.wave[start : start + block.length * self._per_ui].reshape(block.length, self._per_ui)
        place_in_turn = self._turn // SHIFTS % self._thinning
        self._turn += 1
        rows = rows[:, place_in_turn :: self._thinning]
        if feedback_v is not None:
            rows = rows - feedback_v[:, None]
        per_sample = COLUMNS // self._per_ui
        first = np.floor((np.float32(phase_ui) - away_ui) * np.float32(COLUMNS))
        lowest = int(first.min())
        columns = int(first.max()) - lowest + COLUMNS
        half = LEVELS / 2
        place = rows * np.float32(half / self._tuning.range_v)
        if max(float(place.max()), -float(place.min())) >= half:
            np.clip(place, -half, half - 1.0, out=place)
        first -= np.float32(lowest)
        first *= np.float32(LEVELS)
        place += first[:, None]
        column = (place_in_turn + self._thinning * np.arange(rows.shape[1])) * per_sample
        place += (column * LEVELS + half).astype(np.float32)
        seen = np.bincount(place.astype(np.intp).ravel(), minlength=columns * LEVELS)
        by_column = seen[: columns * LEVELS].reshape(columns, LEVELS)
        for piece in range(0, columns, COLUMNS):
            part = by_column[piece : piece + COLUMNS]
            self.tally.density[(lowest + piece + np.arange(part.shape[0])) % COLUMNS] += part


def _strided(wave: Samples, rows: int, step: int, width: int) -> Samples:
    item = wave.itemsize
    return np.lib.stride_tricks.as_strided(wave, (rows, width), (step * item, item), writeable=False)
