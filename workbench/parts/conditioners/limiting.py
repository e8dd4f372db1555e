"""A conditioner that regenerates: only the time of its input's crossings is left of the waveform."""

from typing import Annotated, ClassVar

from workbench.facts import choice, quantity
from workbench.parts.conditioners.conditioner import SwingV
from workbench.parts.conditioners.controls import Setting, Settings
from workbench.parts.conditioners.zero_pole import SWING, ZeroPoleConditioner


class SwingSetting(Setting, kw_only=True):
    """An output swing position of a limiting part."""

    swing_v: SwingV

    def strength(self) -> float:
        """Its swing, V."""
        return self.swing_v


class LimitingConditioner(ZeroPoleConditioner, tag="limiting", tag_field="kind", kw_only=True):
    """A conditioner that regenerates: its output edges stand where the equalized input crosses zero."""

    section: ClassVar[str | None] = "conditioners"
    regenerates: ClassVar[bool] = True

    swing: Annotated[tuple[SwingSetting, ...], choice("Swing", "The positions of the output swing.")]
    rise_time_s: Annotated[float, quantity("s", "Rise time", "Output edge, 20 to 80 %.", ge=0.0, le=1e-9)] = 3e-11

    def swing_v(self, settings: Settings) -> float:
        """The swing of the swing's position, V."""
        position = self.setting(SWING, settings[SWING])
        assert isinstance(position, SwingSetting)
        return position.swing_v

    def edge_s(self, settings: Settings) -> float:
        """`rise_time_s`, s."""
        del settings
        return self.rise_time_s
