"""A kind of conditioner that the program does not have, with controls of its own, in one file as anyone adds it."""

from typing import Annotated, ClassVar, Self

import numpy as np
from msgspec.structs import replace

from workbench.facts import choice, quantity
from workbench.parts.conditioners.conditioner import Conditioner
from workbench.parts.conditioners.controls import Control, Setting, Settings
from workbench.parts.imperfections import NOISE
from workbench.parts.twoport import Complexes, Floats


class SlopeSetting(Setting, kw_only=True):
    """How much it lifts."""

    boost_db: Annotated[float, quantity("dB", "Boost", "Gain at 2.5 GHz over the DC gain.", ge=0.0, le=40.0)]

    def strength(self) -> float:
        """Its boost."""
        return self.boost_db


class FlatSetting(Setting, kw_only=True):
    """How much it passes on."""

    gain_db: Annotated[float, quantity("dB", "Gain", "Gain at every frequency.", ge=-20.0, le=20.0)]

    def strength(self) -> float:
        """Its gain."""
        return self.gain_db


class QuietSetting(Setting, kw_only=True):
    """How loud it is."""

    noise_v: Annotated[float, quantity("V", "Noise", "Input noise in the bandwidth, rms.", ge=0.0, le=0.1)]


class KnobConditioner(Conditioner, tag="knobs", tag_field="kind", kw_only=True):
    """Slope, flat gain, noise mode and nothing else; a zero and two poles of 8 GHz."""

    section: ClassVar[str | None] = "conditioners"

    slope: Annotated[tuple[SlopeSetting, ...], choice("Slope", "Positions of the slope.")]
    flat: Annotated[tuple[FlatSetting, ...], choice("Flat", "Positions of the flat gain.")]
    quiet: Annotated[tuple[QuietSetting, ...], choice("Quiet", "Positions of the noise mode.")]

    def controls(self) -> tuple[Control, ...]:
        """One name is two words, as data sheets have them."""
        return (
            Control("slope", "Slope", "Pins A1 and A0.", self.slope),
            Control("flat gain", "Flat gain", "Register 3.", self.flat),
            Control("noise mode", "Noise mode", "Register 4.", self.quiet),
        )

    def input_gain(self, settings: Settings, f_hz: Floats) -> Complexes:
        """As the definition says: written anew, not taken from another kind."""
        boost_db = next(one.boost_db for one in self.slope if one.setting == settings["slope"])
        lift = np.sqrt(10.0 ** (boost_db / 10.0) * (1.0 + (2.5 / 8.0) ** 2) ** 2 - 1.0)
        return np.asarray((1.0 + 1j * lift * f_hz / 2.5e9) / (1.0 + 1j * f_hz / 8e9) ** 2)

    def noise_density(self, settings: Settings, f_hz: Floats) -> Floats:
        """White up to 8 GHz."""
        noise_v = next(one.noise_v for one in self.quiet if one.setting == settings["noise mode"])
        return np.where(f_hz <= 8e9, noise_v**2 / 8e9, 0.0)

    def drive(self, settings: Settings) -> float:
        """The flat gain as a ratio."""
        return float(10.0 ** (next(one.gain_db for one in self.flat if one.setting == settings["flat gain"]) / 20.0))

    def idealized(self, imperfection: str) -> Self:
        """Its noise stands in the positions of a control."""
        ideal = super().idealized(imperfection)
        if imperfection != NOISE:
            return ideal
        return replace(ideal, quiet=tuple(replace(one, noise_v=0.0) for one in ideal.quiet))

    def limit_v(self, settings: Settings) -> float:
        """Always 2 V."""
        del settings
        return 2.0
