"""Signal conditioners: a stage that equalizes what arrives and drives what follows.

Two kinds share one front end. A linear one passes the equalized waveform on and saturates smoothly; a limiting one
remakes the amplitude, so that only the time of its input's crossings is left.
"""

import math
from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, quantity, text
from workbench.parts.record import Name, Problem, Record

SettingName = Annotated[
    str, text("Setting", "The strap or register value, as the part's data sheet names it.", required=True)
]
GainDb = Annotated[float, quantity("dB", "Gain", "Gain that this setting adds.", ge=-40.0, le=40.0)]
SwingV = Annotated[float, quantity("V", "Swing", "Output swing, peak to peak differential.", ge=1e-3, le=10.0)]
ResistanceOhm = Annotated[
    float, quantity("ohm", "Resistance", "Differential termination resistance.", ge=1.0, le=10_000.0)
]
CapacitanceF = Annotated[
    float, quantity("F", "Capacitance", "Differential capacitance across the pins.", ge=0.0, le=1e-11)
]
RandomJitter = Annotated[float, quantity("s", "Random jitter", "Added random jitter, rms.", ge=0.0, le=1e-9)]
DeterministicJitter = Annotated[
    float,
    quantity("s", "Deterministic jitter", "Added deterministic jitter, dual-Dirac, peak to peak.", ge=0.0, le=1e-8),
]


class Setting(Record, kw_only=True):
    """One position of a strap."""

    setting: SettingName


class EqualizationSetting(Setting, kw_only=True):
    """An input equalizer position."""

    boost_db: Annotated[
        float, quantity("dB", "Boost", "Gain at the boost frequency over the DC gain.", ge=0.0, le=40.0)
    ]


class GainSetting(Setting, kw_only=True):
    """An output swing position of a linear part."""

    gain_db: GainDb = 0.0
    limit_v: Annotated[
        float,
        quantity(
            "V", "Limit", "Largest output swing, peak to peak differential; saturation is smooth.", ge=1e-3, le=10.0
        ),
    ]


class SwingSetting(Setting, kw_only=True):
    """An output swing position of a limiting part."""

    swing_v: SwingV


class EmphasisSetting(Setting, kw_only=True):
    """An output emphasis position. It lasts a fixed time, whatever the rate."""

    deemphasis_db: Annotated[
        float, quantity("dB", "De-emphasis", "How far the settled level lies below the peak.", ge=0.0, le=20.0)
    ]
    duration_s: Annotated[float, quantity("s", "Duration", "How long the peak lasts.", ge=1e-13, le=1e-8)]

    def transfer(self, f_hz: Floats) -> Complexes:
        """``(1 + k)/2 - (1 - k)/2 exp(-j w duration)``, k the settled-to-peak ratio, at `f_hz` (Hz, shape (n,))."""
        settled = 10.0 ** (-self.deemphasis_db / 20.0)
        late = np.exp(-2j * np.pi * f_hz * self.duration_s)
        return np.asarray((1.0 + settled) / 2.0 - (1.0 - settled) / 2.0 * late, np.complex128)


