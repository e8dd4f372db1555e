"""The front end and emphasis that data sheets describe by a boost at one frequency: a zero and two poles.

Its controls are three: equalization and emphasis here, and the swing, whose positions the kind of output stage says.
"""

import math
from typing import Annotated, ClassVar

import numpy as np

from workbench.arrays import Complexes, Floats
from workbench.facts import choice, fact_of, quantity
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Control, Setting, Settings
from workbench.parts.imperfections import NOISE, IdealValues

EQUALIZATION, SWING, EMPHASIS = "equalization", "swing", "emphasis"


class EqualizationSetting(Setting, kw_only=True):
    """An input equalizer position."""

    boost_db: Annotated[
        float, quantity("dB", "Boost", "Gain at the boost frequency over the DC gain.", ge=0.0, le=40.0)
    ]

    def strength(self) -> float:
        """Its boost, dB."""
        return self.boost_db


class EmphasisSetting(Setting, kw_only=True):
    """An output emphasis position. It lasts a fixed time, whatever the rate."""

    deemphasis_db: Annotated[
        float, quantity("dB", "De-emphasis", "How far the settled level lies below the peak.", ge=0.0, le=20.0)
    ]
    duration_s: Annotated[float, quantity("s", "Duration", "How long the peak lasts.", ge=1e-13, le=1e-8)]

    def strength(self) -> float:
        """Its de-emphasis, dB."""
        return self.deemphasis_db

    def transfer(self, f_hz: Floats) -> Complexes:
        """``(1 + k)/2 - (1 - k)/2 exp(-j w duration)``, k the settled-to-peak ratio, at `f_hz` (Hz, shape (n,))."""
        settled = 10.0 ** (-self.deemphasis_db / 20.0)
        late = np.exp(-2j * np.pi * f_hz * self.duration_s)
        return np.asarray((1.0 + settled) / 2.0 - (1.0 - settled) / 2.0 * late, np.complex128)


class ZeroPoleConditioner(Conditioner, kw_only=True):
    """A conditioner of three controls whose equalizer is one zero over a double pole."""

    ideal_values: ClassVar[IdealValues] = {NOISE: {"input_noise_v": 0.0}}
    dc_gain_db: Annotated[float, quantity("dB", "DC gain", "Equalizer gain at 0 Hz.", ge=-40.0, le=40.0)] = 0.0
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
    input_noise_v: Annotated[
        float, quantity("V", "Input noise", "Noise at the input in the bandwidth, rms.", ge=0.0, le=0.1)
    ] = 0.0

    def controls(self) -> tuple[Control, ...]:
        """Equalization, swing, emphasis."""
        told = {
            EQUALIZATION: "Position of the input equalizer.",
            SWING: "Position of the output swing.",
            EMPHASIS: "Position of the output emphasis.",
        }
        return tuple(
            Control(name, fact_of(ZeroPoleConditioner, name).label, words, getattr(self, name))
            for name, words in told.items()
        )

    def input_settings(self, settings: Settings) -> Settings:
        """The equalization alone."""
        return settings.only((EQUALIZATION,))

    def input_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """The equalizer's gain at `f_hz` (Hz, shape (n,)); shape (n,)."""
        position = self.setting(EQUALIZATION, settings[EQUALIZATION])
        assert isinstance(position, EqualizationSetting)
        return self.equalizer(position.boost_db, f_hz)

    def noise_density(self, settings: Settings, f_hz: Floats) -> Floats:
        """`input_noise_v` spread evenly over `bandwidth_hz`, V^2/Hz, at `f_hz` (Hz, shape (n,)); shape (n,)."""
        del settings
        return np.where(f_hz <= self.bandwidth_hz, self.input_noise_v**2 / self.bandwidth_hz, 0.0)

    def output_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """The emphasis at `f_hz` (Hz, shape (n,)); shape (n,)."""
        position = self.setting(EMPHASIS, settings[EMPHASIS])
        assert isinstance(position, EmphasisSetting)
        return position.transfer(f_hz)

    def making_up(self, loss_db: float) -> Settings:
        """The equalization whose boost comes nearest to a loss in dB."""
        nearest = min(self.equalization, key=lambda position: abs(position.boost_db - loss_db))
        return Settings({EQUALIZATION: nearest.setting})

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
