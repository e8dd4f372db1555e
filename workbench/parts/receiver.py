"""Receivers: a termination, noise, jitter, and the equalization that the lane may count on."""

import math
from typing import Annotated, ClassVar, Literal

import msgspec
import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity
from workbench.parts.conditioners.conditioner import CapacitanceF, ResistanceOhm
from workbench.parts.imperfections import DETERMINISTIC, NOISE, RANDOM, REFLECTIONS, IdealValues
from workbench.parts.model_use import ModelUse
from workbench.parts.port_curve import ReturnLoss
from workbench.parts.record import Name, Problem, Record
from workbench.parts.termination import MeasuredTermination
from workbench.parts.transmitter import PackageNetwork
from workbench.parts.twoport import REFERENCE_OHM

NOISE_BAND_PER_RATE = 0.75
"""The receiver's noise is white in a one-sided band of this share of the rate."""
_MOST_CORNERS = 32


class NoEqualizer(Record, tag="none", tag_field="kind", kw_only=True):
    """The eye is judged as it stands at the pins."""


class ReferenceEqualizer(Record, tag="reference", tag_field="kind", kw_only=True):
    """The reference equalizer (and decision feedback) of the lane's profile."""


GainsDb = Annotated[
    tuple[Annotated[float, msgspec.Meta(ge=-40.0, le=40.0)], ...],
    choice("DC gains", "The gains at 0 Hz to choose from, dB; more negative is more equalization."),
]
PeakGainDb = Annotated[float, quantity("dB", "Peak gain", "Gain of the whole above.", ge=-40.0, le=40.0)]
FixedGainDb = (
    Annotated[
        float,
        quantity("dB", "Fixed gain", "One of the gains, to use no other; null: the best is found.", ge=-40.0, le=40.0),
    ]
    | None
)


class Ctle(Record, tag="ctle", tag_field="kind", kw_only=True):
    """A continuous-time equalizer: one zero, two poles, a list of gains at rest.

    ``H(s) = peak_gain (s + w1 A) w2 / ((s + w1)(s + w2))`` with A the DC gain before `peak_gain_db`: the form of
    the reference equalizers of PCI Express at 8 and 16 GT/s, and of IEEE 802.3 Annex 93A (equation 93A-22) where zero
    and first pole are alike.
    """

    first_pole_hz: Annotated[float, quantity("Hz", "First pole", "Above it the gain no longer rises.", ge=1e7, le=1e12)]
    second_pole_hz: Annotated[float, quantity("Hz", "Second pole", "Above it the gain falls.", ge=1e7, le=1e12)]
    dc_gain_db: GainsDb
    peak_gain_db: PeakGainDb = 0.0
    zero_hz: (
        Annotated[
            float,
            quantity("Hz", "Zero", "Fixes the zero apart from the DC gain; null: it follows.", ge=1e6, le=1e12),
        ]
        | None
    ) = None
    fixed_gain_db: FixedGainDb = None

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
        return _gain_problems(self.dc_gain_db, self.fixed_gain_db)


Corner = Annotated[float, msgspec.Meta(ge=1e6, le=1e12)]


class PolesAndZeros(Record, tag="poles-zeros", tag_field="kind", kw_only=True):
    """A continuous-time equalizer of any number of zeros and poles, one zero of which may move with the DC gain.

    ``H(s) = peak_gain A (1 + s/(A wm)) prod(1 + s/wz) / prod(1 + s/wp)`` with A the DC gain before `peak_gain_db`
    and wm the frequency of the zero that moves: at 0 dB it stands there, at -6 dB an octave lower. The reference
    equalizer of PCI Express at 32 GT/s has this form with wm on its second pole.
    """

    zeros_hz: Annotated[tuple[Corner, ...], choice("Zeros", "The zeros that stand still, Hz.")] = ()
    poles_hz: Annotated[tuple[Corner, ...], choice("Poles", "The poles, Hz; one that counts twice stands twice.")]
    moving_zero_hz: (
        Annotated[
            float,
            quantity(
                "Hz", "Moving zero", "Where a zero stands at 0 dB that moves with the DC gain; null: none does.",
                ge=1e6, le=1e12,
            ),
        ]
        | None
    ) = None  # fmt: skip
    dc_gain_db: GainsDb
    peak_gain_db: PeakGainDb = 0.0
    fixed_gain_db: FixedGainDb = None

    def choices(self) -> tuple[float, ...]:
        """The gains at rest, in dB, among which the engine finds the best."""
        return self.dc_gain_db if self.fixed_gain_db is None else (self.fixed_gain_db,)

    def transfer(self, dc_gain_db: float, f_hz: Floats) -> Complexes:
        """Complex gain at `f_hz` (Hz, shape (n,)) with `dc_gain_db` (dB) at rest, all of it times the peak gain."""
        rest = 10.0 ** (dc_gain_db / 20.0)
        gain = np.full(f_hz.shape, rest * 10.0 ** (self.peak_gain_db / 20.0), np.complex128)
        moving = () if self.moving_zero_hz is None else (rest * self.moving_zero_hz,)
        for zero_hz in (*self.zeros_hz, *moving):
            gain *= 1.0 + 1j * f_hz / zero_hz
        for pole_hz in self.poles_hz:
            gain /= 1.0 + 1j * f_hz / pole_hz
        return gain

    def problems(self) -> tuple[Problem, ...]:
        """More poles than zeros, or the gain would never fall again and noise would have no end."""
        zeros = len(self.zeros_hz) + (self.moving_zero_hz is not None)
        if len(self.poles_hz) > _MOST_CORNERS:
            return (Problem("poles_hz", f"there are more than {_MOST_CORNERS} poles", "give fewer"),)
        if len(self.poles_hz) <= zeros:
            problem = f"{len(self.poles_hz)} poles for {zeros} zeros let the gain rise without end"
            return (Problem("poles_hz", problem, "give more poles than zeros, the moving one counted"),)
        return _gain_problems(self.dc_gain_db, self.fixed_gain_db)


