"""What the transmitter sends: symbols, and the instants of their boundaries with jitter."""

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from workbench.arrays import Floats, Indices, Integers, Samples
from workbench.codes.pattern import Pattern
from workbench.parts.transmitter import Transmitter
from workbench.waveform.settings import WaveformSettings

LevelNumbers = npt.NDArray[np.int8]
"""Which level each symbol has, from the lowest, shape (n,)."""
FARTHEST_SIGMA = 9.0
"""No Gaussian draw lies further out."""
_GRAY = np.array([0, 1, 3, 2], np.int8)
"""Two bits, the first one the heavier, to the number of the level: neighbours differ in one bit."""


def generator(seed: np.random.SeedSequence) -> np.random.Generator:
    """A generator of random numbers; of numpy's the one that draws fastest."""
    return np.random.Generator(np.random.SFC64(seed))


class Jitter(NamedTuple):
    """Displacement of edges: `random_ui` rms Gaussian, `deterministic_ui` peak to peak dual-Dirac, UI."""

    random_ui: float
    deterministic_ui: float

    @property
    def reach_ui(self) -> float:
        """The farthest that an edge moves, UI."""
        return FARTHEST_SIGMA * self.random_ui + self.deterministic_ui / 2.0

    @property
    def still(self) -> bool:
        """Whether nothing moves."""
        return self.reach_ui == 0.0

    def draw(self, count: int, random: np.random.Generator) -> Samples:
        """Displacements of `count` edges, UI, shape (count,)."""
        if self.random_ui:
            moved = random.standard_normal(count, np.float32)
            moved *= np.float32(self.random_ui)
        else:
            moved = np.zeros(count, np.float32)
        if self.deterministic_ui:
            aside = np.array([-0.5, 0.5], np.float32) * np.float32(self.deterministic_ui)
            moved += aside[np.unpackbits(random.integers(0, 256, count // 8 + 1, np.uint8), count=count)]
        return moved


class SentBlock(NamedTuple):
    """A block of what is sent.

    Attributes:
        first: number of its first symbol.
        symbols: which level each has, shape (n,).
        time_ui: instants of the boundaries that step, UI, shape (m,).
        step: how far they step in units of half the swing, shape (m,).
    """

    first: int
    symbols: LevelNumbers
    time_ui: Floats
    step: Samples


class BitSource:
    """A transmitter that sends a pattern without end, block by block."""

    def __init__(
        self,
        transmitter: Transmitter,
        pattern: Pattern,
        settings: WaveformSettings,
        *,
        ui_s: float,
        levels: tuple[float, ...],
        random: np.random.Generator,
    ) -> None:
        self._stream, self._random, self._levels = pattern.stream(), random, np.array(levels, np.float32)
        self._taps = transmitter.taps()
        self._jitter = Jitter(transmitter.random_jitter_s / ui_s, transmitter.deterministic_jitter_s / ui_s)
        self._sine_ui, self._sine_per_ui = settings.sine_jitter_s / ui_s / 2.0, settings.sine_jitter_hz * ui_s
        self._duty_ui = settings.duty_cycle_s / ui_s / 2.0
        self._at = 0
        # Two symbols before the block and one after it have a part in its steps.
        self._near = self._take(3)
        self.reach_ui = self._jitter.reach_ui + abs(self._sine_ui) + abs(self._duty_ui)
        """The farthest that an edge stands from its place, UI."""

    @property
    def level(self) -> float:
        """The driven level before the first boundary of the next block, in units of half the swing."""
        before, main, after = self._taps
        behind, here, ahead = self._levels[self._near]
        return float(before * ahead + main * here + after * behind)

    @property
    def wanders(self) -> bool:
        """Whether there is sinusoidal jitter."""
        return self._sine_ui != 0.0

    def wander_ui(self, boundary: Floats | Integers) -> Floats:
        """What sinusoidal jitter does to boundaries by number, UI, shape (n,)."""
        return np.asarray(self._sine_ui * np.sin(2.0 * np.pi * self._sine_per_ui * boundary))

    def block(self, count: int) -> SentBlock:
        """The next `count` symbols; the first boundary is the one before the first of them."""
        row = np.concatenate([self._near, self._take(count)])
        self._near = row[-3:]
        level = self._levels[row]
        before, main, after = self._taps
        driven = level[1:-1] * np.float32(main)
        if before:
            driven += np.float32(before) * level[2:]
        if after:
            driven += np.float32(after) * level[:-2]
        step = np.diff(driven)
        moving = np.flatnonzero(step)
        rising = level[2:-1][moving] - level[1:-2][moving] if self._duty_ui else None
        sent = SentBlock(self._at, row[2:-1], self._instants(moving, rising), step[moving])
        self._at += count
        return sent

    def _instants(self, moving: Indices, rising: Samples | None) -> Floats:
        """Instants of the boundaries `moving` of a block, UI."""
        boundary = (moving + self._at).astype(np.float64)
        moved = boundary if self._jitter.still else boundary + self._jitter.draw(moving.size, self._random)
        if self._sine_ui:
            moved = moved + self.wander_ui(boundary)
        if rising is not None:
            # A lone 1 starts early and ends late.
            moved = moved - self._duty_ui * np.sign(rising)
        return moved

    def _take(self, count: int) -> LevelNumbers:
        if self._levels.size == 2:
            return self._stream.take(count).view(np.int8)
        pairs = self._stream.take(2 * count).reshape(count, 2)
        return np.asarray(_GRAY[2 * pairs[:, 0] + pairs[:, 1]])
