"""Receivers: a termination, noise, jitter, and the equalization that the lane may count on."""

import math
from typing import Annotated, ClassVar

import msgspec
import numpy as np

from workbench.facts import choice, quantity
from workbench.parts.conditioner import CapacitanceF, ResistanceOhm
from workbench.parts.record import Name, Problem, Record
from workbench.parts.twoport import Complexes, Floats

NOISE_BAND_PER_RATE = 0.75
"""The receiver's noise is white in a one-sided band of this share of the rate."""


class NoEqualizer(Record, tag="none", tag_field="kind", kw_only=True):
    """The eye is judged as it stands at the pins."""


class ReferenceEqualizer(Record, tag="reference", tag_field="kind", kw_only=True):
    """The reference equalizer (and decision feedback) of the lane's profile."""


class Ctle(Record, tag="ctle", tag_field="kind", kw_only=True):
    """A continuous-time equalizer: one zero, two poles, a list of gains at rest.

    ``H(s) = peak_gain (s + w1 A) w2 / ((s + w1)(s + w2))`` with A the gain at rest before `peak_gain_db`: the form of
    the reference equalizers of PCI Express at 8 GT/s and up, and of IEEE 802.3 Annex 93A (equation 93A-22) where zero
    and first pole are alike.
    """

    first_pole_hz: Annotated[float, quantity("Hz", "First pole", "Above it the gain no longer rises.", ge=1e7, le=1e12)]
    second_pole_hz: Annotated[float, quantity("Hz", "Second pole", "Above it the gain falls.", ge=1e7, le=1e12)]
    dc_gain_db: Annotated[
        tuple[Annotated[float, msgspec.Meta(ge=-40.0, le=40.0)], ...],
        choice("Gains at rest", "The gains at 0 Hz to choose from, dB; more negative is more equalization."),
    ]
    peak_gain_db: Annotated[float, quantity("dB", "Peak gain", "Gain of the whole above.", ge=-40.0, le=40.0)] = 0.0
    zero_hz: (
        Annotated[
            float,
            quantity("Hz", "Zero", "Fixes the zero apart from the gain at rest; null: it follows.", ge=1e6, le=1e12),
        ]
        | None
    ) = None
    fixed_gain_db: (
        Annotated[
            float,
            quantity(
                "dB", "Fixed gain", "One of the gains, to use no other; null: the best is found.", ge=-40.0, le=40.0
            ),
        ]
        | None
    ) = None

    def choices(self) -> tuple[float, ...]:
        """The gains at rest, in dB, among which the engine finds the best."""
        return self.dc_gain_db if self.fixed_gain_db is None else (self.fixed_gain_db,)

    def transfer(self, dc_gain_db: float, f_hz: Floats) -> Complexes:
        """Complex gain at `f_hz` (Hz, shape (n,)) with `dc_gain_db` (dB) at rest, all of it times the peak gain."""
        rest = 10.0 ** (dc_gain_db / 20.0)
        zero_hz = self.zero_hz if self.zero_hz is not None else self.first_pole_hz * rest
        poles = (1.0 + 1j * f_hz / self.first_pole_hz) * (1.0 + 1j * f_hz / self.second_pole_hz)
        peak = 10.0 ** (self.peak_gain_db / 20.0)
        return np.asarray(peak * rest * (1.0 + 1j * f_hz / zero_hz) / poles, np.complex128)

    def problems(self) -> tuple[Problem, ...]:
        """There must be a gain to choose, and a fixed one must be among them."""
        if not self.dc_gain_db:
            return (Problem("dc_gain_db", "the list of gains is empty", "give at least one gain in dB"),)
        if self.fixed_gain_db is not None and self.fixed_gain_db not in self.dc_gain_db:
            remedy = "name one of dc_gain_db, or null for the best"
            return (Problem("fixed_gain_db", "it is none of dc_gain_db", remedy),)
        return ()


class Dfe(Record, kw_only=True):
    """Decision feedback: taps from the pulse's own post-cursors, each limited in size."""

    taps: Annotated[int, quantity("", "Taps", "How many post-cursors are subtracted.", ge=0, le=64)] = 0
    limit_v: Annotated[
        tuple[Annotated[float, msgspec.Meta(ge=0.0, le=10.0)], ...],
        choice("Limits", "Largest size of each tap, V; empty: no limit."),
    ] = ()

    def limit_of(self, tap: int) -> float:
        """Largest size of tap number `tap` (from 0), V; infinite where no limit is given."""
        return self.limit_v[tap] if tap < len(self.limit_v) else math.inf

    def problems(self) -> tuple[Problem, ...]:
        """Limits are given for every tap or for none."""
        if self.limit_v and len(self.limit_v) != self.taps:
            problem = f"{len(self.limit_v)} limits for {self.taps} taps"
            return (Problem("limit_v", problem, "give one limit a tap, or none"),)
        return ()


Equalizer = NoEqualizer | ReferenceEqualizer | Ctle


class Receiver(Record, kw_only=True):
    """The receiving end of a lane."""

    shelf: ClassVar[str | None] = "receivers"

    name: Name
    resistance_ohm: ResistanceOhm = 100.0
    capacitance_f: CapacitanceF = 0.0
    noise_v: Annotated[
        float, quantity("V", "Noise", "Noise at the pins in 0.75 of the rate, rms, unequalized.", ge=0.0, le=0.1)
    ] = 0.0
    random_jitter_s: Annotated[
        float, quantity("s", "Random jitter", "Jitter of the sampling instant, rms.", ge=0.0, le=1e-9)
    ] = 0.0
    deterministic_jitter_s: Annotated[
        float,
        quantity("s", "Deterministic jitter", "Of the sampling instant, dual-Dirac, peak to peak.", ge=0.0, le=1e-8),
    ] = 0.0
    equalizer: Annotated[Equalizer, choice("Equalizer", "What the receiver does before it decides.")] = NoEqualizer()
    dfe: Annotated[Dfe, choice("Decision feedback", "What the receiver subtracts after each decision.")] = Dfe()
