"""Linear filters known by the samples of their responses, as makers' models have; hashable, for a lane's plan."""

import math
from typing import Literal

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats

_WHOLE = 1e-6


class Filtering(msgspec.Struct, frozen=True):
    """What a filter makes of a unit impulse.

    Attributes:
        data: float64 samples, each the share of the input that comes out so much later.
        dt_s: from one to the next, s.
    """

    data: bytes
    dt_s: float

    @classmethod
    def of(cls, samples: Floats, dt_s: float) -> "Filtering":
        """From samples, shape (n,), `dt_s` (s) apart; what hardly counts at the end is left out."""
        heard = np.flatnonzero(np.abs(samples) > 1e-12 * max(float(np.abs(samples).max()), 1e-300))
        return cls(samples[: int(heard[-1]) + 1 if heard.size else 1].astype(np.float64).tobytes(), dt_s)

    @property
    def samples(self) -> Floats:
        """The samples, shape (n,)."""
        return np.frombuffer(self.data, np.float64)

    def gain(self, f_hz: Floats) -> Complexes:
        """Complex gain at `f_hz` (Hz, shape (n,)); shape (n,)."""
        samples = self.samples
        period = _period(f_hz, self.dt_s)
        if period:
            folded = np.zeros(-(-samples.size // period) * period)
            folded[: samples.size] = samples
            return np.asarray(np.fft.rfft(folded.reshape(-1, period).sum(axis=0))[: f_hz.size], np.complex128)
        heard = np.flatnonzero(samples)
        turn = np.exp(-2j * np.pi * self.dt_s * f_hz[:, np.newaxis] * heard)
        return np.asarray(turn @ samples[heard], np.complex128)


def _period(f_hz: Floats, dt_s: float) -> int:
    """Over how many samples a transform has just these frequencies; 0 where none has."""
    if f_hz.size < 3 or f_hz[0] != 0.0 or not math.isclose(f_hz[-1], f_hz[1] * (f_hz.size - 1), rel_tol=1e-9):
        return 0
    period = 1.0 / (float(f_hz[1]) * dt_s)
    whole = round(period)
    fits = abs(period - whole) < _WHOLE * period and f_hz.size <= whole // 2 + 1
    return whole if fits else 0


class LastDecided(msgspec.Struct, frozen=True):
    """What a receiver's model made of a signal when it was last run: for pictures while something is dragged.

    Attributes:
        gain: its linear part.
        beside: what it took off the pulse besides, float64 on the grid's samples, V.
    """

    gain: Filtering
    beside: bytes


class ByModels(msgspec.Struct, frozen=True):
    """What makers' models do in a lane, as far as it is known before a signal arrives.

    Attributes:
        sent: what the transmitter's model does.
        decides: whether the receiver's model is to be run, is to be taken as it was last, or stays out.
        last: how it was last.
        troubles: sentences on the models that were not run, and what stands in their place.
        notes: sentences on what the models say.
    """

    sent: Filtering | None = None
    decides: Literal["model", "last", "nothing"] = "nothing"
    last: LastDecided | None = None
    troubles: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
