"""What is sent, how long, and by which clock it is looked at."""

from typing import Annotated

import msgspec

from workbench.errors import EngineError

CORNER_PER_RATE = 1.0 / 1667.0
"""Corner of the clock recovery over the symbol rate where a profile says nothing: common practice, no source read."""
MOST_BITS = 10**10
FEWEST_BITS = 1000


class WaveformSettings(msgspec.Struct, frozen=True, kw_only=True):
    """How bits are sent and looked at.

    Attributes:
        pattern: as `codes.choosing.pattern_named` takes it, or `codes.choosing.WORST` for the sequence that closes the
            eye furthest; None: what the profile's code sends.
        bits: how many are counted; those sent before the lane and the clock have settled come on top.
        seed: of everything random.
        error_ratio: at which height and width are wanted; None: the profile's own.
        also_at: further error ratios.
        samples_per_ui: of the waves: 8, 16 or 32.
        corner_per_rate: corner of the first-order clock recovery over the symbol rate; 0: a clock that stands still.
        sine_jitter_s: sinusoidal jitter of the transmitter, peak to peak, s.
        sine_jitter_hz: its frequency, Hz.
        duty_cycle_s: how much longer than one UI a lone 1 is sent, s; a lone 0 is shorter by as much.
    """

    pattern: str | None = None
    bits: Annotated[int, msgspec.Meta(ge=FEWEST_BITS, le=MOST_BITS)] = 1_000_000
    seed: Annotated[int, msgspec.Meta(ge=0)] = 1
    error_ratio: float | None = None
    also_at: tuple[float, ...] = ()
    samples_per_ui: int = 16
    corner_per_rate: Annotated[float, msgspec.Meta(ge=0.0, le=0.1)] = CORNER_PER_RATE
    sine_jitter_s: float = 0.0
    sine_jitter_hz: float = 1e6
    duty_cycle_s: float = 0.0

    def __post_init__(self) -> None:
        if not FEWEST_BITS <= self.bits <= MOST_BITS:
            raise EngineError(f"{self.bits} bits can't be sent; write a number from {FEWEST_BITS} to {MOST_BITS:.0e}")
        if self.samples_per_ui not in (8, 16, 32):
            raise EngineError(f"{self.samples_per_ui} samples a UI can't be computed; write 8, 16 or 32")
