"""Limits of the passive channel over frequency: what is measured, up to where, and with what source."""

from collections.abc import Iterator
from typing import Annotated, Literal

import msgspec
import numpy as np

from workbench.arrays import Floats
from workbench.board.sourced import Sourced, Status
from workbench.facts import choice, quantity, text

Measure = Literal[
    "fitted-attenuation", "insertion-loss", "loss-deviation", "return-loss", "fitted-loss", "multi-reflection",
]  # fmt: skip
"""What is held against the limit.

"fitted-attenuation": a straight line by least squares through the loss over `fit_from_hz` to `fit_to_hz`.
"loss-deviation": the loss less that line, both signs. "fitted-loss": ``a + b sqrt f + c f + d f^1.5`` by least squares,
and "multi-reflection" the ripple that this fit leaves, weighted with a pulse's spectrum, as a voltage.
"""

MEASURE_WORDS: dict[str, str] = {
    "fitted-attenuation": "fitted attenuation",
    "insertion-loss": "insertion loss",
    "loss-deviation": "deviation of the loss from its fit",
    "return-loss": "return loss",
    "fitted-loss": "fitted loss",
    "multi-reflection": "integrated multi-reflection",
}


class LimitSegment(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A stretch of a limit line: ``constant + root sqrt f + linear f + square f^2 + cube f^3 + decade log10(f/from)``.

    All in dB with f in Hz.
    """

    from_hz: Annotated[float, quantity("Hz", "From", "Where the stretch begins.", ge=0.0, le=1e12)]
    to_hz: Annotated[float, quantity("Hz", "To", "Where it ends.", ge=0.0, le=1e12)]
    constant_db: Annotated[float, choice("Constant", "dB.")] = 0.0
    root: Annotated[float, choice("Root", "dB per root of Hz.")] = 0.0
    linear: Annotated[float, choice("Linear", "dB per Hz.")] = 0.0
    square: Annotated[float, choice("Square", "dB per Hz squared.")] = 0.0
    cube: Annotated[float, choice("Cube", "dB per Hz cubed.")] = 0.0
    decade_db: Annotated[float, choice("Decade", "dB per decade above `from_hz`.")] = 0.0

    def level_db(self, f_hz: Floats) -> Floats:
        """The line at `f_hz` (Hz, within the stretch, shape (n,)), dB."""
        level = self.constant_db + self.root * np.sqrt(f_hz) + f_hz * (
            self.linear + f_hz * (self.square + f_hz * self.cube)
        )
        if self.decade_db:
            level = level + self.decade_db * np.log10(f_hz / self.from_hz)
        return np.asarray(level, np.float64)


class ChannelLimit(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One limit of the passive channel. Only a published one is judged; another is drawn and told."""

    measure: Annotated[Measure, choice("Measure", "What is held against the limit.")]
    line: Annotated[
        tuple[LimitSegment, ...], choice("Line", "The limit over frequency, dB; empty where it is one number.")
    ] = ()
    most: Annotated[Sourced | None, choice("At most", "The limit where it is one number: V.")] = None
    fit_from_hz: Annotated[float, quantity("Hz", "Fit from", "Where the fit begins.", ge=0.0, le=1e12)] = 0.0
    fit_to_hz: Annotated[float, quantity("Hz", "Fit to", "Where the fit ends.", ge=0.0, le=1e12)] = 0.0
    source: Annotated[str, text("Source", "Document, revision and place.", required=True)]
    status: Annotated[Status, choice("Status", "How far it may be trusted.")]

    @property
    def judged(self) -> bool:
        """Whether the verdict rests on it."""
        return self.status == "published"

    @property
    def at_least(self) -> bool:
        """Whether the channel must have more of it; else less."""
        return self.measure == "return-loss"

    def line_db(self, f_hz: Floats) -> Floats:
        """The limit line at `f_hz` (Hz, shape (n,)), dB; not a number where it says nothing."""
        level = np.full(f_hz.shape, np.nan)
        for part in self.line:
            within = (f_hz >= part.from_hz) & (f_hz <= part.to_hz)
            level[within] = part.level_db(f_hz[within])
        return level

    def numbers(self) -> Iterator[tuple[str, str, Sourced]]:
        """The limit as one number at the end of its line, with its label and unit."""
        word = MEASURE_WORDS[self.measure]
        if self.most is not None:
            yield word, "V", self.most
        elif self.line:
            last = self.line[-1]
            value = float(last.level_db(np.array([last.to_hz]))[0])
            yield (
                f"{word} at {last.to_hz / 1e9:g} GHz", "dB",
                Sourced(value=round(value, 3), source=self.source, status=self.status),
            )  # fmt: skip