def _gain_problems(gains_db: tuple[float, ...], fixed_db: float | None) -> tuple[Problem, ...]:
    if not gains_db:
        return (Problem("dc_gain_db", "the list of gains is empty", "give at least one gain in dB"),)
    if fixed_db is not None and fixed_db not in gains_db:
        return (Problem("fixed_gain_db", "it is none of dc_gain_db", "name one of dc_gain_db, or null for the best"),)
    return ()


ContinuousEqualizer = Ctle | PolesAndZeros
"""What a receiver can have before it decides."""


class Dfe(Record, kw_only=True):
    """Decision feedback: taps from the pulse's own post-cursors, each limited in size."""

    taps: Annotated[int, quantity("", "Taps", "How many post-cursors are subtracted.", ge=0, le=64)] = 0
    limit_v: Annotated[
        tuple[Annotated[float, msgspec.Meta(ge=0.0, le=10.0)], ...],
        choice("Limits", "Max size of each tap, V; empty: no limit."),
    ] = ()
    least_v: Annotated[
        tuple[Annotated[float, msgspec.Meta(ge=-10.0, le=0.0)], ...],
        choice("Min values", "Lower bound of each tap, V, such as 0; empty: as far down as up."),
    ] = ()
    limit_per_cursor: Annotated[
        tuple[Annotated[float, msgspec.Meta(ge=0.0, le=10.0)], ...],
        choice("Limits by cursor", "Limits of the first taps as shares of the main cursor, in place of V; 0: in V."),
    ] = ()
    sample_left_ui: Annotated[
        float,
        quantity(
            "UI", "Samples left", "How far left of the centre it may sample, in steps of 0.05 UI.", ge=0.0, le=0.45
        ),
    ] = 0.0

    def bounds_v(self, cursor_v: float) -> tuple[Floats, Floats]:
        """Least and largest value of each tap, V, shape (taps,), where the main cursor is `cursor_v` (V)."""
        high = np.full(self.taps, math.inf)
        high[: len(self.limit_v)] = self.limit_v
        for tap, share in enumerate(self.limit_per_cursor):
            if share > 0.0:
                high[tap] = share * abs(cursor_v)
        low = -high
        low[: len(self.least_v)] = np.maximum(low[: len(self.least_v)], self.least_v)
        return low, high

    def problems(self) -> tuple[Problem, ...]:
        """Limits are given for every tap or for none; those by the cursor for no more taps than there are."""
        found = []
        for field, values in (("limit_v", self.limit_v), ("least_v", self.least_v)):
            if values and len(values) != self.taps:
                problem = f"{len(values)} limits for {self.taps} taps"
                found.append(Problem(field, problem, "give one limit a tap, or none"))
        if len(self.limit_per_cursor) > self.taps:
            problem = f"{len(self.limit_per_cursor)} limits for {self.taps} taps"
            found.append(Problem("limit_per_cursor", problem, "give at most one a tap"))
        if self.sample_left_ui > 0.0 and not self.taps:
            problem = "without taps the sample stands in the eye's middle"
            found.append(Problem("sample_left_ui", problem, "give at least one tap, or 0 UI"))
        return tuple(found)


Equalizer = NoEqualizer | ReferenceEqualizer | Ctle | PolesAndZeros


class Receiver(Record, kw_only=True):
    """The receiving end of a lane."""

    section: ClassVar[str | None] = "receivers"
    ideal_values: ClassVar[IdealValues] = {
        REFLECTIONS: {
            "resistance_ohm": REFERENCE_OHM, "capacitance_f": 0.0, "return_loss": (), "termination": None,
            "package_network": None,
        },
        RANDOM: {"random_jitter_s": 0.0},
        DETERMINISTIC: {"deterministic_jitter_s": 0.0},
        NOISE: {"noise_v": 0.0},
    }  # fmt: skip

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
    package: Annotated[
        Literal["none", "reference"],
        choice("Package", "Whether the profile's reference package and its pad stand in place of the capacitance."),
    ] = "none"
    settings_by: Annotated[
        Literal["height", "area"],
        choice("Settings by", "What its settings are chosen for: the eye's height, or height times width."),
    ] = "height"
    return_loss: ReturnLoss = ()
    termination: MeasuredTermination = None
    package_network: PackageNetwork = None
    model: Annotated[
        ModelUse | None, choice("Model", "The maker's model, which takes the place of equalizer and decision feedback.")
    ] = None
