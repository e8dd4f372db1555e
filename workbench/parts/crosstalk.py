"""What a part that several pairs pass brings from one pair into the next, as scattering between the ends of both.

A network holds it measured. A data sheet of a connector or a cable states levels of the near and the far end, without a
phase. Of all responses with such levels that don't answer before they are asked the one of minimum phase is taken: the
earliest and most compact. Its phase follows from the levels (H. W. Bode, "Network Analysis and Feedback Amplifier
Design", 1945, chapter 14): between stated points they are straight in dB over the logarithm of frequency, so that
Bode's integral has a closed form.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Annotated

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity
from workbench.parts.record import Crosstalk, Problem, Record

_STRONGEST_DB = 6.0
"""However steeply stated levels rise: no more than that comes through."""
_TERMS = 21


class CrosstalkLevel(Record, kw_only=True):
    """Crosstalk between neighbouring pairs of a part at one frequency, as a loss from the one to the other."""

    frequency_hz: Annotated[float, quantity("Hz", "Frequency", "Where both levels are stated.", ge=1e6, le=1e12)]
    next_db: Annotated[
        float, quantity("dB", "Near end", "To the next pair, at the end where a signal enters.", ge=6.0, le=200.0)
    ]
    fext_db: Annotated[
        float, quantity("dB", "Far end", "To the next pair, at the end where it leaves.", ge=6.0, le=200.0)
    ]


StatedLevels = Annotated[
    tuple[CrosstalkLevel, ...],
    choice("Crosstalk", "To the next pair through it, by frequency; empty: none is stated."),
]
StatedSlope = Annotated[
    float,
    quantity(
        "", "Crosstalk slope", "How levels go on outside the stated points: 1 is 20 dB a decade.", ge=0.0, le=2.0
    ),
]


def level_problems(levels: Sequence[CrosstalkLevel]) -> tuple[Problem, ...]:
    """What is wrong with a part's levels: frequencies that don't rise."""
    f_hz = [level.frequency_hz for level in levels]
    if all(low < high for low, high in pairwise(f_hz)):
        return ()
    return (Problem("crosstalk", "the frequencies of its crosstalk do not rise", "write them in order, each once"),)


class StatedCrosstalk(Crosstalk, frozen=True):
    """Crosstalk of a part by stated levels, between neighbouring pairs that pass it from end to end.

    Attributes:
        levels: as stated, by rising frequency.
        slope: outside of them, as a power of frequency.
        delay_s: time of flight through the part, s: the far end is that late.
        against: whether the two signals run against each other.
    """

    levels: tuple[CrosstalkLevel, ...]
    slope: float
    delay_s: float
    against: bool

    def waves(self, f_hz: Floats) -> Complexes:
        """By minimum phase at `f_hz` (Hz, shape (n,)); shape (2, 2, n).

        The far end counts as negative. Of which sign either is does not matter: an aggressor's symbols have both.
        """
        at_hz = [level.frequency_hz for level in self.levels]
        near, far = (
            minimum_phase(f_hz, at_hz, [getattr(level, field) for level in self.levels], slope=self.slope)
            for field in ("next_db", "fext_db")
        )
        late = -far * np.exp(-2j * np.pi * f_hz * self.delay_s)
        found = np.array([[near, late], [late, near]])
        return found[:, ::-1] if self.against else found


def minimum_phase(f_hz: Floats, at_hz: Sequence[float], loss_db: Sequence[float], *, slope: float) -> Complexes:
    """The response of minimum phase with stated levels, shape (n,).

    Between the points, and outside of them by `slope`, its logarithm is straight over that of the frequency; above the
    last point it rises to 6 dB of loss at most. With its slopes ``s_k`` from ``u_k`` to ``u_(k+1)`` (logarithms of
    frequency over the one in question) Bode's phase is ``(1/pi) sum s_k [G(u_(k+1)) - G(u_k)]``, where G is the
    integral of ``ln coth |u / 2|``: 90 degrees for 20 dB a decade.

    Args:
        f_hz: where, Hz, shape (n,).
        at_hz: where losses are stated, Hz, rising.
        loss_db: the losses there, dB.
        slope: outside the points, as a power of frequency.
    """
    place = np.log(np.asarray(at_hz, np.float64))
    level = -np.asarray(loss_db, np.float64) * math.log(10.0) / 20.0
    highest = -_STRONGEST_DB * math.log(10.0) / 20.0
    if slope > 0.0:
        level, place = np.append(level, highest), np.append(place, place[-1] + (highest - level[-1]) / slope)
        if place[-1] == place[-2]:
            level, place = level[:-1], place[:-1]
    moving = f_hz > 0.0
    u = np.log(np.where(moving, f_hz, 1.0))
    size = np.interp(u, place, level) - slope * np.maximum(place[0] - u, 0.0)
    apart = [_integral(at - u) for at in place]
    slopes = np.diff(level) / np.diff(place)
    phase = slope * (apart[0] + np.pi**2 / 4.0)
    for s, (low, high) in zip(slopes, pairwise(apart), strict=True):
        phase = phase + s * (high - low)
    found = np.exp(size + 1j * phase / np.pi)
    at_rest = 0.0 if slope > 0.0 else math.exp(float(level[0]))
    return np.asarray(np.where(moving, found, at_rest), np.complex128)


def _integral(u: Floats) -> Floats:
    """The integral of ``ln coth |t / 2|`` from 0 to u: ``pi^2/4 - 2 chi(exp(-|u|))``, odd in u, shape (n,).

    chi is Legendre's function, the sum of ``x^k / k^2`` over odd k; near 1 from ``chi(x) + chi((1 - x)/(1 + x)) =
    pi^2/8 + ln(x) ln((1 + x)/(1 - x)) / 2``.
    """
    x = np.exp(-np.abs(u))
    y = (1.0 - x) / (1.0 + x)
    near = y < x
    small = np.where(near, y, x)
    square, total = small**2, np.zeros(u.size)
    for k in range(_TERMS - 1, -1, -1):
        total = total * square + 1.0 / (2 * k + 1) ** 2
    chi = small * total
    whole = np.pi**2 / 8.0 - 0.5 * np.log(x) * np.log(np.maximum(y, 1e-300))
    return np.asarray(np.sign(u) * (np.pi**2 / 4.0 - 2.0 * np.where(near, whole - chi, chi)))
