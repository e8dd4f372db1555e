"""A conditioner that passes the equalized waveform on and saturates smoothly."""

from typing import Annotated, ClassVar

from workbench.facts import choice, quantity
from workbench.parts.conditioners.controls import Setting, Settings
from workbench.parts.conditioners.zero_pole import SWING, ZeroPoleConditioner

GainDb = Annotated[float, quantity("dB", "Gain", "Gain that this setting adds.", ge=-40.0, le=40.0)]


class GainSetting(Setting, kw_only=True):
    """An output swing position of a linear part."""

    gain_db: GainDb = 0.0
    limit_v: Annotated[
        float,
        quantity(
            "V", "Limit", "Max output swing, peak to peak differential; saturation is smooth.", ge=1e-3, le=10.0
        ),
    ]

    def strength(self) -> float:
        """Its gain, dB."""
        return self.gain_db


class LinearConditioner(ZeroPoleConditioner, tag="linear", tag_field="kind", kw_only=True):
    """A conditioner that passes the waveform on: the transmitter's emphasis and link training survive it."""

    section: ClassVar[str | None] = "conditioners"

    swing: Annotated[tuple[GainSetting, ...], choice("Swing", "The positions of the output swing.")]

    def drive(self, settings: Settings) -> float:
        """The gain of the swing's position, as a ratio."""
        return float(10.0 ** (self._gain(settings).gain_db / 20.0))

    def limit_v(self, settings: Settings) -> float:
        """The limit of the swing's position, V."""
        return self._gain(settings).limit_v

    def _gain(self, settings: Settings) -> GainSetting:
        position = self.setting(SWING, settings[SWING])
        assert isinstance(position, GainSetting)
        return position