class Conditioner(Record, kw_only=True):
    """What both kinds share: channels, input, equalizer, emphasis, output, noise and jitter."""

    name: Name
    channels: Annotated[int, quantity("", "Channels", "How many lanes one device serves.", ge=1, le=64)]
    dc_gain_db: Annotated[float, quantity("dB", "Gain at rest", "Equalizer gain at 0 Hz.", ge=-40.0, le=40.0)] = 0.0
    bandwidth_hz: Annotated[
        float, quantity("Hz", "Bandwidth", "Each of the input equalizer's two poles.", ge=1e8, le=1e12)
    ]
    boost_frequency_hz: Annotated[
        float, quantity("Hz", "Boost frequency", "Where the stated boost holds.", ge=1e7, le=1e11)
    ]
    equalization: Annotated[
        tuple[EqualizationSetting, ...], choice("Equalization", "The positions of the input equalizer.")
    ]
    swing: Annotated[tuple[Setting, ...], choice("Swing", "The positions of the output swing.")]
    emphasis: Annotated[tuple[EmphasisSetting, ...], choice("Emphasis", "The positions of the output emphasis.")]
    input_resistance_ohm: ResistanceOhm = 100.0
    input_capacitance_f: CapacitanceF = 0.0
    output_resistance_ohm: ResistanceOhm = 100.0
    output_capacitance_f: CapacitanceF = 0.0
    input_noise_v: Annotated[
        float, quantity("V", "Input noise", "Noise at the input in the bandwidth, rms.", ge=0.0, le=0.1)
    ] = 0.0
    random_jitter_s: RandomJitter = 0.0
    deterministic_jitter_s: DeterministicJitter = 0.0
    latency_s: Annotated[float, quantity("s", "Latency", "Delay from input to output.", ge=0.0, le=1e-7)] = 0.0
    sensitivity_v: Annotated[
        float, quantity("V", "Sensitivity", "Smallest input swing that the part is specified for.", ge=0.0, le=2.0)
    ] = 0.0
    power_w: Annotated[float, quantity("W", "Power", "Dissipation of the whole device.", ge=0.0, le=100.0)] = 0.0

    def equalizer(self, boost_db: float, f_hz: Floats) -> Complexes:
        """``g (1 + s/wz) / (1 + s/wp)^2`` with `dc_gain_db` at rest and `boost_db` more at the boost frequency.

        Args:
            boost_db: dB over the DC gain, at `boost_frequency_hz`.
            f_hz: Hz, shape (n,).

        Returns:
            Complex gain, shape (n,). The zero is solved so that the poles' droop at the boost frequency is made up:
            ``(fb/fz)^2 = 10^(boost/10) (1 + (fb/fp)^2)^2 - 1``.
        """
        droop = (1.0 + (self.boost_frequency_hz / self.bandwidth_hz) ** 2) ** 2
        lift = math.sqrt(max(10.0 ** (boost_db / 10.0) * droop - 1.0, 0.0))
        rest = 10.0 ** (self.dc_gain_db / 20.0)
        zero = 1.0 + 1j * f_hz * lift / self.boost_frequency_hz
        return np.asarray(rest * zero / (1.0 + 1j * f_hz / self.bandwidth_hz) ** 2, np.complex128)

    def setting(self, control: str, chosen: str) -> Setting:
        """The position of a strap ("equalization", "swing" or "emphasis") that bears the name `chosen`.

        Raises:
            KeyError: the part has no such position.
        """
        for position in self.positions(control):
            if position.setting == chosen:
                return position
        raise KeyError(f"{self.name} has no {control} setting {chosen}")

    def positions(self, control: str) -> tuple[Setting, ...]:
        """All positions of a strap ("equalization", "swing" or "emphasis")."""
        positions: tuple[Setting, ...] = getattr(self, control)
        return positions

    def problems(self) -> tuple[Problem, ...]:
        """Every strap needs at least one position, and no two of the same name."""
        found = []
        for control in CONTROLS:
            names = [position.setting for position in self.positions(control)]
            if not names:
                found.append(Problem(control, "the list of settings is empty", "give at least one setting"))
            elif len(set(names)) < len(names):
                found.append(Problem(control, "two settings have the same name", "give each setting a name of its own"))
        return tuple(found)


CONTROLS = ("equalization", "swing", "emphasis")


class LinearConditioner(Conditioner, tag="linear", tag_field="kind", kw_only=True):
    """A conditioner that passes the waveform on: the transmitter's emphasis and link training survive it."""

    section: ClassVar[str | None] = "conditioners"

    swing: Annotated[tuple[GainSetting, ...], choice("Swing", "The positions of the output swing.")]


class LimitingConditioner(Conditioner, tag="limiting", tag_field="kind", kw_only=True):
    """A conditioner that remakes the amplitude: its output edges stand where the equalized input crosses zero."""

    section: ClassVar[str | None] = "conditioners"

    swing: Annotated[tuple[SwingSetting, ...], choice("Swing", "The positions of the output swing.")]
    rise_time_s: Annotated[float, quantity("s", "Rise time", "Output edge, 20 to 80 %.", ge=0.0, le=1e-9)] = 3e-11
