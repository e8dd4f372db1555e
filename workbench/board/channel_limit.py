"""Limits of the passive channel over frequency: what is measured, up to where, and with what source."""

from collections.abc import Iterator
from itertools import pairwise
from typing import Annotated, Literal

import numpy as np

from workbench.arrays import Floats
from workbench.board.sourced import Sourced, Status
from workbench.facts import choice, quantity, text
from workbench.parts.record import Problem, Record
from workbench.wording import any_of

Measure = Literal[
    "fitted-attenuation", "insertion-loss", "loss-deviation", "return-loss", "fitted-loss", "multi-reflection",
    "mode-conversion", "loss-to-crosstalk", "integrated-crosstalk", "near-end-crosstalk",
]  # fmt: skip
"""What is held against the limit.

- "fitted-attenuation": a straight line by least squares through the loss over `fit_from_hz` to `fit_to_hz`.
- "loss-deviation": the loss less that line, both signs.
- "fitted-loss": ``a + b sqrt f + c f + d f^1.5`` by least squares; "multi-reflection": the ripple that this fit leaves,
  weighted with a pulse's spectrum, as a voltage.
- "mode-conversion": the conversion loss, ``-20 log10 |SCD21|``.
- "loss-to-crosstalk": a straight line over the logarithm of frequency, by least squares, through how far the power sum
  of all crosstalk lies below the signal.
- "integrated-crosstalk": the power sum of near ends, weighted as the ripple is.
- "near-end-crosstalk": what all near ends make at the receiver, peak to peak, at their worst symbols and phases.

Without skew or neighbours a channel has none of the last four, and such a limit says nothing.
"""
AT_LEAST = frozenset({"return-loss", "mode-conversion", "loss-to-crosstalk"})
"""Measures that the channel must have more of than its limit says; of the others less."""
_ONE_NUMBER = frozenset({"multi-reflection", "integrated-crosstalk", "near-end-crosstalk"})
_FITTED = frozenset({"fitted-attenuation", "loss-deviation", "fitted-loss", "multi-reflection", "loss-to-crosstalk"})

MEASURE_WORDS: dict[str, str] = {
    "fitted-attenuation": "fitted attenuation",
    "insertion-loss": "insertion loss",
    "loss-deviation": "deviation of the loss from its fit",
    "return-loss": "return loss",
    "fitted-loss": "fitted loss",
    "multi-reflection": "integrated multi-reflection",
    "mode-conversion": "mode conversion loss",
    "loss-to-crosstalk": "fitted loss-to-crosstalk ratio",
    "integrated-crosstalk": "integrated crosstalk",
    "near-end-crosstalk": "near-end crosstalk, peak to peak",
}


LOWEST_HZ, HIGHEST_HZ, LEAST_BAND_HZ = 10e6, 15e9, 100e6
"""Where channels are looked at, Hz, and the least that a fit is made over."""


class LimitSegment(Record, kw_only=True):
    """A stretch of a limit line: ``constant + root sqrt f + linear f + square f^2 + cube f^3 + decade log10(f/from)``.

    All in dB with f in Hz.
    """

    from_hz: Annotated[float, quantity("Hz", "From", "Where the stretch begins.", ge=0.0, le=1e12)]
    to_hz: Annotated[float, quantity("Hz", "To", "Where it ends.", ge=0.0, le=1e12)]
    constant_db: Annotated[float, quantity("dB", "Constant", "Where all else is 0.", ge=-1e3, le=1e3)] = 0.0
    root: Annotated[float, quantity("", "Root", "dB per root of Hz.", ge=-1.0, le=1.0)] = 0.0
    linear: Annotated[float, quantity("", "Linear", "dB per Hz.", ge=-1e-6, le=1e-6)] = 0.0
    square: Annotated[float, quantity("", "Square", "dB per Hz squared.", ge=-1e-15, le=1e-15)] = 0.0
    cube: Annotated[float, quantity("", "Cube", "dB per Hz cubed.", ge=-1e-24, le=1e-24)] = 0.0
    decade_db: Annotated[float, quantity("dB", "Decade", "Per decade above its beginning.", ge=-1e3, le=1e3)] = 0.0

    def level_db(self, f_hz: Floats) -> Floats:
        """The line at `f_hz` (Hz, within the stretch, shape (n,)), dB."""
        level = self.constant_db + self.root * np.sqrt(f_hz) + f_hz * (
            self.linear + f_hz * (self.square + f_hz * self.cube)
        )
        if self.decade_db:
            level = level + self.decade_db * np.log10(f_hz / self.from_hz)
        return np.asarray(level, np.float64)

    def problems(self) -> tuple[Problem, ...]:
        """It must run upwards, and a logarithm needs a beginning above 0 Hz."""
        if self.to_hz < self.from_hz:
            return (Problem("to_hz", "the stretch ends before it begins", "give from_hz and to_hz in rising order"),)
        if self.decade_db and self.from_hz <= 0.0:
            return (Problem("from_hz", "decades have no beginning at 0 Hz", "begin the stretch above 0 Hz"),)
        return ()


class ChannelLimit(Record, kw_only=True):
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

    def problems(self) -> tuple[Problem, ...]:
        """One kind of limit, a fit over a band that has points, and a line that is seen."""
        one_number = self.measure in _ONE_NUMBER
        if one_number != (self.most is not None) or one_number == bool(self.line):
            remedy = f"give `most` for {any_of(sorted(_ONE_NUMBER))}, and a line for every other measure"
            return (Problem("measure", "the limit is given in another form than its measure needs", remedy),)
        if self.measure in _FITTED:
            low_hz, high_hz = max(self.fit_from_hz, LOWEST_HZ), min(self.fit_to_hz, HIGHEST_HZ)
            if high_hz - low_hz < LEAST_BAND_HZ:
                remedy = f"let it span {LEAST_BAND_HZ / 1e6:g} MHz or more below {HIGHEST_HZ / 1e9:g} GHz"
                return (Problem("fit_to_hz", "the fit has no band to be made over", remedy),)
        if self.line and (self.line[0].from_hz > HIGHEST_HZ or self.line[-1].to_hz < LOWEST_HZ):
            problem = f"it lies outside of {LOWEST_HZ / 1e6:g} MHz to {HIGHEST_HZ / 1e9:g} GHz"
            return (Problem("line", problem, "move it where channels are looked at"),)
        if any(later.from_hz < before.to_hz for before, later in pairwise(self.line)):
            return (Problem("line", "its stretches overlap", "give them in rising order, each from where one ends"),)
        return ()

    @property
    def judged(self) -> bool:
        """Whether the verdict rests on it."""
        return self.status == "published"

    @property
    def at_least(self) -> bool:
        """Whether the channel must have more of it; else less."""
        return self.measure in AT_LEAST

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
